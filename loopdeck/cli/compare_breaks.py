"""Where a take loses its place, in words: ``you leave out half a beat before beat 4 in bar 3``."""

from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from loopdeck.analysis.feel_places import named

if TYPE_CHECKING:
    from loopdeck.analysis.comparison.breaks import Break
    from loopdeck.analysis.comparison.comparing import Comparison
    from loopdeck.rhythm.meter import Meter
    from loopdeck.shelf.material import Material

#: So many of them are named, and so near, in beats, a break is a musical length.
_MOST_NAMED, _NEAR = 2, 0.07
_PARTS = {
    Fraction(1, 4): "a quarter of a beat",
    Fraction(1, 2): "half a beat",
    Fraction(3, 4): "three quarters of a beat",
}


def breaks_said(made: "Comparison", take: "Material", target: "Material") -> str:
    """How the take loses its place, without a capital or a full stop; empty if it keeps it."""
    if not made.breaks:
        return ""
    each = [_one(made, one, take, target) for one in made.breaks[:_MOST_NAMED]]
    more = len(made.breaks) - len(each)
    if more:
        each.append(f"lose your place {'once' if more == 1 else f'{more} times'} more")
    told = f"{', '.join(each[:-1])} and {each[-1]}" if len(each) > 1 else each[0]
    return f"you {told}, and go on from there"


def bars_of_breaks(made: "Comparison", target: "Material") -> list[int]:
    """The bars in which the take goes on at another place."""
    return [int(target.bars[one.at]) for one in made.breaks]


def _one(made: "Comparison", one: "Break", take: "Material", target: "Material") -> str:
    length = _length(one, target)
    where = f"before {named(target.count_of(one.at))} in bar {int(target.bars[one.at])}"
    if one.moved_sec < 0:
        return f"leave out {length} {where}"
    how = ("play", "too much") if _played_between(made, one, take) else ("wait", "too long")
    return f"{how[0]} {length} {how[1]} {where}"


def _played_between(made: "Comparison", one: "Break", take: "Material") -> bool:
    """Whether notes that do not belong fill the time, or a rest."""
    onsets = take.notes.array["onset_sec"][made.added]
    return bool(((onsets > one.left_sec + 0.05) & (onsets < one.back_sec - 0.05)).any())


def _length(one: "Break", target: "Material") -> str:
    """How long the break is: in bars, in beats, or else in seconds."""
    at_sec, long_sec = float(target.notes.array["onset_sec"][one.at]), abs(one.moved_sec)
    quarters = np.diff(target.tempo.quarters(np.array([at_sec, at_sec + long_sec])))[0]
    meter = target.meter_of(int(target.bars[one.at]))
    return in_beats(float(quarters), meter) or f"{long_sec:.1f} s"


def in_beats(quarters: float, meter: "Meter") -> str:
    """``a bar``, ``2 beats``, ``half a beat``; empty if it is not a musical length."""
    beats = Fraction(round(4 * quarters / float(meter.unit_quarters)), 4)
    if beats == 0 or abs(quarters / float(meter.unit_quarters) - float(beats)) > _NEAR:
        return ""
    bars = beats * meter.unit_quarters / meter.quarters
    if bars.denominator == 1:
        return "a bar" if bars == 1 else f"{bars} bars"
    whole, part = divmod(beats, 1)
    if not whole:
        return _PARTS[part]
    if not part:
        return "a beat" if whole == 1 else f"{whole} beats"
    if part == Fraction(1, 2):
        return "a beat and a half" if whole == 1 else f"{whole} and a half beats"
    return f"{float(beats):g} beats"
