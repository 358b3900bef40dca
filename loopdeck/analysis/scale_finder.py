"""Which scale explains a playing: every root and every scale with its probability.

Conventions
    Pitches are MIDI numbers, roots 0 for C to 11 for B; places and lengths quarters. The answer
    depends on what was played and on nothing that was asked for. Chromatic explains everything and
    so nothing: it is left out.

Method
    A conditional logit. ``scale_features`` says, for every possible root, how much each degree
    sounds, on which places, where it is reached from, where leaps land, which note is lowest, and
    for a tune that ends how it begins, ends and is parted. Where a tune's bars begin is not certain
    (``bar_lines``): what depends on them is the mean over all readings. A scale's score is linear
    in these: a row of weights that all scales share (what a root does), a profile of its own for
    each church mode, a price for what sounds outside the scale, a price for every degree that does
    not sound (so that the smallest scale that holds the notes wins), and a constant. The
    probability is the softmax of the scores; the weights are divided by a temperature so that on
    held-out data seven answers in ten given with 70 % are right. Degree profiles for finding keys
    go back to Krumhansl & Kessler, "Tracing the dynamic changes in perceived tonal organization",
    Psychological Review 89(4), 1982. Where a line plays the blues on a root (``blue_notes``), the
    blues scale comes first there, whatever it borrows. ``tests/fitting/fit_scales.py`` fits the
    tables and prints what they are worth on held-out tunes.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis import scale_tables
from loopdeck.analysis.bar_lines import begins_on_line, readings
from loopdeck.analysis.blue_notes import roots_of_blues
from loopdeck.analysis.scale_features import (
    LOOP_KINDS,
    TUNE_KINDS,
    BarReading,
    LoopBars,
    heard_again,
    is_loop,
    loop_features,
    melody_of,
    tune_features,
)
from loopdeck.rhythm.meter import Meter
from loopdeck.theory.pitch import parse_note_name
from loopdeck.theory.scale import SCALES, Scale

Floats = NDArray[np.float64]

NAMES = tuple(name for name in SCALES if name != "chromatic")
#: A row of pitches that comes round within so many bars is a loop; a longer one is a tune that is
#: played twice.
LONGEST_LOOP_BARS = 8.5
#: A tune is longer than this; what is not may be one round of a loop, and its reading as a tune
#: counts this much in the mean of both.
SHORT_BARS, _TUNE_SHARE = 4.0, 0.4
#: Of fewer pitch classes than this the tables, made from whole melodies, know less and less: the
#: root is found by the shared row, each degree that is not heard costs so much, and each class that
#: lies outside. This project's figures, no source.
_ENOUGH, _UNHEARD, _OUTSIDE = 5, 1.5, 4.0
#: The roots scales are tried on, black keys in both spellings.
_ROOTS = tuple(tuple(parse_note_name(name) for name in names.split()) for names in (
    "C", "Db C#", "D", "Eb D#", "E", "F", "F# Gb", "G", "Ab G#", "A", "Bb A#", "B",
))  # fmt: skip


#: How many times as likely as the next scale on its root the blues scale is where the blues is
#: played. This project's figure, no source.
_BLUES = 2.0


class Playing(NamedTuple):
    """k notes in order of onset, arrays of shape (k,): pitch, ``onset_q`` and ``length_q`` in
    quarters, ``strong`` how strong the metrical place is (0
    to 1, ``scale_features.strength``); ``bar_q`` the usual length of a bar; ``ends`` whether it may
    be a tune that begins and ends, rather than a stretch cut out of playing that went on; ``meter``
    that of every bar, whose lines may stand elsewhere than the file says (None: they are
    believed)."""

    pitch: NDArray[np.int64]
    onset_q: Floats
    length_q: Floats
    strong: Floats
    bar_q: float
    ends: bool
    meter: Meter | None = None


class Ranked(NamedTuple):
    """A scale with its probability (0 to 1), and which of its notes lie outside, (k,)."""

    scale: Scale
    probability: float
    outside: NDArray[np.bool_]


class _Table(NamedTuple):
    """Of the features for each scale, (12 * kinds, scales), the row that all share, (12 * kinds,),
    and the constants, (scales,).
    """

    weights: Floats
    shared: Floats
    constants: Floats


@lru_cache(maxsize=1)
def scales() -> tuple[Scale, ...]:
    """Every root with every scale, root by root, each under the name with fewer accidentals."""
    return tuple(
        min((Scale(root, name, SCALES[name]) for root in roots), key=_signs) for roots in _ROOTS for name in NAMES
    )


def _signs(scale: Scale) -> int:
    return sum(abs(note.accidental) for note in scale.spelled)


@lru_cache(maxsize=1)
def _masks() -> Floats:
    """Which distances above the root each scale holds, (scales, 12)."""
    return np.array([scale.mask for scale in scales()[: len(NAMES)]], float)


@lru_cache(maxsize=2)
def _table(name: str) -> _Table:
    kinds = LOOP_KINDS if name == "LOOPS" else TUNE_KINDS
    lines = (line.split("|") for line in getattr(scale_tables, name).strip().splitlines())
    rows = {what.strip(): np.array(numbers.split(), float) / 100 for what, numbers in lines}
    mask = _masks()
    shared = np.concatenate([rows[kind] for kind in kinds])
    weights = np.repeat(shared[:, None], len(NAMES), axis=1)
    for place, kind in enumerate(kinds):
        for column, mode in enumerate(NAMES):
            if (own := rows.get(f"{mode}: {kind}")) is not None:
                weights[place * 12 : place * 12 + 12, column] += own
    by_share, by_root, unused = rows["costs"].tolist()
    weights[0:12] -= by_share * (1 - mask.T)
    weights[12:24] -= by_root * (1 - mask.T)
    weights[24:36] += unused * mask.T
    constant = {what: float(found[0]) for what, found in rows.items() if what.startswith("constant: ")}
    # A scale that is newer than the table counts as rare as the rarest of it.
    rarest = min(constant.values())
    constants = np.array([constant.get(f"constant: {mode}", rarest) for mode in NAMES]) - unused * mask.sum(axis=1)
    return _Table(weights, shared, constants)


def goes_round(playing: Playing) -> bool:
    """Whether the playing is a loop: it was cut out of something that went on, or it comes round
    within some bars.
    """
    return not playing.ends or _round_q(playing) > 0


def _round_q(playing: Playing) -> float:
    """The length in quarters of what comes round within some bars; 0.0 if nothing does."""
    return is_loop(playing.pitch, playing.onset_q, LONGEST_LOOP_BARS * playing.bar_q)


def _as_agreed(playing: Playing, round_q: float) -> Playing:
    """A loop without the notes that only one of three rounds or more has: slips."""
    kept = heard_again(playing.pitch, playing.onset_q, round_q)
    return playing._replace(
        pitch=playing.pitch[kept],
        onset_q=playing.onset_q[kept],
        length_q=playing.length_q[kept],
        strong=playing.strong[kept],
    )


def features_of(playing: Playing, loop: bool, lines: Floats | None = None) -> Floats:
    """The features of a playing as a loop or as a tune, (12, 12 * kinds); ``lines``: other weights
    for ``bar_lines.readings``.
    """
    notes = melody_of(playing.pitch, playing.onset_q, playing.length_q)
    if loop:
        # A file's loop may have been cut out so that it begins on a bar line that was none.
        sure = not (playing.ends and begins_on_line(float(playing.onset_q[0]), playing.bar_q))
        return loop_features(notes, LoopBars(playing.strong, sure, playing.bar_q, _round_q(playing)))
    if playing.meter is None:
        return tune_features(notes, [BarReading(1.0, 0.0, playing.strong)], playing.bar_q)
    return tune_features(notes, readings(notes, playing.meter, lines), playing.bar_q)


def probabilities(playing: Playing) -> Floats:
    """The probability of every root and scale, (12, scales), adding up to 1. At least one note.

    What is as short as a riff may be a tune or one round of a loop: the geometric mean of both. A
    note that only one round has is not a loop's.
    """
    return _with_blue_notes(playing, _by_tables(playing))


def _with_blue_notes(playing: Playing, chance: Floats) -> Floats:
    """On a root that the blues is played on, the blues scale before all others of that root."""
    blues = NAMES.index("minor blues")
    rivals = np.delete(chance, blues, axis=1).max(axis=1)
    lifted = np.maximum(chance[:, blues], _BLUES * rivals)
    chance[:, blues] = np.where(roots_of_blues(playing.pitch, playing.length_q), lifted, chance[:, blues])
    return np.asarray(chance / chance.sum(), float)


def _by_tables(playing: Playing) -> Floats:
    """The same by the tables alone."""
    round_q = _round_q(playing)
    if round_q > 0:
        return _by_table(_as_agreed(playing, round_q), loop=True)
    if not playing.ends:
        return _by_table(playing, loop=True)
    tune = _by_table(playing, loop=False)
    if float(playing.onset_q[-1] - playing.onset_q[0]) > SHORT_BARS * playing.bar_q:
        return tune
    either = tune**_TUNE_SHARE * _by_table(playing, loop=True) ** (1 - _TUNE_SHARE)
    return np.asarray(either / either.sum(), float)


def _by_table(playing: Playing, loop: bool) -> Floats:
    table = _table("LOOPS" if loop else "TUNES")
    found = features_of(playing, loop)
    scored = found @ table.weights + table.constants
    told = len(set((playing.pitch % 12).tolist()))
    if told < _ENOUGH:
        share = (told - 1) / (_ENOUGH - 1)
        plain = (found @ table.shared)[:, None] - _UNHEARD * (1 - found[:, 24:36]) @ _masks().T
        scored = share * scored + (1 - share) * (plain - _OUTSIDE * found[:, 24:36] @ (1 - _masks().T))
    chance = np.exp(scored - scored.max())
    return np.asarray(chance / chance.sum(), float)


def rank(playing: Playing, best: int = 5) -> list[Ranked]:
    """The ``best`` likeliest scales, the likeliest first; none without notes. 3,000 notes take
    about 10 ms.
    """
    if not len(playing.pitch):
        return []
    chance = probabilities(playing).ravel()
    classes = np.asarray(playing.pitch, np.int64) % 12
    order = np.argsort(-chance, kind="stable")[:best].tolist()
    return [Ranked(scales()[row], float(chance[row]), ~scales()[row].mask[classes]) for row in order]


def playing_of(
    pitch: ArrayLike,
    onset_q: ArrayLike,
    length_q: ArrayLike,
    strong: ArrayLike,
    bar_q: float,
    ends: bool,
    meter: Meter | None = None,
) -> Playing:
    """A ``Playing`` from anything like arrays, shape (k,) each."""
    return Playing(
        np.asarray(pitch, np.int64),
        np.asarray(onset_q, float),
        np.asarray(length_q, float),
        np.asarray(strong, float),
        bar_q,
        ends,
        meter,
    )
