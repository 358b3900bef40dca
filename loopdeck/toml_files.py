"""TOML files that people write by hand: read with a bound, and refused with a sentence that names
the line.
"""

import re
from pathlib import Path
from typing import Any

from loopdeck.errors import UserError
from loopdeck.files import open_ordinary

#: No configuration of ours comes near.
MAX_BYTES = 65_536


def read_text(path: str | Path, what: str) -> str:
    """The text of a file; ``what`` names its kind in errors ("a brief"). Raises UserError, OSError
    when it cannot be opened.
    """
    with open_ordinary(path, what, MAX_BYTES) as stream:
        data = stream.read(MAX_BYTES)
    try:
        return data.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UserError(f"{path}, line {line}: this is not UTF-8 text, which {what} must be.") from error


def parse(text: str, where: str, example: str) -> dict[str, Any]:
    """The table in the text of a file.

    ``example`` shows what a line should read like (``tempo = 96``). Raises UserError.
    """
    import tomllib

    try:
        return tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"\(at line (\d+), column \d+\)", str(error))
        line = int(at.group(1)) if at else max(len(text.splitlines()), 1)
        why = re.sub(r"\s*\(at [^)]*\)", "", str(error)).rstrip(".")
        raise UserError(
            f"{where}, line {line}: this is not TOML ({why[:1].lower()}{why[1:]}); a line should read like {example}."
        ) from error
    except RecursionError as error:
        raise UserError(f"{where} is nested too deeply; a line should read like {example}.") from error
    except ValueError as error:
        # Python does not read integers of more than some thousand digits.
        line = next((number for number, row in enumerate(text.splitlines(), 1) if re.search(r"[0-9_]{1000}", row)), 1)
        raise UserError(
            f"{where}, line {line}: this number is too long to be meant; a line should read like {example}."
        ) from error


def line_of(key: str, text: str) -> str:
    """``, line n`` for the line that sets a key; nothing when it cannot be told."""
    head = re.compile(rf"""\s*\[*\s*["']?{re.escape(key)}["']?\s*[=.\]]""")
    for number, line in enumerate(text.splitlines(), 1):
        if head.match(line):
            return f", line {number}"
    return ""
