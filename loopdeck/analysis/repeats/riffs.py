"""From stretches that come back to riffs: where, how alike, the consensus, the cleanest
performance, the rank.

Conventions
    Note numbers in a ``Riff`` are those of the reports (by onset, then pitch). ``bars`` is how many
    bars a riff takes, wherever in the bar it begins. ``at_q`` counts quarters from the riff's first
    note. ``transposed`` is in semitones against the consensus. ``alike`` is the share of notes in
    common with the consensus, of those of the longer of the two, 0 to 1. The rank weighs how often,
    how alike and how long (the bits saved hold all three), how tight, and how well in the scale.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.choice import patterns
from loopdeck.analysis.repeats.consensus import consensus_of
from loopdeck.analysis.repeats.grammar import Pattern
from loopdeck.analysis.repeats.text import Floats, Ints, Text

#: At this spread, in ms, a riff is worth half.
_LOOSE_MS = 100.0
#: In a take of so many bars their length is known; a note this near to a bar line is on it, in
#: quarters.
_KNOWN_BARS, _BAR_LINE_Q = 3, 0.1
#: What a riff wholly outside of the scale is still worth.
_OUTSIDE = 0.7


@dataclass(frozen=True)
class Occurrence:
    """One time a riff was played: its notes, from when to when, how much higher, how alike, and how
    far off the consensus' timing."""

    indices: tuple[int, ...]
    start_sec: float
    end_sec: float
    transposed: int
    alike: float
    spread_ms: float


@dataclass(frozen=True)
class Riff:
    """A riff. ``notes``: the consensus, (at_q, length_q, pitch). ``best`` is the number of the
    cleanest occurrence: the most alike, where it mostly stands, the tightest."""

    name: str
    bars: int
    notes: tuple[tuple[float, float, int], ...]
    occurrences: tuple[Occurrence, ...]
    best: int
    tight_ms: float
    in_scale: float
    score: float


def find_riffs(text: Text, bar: Ints, scale: Iterable[int] | None = None) -> list[Riff]:
    """The riffs of a text, best first. ``bar``: the bar of each note by its number in the reports.
    ``scale``: pitch classes, 0 is C."""
    classes = np.array(sorted(set(scale)) if scale is not None else range(12))
    found = [_riff(text, pattern, bar, classes) for pattern in patterns(text)]
    found.sort(key=lambda riff: -riff.score)
    return [_named(riff, number) for number, riff in enumerate(found)]


def name_of(number: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def to_dict(riff: Riff) -> dict[str, Any]:
    """A riff as JSON has it."""
    return {
        "name": riff.name,
        "bars": riff.bars,
        "notes": [{"at_q": at, "length_q": length, "pitch": pitch} for at, length, pitch in riff.notes],
        "occurrences": [
            {
                "start_sec": one.start_sec,
                "end_sec": one.end_sec,
                "indices": list(one.indices),
                "transposed": one.transposed,
                "alike": one.alike,
                "spread_ms": one.spread_ms,
            }
            for one in riff.occurrences
        ],
        "best": riff.best,
        "tight_ms": riff.tight_ms,
        "in_scale": riff.in_scale,
        "score": riff.score,
    }


def _named(riff: Riff, number: int) -> Riff:
    return replace(riff, name=name_of(number))


def _riff(text: Text, pattern: Pattern, bar: Ints, classes: NDArray[np.int64]) -> Riff:
    found = pattern.found
    agreed = consensus_of(text, found)
    order = np.lexsort((agreed.pitch, agreed.at_q))
    at_q, lengths = agreed.at_q[order], agreed.length_q[order]
    level = _level(found.higher)
    pitch = agreed.pitch[order] + level
    alike = agreed.alike
    spread = _spread_ms(text, agreed.off_q)
    occurrences = tuple(
        _occurrence(text, *one)
        for one in zip(found.first, found.last, found.higher - level, np.round(alike, 4), spread, strict=True)
    )
    touched = [
        int(bar[text.index[last]] - bar[text.index[first]]) + 1
        for first, last in zip(found.first, found.last, strict=True)
    ]
    tight = float(np.median(spread))
    in_scale = float(np.isin(pitch % 12, classes).mean())
    worth = pattern.saved * float(alike.mean()) / (1.0 + tight / _LOOSE_MS) * (_OUTSIDE + (1 - _OUTSIDE) * in_scale)
    return Riff(
        name="",
        bars=_bars(text, bar, max(int(np.median(touched)), 1), float(at_q.max() - at_q.min())),
        notes=tuple(
            (round(float(at - at_q.min()), 4), round(float(length), 4), int(height))
            for at, length, height in zip(at_q, lengths, pitch, strict=True)
        ),
        occurrences=occurrences,
        best=int(np.lexsort((spread, found.higher != level, -np.round(alike, 4)))[0]),
        tight_ms=round(tight, 2),
        in_scale=round(in_scale, 4),
        score=round(worth, 2),
    )


def _bars(text: Text, bar: Ints, touched: int, span_q: float) -> int:
    """How many bars a riff takes whose last note begins ``span_q`` after its first: no more than it
    touches, and one where it goes over a bar line but would fit between two. Bars are taken to be
    as long as the take's are on average.
    """
    numbers = bar[text.index].astype(float)
    if touched == 1 or np.ptp(numbers) < _KNOWN_BARS:
        return touched
    bars_per_q = float(np.polyfit(text.place_q, numbers, 1)[0])
    return max(min(touched, int((span_q + _BAR_LINE_Q) * bars_per_q) + 1), 1)


def _level(higher: Ints) -> int:
    """The height at which most occurrences stand; of several the first one's."""
    values, first, counts = np.unique(higher, return_index=True, return_counts=True)
    return int(values[np.lexsort((first, -counts))[0]])


def _spread_ms(text: Text, off_q: Floats) -> Floats:
    """The median distance of each occurrence's notes from the consensus, in ms; shape (m,)."""
    away = np.abs(off_q) / text.quarters_per_sec * 1000.0
    return np.round(np.nanmedian(np.where(np.isnan(away).all(axis=1, keepdims=True), 0.0, away), axis=1), 2)


def _occurrence(text: Text, first: int, last: int, transposed: int, alike: float, spread: float) -> Occurrence:
    numbers = np.sort(text.index[first : last + 1])
    return Occurrence(
        indices=tuple(numbers.tolist()),
        start_sec=round(float(text.onset_sec[first : last + 1].min()), 6),
        end_sec=round(float(text.end_sec[first : last + 1].max()), 6),
        transposed=int(transposed),
        alike=float(alike),
        spread_ms=float(spread),
    )
