"""Whether a take swings, and how much, when nobody said so.

The off-beats of a swung take gather at one place after the middle of their pair. That place is a
guess; the model then says whether the take is likelier with straight places played so, or without.
A guess is taken when its score is clearly better. Ratios below 1.2:1 are not looked for (they are
read right as they stand), nor above 2.8:1, where a dotted figure is meant.
"""

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.transcription.beats import Beats
from loopdeck.rhythm.swing import UNITS, Swing

MARGIN, MARGIN_A_BEAT = 3.5, 0.03
LEAST, MOST = 1.2, 2.8
#: With fewer off-beats than this a dotted figure is told from swing by less.
FEW, MOST_OF_FEW = 8, 2.65
#: Off-beats needed for a guess, and where no pair has anything else; how many pairs that have
#: something else, at most, beside each off-beat.
FEWEST, FEWEST_ALONE, MOST_OTHERS = 3, 2, 0.5


def guesses(event_q: NDArray[np.float64], beats: Beats, beat: NDArray[np.int64]) -> list[Swing]:
    """Swings worth trying, none or one for each unit.

    ``beat``: the beat each event lies in, (k,).
    """
    found = []
    inside = event_q - beats.start_q[beat]
    for unit in UNITS.values():
        pair = 2 * float(unit)
        # Eighths swing in beats that hold a pair; sixteenths, too.
        fits = beats.length_q[beat] >= pair - 1e-9
        if unit == UNITS["1/8"]:
            # Of three eighths the first two are a pair, where there are other pairs beside them.
            fits &= ~beats.compound[beat] | ((inside < pair) & (not beats.compound.all()))
        off, others = _off_beats(beat[fits], inside[fits] / pair)
        if len(off) < (FEWEST if others else FEWEST_ALONE) or others > MOST_OTHERS * len(off):
            continue
        middle = _gathered(off)
        if (np.abs(off - middle) < 0.09).mean() < 0.6:
            continue
        middle -= _late_beats(inside[fits] / pair)
        ratio = middle / (1 - middle)
        if LEAST <= ratio <= (MOST if len(off) >= FEW else MOST_OF_FEW):
            found.append(Swing(Fraction(round(ratio * 100), 100), unit))
    return found


def _off_beats(beat: NDArray[np.int64], turn: NDArray[np.float64]) -> tuple[NDArray[np.float64], int]:
    """Where in their pair the off-beats lie, and how many pairs have something before their middle:
    what comes after it there belongs to a triplet, say, and is not an off-beat. ``beat`` of each
    event, ``turn``: pairs from the start of it.
    """
    share = turn % 1.0
    of_pair = beat * 8 + np.floor(turn).astype(np.int64)
    other = np.unique(of_pair[(share > 0.2) & (share < 0.44)])
    off = (share > 0.44) & (share < 0.82) & ~np.isin(of_pair, other)
    return share[off], len(other)


def _gathered(share: NDArray[np.float64]) -> float:
    """Where most of these places in a pair are, (k,), k above 0."""
    middle = float(np.median(share))
    for _ in range(3):
        near = share[np.abs(share - middle) < 0.12]
        middle = float(np.median(near)) if len(near) else middle
    return middle


def _late_beats(turn: NDArray[np.float64]) -> float:
    """How late the first notes of the pairs are, in pairs: who is late throughout does not swing.
    0 with fewer than ``FEWEST`` of them.
    """
    from_beat = (turn + 0.5) % 1.0 - 0.5
    first = from_beat[np.abs(from_beat) < 0.2]
    return float(np.median(first)) if len(first) >= FEWEST else 0.0


def measured(
    event_q: NDArray[np.float64], written_q: NDArray[np.float64], start_q: NDArray[np.float64], swing: Swing
) -> Swing:
    """The swing with the ratio that the off-beats really have: events on straight places
    ``written_q``, in beats from ``start_q``.
    """
    assert swing.unit is not None
    pair = 2 * float(swing.unit)
    inside = written_q - start_q
    rows = np.flatnonzero(np.abs(inside / pair % 1.0 - 0.5) < 1e-6)
    if not len(rows):
        return swing
    late = (event_q - written_q) / pair
    beats = np.flatnonzero(np.abs((inside / pair + 0.5) % 1.0 - 0.5) < 1e-6)
    constant = float(np.median(late[beats])) if len(beats) >= FEWEST else 0.0
    share = float(np.clip(0.5 + np.median(late[rows]) - constant, 0.5, 0.75))
    return Swing(min(Fraction(round(share / (1 - share) * 100), 100), Fraction(3)), swing.unit)
