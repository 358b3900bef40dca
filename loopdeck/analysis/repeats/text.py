"""Playing as a text to search: one part after another, onsets in quarters, and what each note tells
in bits.

Conventions
    A ``Text`` has n notes. Places are quarters; the parts of a take (its inputs, channels and
    layers) stand one after another, each begun after the one before has ended, so that a riff is
    found again in whichever part it comes back. Notes that begin together (a chord, however it is
    strummed) stand in order of pitch and share one place. ``index`` names each note as the reports
    do: by onset, then pitch.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.repeats.barlines import BarLines, bar_lines

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Notes nearer than this are one chord: two tones this close are heard as together (Hirsh,
#: "Auditory perception of temporal order", JASA 31, 1959: about 20 ms are needed to tell the order;
#: strummed strings take a little longer, common practice, no source).
CHORD_SEC = 0.03
#: Quarters of silence between two parts, more than any riff reaches over.
PART_GAP_Q = 64.0
#: How far two played notes may differ in time and be the same: hands, and written places (a
#: sixty-fourth).
HANDS_SEC, WRITTEN_Q = 0.075, 1 / 16 + 1e-6
#: However fast or slow: a sixteenth and the next one are never the same.
HANDS_Q = (0.06, 0.2)
#: A figure has so many notes at least.
FEWEST_NOTES = 4
#: A note tells at least and at most this much.
LEAST_BITS, MOST_BITS = 0.5, 8.0


@dataclass(frozen=True)
class Text:
    """``place_q``, ``pitch``, ``index``, ``part``, ``bits``: shape (n,), in order of part, place
    and pitch. ``step`` counts the steps of the scale. ``onset_q`` is the place in the take,
    ``onset_sec`` and ``end_sec`` the moments; ``tolerance_q`` how far two notes may differ in time
    and still be the same; ``exact``: the places are written, not played; ``quarters_per_sec`` is
    the mean tempo; ``lines`` are the bar lines, None where they are not known or tell nothing."""

    place_q: Floats
    pitch: Ints
    index: Ints
    part: Ints
    onset_q: Floats
    onset_sec: Floats
    end_sec: Floats
    bits: Floats
    step: Ints
    tolerance_q: float
    exact: bool
    quarters_per_sec: float
    lines: BarLines | None = None

    def __len__(self) -> int:
        return len(self.pitch)


def text_of(
    onset_sec: ArrayLike,
    duration_sec: ArrayLike,
    pitch: ArrayLike,
    part: ArrayLike,
    onset_q: ArrayLike,
    number: ArrayLike | None = None,
    bars: tuple[ArrayLike, ArrayLike] | None = None,
) -> Text:
    """The text of a take's notes, all of shape (k,), ordered by onset, then pitch. ``number``: what
    the reports call them (default: 0 to k - 1). ``bars``: each one's bar and its place in it, in
    quarters, where bars are known."""
    seconds = np.asarray(onset_sec, float)
    quarters = np.asarray(onset_q, float)
    parts = np.unique(np.asarray(part), return_inverse=True)[1].astype(np.int64)
    pitches = np.asarray(pitch).astype(np.int64)
    together = _together(seconds, quarters, parts)
    order = np.lexsort((pitches, together, parts))
    place = _end_to_end(together[order], parts[order])
    exact, per_second = _exact(quarters), _quarters_per_sec(seconds, quarters)
    ends = seconds + np.asarray(duration_sec, float)
    return Text(
        place_q=place,
        pitch=pitches[order],
        index=order.astype(np.int64) if number is None else np.asarray(number, np.int64)[order],
        part=parts[order],
        onset_q=quarters[order],
        onset_sec=seconds[order],
        end_sec=ends[order],
        bits=bits(pitches[order], place),
        step=steps(pitches[order]),
        tolerance_q=WRITTEN_Q if exact else float(np.clip(HANDS_SEC * per_second, *HANDS_Q)),
        exact=exact,
        quarters_per_sec=per_second,
        lines=None if bars is None else bar_lines(*bars, order, parts[order]),
    )


def distinct(code: Ints) -> Ints:
    """Each value once, in order: sorted, since a set of millions takes numpy several times as
    long."""
    code = np.sort(code)
    return code[np.concatenate(([True], np.diff(code) != 0))] if len(code) else code


def _together(seconds: Floats, quarters: Floats, parts: Ints) -> Floats:
    """Each note's place with chords gathered onto their first note."""
    placed = quarters.copy()
    order = np.lexsort((seconds, parts))
    if not len(order):
        return placed
    part, moment = parts[order], seconds[order]
    begins = np.ones(len(order), bool)
    begins[1:] = (np.diff(part) != 0) | (np.diff(moment) > CHORD_SEC)
    first = np.maximum.accumulate(np.where(begins, np.arange(len(order)), 0))
    # A run of notes each close to the next is not a chord; only those near the first one are.
    near = moment - moment[first] <= CHORD_SEC
    placed[order] = np.where(near, quarters[order][first], quarters[order])
    return placed


def _end_to_end(place: Floats, part: Ints) -> Floats:
    if not len(place):
        return place
    starts = np.flatnonzero(np.concatenate(([True], np.diff(part) != 0)))
    moved = place.copy()
    at = 0.0
    for start, stop in zip(starts, [*starts[1:], len(place)], strict=True):
        moved[start:stop] += at - place[start]
        at = float(np.ceil(moved[stop - 1])) + PART_GAP_Q
    return moved


def _exact(quarters: Floats) -> bool:
    """True for places as a score or a machine has them: nearly all on 48 to the quarter."""
    places = quarters * 48
    return len(places) > 0 and bool(np.mean(np.abs(places - np.round(places)) < 0.05) > 0.9)


def _quarters_per_sec(seconds: Floats, quarters: Floats) -> float:
    """The take's mean tempo; that of 120 a minute for a take of no length."""
    length = float(np.ptp(seconds)) if len(seconds) else 0.0
    return float(np.ptp(quarters)) / length if length > 0 else 2.0


def bits(pitch: Ints, place: Floats) -> Floats:
    """What each note tells, given the take's own habits of interval and of distance in time: -log2
    of its share, smoothed."""
    if len(pitch) < 2:
        return np.full(len(pitch), 4.0)
    interval = np.concatenate(([0], np.clip(np.diff(pitch), -36, 36)))
    gap = np.concatenate(([1.0], np.maximum(np.diff(place), 0.0)))
    steps = np.clip(np.round(gap * 4), 0, 33).astype(np.int64)
    told = _share(interval + 36, 25.0) + _share(steps, 12.0)
    return np.clip(told, LEAST_BITS, MOST_BITS)


def _share(symbol: Ints, smoothing: float) -> Floats:
    counts = np.bincount(symbol)
    kinds = np.count_nonzero(counts)
    bits: Floats = -np.log2((counts[symbol] + 0.5) / (len(symbol) + 0.5 * kinds + smoothing * 0.5))
    return bits


#: The steps of a major scale in semitones; every diatonic mode is one of its turns.
_MAJOR = (0, 2, 4, 5, 7, 9, 11)


def steps(pitch: Ints) -> Ints:
    """Each note's step in the diatonic scale that holds most of them, counted over the octaves:
    seven to an octave.

    A note between two steps counts as the lower one. A figure moved inside of its scale keeps its
    steps and not its semitones.
    """
    if not len(pitch):
        return pitch
    counts = np.bincount(pitch % 12, minlength=12)
    held = [sum(int(counts[(root + degree) % 12]) for degree in _MAJOR) for root in range(12)]
    root = int(np.argmax(held))
    above = (pitch - root) % 12
    step_of = np.searchsorted(_MAJOR, np.arange(12), side="right") - 1
    return np.asarray((pitch - root) // 12 * 7 + step_of[above], np.int64)
