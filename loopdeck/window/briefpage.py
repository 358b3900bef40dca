"""The brief page: its lines, and what one step on each of them means.

Conventions: a line is a field of the brief as text, just as it stands in a brief's file; a step gives the new text of the field,
which the engine judges and answers with the brief in force. Nothing is changed here. Pure.
"""

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from loopdeck.brief.brief import GROOVES
from loopdeck.theory.scale import SCALES
from loopdeck.theory.tuning import TUNINGS

CYCLES = ("4/4", "3/4", "6/8", "5/4", "7/8", "3+4/8", "4/4 7/8", "4/4 4+3/8", "4/4 4/4", "12/8", "4/4 4/4 4/4 4/4")
GRIDS = ("1/4", "1/8", "1/16", "1/32", "1/8T", "1/16T", "auto")
CLICKS = ("all", "group", "bar", "2 4", "all; half", "all; double", "all; 2 on, 2 off", "all; 1 on, 3 off")
RAMPS = ("off", "+2 every 1 to 160", "+4 every 2 to 160", "-4 every 2 to 60")
# Upwards in fourths, as a bass player moves a riff from string to string, each root with its usual spelling.
ROOTS = ("C", "F", "Bb", "Eb", "Ab", "Db", "F#", "B", "E", "A", "D", "G")
NO_SCALE = ""


class Line(NamedTuple):
    """One line of the page: the brief's field, its name on the page, and what may be typed."""

    field: str
    title: str
    hint: str


LINES = (
    Line("tempo", "tempo", "96, 8th=184 or dotted-quarter=120; 20 to 400 quarters a minute"),
    Line("cycle", "cycle", "bars with spaces between: 4/4 4+3/8"),
    Line("grid", "grid", "1/4 1/8 1/16 1/32, triplets 1/8T 1/16T, or auto"),
    Line("swing", "swing", "straight, 58% or 2:1, up to 75%"),
    Line("strength", "quantize strength", "0 to 100 %: 0 plays layers back as you played them"),
    Line("window", "quantize window", "1 to 100 %: how near a slot a note must be to be moved"),
    Line("scale", "scale", "root and name: E dorian; or root and degrees: E 1 b2 3 4 5 b6 b7"),
    Line("tuning", "tuning", "a name, or open strings from the lowest: E1 A1 D2 G2"),
    Line("count_in", "count-in bars", "0, 1 or 2"),
    Line("program", "layers' program", "1 to 128; 33 to 40 are basses in General MIDI"),
    Line("click_level", "click level", "0 to 127; 0 is silent"),
    Line("clicks", "clicks", "all, bar, group or counts (2 4); 2 on, 2 off; half or double"),
    Line("groove", "guide groove", "off; sparse, medium or busy; with alone: instead of the click"),
    Line("ramp", "tempo ramp", "off, or such as +4 every 2 to 120"),
)


def step(field: str, now: Any, by: int, big: bool) -> Any:
    """The value of ``field`` one step up (``by`` = 1) or down (-1) from ``now``; a big step goes further.

    Tempo keeps its unit, a scale changes its formula with a small step and its root with a big one.
    """
    text = "" if now is None else str(now)
    if field == "tempo":
        unit, equals, count = text.rpartition("=")
        return f"{unit}{equals}{_number(_value(count) + by * (10 if big else 1))}"
    if field == "swing":
        return f"{_limit(round(_percent(text)) + by * (5 if big else 1), 50, 75)}%{_unit_of(text)}"
    if field in ("strength", "window"):
        low = 0 if field == "strength" else 1
        return _limit(int(_value(text)) + by * (25 if big else 5), low, 100)
    if field == "count_in":
        return _limit(int(_value(text)) + by, 0, 2)
    if field == "program":
        return _limit(int(_value(text)) + by * (8 if big else 1), 1, 128)
    if field == "click_level":
        return _limit(int(_value(text)) + by * (32 if big else 8), 0, 127)
    if field == "scale":
        return _step_scale(text, by, big)
    choices = {
        "cycle": CYCLES, "grid": GRIDS, "tuning": tuple(TUNINGS), "clicks": CLICKS, "groove": GROOVES, "ramp": RAMPS,
    }.get(field)  # fmt: skip
    return _turn(choices, text, by) if choices else text


def _step_scale(text: str, by: int, big: bool) -> str:
    root, _, name = text.partition(" ")
    if not name:
        return f"{ROOTS[8]} {next(iter(SCALES))}"
    if big:
        return f"{_turn(ROOTS, root, by)} {name}"
    return f"{root} {_turn(tuple(SCALES), name, by)}"


def _turn(choices: Sequence[str], now: str, by: int) -> str:
    """The next choice, round and round; the first one from a value that is none of them."""
    return choices[(choices.index(now) + by) % len(choices)] if now in choices else choices[0]


def _limit(value: int, low: int, high: int) -> int:
    return max(low, min(high, value))


def _value(text: str) -> float:
    """The number in ``text`` (also a fraction, as a brief may write it), 0 where there is none."""
    found = re.search(r"(\d+(?:\.\d+)?)(?:/(\d+))?", text)
    if found is None:
        return 0.0
    return float(found.group(1)) / float(found.group(2) or 1)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _unit_of(text: str) -> str:
    """The subdivision a swing names behind its ratio ("3:1 1/8"), with its space; "" where it names none."""
    words = text.split()
    return f" {words[-1]}" if len(words) > 1 and "/" in words[-1] else ""


def _percent(text: str) -> float:
    """A swing's long part in percent: of ``"2:1"``, ``"58%"`` or ``"straight"``."""
    ratio = re.match(r"\s*(\d+(?:\.\d+)?)\s*:\s*(\d+(?:\.\d+)?)", text)
    if ratio is not None:
        long, short = float(ratio.group(1)), float(ratio.group(2))
        return 100 * long / (long + short)
    return _value(text) if "%" in text else 50.0
