"""What channels were told last: how far they are bent, or whether their notes are dead.

Conventions
    Who listens to MIDI knows a channel by its number. The built-in sound knows it by the part of
    the mixer as well: a channel that a layer lends to a string of its own belongs to that layer's
    part (``home``, see ``voices.Out``), and bends and controllers of the one part leave the other
    alone. So something is known only where both were told it. Channels count from 0; ``home`` is
    -1 where the channel is the layer's own. Values are 0 until told.
"""

#: The receiver of MIDI, among the homes.
_MIDI = -2


class ChannelValues:
    """One value for each channel."""

    def __init__(self) -> None:
        self._told: dict[tuple[int, int], int] = {}

    def known(self, channel: int, home: int, value: int) -> bool:
        """True where nobody has to be told this value."""
        return all(self._told.get((channel, one), 0) == value for one in (_MIDI, home))

    def tell(self, channel: int, home: int, value: int) -> None:
        """The value has been sent."""
        self._told[channel, _MIDI] = self._told[channel, home] = value

    def not_zero(self) -> list[tuple[int, int]]:
        """The channels, with their homes, that stand at another value than 0; sorted."""
        return sorted(place for place, value in self._told.items() if value and place[1] != _MIDI)

    def parts(self) -> list[tuple[tuple[int, int], int]]:
        """For the digest."""
        return sorted(self._told.items())
