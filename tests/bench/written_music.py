"""Dances and other movements of music21's corpus as one line each, with sections, themes, motifs.

The top voice is played with its repeats, endings and da capo written out. What is annotated, by a
rule and not by ear:

Sections
    What stands between repeat marks, wherever all its bars are played in turn.
Themes
    The first four bars of the piece and of its second dance or part, and where three quarters of
    their notes return, moved by semitones or by steps of the scale as well.
Motifs
    The first bar or two of the same, if four fifths of the notes come four times or more.

The first ``half`` of the pieces served to set three figures of the method, the other half none.
"""

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from loopdeck.analysis.repeats.text import steps

Pattern = list[list[int]]
Note = tuple[float, float, int]

#: Each piece: where its dances or parts begin (bars from 0), how many bars are played again at the
#: end, and its half.
PIECES: dict[str, tuple[tuple[int, ...], int, int]] = {
    "mozart/k156/movement3": ((0, 36), 36, 0),
    "haydn/opus1no1/movement2": ((0, 34), 34, 0),
    "haydn/opus1no1/movement4": ((0, 29), 27, 0),
    "beethoven/opus59no2/movement3": ((0, 58), 58, 0),
    "mozart/k458/movement2": ((0, 28), 28, 0),
    "joplin/maple_leaf_rag": ((0, 18, 51, 68), 0, 0),
    "schumann_clara/polonaise_op1n1": ((0, 20), 20, 0),
    "schumann_clara/polonaise_op1n3": ((0, 24), 24, 0),
    "mozart/k156/movement1": ((0, 71), 0, 0),
    "mozart/k156/movement2": ((0, 14), 0, 0),
    "mozart/k156/movement4": ((0,), 0, 0),
    "haydn/opus1no1/movement1": ((0,), 0, 0),
    "haydn/opus1no1/movement5": ((0,), 0, 0),
    "mozart/k80/movement3": ((0, 28), 28, 1),
    "mozart/k80/movement4": ((0, 34), 34, 1),
    "haydn/opus74no1/movement3": ((0, 60), 60, 1),
    "beethoven/opus18no1/movement3": ((0, 85), 85, 1),
    "beethoven/opus59no3/movement3": ((0, 38), 38, 1),
    "chopin/mazurka06-2": ((0, 17), 0, 1),
    "schumann_clara/polonaise_op1n2": ((0, 16), 16, 1),
    "schumann_clara/polonaise_op1n4": ((0, 16), 16, 1),
    "mozart/k155/movement2": ((0, 20), 0, 1),
    "mozart/k80/movement1": ((0,), 0, 1),
    "mozart/k80/movement2": ((0,), 0, 1),
    "schumann_robert/opus41no1/movement3": ((0, 33), 0, 1),
}
_SECTION_BARS, _THEME_BARS, _MOTIF_TIMES = 4, 4, 4
_THEME_ALIKE, _MOTIF_ALIKE = 0.75, 0.8


@dataclass(frozen=True)
class Bar:
    """One written bar: its notes (place in it, length, pitch), its length in quarters, whether a
    repeat begins or ends with it, and the number of its ending, or ""."""

    notes: tuple[Note, ...]
    length_q: float
    begins: bool
    ends: bool
    ending: str


@dataclass(frozen=True)
class Written:
    """A piece as played: notes (place in quarters, length, pitch), and what is annotated."""

    name: str
    half: int
    notes: list[Note]
    sections: list[Pattern]
    themes: list[Pattern]
    motifs: list[Pattern]


def pieces() -> Iterator[Written]:
    """All pieces; each takes a second or two to read."""
    for name in PIECES:
        yield piece(name)


def piece(name: str) -> Written:
    """One piece by its name in ``PIECES``."""
    parts, da_capo, half = PIECES[name]
    bars = _read(name)
    order = _played(bars) + [number for number in range(da_capo) if not bars[number].ending.startswith("1")]
    notes: list[Note] = []
    starts, at = [], 0.0
    for number in order:
        starts.append(len(notes))
        notes += [(at + place, length, pitch) for place, length, pitch in bars[number].notes]
        at += bars[number].length_q
    starts.append(len(notes))
    themes, motifs = _openings(notes, bars, order, starts, parts)
    return Written(name, half, notes, _sections(bars, order, starts, parts), themes, motifs)


def _read(name: str) -> list[Bar]:
    from music21 import corpus, spanner

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = corpus.parse(name).parts[0]
    endings = {
        id(bar): str(bracket.number)
        for bracket in part.recurse().getElementsByClass(spanner.RepeatBracket)
        for bar in bracket.getSpannedElements()
    }
    return [_bar(one, endings.get(id(one), "")) for one in part.getElementsByClass("Measure")]


def _bar(measure: Any, ending: str) -> Bar:
    """A bar's top voice; of a chord the highest note, and no note that is tied over."""
    voice = measure.voices[0] if measure.voices else measure
    moved = float(voice.offset) if measure.voices else 0.0
    top = {}
    for note in voice.flatten().notes:
        tied = note.tie is not None and note.tie.type in ("stop", "continue")
        if note.duration.quarterLength and note.pitches and not tied:
            pitch = max(int(one.midi) for one in note.pitches)
            top[float(note.offset) + moved] = (float(note.duration.quarterLength), pitch)
    return Bar(
        notes=tuple((place, *top[place]) for place in sorted(top)),
        length_q=float(measure.duration.quarterLength),
        begins=getattr(measure.leftBarline, "direction", None) == "start",
        ends=getattr(measure.rightBarline, "direction", None) == "end",
        ending=ending,
    )


def _played(bars: list[Bar]) -> list[int]:
    """The numbers of the bars in the order in which they are played."""
    order: list[int] = []
    at = start = 0
    times, done = 1, set()
    while at < len(bars):
        bar = bars[at]
        if bar.begins and at != start:
            start, times = at, 1
        if bar.ending and str(times) not in bar.ending:
            at += 1
            continue
        order.append(at)
        if bar.ends and at not in done:
            done.add(at)
            at, times = start, 2
            continue
        at += 1
        if bar.ends:
            start, times = at, 1
    return order


def _sections(bars: list[Bar], order: list[int], starts: list[int], parts: tuple[int, ...]) -> list[Pattern]:
    result = []
    for begin, stop in _marked(bars, parts):
        core = [number for number in range(begin, stop) if not bars[number].ending]
        places = []
        for at in range(len(order) - len(core) + 1):
            if order[at : at + len(core)] == core:
                end = at + len(core)
                while end < len(order) and bars[order[end]].ending:
                    end += 1
                places.append(list(range(starts[at], starts[end])))
        if len(places) > 1:
            result.append(places)
    return result


def _marked(bars: list[Bar], parts: tuple[int, ...]) -> list[tuple[int, int]]:
    """The bars ``begin..stop - 1`` between repeat marks."""
    found, begin = [], 0
    for at, bar in enumerate(bars):
        if bar.begins:
            begin = at
        goes_on = bar.ending and at + 1 < len(bars) and bars[at + 1].ending.startswith("1")
        if bar.ends and not goes_on:
            if at + 1 - begin >= _SECTION_BARS:
                found.append((begin, at + 1))
            begin = at + 1
        if at in parts and at:
            begin = at
    return sorted(set(found))


def _openings(
    notes: list[Note], bars: list[Bar], order: list[int], starts: list[int], parts: tuple[int, ...]
) -> tuple[list[Pattern], list[Pattern]]:
    usual = float(np.median([bar.length_q for bar in bars]))
    themes, motifs = [], []
    for begin in parts:
        if begin not in order:
            continue
        at = order.index(begin)
        upbeat = int(bars[begin].length_q < usual)
        ends = [starts[min(at + count + upbeat, len(starts) - 1)] for count in (1, 2, _THEME_BARS)]
        theme = _returns(notes, starts[at], ends[2], _THEME_ALIKE)
        short = [_returns(notes, starts[at], end + 1, _MOTIF_ALIKE) for end in ends[:2] if end < len(notes)]
        often = [one for one in short if len(one) >= _MOTIF_TIMES]
        themes += [theme] if len(theme) > 1 else []
        motifs += [max(often, key=lambda one: len(one) * len(one[0]))] if often else []
    return themes, motifs


def _returns(notes: list[Note], first: int, stop: int, least: float) -> Pattern:
    """Where this share of the notes ``first..stop - 1`` comes back, moved by one interval."""
    onset, pitch = np.array([place for place, _, _ in notes]), np.array([height for _, _, height in notes])
    heights = (pitch, steps(pitch))
    size, hits = stop - first, []
    if size < _SECTION_BARS:
        return []
    for start in range(len(onset)):
        wanted = onset[start] + onset[first:stop] - onset[first]
        at = np.minimum(np.searchsorted(onset, wanted - 1e-3), len(onset) - 1)
        there = np.abs(onset[at] - wanted) < 1e-3
        for exactly, height in zip((True, False), heights, strict=True):
            moved = (height[at] - height[first:stop])[there]
            share = np.unique(moved, return_counts=True)[1].max() / size
            if share >= least:
                end = int(np.searchsorted(onset, wanted[-1] + 1e-3))
                hits.append((-share, not exactly, start, end))
                break
    taken: list[tuple[int, int]] = []
    for _, _, begin, end in sorted(hits):
        if all(end <= other or begin >= stopped for other, stopped in taken):
            taken.append((begin, end))
    return [list(range(*one)) for one in sorted(taken)]
