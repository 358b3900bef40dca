"""How an input hears its strings: which channel is which, and how late each pitch is.

Conventions: ``channels`` are those of the strings from the highest (1) to the lowest, counted from
1; a note of pitch p is judged ``constant_ms`` and ``periods`` of p earlier than it arrives
(``bass.pickup.delay``). Pure.
"""

from dataclasses import dataclass

from loopdeck.bass.pickup.delay import late_sec
from loopdeck.bass.pickup.profile import Delay
from loopdeck.errors import UserError

MOST_STRINGS = 12


@dataclass(frozen=True)
class Heard:
    """One input's pickup."""

    channels: tuple[int, ...] = ()
    constant_ms: float = 0.0
    periods: float = 0.0

    def string_of(self, channel: int) -> int:
        """The string of a channel counted from 0; 0 where it names none."""
        return self.channels.index(channel + 1) + 1 if channel + 1 in self.channels else 0

    def late_sec(self, pitch: int) -> float:
        """How late a note is, in seconds."""
        return float(late_sec(pitch, Delay(self.constant_ms, self.periods)))


def channels_of(words: str) -> tuple[int, ...]:
    """Channels from a row of numbers, ``1 2 3 4``; none from an empty one. Raises UserError."""
    parts = words.split()
    numbers = tuple(int(one) for one in parts if one.isascii() and one.isdecimal() and len(one) <= 2)
    if len(numbers) != len(parts) or len(set(numbers)) != len(numbers) or len(numbers) > MOST_STRINGS:
        raise UserError(
            f"{words[:40]!r} is no row of channels; write each string's, the highest first, such as 1 2 3 4."
        )
    if not all(1 <= one <= 16 for one in numbers):
        raise UserError(f"Channels are numbers from 1 to 16, not {words[:40]!r}.")
    return numbers
