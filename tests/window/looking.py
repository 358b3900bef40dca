"""Looking until there is something to see: a busy machine draws late, and draws a frame in parts.

Pictures are arrays of shape (height, width, 3), uint8; ``look`` takes one.
"""

from collections.abc import Callable

import numpy as np

from tests.waiting import until

Look = Callable[[], np.ndarray]


def seen(look: Look, true: Callable[[np.ndarray], bool], what: str) -> np.ndarray:
    """The first picture that is as it should be."""
    pictures: list[np.ndarray] = []

    def found() -> bool:
        pictures[:] = [look()]
        return bool(true(pictures[0]))

    until(found, what)
    return pictures[0]


def still(look: Look, what: str, before: np.ndarray | None = None) -> np.ndarray:
    """The picture once it is another than ``before`` and two in a row are the same; only of what
    does not move.
    """
    last = look()

    def found() -> bool:
        nonlocal last
        previous, last = last, look()
        return np.array_equal(previous, last) and (before is None or not np.array_equal(last, before))

    until(found, what)
    return last
