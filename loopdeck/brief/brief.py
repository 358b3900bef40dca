"""The brief: the constraints one is playing in, and its TOML form.

Conventions
    A brief is immutable; a change makes a new one. As text (TOML files, messages, the journal, the shelf) every field is a string or an
    integer in the form musicians write: ``tempo = "8th=184"``, ``cycle = "4/4 4+3/8"``, ``swing = "2:1"``. ``strength`` and ``window``
    are percentages. ``program`` counts from 1 as General MIDI does. No scale is written ``""``.
    The keys of a file are the fields of ``Brief``; those left out have the values of ``Brief.default()``.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.errors import UserError
from loopdeck.rhythm.grid import Grid, parse_grid
from loopdeck.rhythm.meter import Cycle, parse_cycle
from loopdeck.rhythm.quantize import Slots, slots
from loopdeck.rhythm.swing import Swing, parse_swing
from loopdeck.rhythm.tempo import Tempo, parse_tempo

if TYPE_CHECKING:
    from loopdeck.rhythm.practice import ClickMask, Ramp
    from loopdeck.theory.scale import Scale
    from loopdeck.theory.tuning import Tuning

BriefError = UserError
MAX_FILE_BYTES = 65_536
MAX_WORDS = 400
OFF = "off"
#: The guide grooves: none, three densities beside the click, the same without it.
GROOVES = (OFF, "sparse", "medium", "busy", "sparse alone", "medium alone", "busy alone")


@dataclass(frozen=True)
class Brief:
    """The constraints of playing; the fields stand in the order of the file."""

    name: str
    tempo: Tempo
    cycle: Cycle
    grid: Grid
    swing: Swing
    strength: int
    window: int
    scale: "Scale | None"
    tuning: "Tuning"
    count_in: int
    mood: str
    technique: str
    program: int
    click_level: int
    clicks: "ClickMask"
    groove: str
    ramp: "Ramp | None"

    @staticmethod
    @cache
    def default() -> "Brief":
        """A plain start: 4/4 at 96, sixteenths, straight, everything quantized fully, no scale, a four-string bass."""
        return Brief(**{key: _parse(key, text) for key, text in _DEFAULT_TEXTS.items()})

    @cached_property
    def slots(self) -> Slots:
        """The slots of the cycle, by grid and swing."""
        return slots(self.cycle, self.grid, self.swing)

    def to_dict(self) -> dict[str, str | int]:
        """The fields as strings and integers, in order; ``brief_from_dict`` reads them back."""
        return {
            field.name: value if isinstance(value := getattr(self, field.name), int) else _text(field.name, value)
            for field in fields(self)
        }

    def replace(self, **texts: str | int | float) -> "Brief":
        """This brief with some fields changed, each given as text (``tempo="104"``, ``swing="2:1"``). Raises UserError."""
        return replace(self, **{key: _parse(key, value) for key, value in texts.items()})


def _text(key: str, value: Any) -> str:
    if key == "scale":
        return "" if value is None else str(value)
    if key == "ramp":
        return OFF if value is None else str(value)
    if key == "tuning":
        return _tuning_text(value)
    return str(value)


def _tuning_text(tuning: "Tuning") -> str:
    """The tuning's name when that leads back to it, else its open strings from the lowest."""
    from loopdeck.theory.pitch import pitch_name
    from loopdeck.theory.tuning import parse_tuning

    try:
        if parse_tuning(tuning.name).strings == tuning.strings:
            return tuning.name
    except ValueError:
        pass
    return " ".join(pitch_name(pitch) for pitch in reversed(tuning.strings))


# ---- fields -----------------------------------------------------------------------------------------------------------------


def _parse_scale(text: str) -> "Scale | None":
    if text.strip().lower() in ("", "none"):
        return None
    from loopdeck.theory.scale import parse_scale

    return parse_scale(text)


def _parse_tuning(text: str) -> "Tuning":
    from loopdeck.theory.tuning import parse_tuning

    return parse_tuning(text)


def _words(text: str) -> str:
    line = text.strip()
    if len(line) > MAX_WORDS or not (line.isprintable() or not line):
        raise UserError(f"Such a text must be one line of at most {MAX_WORDS} letters.")
    return line


def _whole(lowest: int, highest: int, unit: str) -> Callable[[str], int]:
    def parse(text: str) -> int:
        word = text.strip().removesuffix("%").strip()
        if not re.fullmatch(r"-?[0-9]{1,9}", word, re.ASCII):
            raise UserError(f"{text[:40]!r} is not a whole number; it must be one from {lowest} to {highest}{unit}.")
        if not lowest <= int(word) <= highest:
            raise UserError(f"{word} is out of range; it must lie between {lowest} and {highest}{unit}.")
        return int(word)

    return parse


def _parse_clicks(text: str) -> "ClickMask":
    from loopdeck.rhythm.practice import parse_clicks

    return parse_clicks(text)


def _parse_ramp(text: str) -> "Ramp | None":
    if text.strip().lower() in ("", OFF):
        return None
    from loopdeck.rhythm.practice import parse_ramp

    return parse_ramp(text)


def _parse_groove(text: str) -> str:
    words = " ".join(text.lower().split())
    if words not in GROOVES:
        raise UserError(
            f"There is no groove {text[:40]!r}; there are {', '.join(GROOVES)} (alone: instead of the click)."
        )
    return words


_FIELDS: dict[str, Callable[[str], Any]] = {
    "name": _words,
    "tempo": parse_tempo,
    "cycle": parse_cycle,
    "grid": parse_grid,
    "swing": parse_swing,
    "strength": _whole(0, 100, " percent"),
    "window": _whole(1, 100, " percent"),
    "scale": _parse_scale,
    "tuning": _parse_tuning,
    "count_in": _whole(0, 2, " bars"),
    "mood": _words,
    "technique": _words,
    "program": _whole(1, 128, ""),
    "click_level": _whole(0, 127, ""),
    "clicks": _parse_clicks,
    "groove": _parse_groove,
    "ramp": _parse_ramp,
}


def _parse(key: str, value: Any, where: str = "") -> Any:
    """One field from its text. ``where`` leads the sentence when it comes from a file."""
    if key not in _FIELDS:
        raise UserError(f"{where}A brief has no {key[:40]!r}; its fields are {', '.join(_FIELDS)}.")
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise UserError(f"{where}The {key} of a brief must be a text or a number.")
    try:
        return _FIELDS[key](str(value))
    except UserError as error:
        raise UserError(f"{where}{key}: {error}") from error


_DEFAULT_TEXTS: dict[str, str] = {
    "name": "untitled",
    "tempo": "96",
    "cycle": "4/4",
    "grid": "1/16",
    "swing": "straight",
    "strength": "100",
    "window": "100",
    "scale": "",
    "tuning": "four-string",
    "count_in": "1",
    "mood": "",
    "technique": "",
    "program": "34",
    "click_level": "80",
    "clicks": "all",
    "groove": OFF,
    "ramp": OFF,
}


def brief_from_dict(texts: Mapping[str, Any], where: str = "") -> Brief:
    """A brief from fields as text; those left out have their default. ``where`` leads a sentence of error. Raises UserError."""
    return replace(Brief.default(), **{key: _parse(key, value, where) for key, value in texts.items()})


# ---- files ------------------------------------------------------------------------------------------------------------------


def brief_from_toml(text: str, where: str = "the brief") -> Brief:
    """A brief from the text of a TOML file; ``where`` names the file in a sentence of error. Raises UserError."""
    import tomllib

    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise UserError(_broken(str(error), text, where)) from error
    except RecursionError as error:
        raise UserError(f"{where} is nested too deeply; a brief is lines such as tempo = 96.") from error
    parsed = {key: _parse(key, value, f"{where}{_line_of(key, text)}: ") for key, value in found.items()}
    return replace(Brief.default(), **parsed)


def _broken(message: str, text: str, where: str) -> str:
    at = re.search(r"\(at line (\d+), column (\d+)\)", message)
    line = int(at.group(1)) if at else max(len(text.splitlines()), 1)
    why = re.sub(r"\s*\(at [^)]*\)", "", message).rstrip(".")
    return (
        f"{where}, line {line}: this is not TOML ({why[:1].lower()}{why[1:]}); a line should read like"
        f' tempo = 96 or cycle = "4/4 4+3/8".'
    )


def _line_of(key: str, text: str) -> str:
    """ ", line n" for the line that sets a key; "" when it cannot be told."""
    head = re.compile(rf"""\s*\[?\s*["']?{re.escape(key)}["']?\s*[=.\]]""")
    for number, line in enumerate(text.splitlines(), 1):
        if head.match(line):
            return f", line {number}"
    return ""


def load_brief(path: Path | str) -> Brief:
    """The brief of a TOML file. Raises UserError; OSError when it cannot be opened."""
    from loopdeck.capture.files import open_ordinary

    file = Path(path)
    with open_ordinary(file, "a brief", MAX_FILE_BYTES) as stream:
        data = stream.read(MAX_FILE_BYTES)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UserError(f"{file}, line {line}: this is not UTF-8 text, which a brief must be.") from error
    return brief_from_toml(text.replace("\r\n", "\n"), str(file))


def brief_to_toml(brief: Brief) -> str:
    """The brief as the text of a TOML file; ``brief_from_toml`` reads the same brief back."""
    return "".join(f"{key} = {_toml(value)}\n" for key, value in brief.to_dict().items())


def _toml(value: str | int) -> str:
    if isinstance(value, int):
        return str(value)
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
