"""Tunings as TOML text.

Conventions
    A tuning file is a ``name``, the open ``strings`` from the lowest up as text (``"E1 A1 D2 G2"``, middle C is C4), and, if one likes,
    a line ``about`` it. ``Tuning.strings`` has the highest string first.
"""

import re
from typing import Any

from loopdeck.errors import UserError
from loopdeck.theory.tuning import TUNINGS, Tuning, parse_tuning

_KEYS = ("name", "strings", "about")
_LONGEST_NAME = 60


def load_tuning(text: str, where: str = "the tuning") -> Tuning:
    """The tuning in the text of a TOML file; ``where`` names the file in a sentence of error. Raises UserError, with the line."""
    import tomllib

    text = text.replace("\r\n", "\n")
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"\(at line (\d+), column \d+\)", str(error))
        line = int(at.group(1)) if at else max(len(text.splitlines()), 1)
        why = re.sub(r"\s*\(at [^)]*\)", "", str(error)).rstrip(".")
        raise UserError(
            f"{where}, line {line}: this is not TOML ({why[:1].lower()}{why[1:]}); a line should read like"
            ' strings = "E1 A1 D2 G2".'
        ) from error
    except RecursionError as error:
        raise UserError(f'{where} is nested too deeply; a tuning is lines such as strings = "E1 A1 D2 G2".') from error
    for key in found:
        if key not in _KEYS:
            raise UserError(f"{where}{_line(key, text)}: a tuning has no {key[:40]!r}, but {', '.join(_KEYS)}.")
    name, strings = (_words(found, key, text, where) for key in ("name", "strings"))
    if len(name) > _LONGEST_NAME or not name.isprintable():
        raise UserError(f"{where}{_line('name', text)}: a name is one line of at most {_LONGEST_NAME} letters.")
    if not re.match(r"[A-Ga-g][b♭#♯]{0,2}-?[0-9]", strings) or strings.lower() in map(str.lower, TUNINGS):
        raise UserError(
            f"{where}{_line('strings', text)}: {strings[:40]!r} is not a row of pitches; write the open strings from the"
            " lowest, such as E1 A1 D2 G2."
        )
    try:
        return Tuning(name, parse_tuning(strings).strings)
    except UserError as error:
        raise UserError(f"{where}{_line('strings', text)}: {error}") from error


def _words(found: dict[str, Any], key: str, text: str, where: str) -> str:
    value = found.get(key)
    if value is None:
        raise UserError(f'{where} has no line {key}; a tuning is name = "drop D" and strings = "D1 A1 D2 G2".')
    if not isinstance(value, str) or not value.strip():
        raise UserError(f"{where}{_line(key, text)}: {key} is text in quotes, such as {_EXAMPLE[key]}.")
    return value.strip()


_EXAMPLE = {"name": 'name = "drop D"', "strings": 'strings = "D1 A1 D2 G2"'}


def _line(key: str, text: str) -> str:
    """``, line n`` for the line that sets a key; nothing when it cannot be told."""
    head = re.compile(rf"""\s*\[*\s*["']?{re.escape(key)}["']?\s*[=.\]]""")
    for number, line in enumerate(text.splitlines(), 1):
        if head.match(line):
            return f", line {number}"
    return ""
