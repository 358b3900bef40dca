"""The parser of the command line: what argparse finds wrong comes out as a sentence of ours, and
help is as wide as the terminal.
"""

import argparse
import os
import re
import sys
from collections.abc import Iterable, Sequence
from typing import Any, NoReturn

from loopdeck.errors import nearest

#: What argparse says, and what we say in its place; the groups are the argument and the value.
_SAID = (
    (re.compile(r"argument (.+?): invalid int value: '(.*)'"), "{0} takes a whole number, not '{1}'"),
    (re.compile(r"argument (.+?): invalid float value: '(.*)'"), "{0} takes a number, not '{1}'"),
    (re.compile(r"argument (.+?): expected one argument"), "{0} needs a value"),
    (re.compile(r"argument (.+?): expected at least one argument"), "{0} needs a value or more"),
    (re.compile(r"argument (.+?): ignored explicit argument '(.*)'"), "{0} takes no value, so '{1}' is too much"),
    (re.compile(r"argument (.+?): not allowed with argument (.+)"), "{0} and {1} exclude each other"),
    (re.compile(r"ambiguous option: (\S+) could match (.+)"), "{0} may mean {1}"),
    (re.compile(r"the following arguments are required: (.+)"), "{0} must be given"),
    (re.compile(r"one of the arguments (.+) is required"), "one of {0} must be given"),
)


class _Help(argparse.HelpFormatter):
    """No name is broken at its hyphen: it is there to be typed."""

    def _split_lines(self, text: str, width: int) -> list[str]:
        import textwrap

        return textwrap.wrap(" ".join(text.split()), width, break_on_hyphens=False)


def _help_layout(prog: str) -> argparse.HelpFormatter:
    """Help as wide as the terminal.

    Argparse asks for a layout with every option, and would load half of ``shutil``'s archives for
    it.
    """
    columns = os.environ.get("COLUMNS", "")
    try:
        width = int(columns) if columns.isdecimal() and int(columns) else os.get_terminal_size().columns
    except OSError:
        width = 0
    return _Help(prog, width=(width or 80) - 2)


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence, and where to read more; exit code 2."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**{"formatter_class": _help_layout, **more})

    def error(self, message: str) -> NoReturn:
        """End with a sentence on ``message``, which is argparse's or ours."""
        message = message.rstrip(".")
        for pattern, ours in _SAID:
            if found := pattern.fullmatch(message):
                message = ours.format(*found.groups())
                break
        if not message.startswith(("-", "loopdeck")):
            message = message[:1].upper() + message[1:]
        between = "" if message.endswith("?") else ";"
        self.exit(2, f"loopdeck: {message}{between} {self.prog} --help tells more.\n")

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """As argparse does, but what a command does not know is said by that command's parser."""
        found, rest = super().parse_known_args(args, namespace)
        if rest:
            does = "does not know" if rest[0].startswith("-") else "has no place for"
            self.error(f"{self.prog} {does} {' '.join(rest)}{self._meant(rest)}")
        return found, rest

    def print_help(self, file: Any = None) -> None:
        """argparse says nothing when help cannot be written; we do. Raises OSError."""
        out = sys.stdout if file is None else file
        out.write(self.format_help())
        out.flush()

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is None or value in action.choices:
            return
        names = [str(one) for one in action.choices]
        if action.option_strings:
            self.error(f"{'/'.join(action.option_strings)} takes one of {', '.join(names)}, not {value!r}")
        # A command, or what a command does.
        near = _nearest(str(value), names) or f"; there are {', '.join(names)}"
        self.error(f"there is no {str(action.metavar).lower()} {value!r}{near}")

    def _meant(self, rest: Sequence[str]) -> str:
        options = [one for one in self._option_string_actions if one.startswith("--")]
        return _nearest(rest[0].partition("=")[0], options) if rest[0].startswith("-") else ""


def _nearest(word: str, names: Iterable[str]) -> str:
    """The name that was probably meant, as the end of a sentence."""
    near = nearest(word, names)
    return f": did you mean {near}?" if near else ""
