"""Thirty bass riffs written by hand for judging, each labelled with its scale: nothing is fitted on
them.

They do what bass riffs do: the root may sound once a round, the line dips below it and leads back,
notes are held, rests are left. A riff is notes with their lengths in quarters (a half if none is
given), ``-`` is a rest; rounds have 4 or 8 quarters in 4/4, and many end with a rest that is not
written. The scale of each is what its writer meant; some other players may hear another mode of the
same notes.
"""

import numpy as np

from loopdeck.theory.pitch import parse_pitch
from loopdeck.theory.scale import parse_scale
from tests.fitting.scale_riffs import Riff

RIFFS = (
    ("E minor pentatonic", 8, "E1:1 G1 A1 B1 D2 B1 A1 G1 A1 G1 D1"),
    ("A minor pentatonic", 8, "A1:1 - C2 - D2 E2 G2 A2 - G2 E2 D2 C2"),
    ("D major pentatonic", 8, "D2 F#2 A2 B2 A2 F#2 E2 D2 D2 A1 B1 D2 E2 F#2 E2 D2"),
    ("F# minor pentatonic", 4, "F#1:.25 F#1:.25 A1:.25 B1:.25 C#2:.25 E2:.25 C#2:.25 B1:.25 F#1:.5 E1:.25 F#1:.75"),
    ("A dorian", 8, "A1:1 C2 D2 E2 F#2 G2 E2 D2 C2 B1 G1"),
    ("E phrygian", 8, "E1 E1 F1 E1 G1 F1 E1 D1 E1 B1 C2 B1 A1 G1 F1 E1"),
    ("B aeolian", 8, "B1:1 D2 E2 F#2 G2 F#2 E2 D2 C#2 A1 B1"),
    ("G mixolydian", 8, "G1:1 B1 D2 F2 E2 D2 C2 A1 B1 F1 G1"),
    ("C lydian", 8, "C2:1 E2 G2 F#2 E2 D2 B1 C2 F#2 G2 A1"),
    ("A harmonic minor", 8, "A1:1 B1 C2 E2 F2 E2 G#2 A2 E2 D2 C2"),
    ("G minor blues", 8, "G1:1.5 G1 Bb1 C2 Db2 C2 Bb1:1 F1 G1:1"),
    ("C dorian", 8, "C2:.75 C2:.25 Eb2 F2 G2 A2 Bb2 G2 F2 Eb2 D2 Bb1 C2:1"),
    ("D mixolydian", 8, "D1:1 A1 D2 C2 A1 G1 B1 F#1 G1 E1 C2 D2"),
    (
        "E dorian",
        8,
        "E1:.5 E1:.25 E1:.25 G1:.5 A1:.5 E1:.5 C#2:.5 B1:.5 F#1:.5 E1:.5 D2:.5 C#2:.5 B1:.5 A1:.5 G1:.5 F#1:.5 D1:.5",
    ),
    ("B phrygian", 8, "B1 - B1 C2 D2 C2 A1 B1 - E2 F#2 G2 F#2 E2 D2 C2"),
    ("F ionian", 8, "F1:1 C2 F1 A1 Bb1 C2 D2 E2:1 D2 C2 Bb1 G1 A1 E1"),
    ("A aeolian", 8, "A1:.5 A2:.5 G2 E2 A1 D2 C2 E2 A1 A2 F2 E2 D2 C2 B1 G1"),
    ("G minor pentatonic", 8, "G1:2 F1:.5 G1:.5 Bb1 C2 D2:1 C2 Bb1 F1:1 D1"),
    ("E minor pentatonic", 8, "E1 - - E1 - G1 E1 D1 E1 - A1 B1 - A1 G1 D1"),
    ("C major pentatonic", 8, "C2 C2 G1 A1 C2 D2 E2 G2 E2 D2 C2 A1 G1 A1"),
    ("Bb ionian", 8, "Bb1:1 F2 D2 Eb2 C2 D2 Bb1 A1 F1 G1 A1"),
    ("E phrygian dominant", 8, "E1 F1 G#1 A1 B1 A1 G#1 F1 E1 - D1 E1 C2 B1 G#1 F1"),
    ("A minor blues", 8, "A1 - A1 G1 A1 C2 D2 D#2 E2 - G2 E2 D#2 D2 C2 G1"),
    ("C mixolydian", 8, "C2:.25 C2:.25 - C2:.5 Bb1:.5 C2:.5 E2:.5 F2:.25 G2:.25 A2:.5 G2:.5 D2:.5 Bb1:.5 G1:.5"),
    ("G lydian", 8, "G1:.5 D2 G2 F#2 D2 B1 A1 C#2 D2 E2 C#2 B1 G1:1 F#1"),
    ("F# aeolian", 8, "F#1 - F#1 A1 - B1 C#2 D2 E2 D2 C#2 A1 G#1 A1 B1 E1"),
    ("D dorian", 8, "D1 D2 C2 A1 G1 A1 F1 D1 E1 B1 C2 A1 D1 - C2 C2"),
    ("A mixolydian", 8, "A1:1 E2 A1 G1 A1 C#2 D2 E2 F#2 E2 D2 B1 G1"),
    ("E minor pentatonic", 8, "E1:3 D1:.5 D1:.5 E1:1 G1:.5 A1:.5 B1:.5 A1:.5 G1:.5 D1:.5"),
    ("C aeolian", 8, "C2 Eb2 F2 G2 Ab2 G2 F2 Eb2 D2 Eb2 Bb1 C2 G1 Ab1 Bb1 Bb1"),
)


def entered(at_zero: bool, passes: int = 4) -> list[list[Riff]]:
    """For each riff the loops that begin at each of its notes, ``passes`` rounds long;
    ``at_zero``: they begin at zero and lose their place in the bar.
    """
    return [[_loop(*row, first, at_zero, passes) for first in range(len(_notes(row[2])))] for row in RIFFS]


def _notes(text: str) -> list[tuple[float, float, int]]:
    """Onset and length in quarters, and pitch."""
    notes, at = [], 0.0
    for word in text.split():
        name, _, length = word.partition(":")
        long = float(length or 0.5)
        if name != "-":
            notes.append((at, long, parse_pitch(name)))
        at += long
    return notes


def _loop(named: str, round_q: float, text: str, first: int, at_zero: bool, passes: int) -> Riff:
    scale = parse_scale(named)
    onset, length, pitch = np.array(_notes(text)).T
    part = slice(first, first + passes * len(onset))
    onsets = np.concatenate([onset + turn * round_q for turn in range(passes + 1)])[part]
    return Riff(
        scale.root.pitch_class,
        scale.name,
        "4/4",
        onsets - (onsets[0] if at_zero else 0.0),
        np.tile(length, passes + 1)[part],
        np.tile(pitch, passes + 1)[part].astype(np.int64),
    )
