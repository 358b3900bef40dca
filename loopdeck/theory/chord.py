"""The names of intervals and chords, as players call them.

Conventions: MIDI pitches in any order, repeats allowed; names in ASCII ("Bb", "F#"), spelled by a
scale where one is given. The lowest note is taken for the root where that gives a chord, else the
chord is named over its bass ("C/E"). A fifth alone is a power chord ("E5"). Common practice, no
source; the tests compare with music21.
"""

from collections.abc import Collection

from loopdeck.theory.pitch import pitch_name
from loopdeck.theory.scale import Scale

#: Names of intervals by semitones, the compound ones up to two octaves as they are used on basses.
INTERVALS = (
    "unison", "minor second", "major second", "minor third", "major third", "fourth", "tritone", "fifth", "minor sixth",
    "major sixth", "minor seventh", "major seventh", "octave", "minor ninth", "major ninth", "minor tenth", "major tenth",
    "eleventh", "tritone and octave", "twelfth", "minor thirteenth", "major thirteenth", "minor seventh and octave",
    "major seventh and octave", "two octaves",
)  # fmt: skip

#: Suffixes by the semitones above the root.
CHORDS = {
    (0, 7): "5",
    (0, 4, 7): "",
    (0, 3, 7): "m",
    (0, 3, 6): "dim",
    (0, 4, 8): "aug",
    (0, 2, 7): "sus2",
    (0, 5, 7): "sus4",
    (0, 4, 7, 10): "7",
    (0, 4, 7, 11): "maj7",
    (0, 3, 7, 10): "m7",
    (0, 3, 7, 11): "m(maj7)",
    (0, 3, 6, 10): "m7b5",
    (0, 3, 6, 9): "dim7",
    (0, 4, 7, 9): "6",
    (0, 3, 7, 9): "m6",
    (0, 2, 4, 7): "add9",
    (0, 2, 3, 7): "m(add9)",
    # On a bass the fifth is often left out.
    (0, 4, 10): "7",
    (0, 4, 11): "maj7",
    (0, 3, 10): "m7",
    (0, 3, 11): "m(maj7)",
}


def interval_name(low: int, high: int) -> str:
    """``"fifth"`` for 28 and 35; more than two octaves are named within the octave."""
    semitones = abs(high - low)
    return INTERVALS[semitones] if semitones < len(INTERVALS) else INTERVALS[semitones % 12]


def chord_name(pitches: Collection[int], scale: Scale | None = None) -> str:
    """``"Em7"``, ``"C/E"``, ``"E5"``; ``""`` where the pitches make no chord of the list (a single
    pitch never does).
    """
    classes = sorted({pitch % 12 for pitch in pitches})
    if len(classes) < 2:
        return ""
    bass = min(pitches) % 12

    def name(pitch_class: int) -> str:
        return (scale.spell(60 + pitch_class) if scale is not None else pitch_name(60 + pitch_class)).rstrip(
            "0123456789-"
        )

    for root in sorted(classes, key=lambda one: (one - bass) % 12):
        suffix = CHORDS.get(tuple(sorted((one - root) % 12 for one in classes)))
        if suffix is not None and (root == bass or len(classes) > 2):
            return name(root) + suffix + ("" if root == bass else f"/{name(bass)}")
    return ""


def together_name(pitches: Collection[int], scale: Scale | None = None) -> str:
    """What sounds together in words: a chord's name, or the interval of two pitches (or pitch
    classes); ``""`` for anything else.
    """
    ordered = sorted(set(pitches))
    if len(ordered) < 2:
        return ""
    if len({pitch % 12 for pitch in ordered}) == 1 or len(ordered) == 2:
        interval = interval_name(ordered[0], ordered[-1])
        chord = chord_name(ordered, scale)
        return f"{chord} ({interval})" if chord else interval
    return chord_name(ordered, scale)
