"""The pitch bend of one channel, as MIDI 1.0 has it: 14 bits around the centre, over a range that
registered parameter 0,0 sets.
"""

BEND_CENTRE = 8192
#: Semitones of full pitch-bend travel until RPN 0,0 sets it (MIDI 1.0).
DEFAULT_BEND_RANGE = 2.0

_NO_PARAMETER = (127, 127)
_BEND_RANGE = (0, 0)
_DATA, _DATA_FINE, _RESET = 6, 38, 121
_OTHER_PARAMETER = (98, 99)
_PARAMETER_FINE, _PARAMETER = 100, 101


class BendWheel:
    """What a channel has been told of its bend."""

    __slots__ = ("_bend", "_cents", "_parameter", "_semitones")

    def __init__(self) -> None:
        self._bend = 0
        self._semitones, self._cents = int(DEFAULT_BEND_RANGE), 0
        self._parameter = _NO_PARAMETER

    @property
    def range(self) -> float:
        """Semitones of full travel."""
        return self._semitones + self._cents / 100.0

    @property
    def bent(self) -> float:
        """The bend in force, in semitones."""
        return self._bend / BEND_CENTRE * self.range

    def turn(self, low: int, high: int) -> None:
        """A pitch-bend message with these two data bytes."""
        self._bend = (low | high << 7) - BEND_CENTRE

    def release(self) -> None:
        """Back to the centre."""
        self._bend = 0

    def control(self, controller: int, value: int) -> bool:
        """Take in a controller; True when the bend in force may have changed by it.

        CC101 and CC100 select a registered parameter, CC99 and CC98 another one, for which data
        entry (CC6 semitones, CC38 cents) is ignored. CC121 puts the bend to the centre and selects
        no parameter, but leaves the range (RP-015).
        """
        if controller == _PARAMETER:
            self._parameter = (value, self._parameter[1])
        elif controller == _PARAMETER_FINE:
            self._parameter = (self._parameter[0], value)
        elif controller in _OTHER_PARAMETER:
            self._parameter = _NO_PARAMETER
        elif controller == _RESET:
            self._parameter, self._bend = _NO_PARAMETER, 0
            return True
        elif controller in (_DATA, _DATA_FINE) and self._parameter == _BEND_RANGE:
            if controller == _DATA:
                self._semitones = value
            else:
                self._cents = value
            return True
        return False
