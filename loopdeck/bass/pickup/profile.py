"""Pickup profiles: how a pickup sends its strings, as TOML.

Conventions
    ``channels`` are those of the strings from the highest (1) to the lowest, counted from 1 as on
    the device; empty where one channel carries all strings. ``bend_range`` (semitones) holds until
    the pickup says another by registered parameter 0,0. ``[cleaning]`` switches each part of the
    clean-up and sets its limits, ``[latency]`` says how late a note is: ``constant_ms`` and so many
    ``periods`` of its pitch.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

from loopdeck import configs
from loopdeck.errors import UserError
from loopdeck.toml_files import line_of, parse, read_text

#: A pitch follower needs about two periods to name a note: Fonseca & Tavares, "Low-Latency f0
#: Estimation for the Finger Plucked Electric Bass Guitar", RITA 27(4), 2020.
PERIODS = 2.0


@dataclass(frozen=True)
class Cleaning:
    """Which errors are removed, and from where on something is one.

    Lengths in milliseconds, levels as shares of the usual one.
    """

    ghosts: bool = True
    octaves: bool = True
    doubles: bool = True
    chopped: bool = True
    noise: bool = True
    ghost_ms: float = 55.0
    ghost_level: float = 0.45
    faint_level: float = 0.2
    octave_ms: float = 70.0
    double_ms: float = 45.0


@dataclass(frozen=True)
class Delay:
    """How late a note is: ``constant_ms`` and ``periods`` of its pitch."""

    constant_ms: float = 0.0
    periods: float = 0.0


@dataclass(frozen=True)
class Pickup:
    """One pickup. ``keyboard`` ones have no strings and no delay by pitch."""

    name: str = "pickup"
    about: str = ""
    channels: tuple[int, ...] = ()
    bend_range: float = 2.0
    keyboard: bool = False
    cleaning: Cleaning = field(default_factory=Cleaning)
    latency: Delay = field(default_factory=Delay)

    def string_of(self, channel: int) -> int:
        """The string (1 the highest) of a channel counted from 0; 0 where it names none."""
        return self.channels.index(channel + 1) + 1 if channel + 1 in self.channels else 0


#: The parts of the clean-up, each a switch of ``Cleaning``.
PARTS = ("ghosts", "octaves", "doubles", "chopped", "noise")
_OFF = Cleaning(**dict.fromkeys(PARTS, False))


def words_of_cleaning(cleaning: Cleaning) -> str:
    """The clean-up as one line: the parts that are on, and every limit."""
    on = [part for part in PARTS if getattr(cleaning, part)]
    limits = [f"{one.name}={_plain(getattr(cleaning, one.name))}" for one in fields(Cleaning) if one.name not in PARTS]
    return " ".join([*on, *limits])


def _plain(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")


def cleaning_of_words(words: str) -> Cleaning | None:
    """The inverse of ``words_of_cleaning``; None for an empty line. Raises UserError."""
    if not words.strip():
        return None
    limits = {one.name for one in fields(Cleaning)} - set(PARTS)
    found: dict[str, Any] = {}
    for word in words.split():
        name, _, value = word.partition("=")
        if word in PARTS:
            found[word] = True
        elif name in limits and value.replace(".", "", 1).isdecimal() and value.isascii() and len(value) < 12:
            found[name] = float(value)
        else:
            raise UserError(f"{word[:40]!r} is not part of the clean-up; there are {', '.join(PARTS)}.")
    return replace(_OFF, **found)


def load_pickup(name: str) -> Pickup:
    """The pickup of that name, shipped or the player's own, or of a file.

    Raises UserError, OSError.
    """
    path = configs.find("pickups", name)
    return pickup_from_toml(read_text(path, "a pickup profile"), str(path))


def pickup_from_toml(text: str, where: str = "the pickup") -> Pickup:
    """A pickup from the text of a TOML file; ``where`` names it in a sentence of error. Raises
    UserError.
    """
    found = parse(text, where, 'name = "my pickup"')
    simple = {"name": str, "about": str, "bend_range": float, "keyboard": bool}
    values: dict[str, Any] = {}
    for key, value in found.items():
        place = f"{where}{line_of(key, text)}"
        if key in simple:
            values[key] = _read(value, simple[key], key, place)
        elif key == "channels":
            values[key] = _channels(value, place)
        elif key == "cleaning":
            values[key] = _table(value, Cleaning(), place, key)
        elif key == "latency":
            values[key] = _table(value, Delay(), place, key)
        else:
            raise UserError(
                f"{place}: a pickup has no {key[:40]!r}, but {', '.join(one.name for one in fields(Pickup))}."
            )
    if not 0 < values.get("bend_range", 2.0) <= 96:
        raise UserError(f"{where}{line_of('bend_range', text)}: bend_range is 1 to 96 semitones.")
    if values.get("keyboard"):
        values.setdefault("cleaning", _OFF)
    return Pickup(**values)


def _read(value: Any, kind: type, key: str, place: str) -> Any:
    if kind is float and isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e6:
        return float(value)
    if kind is not float and isinstance(value, kind) and (kind is bool or len(str(value)) <= 200):
        return value
    words = {float: "a number", str: "a text of at most 200 letters", bool: "true or false"}[kind]
    raise UserError(f"{place}: {key} is {words}.")


def _channels(value: Any, place: str) -> tuple[int, ...]:
    right = isinstance(value, list) and all(
        isinstance(one, int) and not isinstance(one, bool) and 1 <= one <= 16 for one in value
    )
    if not right or len(set(value)) != len(value):
        raise UserError(
            f"{place}: channels are numbers from 1 to 16, one for each string from the highest, such as [1, 2, 3, 4]."
        )
    return tuple(value)


def _table(value: Any, default: Any, place: str, what: str) -> Any:
    if not isinstance(value, Mapping):
        raise UserError(f"{place}: {what} is a table with lines of its own, below [{what}].")
    known = {one.name: getattr(default, one.name) for one in fields(default)}
    for key, one in value.items():
        if key not in known:
            raise UserError(f"{place}: {what} has no {str(key)[:40]!r}, but {', '.join(known)}.")
        kind = bool if isinstance(known[key], bool) else float
        known[key] = _read(one, kind, key, place)
        if kind is float and known[key] < 0:
            raise UserError(f"{place}: {key} is not below 0.")
    return replace(default, **known)
