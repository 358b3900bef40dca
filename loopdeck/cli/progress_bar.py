"""A progress bar on standard error, if that is a terminal and somebody has waited long enough to
want one.
"""

import sys
import time

from loopdeck.files import Closing

#: It shows only when the work takes longer than this, and is drawn anew so often.
_PATIENCE_SEC, _REDRAW_SEC = 1.0, 0.1
_WIDTH = 40


class Bar(Closing):
    """So much of ``total``; a context manager that leaves an empty line.

    ``began``: when the work began, in seconds of ``perf_counter`` (default: now).
    """

    def __init__(self, total: int, began: float | None = None) -> None:
        self._total = max(total, 1)
        self._due = (time.perf_counter() if began is None else began) + _PATIENCE_SEC
        self._on = sys.stderr.isatty()
        self._shown = False

    def show(self, done: int) -> None:
        """So much is done."""
        now = time.perf_counter()
        if not self._on or now < self._due:
            return
        self._due, self._shown = now + _REDRAW_SEC, True
        share = min(done / self._total, 1.0)
        full = round(share * _WIDTH)
        sys.stderr.write(f"\r[{'#' * full}{'.' * (_WIDTH - full)}] {share:4.0%}")
        sys.stderr.flush()

    def close(self) -> None:
        """Leave an empty line."""
        if self._shown:
            sys.stderr.write("\r" + " " * (_WIDTH + 8) + "\r")
            sys.stderr.flush()
