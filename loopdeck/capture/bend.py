"""Pitch bends as MIDI 1.0 messages: 14 bits, centre 8192, over a range in semitones that registered
parameter 0,0 sets.
"""

from loopdeck.capture.bend_wheel import BEND_CENTRE

#: The number of the registered parameter is set to "none" after use, so that no stray data entry
#: changes the range.
_CLOSED = ((101, 127), (100, 127))


def bend_offset(semitones: float, bend_range: float) -> int:
    """A bend as its distance from the centre, -8192 to 8191."""
    return min(max(round(semitones / bend_range * BEND_CENTRE), -BEND_CENTRE), BEND_CENTRE - 1)


def bend_data(channel: int, semitones: float, bend_range: float) -> bytes:
    """The pitch-bend message for so many semitones; ``channel`` counts from 0."""
    value = BEND_CENTRE + bend_offset(semitones, bend_range)
    return bytes((0xE0 | channel, value & 0x7F, value >> 7))


def range_controls(semitones: float, close: bool = False) -> tuple[tuple[int, int], ...]:
    """The controllers and values that set the bend range, in semitones and hundredths of them;
    ``close``: and end the setting of parameters.
    """
    whole = int(semitones)
    cents = round((semitones - whole) * 100)
    return ((101, 0), (100, 0), (6, whole), (38, cents), *(_CLOSED if close else ()))


def range_data(channel: int, semitones: float, close: bool = False) -> tuple[bytes, ...]:
    """The same as messages on a channel."""
    return tuple(bytes((0xB0 | channel, *pair)) for pair in range_controls(semitones, close))
