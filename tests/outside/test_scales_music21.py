"""Scale spelling against music21 (written against music21 10.5.1; the installed version is in the
message of a failure).

What music21 knows as a scale, and what is compared, on all twelve roots and their usual enharmonic
names:

- the seven modes: its own classes, letter by letter;
- harmonic and melodic minor: its own classes (the rising form of the melodic one), letter by
  letter; their modes: its scale on the tonic that has the root as its n-th degree, read from that
  degree (music21 finds the tonic by its intervals), letter by letter;
- whole-half octatonic, whole tone and chromatic: its own classes, by pitch class, since it numbers
  their letters by another rule (the whole tone scale in C ends on A# and B#, the octatonic one
  spends its doubled letter where it likes, the chromatic scale mixes sharps and flats). Half-whole
  octatonic: its octatonic scale one semitone above, which is the same set, by pitch class;
- minor blues: its weighted hexatonic blues scale (chance leaves its fourth step out of some runs;
  many together have all), by pitch class, since it writes that step as a raised fourth.

It has no class for the two pentatonics and the major blues. These, and every other scale of ours a
second time, are built from its intervals: a degree such as ``b3`` is the minor third that music21
lays above the root, letter by letter.
"""

import warnings
from typing import Any

import pytest

from loopdeck.theory.scale import SCALES, parse_scale
from tests.unit.scale_tools import ROOTS

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    music21 = pytest.importorskip("music21")

VERSION = f"music21 {music21.__version__}"

MODES = {
    "ionian": "MajorScale",
    "dorian": "DorianScale",
    "phrygian": "PhrygianScale",
    "lydian": "LydianScale",
    "mixolydian": "MixolydianScale",
    "aeolian": "MinorScale",
    "locrian": "LocrianScale",
    "harmonic minor": "HarmonicMinorScale",
    "melodic minor": "MelodicMinorScale",
}
#: The scale it is a mode of, and of which degree.
TURNED = {
    "locrian natural 6": ("HarmonicMinorScale", 2),
    "ionian augmented": ("HarmonicMinorScale", 3),
    "dorian #4": ("HarmonicMinorScale", 4),
    "phrygian dominant": ("HarmonicMinorScale", 5),
    "lydian #2": ("HarmonicMinorScale", 6),
    "ultralocrian": ("HarmonicMinorScale", 7),
    "dorian b2": ("MelodicMinorScale", 2),
    "lydian augmented": ("MelodicMinorScale", 3),
    "lydian dominant": ("MelodicMinorScale", 4),
    "mixolydian b6": ("MelodicMinorScale", 5),
    "locrian natural 2": ("MelodicMinorScale", 6),
    "altered": ("MelodicMinorScale", 7),
}
BY_CLASS = {
    "whole tone": ("WholeToneScale", "P1"),
    "whole-half octatonic": ("OctatonicScale", "P1"),
    "half-whole octatonic": ("OctatonicScale", "m2"),
    "chromatic": ("ChromaticScale", "P1"),
}
NO_CLASS = {"major pentatonic", "minor pentatonic", "major blues"}
#: Degrees as intervals of music21: natural ones are perfect or major, and the accidentals count
#: from there.
_PERFECT = {"": "P", "b": "d", "bb": "dd", "#": "A", "##": "AA"}
_MAJOR = {"": "M", "b": "m", "bb": "d", "#": "A", "##": "AA"}


def _pitch(name: str, octave: int = 4) -> Any:
    return music21.pitch.Pitch(name.replace("b", "-") if len(name) > 1 else name, octave=octave)


def _rising(kind: str, root: Any) -> list[Any]:
    """One octave of a scale of music21's upwards from a pitch, without the upper octave."""
    top = root.transpose("P8")
    pitches = getattr(music21.scale, kind)(root).getPitches(root, top, direction=music21.scale.Direction.ASCENDING)
    return [pitch for pitch in pitches if pitch.midi < top.midi]


def _names(pitches: list[Any]) -> tuple[str, ...]:
    return tuple(pitch.name.replace("-", "b") for pitch in pitches)


def test_every_scale_of_ours_is_compared() -> None:
    assert {*MODES, *TURNED, *BY_CLASS, *NO_CLASS, "minor blues"} == set(SCALES)


@pytest.mark.parametrize("root", ROOTS)
@pytest.mark.parametrize("name", MODES)
def test_modes_and_the_minor_scales(name: str, root: str) -> None:
    theirs = _names(_rising(MODES[name], _pitch(root)))
    assert parse_scale(f"{root} {name}").notes == theirs, VERSION


@pytest.mark.parametrize("root", ROOTS)
@pytest.mark.parametrize("name", TURNED)
def test_modes_of_the_minor_scales(name: str, root: str) -> None:
    kind, degree = TURNED[name]
    in_c = _rising(kind, _pitch("C"))
    up = music21.interval.Interval(in_c[0], in_c[degree - 1])
    tonic = _pitch(root, 5).transpose(up.reverse())
    parent = _rising(kind, tonic)
    theirs = _names(parent[degree - 1 :] + parent[: degree - 1])
    assert parse_scale(f"{root} {name}").notes == theirs, VERSION


@pytest.mark.parametrize("root", ROOTS)
@pytest.mark.parametrize("name", BY_CLASS)
def test_scales_with_other_letters_by_pitch_class(name: str, root: str) -> None:
    kind, shift = BY_CLASS[name]
    ours = parse_scale(f"{root} {name}")
    start = _pitch(root).transpose(shift)
    if abs(start.alter) > 2:
        start = start.simplifyEnharmonic()
    assert ours.pitch_classes == {pitch.pitchClass for pitch in _rising(kind, start)}, VERSION


@pytest.mark.parametrize("root", ROOTS)
def test_minor_blues_by_pitch_class(root: str) -> None:
    # Every run takes the raised fourth or not, evenly: that 60 runs all leave it out has a chance
    # of 1e-18.
    found: set[int] = set()
    for _ in range(60):
        found |= {pitch.pitchClass for pitch in _rising("WeightedHexatonicBlues", _pitch(root))}
    assert parse_scale(f"{root} minor blues").pitch_classes == found, VERSION


@pytest.mark.parametrize("root", ROOTS)
@pytest.mark.parametrize("name", SCALES)
def test_every_scale_by_intervals(name: str, root: str) -> None:
    scale = parse_scale(f"{root} {name}")
    theirs = []
    for degree in scale.degrees:
        signs, number = degree[:-1], degree[-1]
        quality = (_PERFECT if number in "145" else _MAJOR)[signs]
        theirs.append(_pitch(root).transpose(quality + number))
    assert scale.notes == _names(theirs), VERSION
