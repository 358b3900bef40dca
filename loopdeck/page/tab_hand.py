"""The frets of one string in one bar, as players type them: ``5h7``, ``7/9\\7``, ``(3)``, ``x``,
``7b9r7``, ``5~~``.

A sign stands before the fret it leads to, or behind the fret it is done to. Frets are at most two
figures; a longer row of figures is a row of frets of one figure each.
"""

import re
from typing import NamedTuple

from loopdeck.page.signs import Fret

FILL = "-–—‒─_= ."
_NUMBER = re.compile(r"\d+")
_BEND = re.compile(r"b(\d{0,2}(?:\.\d+)?)(?:r\d{0,2}|(?=\D|$))")
_REACHED = {"h": "hammer-on", "p": "pull-off", "/": "slide", "\\": "slide", "s": "slide"}
_DONE = {"~": "vibrato", "v": "vibrato", "t": "trill", "'": "staccato", ">": "accent", ")": "ghost", "x": "dead"}


class Typed(NamedTuple):
    """A fret and the columns, from the start of the line, that it may be meant to stand in."""

    columns: tuple[int, ...]
    fret: Fret


class NoFret(Exception):
    """What stands at a column is not a fret with its signs."""

    def __init__(self, column: int, text: str) -> None:
        super().__init__(text)
        self.column, self.text = column, text


def typed_frets(line: str, first: int, last: int, frets: int) -> list[Typed]:
    """The frets between two columns of a line; ``frets``: how many the neck has. Raises NoFret."""
    found: list[Typed] = []
    reached, sign_at, at = "", -1, first
    bracket = False
    while at < last:
        sign = line[at]
        number = _NUMBER.match(line, at, last)
        if number is not None:
            for column, text in _figures(number, frets):
                columns = (column,) if sign_at < 0 or column - sign_at > 1 else (column, sign_at)
                found.append(Typed(columns, Fret(int(text), _how(reached, found))))
                reached, sign_at, bracket = "", -1, False
            at = number.end()
            at = _behind(line, at, last, found)
            continue
        if sign in FILL:
            at += 1
        elif sign in _REACHED and not reached:
            if sign in "/\\s" and found and not _another(line, at, last):
                found[-1] = _with(found[-1], "slide-to")
            else:
                reached, sign_at = sign, at
            at += 1
        elif sign == "(" and not bracket:
            bracket, sign_at, at = True, at, at + 1
        elif sign in "xX":
            found.append(Typed((at,), Fret(0, ("dead",))))
            reached, sign_at, bracket, at = "", -1, False, _behind(line, at + 1, last, found)
        else:
            raise NoFret(at, line[at:last].split("-")[0].strip() or sign)
    if reached or bracket:
        raise NoFret(max(last - 1, first), reached or "(")
    return found


def _figures(number: re.Match[str], frets: int) -> list[tuple[int, str]]:
    text, at = number[0], number.start()
    if len(text) <= 2:
        if int(text) > frets:
            raise NoFret(at, text)
        return [(at, text)]
    return [(at + place, figure) for place, figure in enumerate(text)]


def _another(line: str, at: int, last: int) -> bool:
    """Whether a fret follows the sign at a column."""
    rest = line[at + 1 : last].lstrip(FILL)
    return bool(rest) and (rest[0].isdigit() or rest[0] == "(")


def _how(reached: str, before: list[Typed]) -> tuple[str, ...]:
    if not reached:
        return ()
    if before:
        return (_REACHED[reached],)
    return ("slide-from",) if reached in "/\\s" else (_REACHED[reached],)


def _with(typed: Typed, *marks: str) -> Typed:
    fret = typed.fret
    return typed._replace(fret=fret._replace(marks=(*fret.marks, *(one for one in marks if one not in fret.marks))))


def _behind(line: str, at: int, last: int, found: list[Typed]) -> int:
    """The signs directly behind a fret; where they end."""
    while at < last:
        bend = _BEND.match(line, at, last)
        if bend is not None:
            found[-1] = _bent(found[-1], bend)
            at = bend.end()
        elif line[at] in _DONE and not (line[at] == "x" and not line[at - 1].isdigit()):
            found[-1] = _with(found[-1], _DONE[line[at]])
            at += 1
        elif line[at] == "=" and line[at - 1] not in FILL:
            found[-1] = _with(found[-1], "let-ring")
            at += 1
        else:
            break
    return at


def _bent(typed: Typed, bend: re.Match[str]) -> Typed:
    """``7b9`` bends to the sound of fret 9, ``7b1`` by one semitone."""
    number = float(bend[1] or 1)
    amount = number - typed.fret.fret if number > typed.fret.fret and number.is_integer() and number > 3 else number
    released = ["release"] if "r" in bend[0] else []
    marked = _with(typed, "bend", *released)
    return marked._replace(fret=marked.fret._replace(bend=float(amount)))
