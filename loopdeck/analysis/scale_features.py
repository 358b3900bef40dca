"""What the notes of a take say about root and scale, as numbers relative to every possible root.

Conventions
    ``k`` notes in order of onset: MIDI pitches, onsets and lengths in quarters. A row of features
    stands for one root, 0 for C to 11 for B; inside a row each kind of feature has twelve columns,
    one for each distance above that root in semitones. A tune that ends says something by its
    first and last note and by where its parts end; a loop has no ends.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.rhythm.meter import Meter

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

#: What needs no bar lines.
SOUNDING = (
    "share",  # of the sounding time and of the number of notes, half and half
    "root of share",  # its square root: a little is much more than nothing
    "present",  # 1 where the note occurs at all
    "long",  # the part of the share that notes longer than usual have: where phrases rest
    "low",  # the share of the notes of the lowest fifth
    "leapt to",  # where leaps of more than a major third land, as a share of all moves
    "lowest",  # the lowest note
    "to root",  # from where the root is reached, as a share of all moves
    "from root",  # and where it is left to
)
#: What the bar lines tell.
METRICAL = (
    "strong",  # the share, by the strength of the metrical place
    "downbeat",  # the share of the notes that open a bar
)
#: What a loop tells besides: its rests, and where its round begins;
ROUND = (
    "before rests",  # the share of the notes that a silence follows,
    "after rests",  # and of those that follow one
    "opens rounds",  # the share of those that open a round, if the bar lines are doubtful,
)
#: and what its bar lines tell if they are sure to stand where the file says.
SURELY = (
    "surely strong",
    "surely downbeat",
    "surely opens rounds",
)
#: What a tune's ends tell,
ENDS = (
    "highest",  # the highest note (of a loop it tells nothing)
    "last",  # the last note of a tune,
    "last but one",  # the one before it,
    "first",  # and the first
)
#: and its ends and its bar lines together.
FORM = (
    "opening",  # the first note on a strong place
    "cadence",  # what sounds before the bar line eight, sixteen ... bars before the end
    "half cadence",  # and four, twelve ... bars before it
    "closing bar",  # the share of the last bar,
    "opening bar",  # and of the first whole one
    "last strong",  # the last note on a strong place
    "part ends",  # the last one on a strong place of every eighth bar
    "strong time",  # the time that the notes on strong places sound
    "strong to root",  # from where the root is reached, when only strong places are heard
)
#: The kinds of features of a loop and of a tune, in order.
LOOP_KINDS = (*SOUNDING, *METRICAL, *ROUND, *SURELY)
TUNE_KINDS = (*SOUNDING, *METRICAL, *ENDS, *FORM)
#: How strong places are: the bar's first, the first of a group, a count, anything else.
BAR, GROUP, COUNT, BETWEEN = 1.0, 0.6, 0.35, 0.15
#: Bars in a part, as most tunes of two parts have them. Common practice, no source.
_PART_BARS = 8
#: A loop holds so many notes, and so many of them are the same each time, in all and in each round
#: (but for one); what its length could be is taken from its first notes.
_LEAST_NOTES, _ALIKE, _TRIED_NOTES, _MOST_PERIODS = 3, 0.8, 4, 100
#: A rest is silent for so many quarters, and for this part of the time to the next onset; a note
#: stands on a bar line this near to it.
_REST_Q, _LINE_Q = 0.4, 0.12
_ONE = np.eye(12)
_ROOTS = np.arange(12)
_TURN = (_ROOTS[:, None] + _ROOTS) % 12


class BarReading(NamedTuple):
    """One reading of where the bars begin: how likely it is, where the first whole bar begins (in
    quarters), and how strong the place of each note is by it, (k,)."""

    chance: float
    start_q: float
    strong: Floats


class Melody(NamedTuple):
    """The notes as the features take them, (k,): pitch, onset and length in quarters, pitch class,
    and what each counts: half its length beside the mean, half that it occurs at all."""

    pitch: Integers
    onset_q: Floats
    length_q: Floats
    classes: Integers
    weight: Floats


class LoopBars(NamedTuple):
    """The bars of a loop: how strong the place of each note is, (k,), and whether the bar lines are
    sure; the length of a bar and of a round in quarters (0.0 where nothing comes round).
    """

    strong: Floats
    sure: bool
    bar_q: float
    round_q: float


def strength(meter: Meter, in_bar: Fraction) -> float:
    """How strong a written place is, ``in_bar`` quarters after the start of a bar.

    This project's weights, no source.
    """
    if in_bar == 0:
        return BAR
    if in_bar in meter.group_starts:
        return GROUP
    return COUNT if in_bar % meter.unit_quarters == 0 else BETWEEN


def melody_of(pitch: ArrayLike, onset_q: ArrayLike, length_q: ArrayLike) -> Melody:
    """k >= 1 notes in order of onset, shape (k,) each."""
    pitches, length = np.asarray(pitch, np.int64), np.asarray(length_q, float)
    mean = float(length.mean())
    weight = 1.0 + np.minimum(length, 6 * mean) / mean if mean > 0 else np.full(len(length), 2.0)
    return Melody(pitches, np.asarray(onset_q, float), length, pitches % 12, weight)


def loop_features(notes: Melody, bars: LoopBars) -> Floats:
    """The features of a loop, shape (12, 12 * len(LOOP_KINDS))."""
    metrical, opening = _metrical(notes, bars.strong), _opening(notes, bars)[_TURN]
    surely = [float(bars.sure) * part for part in (*metrical, opening)]
    doubtful = float(not bars.sure) * opening
    return np.concatenate([*_sounding(notes), *metrical, *_rests(notes), doubtful, *surely], axis=1)


def tune_features(notes: Melody, readings: Sequence[BarReading], bar_q: float) -> Floats:
    """The features of a tune that ends, shape (12, 12 * len(TUNE_KINDS)).

    What depends on bar lines is the mean over ``readings``, each counting as much as it is likely
    (they add up to 1); ``bar_q`` is the length of a bar in quarters.
    """
    classes = notes.classes
    ends = [int(notes.pitch.max()) % 12, classes[-1], classes[-2] if len(classes) > 1 else classes[-1], classes[0]]
    both = [
        one.chance * np.concatenate([*_metrical(notes, one.strong), *_form(notes, one, bar_q)], axis=1)
        for one in readings
    ]
    by_bars = np.sum(both, axis=0)
    metrical = 12 * len(METRICAL)
    told = [*_sounding(notes), by_bars[:, :metrical], *(_ONE[end][_TURN] for end in ends), by_bars[:, metrical:]]
    return np.concatenate(told, axis=1)


def _sounding(notes: Melody) -> list[Floats]:
    """A (12, 12) part for each of SOUNDING."""
    classes, weight, pitch = notes.classes, notes.weight, notes.pitch
    share = _share(classes, weight)
    longer = notes.length_q > 1.4 * float(np.median(notes.length_q))
    low = pitch < pitch.min() + 8
    leap = np.abs(np.diff(pitch)) > 4
    by_class = [
        share,
        np.sqrt(share),
        (np.bincount(classes, minlength=12) > 0).astype(float),
        np.bincount(classes[longer], weight[longer], 12) / weight.sum(),
        _share(classes[low], weight[low]),
        np.bincount(classes[1:][leap], minlength=12) / max(len(classes) - 1, 1),
        _ONE[int(pitch.min()) % 12],
    ]
    moves = _moves(classes)
    return [*(row[_TURN] for row in by_class), moves[_TURN, _ROOTS[:, None]], moves[_ROOTS[:, None], _TURN]]


def _metrical(notes: Melody, strong: Floats) -> list[Floats]:
    """A (12, 12) part for each of METRICAL."""
    down = strong >= BAR
    return [
        _share(notes.classes, notes.weight * strong)[_TURN],
        _share(notes.classes[down], notes.weight[down])[_TURN],
    ]


def _rests(notes: Melody) -> list[Floats]:
    """A (12, 12) part each for what silences follow and for what follows them."""
    silent = notes.onset_q[1:] - (notes.onset_q + notes.length_q)[:-1]
    rest = (silent > _REST_Q) & (silent > _REST_Q * np.diff(notes.onset_q))
    return [_part(notes.classes[:-1][rest])[_TURN], _part(notes.classes[1:][rest])[_TURN]]


def _part(classes: Integers) -> Floats:
    """The share of each pitch class among some notes, (12,); nothing without notes."""
    return np.bincount(classes, minlength=12) / max(len(classes), 1)


def _opening(notes: Melody, bars: LoopBars) -> Floats:
    """The share of each pitch class among the notes that open a round of whole bars, (12,); rounds
    are counted from the start of the file, or from the first note if bar lines are doubtful.
    """
    round_q = max(round(bars.round_q / bars.bar_q), 1) * bars.bar_q
    if bars.round_q <= 0 or abs(bars.round_q - round_q) > 0.3:
        return np.zeros(12)
    at = notes.onset_q - (0.0 if bars.sure else notes.onset_q[0])
    return _part(notes.classes[(at + _LINE_Q) % round_q < 2 * _LINE_Q])


def _form(notes: Melody, reading: BarReading, bar_q: float) -> list[Floats]:
    """A (12, 12) part for each of FORM."""
    classes, weight, onset = notes.classes, notes.weight, notes.onset_q
    on_strong = np.flatnonzero(reading.strong >= GROUP)
    held = classes[on_strong]
    start, end = _whole_bars(onset, reading.start_q, bar_q)
    closing = onset >= end - bar_q - 0.01
    opening = (onset >= start - 0.01) & (onset < start + bar_q - 0.01)
    by_class = [
        _ONE[held[0] if len(held) else classes[0]],
        *(_before(notes, np.arange(end - bars * bar_q, onset[0] + bar_q, -_PART_BARS * bar_q)) for bars in (8, 4)),
        _share(classes[closing], weight[closing]),
        _share(classes[opening], weight[opening]),
        _ONE[held[-1] if len(held) else classes[-1]],
        _part_ends(held, onset[on_strong], np.arange(start + _PART_BARS * bar_q, end + 0.1, _PART_BARS * bar_q)),
        np.bincount(held, notes.length_q[on_strong], 12) / max(float(notes.length_q.sum()), 1e-9),
    ]
    return [*(row[_TURN] for row in by_class), _moves(held)[_TURN, _ROOTS[:, None]]]


def _whole_bars(onset_q: Floats, start_q: float, bar_q: float) -> tuple[float, float]:
    """Where the first whole bar begins that has notes, and where the last bar ends."""
    start = start_q + bar_q * np.ceil((onset_q[0] - 0.01 - start_q) / bar_q)
    return float(start), float(start_q + bar_q * np.ceil((onset_q[-1] + 0.01 - start_q) / bar_q))


def _before(notes: Melody, bar_lines: Floats) -> Floats:
    """How often each pitch class is the last one before a bar line, (12,), by the number of
    lines.
    """
    at = np.searchsorted(notes.onset_q, bar_lines - 0.01, side="right") - 1
    return np.bincount(notes.classes[at[at >= 0]], minlength=12) / max(len(bar_lines), 1)


def _part_ends(classes: Integers, onset_q: Floats, bar_lines: Floats) -> Floats:
    """The same of the notes on strong places, by the number of lines that have one before them."""
    at = np.searchsorted(onset_q, bar_lines - 0.02) - 1
    at = at[at >= 0]
    return np.bincount(classes[at], minlength=12) / max(len(at), 1)


def _moves(classes: Integers) -> Floats:
    """From which pitch class to which, (12, 12), as shares of all moves."""
    moves = np.zeros((12, 12))
    np.add.at(moves, (classes[:-1], classes[1:]), 1.0)
    return moves / max(len(classes) - 1, 1)


def _share(classes: NDArray[np.int64], weight: Floats) -> Floats:
    counted = np.bincount(classes, weight, 12)
    total = counted.sum()
    return counted / total if total > 0 else np.full(12, 1 / 12)


def is_loop(pitch: ArrayLike, onset_q: ArrayLike, longest_q: float = np.inf, tolerance_q: float = 0.2) -> float:
    """The length in quarters of what comes round twice or more, with what is left over its
    beginning; 0.0 if nothing does. Where the row of pitches is not the same each time, four notes
    of five must be.

    ``onset_q``: shape (k,), quarters. Rounds longer than ``longest_q`` are not looked for; the time
    taken grows with their number of notes.
    """
    heard, onsets = np.asarray(pitch, np.int64), np.asarray(onset_q, float)
    most = min(len(heard) // 2, int(np.searchsorted(onsets, onsets[0] + longest_q + tolerance_q, side="right")) - 1)
    for period in range(1, most + 1):
        # Most wrong periods are told by a glance at the beginning.
        if (heard[period : 2 * period] != heard[:period]).any() or (heard[period:] != heard[:-period]).any():
            continue
        gaps = onsets[period:] - onsets[:-period]
        if len(set(heard[:period].tolist())) > 1 and np.ptp(gaps) < tolerance_q:
            return float(np.median(gaps))
    return _varied_loop(heard, onsets, longest_q, tolerance_q)


def heard_again(pitch: ArrayLike, onset_q: ArrayLike, round_q: float, tolerance_q: float = 0.2) -> NDArray[np.bool_]:
    """Which notes of a loop belong to it, (k,): all but those that two rounds next to theirs, or
    more, could have and none has.

    ``onset_q``: shape (k,), quarters, rising; ``round_q``: the length of a round.
    """
    heard, onsets = np.asarray(pitch, np.int64), np.asarray(onset_q, float)
    could, has = np.zeros(len(heard), np.int64), np.zeros(len(heard), np.int64)
    for later_q in (-2 * round_q, -round_q, round_q, 2 * round_q):
        known, again = _met(heard, onsets, later_q, tolerance_q)
        could += known
        has[known] += again
    return (could < 2) | (has > 0)


def _varied_loop(heard: Integers, onsets: Floats, longest_q: float, tolerance_q: float) -> float:
    """The same where a note may be another one, or missing, now and then."""
    for period_q in _periods(heard, onsets, longest_q, tolerance_q):
        first = int(np.searchsorted(onsets, onsets[0] + period_q - tolerance_q))
        if not _LEAST_NOTES <= first <= (len(heard) + 1) // 2 or len(set(heard[:first].tolist())) < 2:
            continue
        glance = min(len(heard), 4 * first)
        if all(
            _returns(heard[:count], onsets[:count], way * period_q, tolerance_q) >= _ALIKE
            for count in (glance, len(heard))
            for way in (1.0, -1.0)
        ):
            return float(period_q)
    return 0.0


def _periods(heard: Integers, onsets: Floats, longest_q: float, tolerance_q: float) -> list[float]:
    """How much later the first notes come again, the least first, each once; no more than a
    hundred.
    """
    later = [onsets[np.flatnonzero(heard == heard[at])] - onsets[at] for at in range(min(_TRIED_NOTES, len(heard)))]
    ahead = np.sort(np.concatenate(later))
    ahead = ahead[(ahead > tolerance_q) & (ahead <= longest_q + tolerance_q)]
    apart = np.concatenate([[True], np.diff(ahead) > tolerance_q / 4]) if len(ahead) else np.zeros(0, bool)
    return [float(one) for one in ahead[apart][:_MOST_PERIODS]]


def _returns(heard: Integers, onsets: Floats, later_q: float, tolerance_q: float) -> float:
    """The share of the notes that come again so much later (or came so much earlier), of those of
    which that could be heard; 0.0 of too few, or where a round is too unlike the next."""
    known, again = _met(heard, onsets, later_q, tolerance_q)
    if known.sum() < _LEAST_NOTES:
        return 0.0
    # A tune whose parts are played twice returns in most rounds and not at all where a part begins.
    turn = np.floor((onsets[known] - onsets[known][0]) / abs(later_q))
    # Rounds without a note do not count, however many there are.
    number = np.cumsum(np.diff(turn, prepend=turn[0]) != 0.0)
    rounds = np.bincount(number)
    other = rounds - np.bincount(number, again)
    return float(again.mean()) if (other <= np.maximum((1 - _ALIKE) * rounds, 1.01)).all() else 0.0


def _met(
    heard: Integers, onsets: Floats, later_q: float, tolerance_q: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Of which notes it could be heard whether they come again so much later, (k,), and of those
    whether they do.
    """
    due = onsets + later_q
    known = (due >= onsets[0] - tolerance_q) & (due <= onsets[-1] + tolerance_q)
    # One row of numbers: every pitch has a stretch of its own.
    stretch = float(onsets[-1] - onsets[0]) + 4 * (abs(later_q) + 1.0)
    there = np.sort(heard * stretch + onsets - onsets[0])
    wanted = heard[known] * stretch + due[known] - onsets[0]
    at = np.searchsorted(there, wanted - tolerance_q)
    again = (at < len(there)) & (there[np.minimum(at, len(there) - 1)] - wanted <= tolerance_q)
    return known, np.asarray(again, bool)
