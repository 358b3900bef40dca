"""Layers that come from elsewhere (a kept take), as a command and a journal can hold them.

Conventions
    A layer is a table: ``notes``, rows of (onset in quarters, length in quarters, pitch, velocity,
    channel from 0, string from 1 or 0 for none); ``bends``, by the number of a note's row as text,
    rows of (quarters after the onset, semitones), left out where no note is bent; ``program`` from
    1; ``muted``; ``qpm``, the tempo it was played at, 0 for not known. Onsets count from the start
    of the cycle, an early downbeat is a little below 0. The notes themselves stand in the command,
    so that a replay of its journal needs no shelf.
"""

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from loopdeck.looper.layers import LAYER_DTYPE, Layer, channel_of
from loopdeck.rhythm.meter import MAX_CYCLE_QUARTERS

#: A journal's record holds so many with certainty.
MOST_LAYERS, MOST_NOTES, MOST_BEND_POINTS = 64, 6_000, 12_000
#: How far before the start of the cycle a note may lie, in quarters.
EARLIEST_Q = -16.0
MOST_SEMITONES = 96.0
NO_PASS = -1
_KEYS = {"notes", "bends", "program", "muted", "qpm"}
MOST_QPM = 10_000.0
#: Of the columns of a note: onset, length, pitch, velocity, channel, string.
_LOWEST = (EARLIEST_Q, 0.0, 0, 1, 0, 0)
_HIGHEST = (MAX_CYCLE_QUARTERS, MAX_CYCLE_QUARTERS, 127, 127, 15, 32)
_STILL = [[0.0, 0.0]]


def check_layers(value: Any) -> list[dict[str, Any]]:
    """The layers as plain lists, every number checked. Raises ValueError."""
    if not _is_list(value) or not 1 <= len(value) <= MOST_LAYERS:
        raise ValueError
    layers = [_layer(one) for one in value]
    notes = sum(len(one["notes"]) for one in layers)
    points = sum(len(curve) for one in layers for curve in one["bends"].values())
    if notes > MOST_NOTES or points > MOST_BEND_POINTS:
        raise ValueError
    return layers


def layer_from(given: Mapping[str, Any], number: int) -> Layer:
    """A checked layer as layer ``number`` of the loop; it may sound from this pass on."""
    notes = np.array([(*row, 0) for row in given["notes"]], LAYER_DTYPE)
    bends = tuple(np.array(given["bends"].get(str(row), _STILL), float) for row in range(len(notes)))
    ids, qpm = tuple(range(len(notes))), given["qpm"]
    return Layer(number, notes, bends, NO_PASS, given["program"], channel_of(number), ids, qpm)


def given_from(layer: Layer, muted: bool) -> dict[str, Any]:
    """A layer as the table that ``check_layers`` takes; bend curves to 1e-5 quarters and 1e-4
    semitones.
    """
    fields = ("onset_q", "duration_q", "pitch", "velocity", "channel", "string")
    rows = zip(*(layer.notes[field].tolist() for field in fields), strict=True)
    bends = {
        str(row): [[round(after_q, 5), round(semitones, 4)] for after_q, semitones in curve.tolist()]
        for row, curve in enumerate(layer.bends)
        if len(curve) > 1 or curve[0, 1] != 0.0
    }
    more = {"program": layer.program, "muted": muted, "qpm": layer.qpm}
    return {"notes": [list(row) for row in rows], "bends": bends, **more}


def _is_list(value: Any) -> bool:
    return isinstance(value, list | tuple)


def _layer(value: Any) -> dict[str, Any]:
    if not isinstance(value, Mapping) or not set(value) <= _KEYS:
        raise ValueError
    notes, bends, muted = value.get("notes", ()), value.get("bends", {}), value.get("muted", False)
    if not _is_list(notes) or not 1 <= len(notes) <= MOST_NOTES or not isinstance(muted, bool):
        raise ValueError
    if not isinstance(bends, Mapping) or not all(_names_a_row(key, len(notes)) for key in bends):
        raise ValueError
    return {
        "notes": _notes(notes),
        "bends": {str(key): _curve(curve) for key, curve in bends.items()},
        "program": _whole(value.get("program", 34), 1, 128),
        "muted": muted,
        "qpm": _number(value.get("qpm", 0.0), 0.0, MOST_QPM),
    }


def _names_a_row(key: Any, rows: int) -> bool:
    return isinstance(key, str) and key.isascii() and key.isdecimal() and len(key) < 6 and int(key) < rows


def _notes(rows: Any) -> list[list[Any]]:
    """Rows of notes; thousands of them are checked while somebody plays, so all at once."""
    plain = _rows(rows, 6, _LOWEST, _HIGHEST)
    if not {type(value) for row in plain for value in row[2:]} <= {int}:
        raise ValueError
    return plain


def _curve(points: Any) -> list[list[Any]]:
    plain = _rows(points, 2, (0.0, -MOST_SEMITONES), (MAX_CYCLE_QUARTERS, MOST_SEMITONES))
    if any(one[0] > other[0] for one, other in pairwise(plain)):
        raise ValueError
    return plain


def _rows(rows: Any, width: int, lowest: Sequence[float], highest: Sequence[float]) -> list[list[Any]]:
    """Rows of ``width`` finite numbers, each column within its range."""
    if not _is_list(rows) or not rows or not all(_is_list(row) and len(row) == width for row in rows):
        raise ValueError
    if not {type(value) for row in rows for value in row} <= {int, float}:
        raise ValueError
    try:
        table = np.array(rows, float)
    except OverflowError:
        raise ValueError from None
    if not ((table >= lowest) & (table <= highest)).all():  # no number at all is in no range
        raise ValueError
    return [list(row) for row in rows]


def _whole(value: Any, lowest: int, highest: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not lowest <= value <= highest:
        raise ValueError
    return value


def _number(value: Any, lowest: float, highest: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not lowest <= value <= highest:
        raise ValueError
    if not math.isfinite(value):
        raise ValueError
    return float(value)
