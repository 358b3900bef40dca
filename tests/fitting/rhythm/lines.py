"""Lines of one voice with written rests, and another touch for whoever plays: what the fit of
written durations has beside the corpus, where lines seldom rest.

A line's onsets are drawn on sixteenths, eighths or triplets of any meter, stronger places more
often. A note lasts until the next one or ends before it at some place, a strong one more often.
A bar or two of it come back. Everything is drawn from a seed; shares are set by hand.
"""

from fractions import Fraction

import numpy as np

from loopdeck.analysis.transcription.beats import Stretch, cycle_beats
from loopdeck.rhythm.meter import parse_cycle
from tests.fitting.rhythm.corpus import NOTE, PLAIN, TICKS
from tests.fitting.rhythm.pieces import Piece, piece
from tests.fitting.rhythm.players import Played
from tests.fitting.rhythm.textures import METERS


def line(seed: int, beats: int = 100) -> Piece:
    """A line of about so many beats."""
    rng = np.random.default_rng([9, seed])
    cycle = parse_cycle(str(rng.choice(METERS)))
    table = cycle_beats(cycle)
    simple = all(length == 1 for length in table.length)
    step = [Fraction(1, 4), Fraction(1, 4), Fraction(1, 2), Fraction(1, 3)][int(rng.integers(4 if simple else 3))]
    count = int(cycle.quarters / step)
    slots = [index * step for index in range(count)]
    strong = np.array([2.0 if slot in table.start else 1.0 + (slot % Fraction(1, 2) == 0) * 0.5 for slot in slots])
    density, rests = rng.uniform(0.3, 0.9), rng.choice([0.0, 0.1, 0.3, 0.5])
    struck = rng.random(count) < np.minimum(strong * density / 1.3, 0.97)
    weight = strong**2
    pitch = rng.integers(28, 50, count)
    doubled = rng.random(count) < rng.choice([0.0, 0.0, 0.3])
    rows = []
    ends = {}
    for turn in range(max(int(beats / float(cycle.quarters)), 1)):
        now = np.flatnonzero(struck ^ (rng.random(count) < 0.08))
        for index, slot in enumerate(now.tolist()):
            until = int(now[index + 1]) if index + 1 < len(now) else count
            if (slot, until) not in ends or rng.random() < 0.1:
                inside = np.arange(slot + 1, until)
                shares = weight[inside]
                rest = len(inside) and rng.random() < rests
                ends[slot, until] = int(rng.choice(inside, p=shares / shares.sum())) if rest else until
            onset, length = turn * cycle.quarters + slots[slot], (ends[slot, until] - slot) * step
            for voice in range(1 + int(doubled[slot])):
                rows.append((int(onset * TICKS), int(length * TICKS), int(pitch[slot]) + 7 * voice, 0, PLAIN))
    rows = rows or [(0, TICKS, 40, 0, PLAIN)]
    return piece(f"line {seed}", np.array(sorted(rows), NOTE), (Stretch(Fraction(0), cycle),))


def touched(played: Played, rng: np.random.Generator) -> Played:
    """The same playing with another touch: the usual part of a written duration that a key is down,
    from very short to overlapping, and how much it varies; now and then a note is cut short.
    """
    usual, spread = rng.uniform(0.35, 1.04), rng.choice([0.03, 0.06, 0.12, 0.25])
    ratio = usual * np.exp(rng.normal(size=len(played.onset_q)) * spread)
    short = rng.random(len(ratio)) < rng.choice([0.0, 0.0, 0.05, 0.2])
    ratio = np.where(short, ratio * rng.uniform(0.3, 0.7, len(ratio)), ratio)
    down = np.maximum(played.written_length / TICKS * ratio, 0.03 * played.qpm / 60)
    real = (played.written >= 0) & ~played.ornament
    return played._replace(duration_q=np.where(real, down, played.duration_q))
