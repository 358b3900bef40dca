"""Whether what looks like an ornament is one: the take is read with its notes written out and with
them left out, and the likelier is believed, passage by passage.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.chain import beat_scores, best_way, linked
from loopdeck.analysis.transcription.embellishments import LEAST_MS, Embellishments, chosen, find
from loopdeck.analysis.transcription.sample import Lead, Sample, look, sample_choices, usual_noise
from loopdeck.analysis.transcription.table import Table
from loopdeck.rhythm.swing import Swing

Floats = NDArray[np.float64]

#: The usual gap of an ornament's notes in milliseconds; how much gaps differ from it and from each
#: other (standard deviations of their logarithm).
GAP_MS, GAPS, NEXT_GAP = 85.0, 0.35, 0.2
#: How likely an ornament is in a beat, a trill and a group (natural logarithms).
TRILL, GROUP = -8.0, -8.0
#: A trill of so many notes that keeps to so many a quarter is written out; how far, in notes, its
#: end may be from where that pace leads. Common practice, no source.
LONG, PACES, KEEPS = 8, (3, 4), 0.4
#: The share of an ornament's notes that may be struck together with others.
MOST_CHORDS = 0.7
#: What is worth less is not looked at.
LEAST = -7.0
_EDGE = 1e-6
#: So early, in beats, a note may be that is written on the next beat.
_EARLY = 0.25


class HeardNotes(NamedTuple):
    """Notes in order of onset, arrays alike in shape (n,)."""

    onset_q: Floats
    onset_ms: Floats
    duration_ms: Floats
    pitch: NDArray[np.int64]


class Plain(NamedTuple):
    """A take without its ornaments: the ``notes`` that are left, their indices ``kept`` (k,) and,
    for each of all n notes, which of these it belongs to, ``home`` (n,); ``lead``: those that
    ornaments lead to.
    """

    notes: HeardNotes
    kept: NDArray[np.int64]
    home: NDArray[np.int64]
    lead: Lead


def without(notes: HeardNotes, found: Embellishments, some: NDArray[np.bool_]) -> Plain:
    """The take without those of the ornaments ``found`` that are marked in ``some``."""
    main = np.arange(len(notes.pitch))
    duration = notes.duration_ms.copy()
    lead: list[tuple[int, int]] = []
    for number in np.flatnonzero(some).tolist():
        own = found.notes[found.at[number] : found.at[number + 1]]
        counted = int(found.main[number])
        main[own] = counted
        if found.trill[number]:
            until = notes.onset_ms[own[-1]] + duration[own[-1]]
            duration[counted] = max(duration[counted], until - notes.onset_ms[counted])
        else:
            lead.append((counted, int(own[0])))
    # A trill's first note may be the last one of another trill; it is counted all the same.
    counts = found.main[some]
    main[counts] = counts
    kept = np.flatnonzero(main == np.arange(len(main)))
    place = np.full(len(main), -1, np.int64)
    place[kept] = np.arange(len(kept))
    note, first = np.array(lead, np.int64).reshape(-1, 2).T
    return Plain(
        HeardNotes(notes.onset_q[kept], notes.onset_ms[kept], duration[kept], notes.pitch[kept]),
        kept,
        place[main],
        Lead(place[note], notes.onset_q[first], notes.onset_ms[first]),
    )


def plain_notes(whole: Sample, notes: HeardNotes, table: Table) -> Plain | None:
    """The take without what is likelier an ornament than written out; None if nothing is.

    ``whole``: all of it.
    """
    found = find(notes.onset_ms, notes.duration_ms, notes.pitch)
    starts = whole.beats.start_q
    beat = np.maximum(np.searchsorted(starts, notes.onset_q + _EDGE, side="right") - 1, 0)
    worth = values(found, notes.onset_ms, whole.beat_ms[beat])
    likely = (worth > LEAST) & ~measured(found, notes.onset_q) & ~chordal(found, notes.onset_ms)
    found, worth = chosen(found, likely), worth[likely]
    if not len(found.main):
        return None
    first, last = found.notes[found.at[:-1]], found.notes[found.at[1:] - 1]
    # A main note shortly before a beat may be written on it.
    soon = notes.onset_q[found.main] + _EARLY * whole.beats.length_q[beat[found.main]]
    first, last = beat[first], np.maximum(np.searchsorted(starts, soon, side="right") - 1, beat[last])
    touched = np.zeros(len(starts) + 2, np.int64)
    np.add.at(touched, first, 1)
    np.add.at(touched, last + 1, -1)
    touched = (np.cumsum(touched) > 0).astype(np.int64)
    near = touched | np.roll(touched, 1) | np.roll(touched, -1)
    passage = np.cumsum(np.diff(touched, prepend=0) == 1) * touched
    some = near[beat] > 0
    others = without(notes, found, np.ones(len(found.main), bool))
    written = _worth(_part(notes, some), None, whole, passage, table)
    left = _worth(_part(others.notes, some[others.kept]), _lead(others, some), whole, passage, table)
    own = np.bincount(passage[first], worth, len(left))
    use = (left + own > written)[passage[first]]
    return without(notes, found, use) if use.any() else None


def _part(notes: HeardNotes, some: NDArray[np.bool_]) -> HeardNotes:
    return HeardNotes._make(column[some] for column in notes)


def _lead(others: Plain, some: NDArray[np.bool_]) -> Lead:
    """The same notes as ``others.lead``, counted among those in ``some`` (n,) alone."""
    place = np.cumsum(some[others.kept]) - 1
    return others.lead._replace(note=place[others.lead.note])


def _worth(notes: HeardNotes, lead: Lead | None, whole: Sample, passage: NDArray[np.int64], table: Table) -> Floats:
    """What the best reading of these notes scores in each passage."""
    sample = look(*notes, whole.stretches, lead)
    choices = sample_choices(sample, table, usual_noise(table), Swing())
    links = linked(table)
    way, _ = best_way(choices, links, choices.score)
    score = beat_scores(choices, way, links)
    beat = np.searchsorted(whole.beats.start_q, sample.beats.start_q + _EDGE, side="right") - 1
    return np.asarray(np.bincount(passage[np.maximum(beat, 0)], score, int(passage.max()) + 1))


def values(found: Embellishments, onset_ms: Floats, beat_ms: Floats) -> Floats:
    """What the notes of each ornament are worth as an ornament, (k,): logarithms of densities per
    beat; ``beat_ms`` (n,) is how long the beat of each note of the take is.
    """
    number, at, gap = _gaps(found, onset_ms)
    # How long the first note of a trill is waited on says nothing.
    waits = at[found.trill & (gap[at] > gap[at + 1])]
    gap = np.log(gap)
    gap[waits] = gap[waits + 1]
    middle, spread = np.roll(gap, 1), np.full(len(gap), NEXT_GAP)
    middle[at], spread[at] = np.log(GAP_MS), GAPS
    density = -0.5 * ((gap - middle) / spread) ** 2 - np.log(spread * np.sqrt(2 * np.pi)) - gap
    density += np.log(beat_ms[found.notes[found.at[:-1]]])[number]
    return np.asarray(np.bincount(number, density, len(found.main)) + np.where(found.trill, TRILL, GROUP))


def measured(found: Embellishments, onset_q: Floats) -> NDArray[np.bool_]:
    """Which trills keep the pace of sixteenths or of triplets for so long that they are written
    out, (k,): an even row that never leaves the beat is a figure.
    """
    first, last = onset_q[found.notes[found.at[:-1] + 1]], onset_q[found.notes[found.at[1:] - 1]]
    steps = np.diff(found.at) - 2
    away = np.min([np.abs((last - first) * pace - steps) for pace in PACES], axis=0)
    return np.asarray(found.trill & (steps >= LONG - 2) & (away < KEEPS))


def chordal(found: Embellishments, onset_ms: Floats) -> NDArray[np.bool_]:
    """Which ornaments are voices of chords that move by step, (k,): nearly every note but the main
    one is struck together with another.
    """
    apart = np.diff(onset_ms, prepend=-np.inf, append=np.inf)
    shared = np.minimum(apart[:-1], apart[1:]) < LEAST_MS
    number = np.repeat(np.arange(len(found.main)), np.diff(found.at))
    many = np.bincount(number, shared[found.notes], len(found.main)) - shared[found.main]
    return np.asarray(many > MOST_CHORDS * (np.diff(found.at) - 1))


def _gaps(found: Embellishments, onset_ms: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """The gaps within ornaments, one after the other: the ornament each belongs to, where those of
    each ornament begin (k,), and the gaps.
    """
    number = np.repeat(np.arange(len(found.main)), np.diff(found.at) - 1)
    later = np.arange(len(number)) + number + 1
    gap = onset_ms[found.notes[later]] - onset_ms[found.notes[later - 1]]
    return number, found.at[:-1] - np.arange(len(found.main)), gap
