"""What is practised: a stretch of whole bars of a take, by quarters from the start of the stretch.

Conventions
    ``onset_q`` and ``duration_q`` have the shape (n,), quarters; an early downbeat is below 0.
    ``clicks``: (quarter, kind) of the stretch's own meters.
"""

import hashlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopdeck.errors import UserError
from loopdeck.rhythm.meter import Cycle
from loopdeck.shelf.material import Material


@dataclass(frozen=True, eq=False)
class Target:
    """A stretch to practise, and the bar that leads into it."""

    name: str
    first_bar: int
    last_bar: int
    length_q: float
    onset_q: NDArray[np.float64]
    duration_q: NDArray[np.float64]
    pitch: NDArray[np.int64]
    velocity: NDArray[np.int64]
    bar: NDArray[np.int64]
    clicks: tuple[tuple[float, str], ...]
    lead: Cycle
    #: The tempo it was played at.
    qpm: float

    def __len__(self) -> int:
        return len(self.onset_q)

    @property
    def mark(self) -> str:
        """What tells this riff from others, whatever it is called and however fast it was played."""
        rows = [
            f"{quarter:.2f} {pitch}" for quarter, pitch in zip(self.onset_q.tolist(), self.pitch.tolist(), strict=True)
        ]
        return hashlib.sha256(f"{self.length_q:.3f}; {'; '.join(rows)}".encode()).hexdigest()[:16]


def target_of(material: Material, first: int = 1, last: int | None = None) -> Target:
    """Bars ``first`` to ``last`` (the last with a note by default) of a take, drums left out.

    Raises UserError.
    """
    rows = np.flatnonzero(material.pitched)
    bars = material.bars[rows]
    if not len(rows):
        raise UserError(f"{material.title} has no notes to practise.")
    final = int(bars.max())
    last = final if last is None else last
    if not 1 <= first <= last <= final:
        raise UserError(f"There are no bars {first} to {last} to practise: the take has notes in bars 1 to {final}.")
    kept = rows[(bars >= first) & (bars <= last)]
    if not len(kept):
        raise UserError(f"There are no notes in bars {first} to {last} to practise.")
    start_q = sum(float(material.meter_of(bar).quarters) for bar in range(1, first))
    clicks, at_q = [], 0.0
    for bar in range(first, last + 1):
        cycle = Cycle((material.meter_of(bar),))
        clicks += [(at_q + float(click.position), click.kind) for click in cycle.clicks]
        at_q += float(cycle.quarters)
    array = material.notes.array[kept]
    return Target(
        name=material.title,
        first_bar=first,
        last_bar=last,
        length_q=at_q,
        onset_q=material.onset_q[kept] - start_q,
        duration_q=material.duration_q[kept],
        pitch=array["pitch"].astype(np.int64),
        velocity=array["velocity"].astype(np.int64),
        bar=material.bars[kept],
        clicks=tuple(clicks),
        lead=Cycle((material.meter_of(first),)),
        qpm=float(material.tempo.points[0][2]),
    )
