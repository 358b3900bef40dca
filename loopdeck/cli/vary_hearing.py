"""What a take is varied by that its brief says nothing of: the scale that explains its notes best,
and the swing that was played.
"""

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopdeck.bass.variations.line import Line, Varied
    from loopdeck.rhythm.swing import Swing
    from loopdeck.shelf.material import Material
    from loopdeck.theory.scale import Scale

#: Ways that need a scale, and those that are better with one.
NEED, USE = ("step", "into", "thirds", "sixths"), ("thicken",)
#: Fewer different notes than this tell no scale (this project's own figure).
_FEW_PITCHES = 3


def scale_heard(material: "Material", how: str) -> "Scale | None":
    """The likeliest scale where the brief has none and ``how`` asks for one; else None."""
    from loopdeck.analysis.scale_finder import rank
    from loopdeck.shelf.playing import pitched_playing

    way = how.strip().lower().partition(" ")[0]
    if material.brief.scale is not None or way not in NEED + USE:
        return None
    playing, _ = pitched_playing(material)
    if len({int(pitch) % 12 for pitch in playing.pitch}) < _FEW_PITCHES:
        return None
    return rank(playing, 1)[0].scale


def swing_heard(line: "Line", how: str) -> "Swing | None":
    """The swing that was played where the brief says straight and ``how`` asks for another; None
    where it was straight, or cannot be told.
    """
    from fractions import Fraction

    from loopdeck.analysis.swing_estimate import estimate
    from loopdeck.rhythm.swing import MAX_RATIO, UNITS, Swing

    if how.strip().lower().partition(" ")[0] != "swing" or not line.brief.swing.straight:
        return None
    fit = estimate(line.notes["onset_q"], line.brief.cycle, line.brief.tempo.quarters_per_minute)
    one = fit.found[fit.main] if fit.main is not None else None
    if fit.main is None or one is None or not (one.is_swung and one.is_uneven):
        return None
    share = Fraction(round(one.share * 1000), 1000)
    return Swing(min(share / (1 - share), Fraction(MAX_RATIO)), UNITS[fit.main], percent=True)


def with_swing(line: "Line", heard: "Swing | None") -> "Line":
    """The line as one with the swing that was heard."""
    return line if heard is None else replace(line, brief=replace(line.brief, swing=heard))


def in_scale(line: "Line", scale: "Scale | None") -> "Line":
    """The line as one in the scale that was heard."""
    return line if scale is None else replace(line, brief=replace(line.brief, scale=scale))


def told(found: "Varied", heard: "Scale | None") -> "Varied":
    """What came of it, with the scale that was heard named and not kept in the brief."""
    if heard is None:
        return found
    riff = found.riff
    if riff.brief.scale == heard:
        riff = replace(riff, brief=replace(riff.brief, scale=None))
    return replace(found, riff=riff, says=f"{found.says} Heard in {heard}; name another scale with --scale.")
