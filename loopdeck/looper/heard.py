"""How an input hears its strings: which channel is which, and how late each pitch is.

Conventions: ``channels`` are those of the strings from the highest (1) to the lowest, counted from
1; a note of pitch p is judged ``constant_ms`` and ``periods`` of p earlier than it arrives
(``bass.pickup.delay``). Pure.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from loopdeck.bass.pickup.delay import MOST_CONSTANT_MS, MOST_PERIODS, late_sec
from loopdeck.bass.pickup.profile import Cleaning, Delay, cleaning_of_words, words_of_cleaning
from loopdeck.errors import UserError

MOST_STRINGS = 12
#: A longer text is no take's.
MOST_TEXT = 1_000_000


@dataclass(frozen=True)
class Heard:
    """One input's pickup."""

    channels: tuple[int, ...] = ()
    constant_ms: float = 0.0
    periods: float = 0.0
    #: The profile's name, the clean-up (None: none), and how far a full bend goes until the pickup
    #: says another (None: 2 semitones).
    name: str = ""
    cleaning: Cleaning | None = None
    bend_range: float | None = None

    def words(self) -> dict[str, Any]:
        """As JSON can hold it; ``heard_of`` is the inverse."""
        return {
            "name": self.name,
            "channels": list(self.channels),
            "constant_ms": self.constant_ms,
            "periods": self.periods,
            "cleaning": "" if self.cleaning is None else words_of_cleaning(self.cleaning),
            "bend_range": self.bend_range,
        }

    def string_of(self, channel: int) -> int:
        """The string of a channel counted from 0; 0 where it names none."""
        return self.channels.index(channel + 1) + 1 if channel + 1 in self.channels else 0

    def late_sec(self, pitch: int) -> float:
        """How late a note is, in seconds."""
        return float(late_sec(pitch, Delay(self.constant_ms, self.periods)))


def heard_of(words: Mapping[str, Any]) -> Heard:
    """What ``Heard.words`` gave. Raises UserError, TypeError, ValueError, LookupError."""
    bend_range = words["bend_range"]
    return Heard(
        channels_of(" ".join(str(int(one)) for one in words["channels"])),
        min(max(float(words["constant_ms"]), 0.0), MOST_CONSTANT_MS),
        min(max(float(words["periods"]), 0.0), MOST_PERIODS),
        str(words["name"])[:200],
        cleaning_of_words(str(words["cleaning"])),
        None if bend_range is None else min(max(float(bend_range), 1.0), 96.0),
    )


def channels_of(words: str) -> tuple[int, ...]:
    """Channels from a row of numbers, ``1 2 3 4``; none from an empty one. Raises UserError."""
    parts = words.split()
    numbers = tuple(int(one) for one in parts if one.isascii() and one.isdecimal() and len(one) <= 2)
    if len(numbers) != len(parts) or len(set(numbers)) != len(numbers) or len(numbers) > MOST_STRINGS:
        raise UserError(
            f"{words[:40]!r} is not a row of channels; write each string's, the highest first, such as 1 2 3 4."
        )
    if not all(1 <= one <= 16 for one in numbers):
        raise UserError(f"Channels are numbers from 1 to 16, not {words[:40]!r}.")
    return numbers


@dataclass(frozen=True)
class Views:
    """How a take is to be seen: ``inputs`` by their port, as their pickups heard; the notes that
    the player wants in view whatever the clean-up thinks of them, as (second, pitch); the technique
    of notes as the player corrected it, as (second, pitch, how it was reached, marks); and whether
    it was written down with its strings, string n on channel n.
    """

    inputs: Mapping[int, Heard] = field(default_factory=dict)
    back: tuple[tuple[float, int], ...] = ()
    technique: tuple[tuple[float, int, str, tuple[str, ...]], ...] = ()
    strings: bool = False


def moved_views(text: str, slower: float = 1.0, semitones: int = 0) -> str:
    """The views of a take that is played so many times ``slower`` or so many ``semitones`` higher
    than it was: delays stay those of the playing.
    """
    views = views_of_text(text)
    higher = 2.0 ** (semitones / 12.0)
    inputs = {
        port: replace(heard, constant_ms=heard.constant_ms * slower, periods=heard.periods * slower * higher)
        for port, heard in views.inputs.items()
    }
    back = tuple((sec * slower, pitch + semitones) for sec, pitch in views.back)
    technique = tuple((sec * slower, pitch + semitones, how, marks) for sec, pitch, how, marks in views.technique)
    # What was written on one string may lie on none, or on another, when it is moved.
    return text_of_views(Views(inputs, back, technique, views.strings and not semitones))


def text_of_views(views: Views) -> str:
    """As one line of JSON; "" for nothing."""
    if views == Views():
        return ""
    inputs = {str(port): heard.words() for port, heard in sorted(views.inputs.items())}
    back = [[round(sec, 6), pitch] for sec, pitch in views.back]
    strings = {"strings": True} if views.strings else {}
    return json.dumps({"inputs": inputs, "back": back, "technique": views.technique, **strings})


def views_of_text(text: str) -> Views:
    """The inverse of ``text_of_views``; empty for a text it cannot read: it only decorates a
    take.
    """
    if not text:
        return Views()
    try:
        found = json.loads(text[:MOST_TEXT])
        inputs = {int(port): heard_of(words) for port, words in found["inputs"].items()}
        back = tuple((float(sec), int(pitch)) for sec, pitch in found["back"])
        technique = tuple(
            (float(sec), int(pitch), str(how), tuple(map(str, marks))) for sec, pitch, how, marks in found["technique"]
        )
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError):
        return Views()
    return Views(inputs, back, technique, found.get("strings") is True)
