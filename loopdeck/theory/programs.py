"""Programs of General MIDI level 1 (MIDI Manufacturers Association, 1991), counted from 1."""

GUITARS = range(25, 33)


def is_guitar(program: int) -> bool:
    """Whether a guitar plays it, from nylon strings to harmonics."""
    return program in GUITARS
