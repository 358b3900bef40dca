"""The scale by which a take is varied that names none: the one that explains its notes best."""

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopdeck.bass.variations.line import Line, Varied
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
