"""The fitted numbers of the rhythm model, read from ``rhythm_table.json`` beside this file.

The script that made them is ``tests/fitting/fit_rhythm.py``; it fits on two parts of the corpus and
reports on a third.
"""

import json
from dataclasses import dataclass, field, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.events import GAP_BINS, KINDS
from loopdeck.analysis.transcription.grids import GRIDS, MOST, SIZE

PATH = Path(__file__).with_name("rhythm_table.json")


@dataclass(frozen=True)
class Knobs:
    """The model's scalars.

    Deviations are standard deviations; ``beat`` means in beats, ``ms`` in milliseconds.
    """

    edge_beat: float = 0.02
    middle_beat: float = 0.045
    motor_ms: float = 14.0
    memory_beat: float = 0.6
    floor: float = -7.0
    first_floor: float = -6.0
    empty: float = -1.5
    more: float = 0.15
    grid_weight: float = 0.7
    slot_weight: float = 0.8
    hint_weight: float = 0.6
    stay: float = 0.5
    pattern: float = 0.6
    recall: float = 0.3
    grace: float = 4.0


@dataclass(frozen=True, eq=False)
class Table:
    """Logarithms of probabilities, float32.

    ``grid`` (g,): how common each grid is. ``follows`` (g, g): the second after the first.
    ``start`` (g, s), ``end`` (g, s) and ``next`` (g, s, s): the first slot struck in a beat,
    nothing after a slot, a slot after a slot (-1e9 where it is not later). ``same`` (kinds, bins):
    the density a millisecond of a step inside one slot; ``step`` (kinds, bins): of the kind, given
    a gap between two slots.
    """

    knobs: Knobs
    grid: NDArray[np.float32]
    follows: NDArray[np.float32]
    start: NDArray[np.float32]
    end: NDArray[np.float32]
    next: NDArray[np.float32]
    same: NDArray[np.float32]
    step: NDArray[np.float32]

    def weighted(self, kind: slice) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
        """``next``, ``start`` and ``end`` of the grids of a kind, times the weight of slots,
        flat.
        """
        weight = np.float32(self.knobs.slot_weight)
        nexts, starts, ends = ((array[kind] * weight).reshape(-1) for array in (self.next, self.start, self.end))
        return nexts, starts, ends


@dataclass
class Counts:
    """What the fit counts, from which ``table`` makes probabilities.

    Keys are names of grids with a ``c`` in front for compound beats.
    """

    grid: dict[str, float] = field(default_factory=dict)
    follows: dict[str, dict[str, float]] = field(default_factory=dict)
    slots: dict[str, dict[str, float]] = field(default_factory=dict)
    same: list[list[float]] = field(default_factory=lambda: [[1.0] * GAP_BINS for _ in range(KINDS)])
    step: list[list[float]] = field(default_factory=lambda: [[1.0] * GAP_BINS for _ in range(KINDS)])


#: How many beats the smoothing is worth, and how likely a slot is struck where nothing was counted.
_SMOOTH, _STRUCK = 6.0, 0.8
#: Widths of the gap bins in milliseconds; the last one is taken as so wide.
GAP_WIDTH = np.array([12.0, 7.0, 8.0, 9.0, 13.0, 15.0, 20.0, 25.0, 35.0, 50.0, 100.0, 600.0])


def key(number: int) -> str:
    """The name of a grid in the table."""
    from loopdeck.analysis.transcription.grids import SIMPLE

    return GRIDS[number].name if number < len(SIMPLE) else "c" + GRIDS[number].name


def probabilities(counts: Counts, knobs: Knobs) -> Table:
    """The table that the counts make."""
    total = len(GRIDS)
    keys = [key(number) for number in range(total)]
    shares = np.array([counts.grid.get(name, 0.0) for name in keys]) + 0.5
    from loopdeck.analysis.transcription.grids import KIND

    grid = np.zeros(total)
    for kind in KIND:
        grid[kind] = shares[kind] / shares[kind].sum()
    follows = np.zeros((total, total))
    for row, name in enumerate(keys):
        seen = counts.follows.get(name, {})
        for kind in KIND:
            line = np.array([seen.get(other, 0.0) for other in keys[kind]])
            follows[row, kind] = (line + 8.0 * grid[kind]) / (line.sum() + 8.0)
    start = np.full((total, MOST), -1e9)
    end = np.full((total, MOST), -1e9)
    nexts = np.full((total, MOST, MOST), -1e9)
    for number, name in enumerate(keys):
        seen = counts.slots.get(name, {})
        size = int(SIZE[number])
        for before in range(-1, size):
            prior = np.array([_STRUCK * (1 - _STRUCK) ** (slot - before - 1) for slot in range(before + 1, size)])
            left = (1 - _STRUCK) ** (size - before - 1) if before >= 0 else 0.0
            line = np.array([seen.get(f"{before}>{slot}", 0.0) for slot in range(before + 1, size)])
            stop = seen.get(f"{before}>end", 0.0)
            whole = prior.sum() + left
            prior, left = _SMOOTH * prior / whole, _SMOOTH * left / whole
            scale = line.sum() + stop + _SMOOTH
            with np.errstate(divide="ignore"):
                row = np.log((line + prior) / scale)
                if before < 0:
                    start[number, :size] = row
                else:
                    nexts[number, before, before + 1 : size] = row
                    end[number, before] = np.log((stop + left) / scale)
    same, step = np.array(counts.same), np.array(counts.step)
    same_density = np.log(same / same.sum() / GAP_WIDTH)
    step_share = np.log(step / step.sum(axis=0))
    return Table(
        knobs,
        *(
            np.maximum(array, -1e9).astype(np.float32)
            for array in (np.log(grid), np.log(follows), start, end, nexts, same_density, step_share)
        ),
    )


@lru_cache(maxsize=1)
def fitted() -> Table:
    """The table that comes with loopdeck."""
    stored: dict[str, Any] = json.loads(PATH.read_text(encoding="utf-8"))
    names = {entry.name for entry in fields(Knobs)}
    knobs = Knobs(**{name: value for name, value in stored["knobs"].items() if name in names})
    return probabilities(Counts(**stored["counts"]), knobs)
