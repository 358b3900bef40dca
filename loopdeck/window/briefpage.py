"""The brief page: its lines, and what one step on each of them means.

Conventions: a line is a field of the brief as text, just as it stands in a brief's file; a step
gives the new text of the field, which the engine judges and answers with the brief in force.
Nothing is changed here. Pure.
"""

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

from loopdeck.brief.brief import SPECS
from loopdeck.theory.formulas import ALIASES, SCALES

# Upwards in fourths, as a bass player moves a riff from string to string, each root with its usual
# spelling.
ROOTS = ("C", "F", "Bb", "Eb", "Ab", "Db", "F#", "B", "E", "A", "D", "G")


class BriefLine(NamedTuple):
    """One line of the page: the brief's field, its name on the page, and what may be typed."""

    field: str
    title: str
    hint: str


LINES = tuple(BriefLine(name, one.title, one.hint) for name, one in SPECS.items() if one.on_page)


def shown(field: str, value: Any) -> str:
    """A value as the page shows it: ``100 %``, ``E minor pentatonic``, ``none``."""
    if value is None or value == "":
        return "none"
    numbers = SPECS[field].whole
    return f"{value} %" if numbers is not None and numbers.unit == "percent" else str(value)


def step(field: str, now: Any, by: int, big: bool) -> Any:
    """The value of ``field`` one step up (``by`` = 1) or down (-1) from ``now``; a big step goes
    further.

    Tempo keeps its unit, a scale changes its formula with a small step and its root with a big one.
    """
    text = "" if now is None else str(now)
    if field == "tempo":
        unit, equals, count = text.rpartition("=")
        return f"{unit}{equals}{_number(_value(count) + by * (10 if big else 1))}"
    if field == "swing":
        return f"{_limit(round(_percent(text)) + by * (5 if big else 1), 50, 75)}%{_unit_of(text)}"
    numbers = SPECS[field].whole
    if numbers is not None:
        return numbers.limited(int(_value(text)) + by * (numbers.big if big else numbers.step))
    if field == "scale":
        return _step_scale(text, by, big)
    choices = SPECS[field].choices
    return _turn(choices(), text, by) if choices is not None else text


def _step_scale(text: str, by: int, big: bool) -> str:
    root, _, name = text.partition(" ")
    if not name:
        return f"{ROOTS[8]} {next(iter(SCALES))}"
    if big:
        return f"{_turn(ROOTS, root, by)} {name}"
    return f"{root} {_turn(tuple(SCALES), ALIASES.get(name, name), by)}"


def _turn(choices: Sequence[str], now: str, by: int) -> str:
    """The next choice, round and round; the first one if the value is not a choice."""
    return choices[(choices.index(now) + by) % len(choices)] if now in choices else choices[0]


def _limit(value: int, low: int, high: int) -> int:
    return max(low, min(high, value))


def _value(text: str) -> float:
    """The number in ``text`` (also a fraction, as a brief may write it); 0 if it has none."""
    found = re.search(r"(\d+(?:\.\d+)?)(?:/(\d+))?", text)
    if found is None:
        return 0.0
    return float(found.group(1)) / float(found.group(2) or 1)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _unit_of(text: str) -> str:
    """The subdivision a swing names behind its ratio ("3:1 1/8"), with its space; "" where it
    names none.
    """
    words = text.split()
    return f" {words[-1]}" if len(words) > 1 and "/" in words[-1] else ""


def _percent(text: str) -> float:
    """A swing's long part in percent: of ``"2:1"``, ``"58%"`` or ``"straight"``."""
    ratio = re.match(r"\s*(\d+(?:\.\d+)?)\s*:\s*(\d+(?:\.\d+)?)", text)
    if ratio is not None:
        long, short = float(ratio.group(1)), float(ratio.group(2))
        return 100 * long / (long + short)
    return _value(text) if "%" in text else 50.0
