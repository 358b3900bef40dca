"""What a bend curve looks like to a player: a bend, a slide to another fret, vibrato, or nothing.

Conventions: a curve is a sequence of (quarters after the onset, semitones), as in the messages. The
limits are common practice, no source; they only choose how a note is drawn, and nothing is measured
by them. Pure.
"""

from collections.abc import Sequence
from itertools import pairwise

Curve = Sequence[tuple[float, float]]

#: Semitones below which a curve is not a gesture, and below which a turn of it is none.
LEAST = 0.15
_TURN = 0.06
#: A slide ends at least this far away, at most so far from a whole number of frets.
_SLIDE, _ON_FRET = 1.5, 0.2
_VIBRATO_TURNS, _VIBRATO_DEPTH = 3, 1.3


def gesture(curve: Curve) -> str:
    """``"slide"``, ``"bend"``, ``"vibrato"``, or ``""`` for a note that stays where it was
    struck.
    """
    if not curve:
        return ""
    values = [semitones for _, semitones in curve]
    width = max(values) - min(values)
    if width < LEAST and max(abs(one) for one in values) < LEAST:
        return ""
    if width <= _VIBRATO_DEPTH and _turns(values) >= _VIBRATO_TURNS:
        return "vibrato"
    last = values[-1]
    stays = (
        abs(last) >= _SLIDE and abs(last - round(last)) <= _ON_FRET and abs(last) >= max(map(abs, values)) - _ON_FRET
    )
    return "slide" if stays else "bend"


def _turns(values: Sequence[float]) -> int:
    """How often the curve turns round, movements smaller than a sixteenth of a semitone left
    out.
    """
    turns, way, at = 0, 0, values[0]
    for value in values[1:]:
        if abs(value - at) < _TURN:
            continue
        new = 1 if value > at else -1
        turns += new == -way
        way, at = new, value
    return turns


def value_at(curve: Curve, after_q: float) -> float:
    """The semitones at ``after_q``: straight from point to point, flat before and after them."""
    if not curve or after_q <= curve[0][0]:
        return curve[0][1] if curve else 0.0
    for (left, low), (right, high) in pairwise(curve):
        if after_q <= right:
            return low + (high - low) * (after_q - left) / (right - left) if right > left else high
    return curve[-1][1]
