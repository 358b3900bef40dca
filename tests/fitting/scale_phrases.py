"""Riffs labelled with root and scale, from a second grammar of our own (no source): phrases.

The riffs of ``scale_riffs`` lean on their root: it opens nearly every bar, and mostly nothing is
lower. Many bass riffs do neither. Here a riff has one to four bars, put together from figures of a
beat with rests; the root opens the round, is often held, and may not sound again. Other bars open
on a note of their own (a chord's), the line goes by steps and through chords, dips below the root,
and half of the riffs lead back to the root at the end: from the degree below, the fifth below, the
degree above. Every degree occurs, or as many as ``scale_riffs`` asks for. The loop is heard from
its beginning, or entered at any note, with its place in the bar kept or lost.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.fitting import scale_riffs
from tests.fitting.scale_riffs import METERS, Riff

#: Figures in quarters; what is negative is a rest.
FIGURES = (
    (1.0,), (0.5, 0.5), (0.5, 0.5), (0.25, 0.25, 0.5), (0.5, 0.25, 0.25), (0.75, 0.25), (0.25, 0.25, 0.25, 0.25), (1.5, 0.5),
    (2.0,), (0.5, 1.0, 0.5), (-0.5, 0.5), (0.5, -0.5), (-1.0,), (0.25, -0.25, 0.5),
)  # fmt: skip
#: How many are heard from their beginning, and how many of the others begin at zero wherever they
#: were entered.
FROM_BEGINNING, SHIFTED = 0.2, 0.45
#: How many hold their first note, how many lead back to the root, how many have nothing below it.
HELD, LEAD_BACK, RESTS = 0.4, 0.5, 0.35


class _Plan(NamedTuple):
    """The bar in quarters, onsets and lengths of one round, (n,), and each bar's first degree."""

    bar_q: float
    onset_q: NDArray[np.float64]
    length_q: NDArray[np.float64]
    bars: list[int]


def make(rng: np.random.Generator, rare: float = 0.12, strays: float = 0.015, gaps: float = 0.4) -> Riff:
    """One riff; the chances are those of ``scale_riffs.make``."""
    name, steps = scale_riffs.scale_of(rng, rare, gaps)
    root, meter = int(rng.integers(12)), str(rng.choice(list(METERS), p=[0.7, 0.2, 0.1]))
    plan = _plan(rng, len(steps), METERS[meter])
    floor = 0 if rng.random() < RESTS else -int(rng.integers(1, 4))
    degrees = _filled(rng, _line(rng, plan, steps, floor), len(steps), plan)
    pitches = np.array([root + 24 + 12 * (d // len(steps)) + steps[d % len(steps)] for d in degrees])
    if root < 4 or floor < 0 or rng.random() < 0.2:
        pitches = pitches + 12
    for at in range(1, len(pitches) - 1):
        if rng.random() < strays:
            pitches[at] = pitches[at + 1] - 1
    lengths = plan.length_q * (1.0 if rng.random() < 0.5 else rng.uniform(0.4, 1.0))
    riff = Riff(root, name, meter, plan.onset_q, lengths, pitches)
    return scale_riffs.looped(rng, riff, plan.bar_q * len(plan.bars), SHIFTED, FROM_BEGINNING)


def _plan(rng: np.random.Generator, size: int, bar_q: float) -> _Plan:
    """A rhythm with room for every degree."""
    bars, stretch = int(rng.choice([1, 2, 2, 4])), float(rng.choice([0.5, 1.0, 1.0]))
    while True:
        notes = [(bar * bar_q + at, long) for bar in range(bars) for at, long in _rhythm(rng, bar_q, stretch, bar == 0)]
        if len(notes) >= size + 2:
            break
        bars, stretch = min(bars + 1, 4), stretch if bars < 3 else 0.5
    onset, length = np.array(notes).T
    if rng.random() < HELD:
        hold = float(rng.choice([0.75, 1.0, 1.5, 2.0]))
        kept = (onset == 0) | (onset >= hold - 1e-6)
        if kept.sum() > size:
            onset, length = onset[kept], length[kept].copy()
            length[0] = min(hold, onset[1] - onset[0])
    opens = [0] + [0 if rng.random() < 0.45 else int(rng.integers(size)) for _ in range(bars - 1)]
    return _Plan(bar_q, onset, length, opens)


def _rhythm(rng: np.random.Generator, bar_q: float, stretch: float, first: bool) -> list[tuple[float, float]]:
    """Places and lengths of the notes of one bar; the first bar of a round begins with a note."""
    notes, at = [], 0.0
    while at < bar_q - 1e-6:
        for part in FIGURES[int(rng.integers(len(FIGURES)))]:
            long = min(abs(part) * stretch, bar_q - at)
            if long >= 0.2 and (part > 0 or (first and at == 0.0)):
                notes.append((at, long))
            at += long
    return notes


def _line(rng: np.random.Generator, plan: _Plan, steps: list[int], floor: int) -> list[int]:
    """Degrees, 0 the low root and ``len(steps)`` its octave; some below zero."""
    size = len(steps)
    opens, pull = 0.95 if rng.random() < 0.7 else 0.6, float(rng.uniform(0.0, 0.25))
    leaps = [2, 4, -1, size] if size == 7 else [1, 2, 3, size]
    degrees = [0]
    for place in plan.onset_q[1:].tolist():
        bar = int(place / plan.bar_q + 1e-9)
        chance, chord = rng.random(), plan.bars[bar]
        on_line = abs(place - bar * plan.bar_q) < 1e-6
        if (on_line and chance < opens) or chance < pull:
            at = chord
        elif chance < pull + 0.2:
            at = chord + int(rng.choice(leaps))
        elif chance < pull + 0.27:
            at = degrees[-1]
        else:
            at = degrees[-1] + int(rng.choice([-1, 1, -2, 2], p=[0.38, 0.38, 0.12, 0.12]))
        degrees.append(at if floor <= at <= size + 3 else int(rng.integers(0, size)))
    if rng.random() < LEAD_BACK and len(degrees) > 4:
        fifth = int(np.argmin(np.abs(np.array(steps) - 7))) - size
        ways: list[list[int]] = [[-1], [fifth, -1], [fifth], [1], [-2, -1], [2, 1], [-1, -1]]
        lead = ways[int(rng.integers(len(ways)))]
        degrees[-len(lead) :] = lead
    return degrees


def _filled(rng: np.random.Generator, degrees: list[int], size: int, plan: _Plan) -> list[int]:
    """The same with every degree among them: one that is missing takes the place of one that comes
    twice, but not of a root on a bar line.
    """
    filled = list(degrees)
    for degree in set(range(size)) - {d % size for d in filled}:
        counts = np.bincount([d % size for d in filled], minlength=size)
        roots = (np.array(filled) == 0) & (plan.onset_q % plan.bar_q < 1e-6)
        free = [at for at in range(1, len(filled) - 1) if counts[filled[at] % size] > 1 and not roots[at]]
        if not free:
            break
        filled[int(rng.choice(free))] = degree
    return filled
