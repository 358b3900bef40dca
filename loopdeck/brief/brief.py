"""The brief: the constraints one is playing in, and its TOML form.

Conventions
    A brief is immutable; a change makes a new one. As text (TOML files, messages, the journal, the
    shelf) every field is a string or an integer in the form musicians write: ``tempo = "8th=184"``,
    ``cycle = "4/4 4+3/8"``, ``swing = "2:1"``. ``strength`` and ``window`` are percentages.
    ``program`` counts from 1 as General MIDI does. No scale is written ``""``. The keys of a file
    are the fields of ``Brief``; those left out have the values of ``Brief.default()``. A field is
    added by one entry in ``Brief``: everything that reads, writes, shows or explains fields goes by
    ``SPECS``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.brief.spec import BEAT, CYCLE, Spec, Whole, spec, whole, words
from loopdeck.errors import UserError, instead
from loopdeck.rhythm.grid import STEPS, Grid, parse_grid
from loopdeck.rhythm.meter import Cycle, parse_cycle
from loopdeck.rhythm.quantize import Slots, slots
from loopdeck.rhythm.swing import Swing, parse_swing
from loopdeck.rhythm.tempo import Tempo, parse_tempo
from loopdeck.theory.tuning import Tuning
from loopdeck.toml_files import line_of, parse, read_text

if TYPE_CHECKING:
    from loopdeck.rhythm.practice import ClickMask, Ramp
    from loopdeck.theory.scale import Scale

OFF = "off"
#: The guide grooves: none, three densities beside the click, the same without it.
GROOVES = (OFF, "sparse", "medium", "busy", "sparse alone", "medium alone", "busy alone")
_CYCLES = ("4/4", "3/4", "6/8", "5/4", "7/8", "3+4/8", "4/4 7/8", "4/4 4+3/8", "4/4 4/4", "12/8", "4/4 4/4 4/4 4/4")
_CLICKS = ("all", "group", "bar", "2 4", "all; half", "all; double", "all; 2 on, 2 off", "all; 1 on, 3 off")
_RAMPS = (OFF, "+2 every 1 to 160", "+4 every 2 to 160", "-4 every 2 to 60")
_PERCENT = {"say": lambda value: f"{value} %", "when": BEAT}


# ---- fields that are more than a text ------------------------------------------------------------


def _parse_scale(text: str) -> "Scale | None":
    if text.strip().lower() in ("", "none"):
        return None
    from loopdeck.theory.scale import parse_scale

    return parse_scale(text)


def _parse_tuning(text: str) -> Tuning:
    from loopdeck.brief.tunings import find_tuning

    return find_tuning(text)


def _tuning_text(tuning: Tuning) -> str:
    from loopdeck.brief.tunings import text_of

    return text_of(tuning)


def _tuning_names() -> tuple[str, ...]:
    from loopdeck.brief.tunings import names

    return names()


def _parse_clicks(text: str) -> "ClickMask":
    from loopdeck.rhythm.practice import parse_clicks

    return parse_clicks(text)


def _parse_ramp(text: str) -> "Ramp | None":
    if text.strip().lower() in ("", OFF):
        return None
    from loopdeck.rhythm.practice import parse_ramp

    return parse_ramp(text)


def _parse_groove(text: str) -> str:
    wanted = " ".join(text.lower().split())
    if wanted not in GROOVES:
        raise UserError(f"There is no groove {text[:40]!r}{instead(wanted, GROOVES, ' (alone: instead of the click)')}")
    return wanted


def _bars(count: int) -> str:
    return {0: "none", 1: "1 bar"}.get(count, f"{count} bars")


# ---- the brief -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Brief:
    """The constraints of playing; the fields stand in the order of the file, each with its spec."""

    name: str = spec(
        "name", words, "untitled", "one line", "what the brief is called; takes are named after it", on_page=False
    )
    tempo: Tempo = spec(
        "tempo", parse_tempo, "96", "96, 8th=184 or dotted-quarter=120; 20 to 400 quarters a minute",
        "how fast: quarters a minute, or so many of another note value",
        say=lambda tempo: str(tempo).replace("-", " ").replace("=", " = "),
    )  # fmt: skip
    cycle: Cycle = spec(
        "cycle", parse_cycle, "4/4", "bars with spaces between: 4/4 4+3/8",
        "the bars that repeat as a whole; a plus sign shows where the accents fall in a bar", when=CYCLE, choices=lambda: _CYCLES,
    )  # fmt: skip
    grid: Grid = spec(
        "grid", parse_grid, "1/16", "1/4 1/8 1/16 1/32, triplets 1/8T 1/16T, or auto",
        "the places notes are heard to belong to", when=BEAT, choices=lambda: (*STEPS, "auto"),
    )  # fmt: skip
    swing: Swing = spec(
        "swing", parse_swing, "straight", "straight, 58% or 2:1, up to 75%; add 1/8 or 1/16 to say of which",
        "how much longer the first of two subdivisions is", when=BEAT,
    )  # fmt: skip
    strength: int = whole(
        "quantize strength", Whole(0, 100, "percent", 5, 25), 100, "0 to 100 %: 0 plays layers back as you played them",
        "how far a layer's notes are moved towards their places", **_PERCENT,
    )  # fmt: skip
    window: int = whole(
        "quantize window", Whole(1, 100, "percent", 5, 25), 100, "1 to 100 %: how near a slot a note must be to be moved",
        "notes further from their place than this share of the way to the next one stay where they are", **_PERCENT,
    )  # fmt: skip
    scale: "Scale | None" = spec(
        "scale", _parse_scale, "", "root and name: E dorian; or root and degrees: E 1 b2 3 4 5 b6 b7",
        "the notes you want to stay in; notes outside are pointed out", text=lambda scale: str(scale or ""),
    )  # fmt: skip
    tuning: Tuning = spec(
        "tuning", _parse_tuning, "four-string", "a name, or open strings from the lowest: E1 A1 D2 G2",
        "the open strings of the bass; also a TOML file of your own", text=_tuning_text, choices=_tuning_names,
    )  # fmt: skip
    count_in: int = whole(
        "count-in", Whole(0, 2, "bars", 1, 1), 1, "0, 1 or 2 bars", "bars of click before the first pass", say=_bars
    )
    mood: str = spec("mood", words, "", "one line of free words", "what it should feel like", on_page=False)
    technique: str = spec("technique", words, "", "one line of free words", "how to play it", on_page=False)
    program: int = whole(
        "layers' program", Whole(1, 128, "", 1, 8), 34, "1 to 128; 33 to 40 are basses in General MIDI",
        "the sound of layers on a MIDI instrument",
    )  # fmt: skip
    click_level: int = whole(
        "click level", Whole(0, 127, "", 8, 32), 80, "0 to 127; 0 is silent", "how hard the click is struck"
    )
    clicks: "ClickMask" = spec(
        "clicks", _parse_clicks, "all", "all, bar, group or counts (2 4); 2 on, 2 off; half or double",
        "which clicks sound: on every count, on the groups of the meter, on the bar, on some counts; bars with "
        "and without; half or double time",
        choices=lambda: _CLICKS,
    )  # fmt: skip
    groove: str = spec(
        "guide groove", _parse_groove, OFF, "off; sparse, medium or busy; with alone: instead of the click",
        "drums that show the meter and the swing", choices=lambda: GROOVES,
    )  # fmt: skip
    ramp: "Ramp | None" = spec(
        "tempo ramp", _parse_ramp, OFF, "off, or such as +4 every 2 to 120",
        "a tempo that rises or falls: by so much, every so many passes, up or down to a goal",
        text=lambda ramp: OFF if ramp is None else str(ramp), choices=lambda: _RAMPS,
    )  # fmt: skip

    @staticmethod
    @cache
    def default() -> "Brief":
        """A plain start: 4/4 at 96, sixteenths, straight, everything quantized fully, no scale, a
        four-string bass.
        """
        return Brief(**{name: one.parse(one.default) for name, one in SPECS.items()})

    @cached_property
    def slots(self) -> Slots:
        """The slots of the cycle, by grid and swing."""
        return slots(self.cycle, self.grid, self.swing)

    def to_dict(self) -> dict[str, str | int]:
        """The fields as strings and integers, in order; ``brief_from_dict`` reads them back."""
        return {name: one.text(getattr(self, name)) for name, one in SPECS.items()}

    def replace(self, **texts: str | int | float) -> "Brief":
        """This brief with some fields changed, each given as text (``tempo="104"``,
        ``swing="2:1"``). Raises UserError.
        """
        return replace(self, **{key: _spec(key).read(value) for key, value in texts.items()})

    def sentence(self, name: str) -> str:
        """A field as a player would say it: ``Count-in: 2 bars``."""
        return _spec(name).sentence(getattr(self, name))


#: The spec of every field, by its name, in order.
SPECS: dict[str, Spec] = {one.name: replace(one.metadata["spec"], name=one.name) for one in fields(Brief)}


def _spec(key: str, where: str = "") -> Spec:
    if key not in SPECS:
        raise UserError(f"{where}A brief has no {key[:40]!r}; its fields are {', '.join(SPECS)}.")
    return SPECS[key]


def brief_from_dict(texts: Mapping[str, Any], where: str = "") -> Brief:
    """A brief from fields as text; those left out have their default. ``where`` leads a sentence of
    error. Raises UserError.
    """
    return replace(Brief.default(), **{key: _spec(key, where).read(value, where) for key, value in texts.items()})


# ---- files ---------------------------------------------------------------------------------------


def brief_from_toml(text: str, where: str = "the brief") -> Brief:
    """A brief from the text of a TOML file; ``where`` names the file in a sentence of error. Raises
    UserError.
    """
    parsed = {}
    for key, value in parse(text, where, 'tempo = 96 or cycle = "4/4 4+3/8"').items():
        place = f"{where}{line_of(key, text)}: "
        parsed[key] = _spec(key, place).read(value, place)
    return replace(Brief.default(), **parsed)


def load_brief(path: Path | str) -> Brief:
    """The brief of a TOML file. Raises UserError; OSError when it cannot be opened."""
    return brief_from_toml(read_text(path, "a brief"), str(path))


def brief_to_toml(brief: Brief) -> str:
    """The brief as the text of a TOML file; ``brief_from_toml`` reads the same brief back."""
    return "".join(f"{key} = {_toml(value)}\n" for key, value in brief.to_dict().items())


def _toml(value: str | int) -> str:
    if isinstance(value, int):
        return str(value)
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
