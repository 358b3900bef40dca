"""The scales by their formulas: degrees against the major scale.

Common practice, no source, for all of them; ``tests/outside`` compares the spellings with a
reference library. The simplest come first within each family, and the order is the one in which
scales are offered.
"""


def _modes(formula: str, names: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """The modes of a seven-note scale, each written against the major scale on its own root."""
    semitones = [semitone_of(degree) for degree in formula.split()]
    result = {}
    for turn, name in enumerate(names):
        degrees = []
        for step in range(7):
            place = (semitones[(turn + step) % 7] - semitones[turn]) % 12
            accidental = (place - MAJOR[step] + 6) % 12 - 6
            degrees.append(("b" * -accidental if accidental < 0 else "#" * accidental) + str(step + 1))
        result[name] = tuple(degrees)
    return result


MAJOR = (0, 2, 4, 5, 7, 9, 11)


def semitone_of(degree: str) -> int:
    """Semitones above the root of a degree such as ``b3`` or ``#4`` (1 to 7 with accidentals)."""
    number = int(degree.lstrip("b#"))
    signs = degree[: len(degree) - len(str(number))]
    return MAJOR[number - 1] + signs.count("#") - signs.count("b")


SCALES: dict[str, tuple[str, ...]] = {
    **_modes("1 2 3 4 5 6 7", ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")),
    **_modes(
        "1 2 b3 4 5 b6 7",
        (
            "harmonic minor",
            "locrian natural 6",
            "ionian augmented",
            "dorian #4",
            "phrygian dominant",
            "lydian #2",
            "ultralocrian",
        ),
    ),
    **_modes(
        "1 2 b3 4 5 6 7",
        (
            "melodic minor",
            "dorian b2",
            "lydian augmented",
            "lydian dominant",
            "mixolydian b6",
            "locrian natural 2",
            "altered",
        ),
    ),
    "major pentatonic": ("1", "2", "3", "5", "6"),
    "minor pentatonic": ("1", "b3", "4", "5", "b7"),
    "major blues": ("1", "2", "b3", "3", "5", "6"),
    "minor blues": ("1", "b3", "4", "b5", "5", "b7"),
    "whole tone": ("1", "2", "3", "#4", "#5", "b7"),
    "whole-half octatonic": ("1", "2", "b3", "4", "b5", "b6", "6", "7"),
    "half-whole octatonic": ("1", "b2", "b3", "3", "#4", "5", "6", "b7"),
    "chromatic": ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"),
}

#: Other names in use.
ALIASES = {
    "major": "ionian",
    "minor": "aeolian",
    "natural minor": "aeolian",
    "blues": "minor blues",
    "pentatonic minor": "minor pentatonic",
    "pentatonic major": "major pentatonic",
    "super locrian": "altered",
    "superlocrian": "altered",
    "acoustic": "lydian dominant",
    "octatonic": "half-whole octatonic",
    "diminished": "whole-half octatonic",
}
