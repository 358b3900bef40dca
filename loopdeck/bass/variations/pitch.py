"""Other pitches: transposed, an octave away, by steps of the scale, into another scale by degree.

Method
    A note outside its scale keeps its distance from the note of the scale below it. Into a scale
    with other degrees a note goes by the number of its degree (the third to the third); a number
    that the other scale lacks goes to its note nearest in pitch.
"""

from bisect import bisect_right
from dataclasses import replace

from loopdeck.bass.variations.line import Line
from loopdeck.errors import UserError
from loopdeck.theory.formulas import semitone_of
from loopdeck.theory.pitch import parse_note_name, pitch_name
from loopdeck.theory.scale import Scale


def transposed(line: Line, semitones: int) -> Line:
    """Every note ``semitones`` higher (below 0: lower), and the brief's scale with it."""
    moved = line.with_pitches(line.notes["pitch"].astype(int) + semitones)
    scale = line.brief.scale
    if scale is None or semitones % 12 == 0:
        return moved
    return replace(moved, brief=replace(moved.brief, scale=moved_scale(scale, semitones)))


def moved_scale(scale: Scale, semitones: int) -> Scale:
    """The same scale on a root ``semitones`` higher, spelled with as few accidentals as it can
    be.
    """
    pitch_class = (scale.root.pitch_class + semitones) % 12
    names = {pitch_name(60 + pitch_class, flats=flats).rstrip("0123456789") for flats in (False, True)}
    choices = [replace(scale, root=parse_note_name(name)) for name in sorted(names)]
    return min(choices, key=lambda one: sum(abs(note.accidental) for note in one.spelled))


def steps_of(scale: Scale) -> list[int]:
    """Semitones above the root of the scale's notes, rising."""
    return sorted({semitone_of(degree) % 12 for degree in scale.degrees})


def split(pitch: int, scale: Scale) -> tuple[int, int, int]:
    """(octaves of the root below, number of the scale's note at or below, semitones above that)."""
    octave, above = divmod(pitch - scale.root.pitch_class, 12)
    steps = steps_of(scale)
    number = bisect_right(steps, above) - 1
    return octave, number, above - steps[number]


def joined(octave: int, number: int, above: int, scale: Scale) -> int:
    """The pitch of what ``split`` says; ``number`` may lie outside the octave."""
    steps = steps_of(scale)
    more, number = divmod(number, len(steps))
    return (octave + more) * 12 + scale.root.pitch_class + steps[number] + above


def stepped(line: Line, scale: Scale, steps: int) -> Line:
    """Every note ``steps`` notes of the scale higher (below 0: lower)."""
    return line.with_pitches([stepped_pitch(int(pitch), scale, steps) for pitch in line.notes["pitch"]])


def stepped_pitch(pitch: int, scale: Scale, steps: int) -> int:
    """One pitch moved by notes of the scale."""
    octave, number, above = split(pitch, scale)
    return joined(octave, number + steps, above, scale)


def into(line: Line, source: Scale, target: Scale) -> Line:
    """The line in another scale by degree, on the root that is nearest; an octave from there where
    more of the notes then lie on the neck.
    """
    shift = (target.root.pitch_class - source.root.pitch_class + 5) % 12 - 5
    table = [_in_target(above, source, target) for above in range(12)]
    pitches = []
    for pitch in line.notes["pitch"].tolist():
        octave, above = divmod(pitch - source.root.pitch_class, 12)
        pitches.append(octave * 12 + source.root.pitch_class + shift + table[above])
    if not shift:
        return line.with_pitches(pitches)
    choices = [line.with_pitches([pitch + octave for pitch in pitches]) for octave in (0, 12, -12)]
    return min(choices, key=lambda one: len(line) - len(one) + one.off_neck())


def _in_target(above: int, source: Scale, target: Scale) -> int:
    """Semitones above the new root for a note ``above`` the old one."""
    steps = steps_of(source)
    base = steps[bisect_right(steps, above) - 1]
    degree = next(one for one in source.degrees if semitone_of(one) % 12 == base)
    numbers = [one for one in target.degrees if one[-1] == degree[-1]]
    choices = [semitone_of(one) % 12 for one in numbers] or steps_of(target)
    place = min(choices, key=lambda one: (abs(one - base), one))
    return place + above - base


def need_scale(line: Line) -> Scale:
    """The scale of the brief. Raises UserError if it has none."""
    scale = line.brief.scale
    if scale is None:
        raise UserError(
            'This needs a scale: the brief says none; choose one there, or name it with --scale "E dorian".'
        )
    return scale
