"""Pieces to fit on and to report on: scores of the corpus and studies, with their meter, beats and
players.
"""

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.beats import Stretch, cycle_beats
from loopdeck.errors import UserError
from loopdeck.rhythm.meter import Cycle, parse_meter
from tests.fitting.rhythm.corpus import GRACE, TICKS, load, part_of
from tests.fitting.rhythm.textures import riff, study


class Piece(NamedTuple):
    """A written piece: notes (``corpus.NOTE``), its meter, and the ticks of its beats with whether
    each is compound.
    """

    name: str
    notes: NDArray[Any]
    stretches: tuple[Stretch, ...]
    beats: NDArray[np.int64]
    compound: NDArray[np.bool_]


def stretches_of(bars: NDArray[Any]) -> tuple[Stretch, ...]:
    """The meter of a score from its bars (``corpus.BAR``); none where loopdeck cannot write it."""
    stretches: list[Stretch] = []
    until, last = None, ""
    rows = [(int(start), f"{over}/{under}") for start, over, under in bars.tolist()]
    if len(rows) > 1:
        try:
            if rows[1][0] - rows[0][0] < parse_meter(rows[0][1]).quarters * TICKS:
                rows = rows[1:]
        except UserError:
            return ()
    for start, text in rows:
        try:
            meter = parse_meter(text)
        except UserError:
            return ()
        if text != last or start != until:
            stretches.append(Stretch(Fraction(start, TICKS), Cycle((meter,))))
        last, until = text, start + int(meter.quarters * TICKS)
    return tuple(stretches)


def _beats(stretches: Sequence[Stretch], first: int, last: int) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    rows: list[tuple[int, bool]] = []
    for index, (start, cycle) in enumerate(stretches):
        at = start
        stop = stretches[index + 1].start if index + 1 < len(stretches) else Fraction(last, TICKS) + cycle.quarters
        if index == 0:
            while at * TICKS > first:
                at -= cycle.quarters
        table = cycle_beats(cycle)
        while at < stop:
            rows += [
                (int((at + begin) * TICKS), kind)
                for begin, kind in zip(table.start, table.compound, strict=True)
                if at + begin < stop
            ]
            at += cycle.quarters
    return np.array([row[0] for row in rows], np.int64), np.array([row[1] for row in rows], bool)


def piece(name: str, notes: NDArray[Any], stretches: tuple[Stretch, ...]) -> Piece:
    """The piece with its beats."""
    beats, compound = _beats(stretches, int(notes["onset"].min()), int(notes["onset"].max()))
    return Piece(name, notes, stretches, beats, compound)


def corpus_pieces(path: str | Path, part: str) -> list[Piece]:
    """The corpus pieces of one side of the split whose meters loopdeck can write."""
    found = []
    for name, (notes, bars) in load(path).items():
        if part_of(name.split("#")[0]) == part and (stretches := stretches_of(bars)) and len(stretches) < 200:
            one = piece(name, notes, stretches)
            if _sound(one):
                found.append(one)
    return found


def _sound(one: Piece) -> bool:
    """Whether nearly all beats can be written with some grid; the bars of a few files do not fit
    their notes.
    """
    onsets = np.unique(one.notes["onset"][one.notes["mark"] != GRACE])
    cut = np.searchsorted(onsets, one.beats)
    strange = 0
    for index in range(len(one.beats) - 1):
        length = int(one.beats[index + 1] - one.beats[index])
        inside = onsets[cut[index] : cut[index + 1]] - one.beats[index]
        places = {Fraction(int(place), length).limit_denominator(60) for place in inside}
        strange += any(place.denominator > 16 for place in places)
    return strange <= 0.03 * len(one.beats)


def studies(part: str, count: int) -> list[Piece]:
    """Studies, every third one a riff; each side of the split has seeds of its own."""
    base = {"fit": 0, "check": 10_000, "held": 20_000}[part]
    return [piece(f"study {base + seed}", *(riff if seed % 3 == 2 else study)(base + seed)) for seed in range(count)]


def excerpt(whole: Piece, most: int, rng: np.random.Generator) -> Piece:
    """About ``most`` notes in a row of a long piece; the beats go with them."""
    if len(whole.notes) <= most:
        return whole
    first = int(rng.integers(0, len(whole.notes) - most))
    low, high = whole.notes["onset"][first], whole.notes["onset"][first + most]
    notes = whole.notes[(whole.notes["onset"] >= low) & (whole.notes["onset"] <= high)]
    inside = (whole.beats >= low - 4 * TICKS) & (whole.beats <= high + 4 * TICKS)
    return whole._replace(notes=notes, beats=whole.beats[inside], compound=whole.compound[inside])
