"""The first thing to try in a brief: where to begin, which beat to leave empty, which degree to end
on.
"""

from loopdeck.brief.brief import Brief
from loopdeck.theory.formulas import semitone_of
from loopdeck.theory.scale import Scale

#: The degree that tells a scale from its nearest neighbour, and that neighbour. Common practice, no
#: source.
_TELLS = {
    "ionian": ("7", "mixolydian"), "lydian": ("#4", "ionian"), "mixolydian": ("b7", "ionian"), "dorian": ("6", "aeolian"),
    "aeolian": ("b6", "dorian"), "phrygian": ("b2", "aeolian"), "locrian": ("b5", "phrygian"),
    "harmonic minor": ("7", "aeolian"), "melodic minor": ("7", "dorian"), "phrygian dominant": ("3", "phrygian"),
    "minor blues": ("b5", "minor pentatonic"), "major blues": ("b3", "major pentatonic"),
    "lydian dominant": ("#4", "mixolydian"), "major pentatonic": ("3", "minor pentatonic"),
    "minor pentatonic": ("b3", "major pentatonic"),
}  # fmt: skip
_NUMBERS = ("", "root", "second", "third", "fourth", "fifth", "sixth", "seventh")


def degree_words(degree: str) -> str:
    """A degree as players say it: ``the flat second``, ``the fifth``."""
    signs, number = degree[:-1], _NUMBERS[int(degree[-1])]
    kind = {"": "", "b": "flat ", "#": "raised ", "bb": "double flat ", "##": "double raised "}[signs]
    return f"the {kind}{number}"


def first_step(brief: Brief, luck: tuple[float, float, float]) -> tuple[str, str]:
    """The step and its reason, a sentence each without its full stop where it is the step.

    ``luck``: three numbers from 0 up to 1.
    """
    scale = brief.scale
    begin, end, why_end = _ends(scale, luck[0])
    meter = brief.cycle.meters[-1]
    # Never the first beat: what begins on the root is to be heard there.
    starts = [1 + sum(meter.groups[:index]) for index in range(1, len(meter.groups))]
    beats = starts or list(range(2, meter.numerator + 1)) or [1]
    if meter.unit >= 8 and len(beats) > 1 and luck[2] < 0.5:
        beats = beats[1:]
    beat = beats[int(luck[1] * len(beats))]
    bar = "" if len(brief.cycle.meters) == 1 else " of the last bar"
    step = f"begin on {begin}, leave beat {beat}{bar} empty, end on {end}"
    return step, f"{why_end}; the empty beat leaves room to hear the pulse (our own choice)."


def _ends(scale: Scale | None, luck: float) -> tuple[str, str, str]:
    if scale is None:
        return "any open string", "the note you began on", "Without a scale the first note is home"
    others = [degree for degree in scale.degrees if degree != "1"]
    firsts = ["1"] * 3 + [degree for degree in ("5", "b3", "3") if degree in scale.degrees][:2]
    begin = firsts[int(luck * len(firsts))]
    told, other = _TELLS.get(scale.name, (max(others, key=_strange) if others else "1", ""))
    if told == begin:
        begin = "1"
    name = degree_words(told)
    said = name[0].upper() + name[1:]
    if other:
        return degree_words(begin), name, f"{said} is the note that tells {scale.name} from {other}"
    altered = "lowered" if told.startswith("b") else "raised" if told.startswith("#") else ""
    why = f"is {altered} against the major scale" if altered else "belongs to the scale"
    return degree_words(begin), name, f"{said} {why}, so ending there is the sound of {scale.name}"


def _strange(degree: str) -> float:
    """How unusual a degree is: altered ones first, then by their distance from the root."""
    return len(degree) * 12 + min(semitone_of(degree) % 12, 12 - semitone_of(degree) % 12) * -1
