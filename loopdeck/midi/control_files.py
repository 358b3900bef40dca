"""Reading control maps (TOML).

What is wrong is told in one sentence with the line; docs/controls.md describes the file.
"""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from loopdeck import configs
from loopdeck.errors import UserError
from loopdeck.files import open_ordinary
from loopdeck.looper.commands import CommandError, check_by_foot
from loopdeck.midi.controls import KINDS, Act, ControlMap, Switch

MAX_FILE_BYTES = 65_536
MAX_SWITCHES = 64
_ACTS = ("command", "release", "short", "long", "double")
_KEYS = (
    "label",
    "on",
    "channel",
    "number",
    "threshold",
    "debounce_ms",
    "long_ms",
    "double_ms",
    "latching",
    "args",
    *_ACTS,
)


def load_controls(name: str) -> ControlMap:
    """The map of a file, or one of ours by its name.

    Raises UserError, or OSError when it cannot be read.
    """
    path = configs.find("controls", name)
    with open_ordinary(path, "a control map", MAX_FILE_BYTES) as stream:
        data = stream.read(MAX_FILE_BYTES)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UserError(f"{path}, line {line}: this is not UTF-8 text, which a control map must be.") from error
    return controls_from_toml(text, str(path))


def controls_from_toml(text: str, where: str = "the control map") -> ControlMap:
    """The map in the text of a TOML file; ``where`` names the file in a sentence of error. Raises
    UserError.
    """
    import tomllib

    text = text.replace("\r\n", "\n")
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"\(at line (\d+), column \d+\)", str(error))
        line = int(at.group(1)) if at else max(len(text.splitlines()), 1)
        why = re.sub(r"\s*\(at [^)]*\)", "", str(error)).rstrip(".")
        raise UserError(f"{where}, line {line}: this is not TOML ({why[:1].lower()}{why[1:]}).") from error
    except ValueError as error:
        # Python does not read integers of more than some thousand digits.
        raise UserError(f"{where}: there is a number of thousands of digits, too large for a control map.") from error
    except RecursionError as error:
        raise UserError(f"{where} is nested too deeply for a control map.") from error
    for key in found:
        if key not in ("name", "about", "control"):
            raise UserError(
                f"{where}{_line(text, -1, key)}: a control map has no {key!r}, but name, about, [[control]]."
            )
    rows = found.get("control", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows) or not rows:
        raise UserError(f"{where} has no switch; each one begins with a line [[control]].")
    if len(rows) > MAX_SWITCHES:
        raise UserError(f"{where} has {len(rows)} switches; {MAX_SWITCHES} are the most.")
    switches: list[Switch] = []
    for index, row in enumerate(rows):
        switch = _Reader(text, where, index, row).switch()
        for other in switches:
            same_channel = other.channel == switch.channel or 0 in (other.channel, switch.channel)
            if (other.on, other.number) == (switch.on, switch.number) and same_channel:
                raise UserError(
                    f"{where}{_line(text, index, 'number')}: {switch.on} {switch.number} has a switch already; "
                    "put both in one [[control]]."
                )
        switches.append(switch)
    return ControlMap(str(found.get("name", Path(where).stem)), tuple(switches), str(found.get("about", "")))


def _line(text: str, index: int, key: str = "") -> str:
    """ ", line n" for a key of the switch counted from 0 (-1: before the first), or for its first
    line; "" when it cannot be told.
    """
    at, start = -1, ""
    head = re.compile(rf"""\s*["']?{re.escape(key)}["']?\s*[=.]""")
    for number, line in enumerate(text.splitlines(), 1):
        if re.match(r"\s*\[\[\s*control\s*\]\]", line):
            at += 1
            if at == index:
                start = f", line {number}"
        elif at == index and key and head.match(line):
            return f", line {number}"
    return start


class _Reader:
    """One [[control]] of a file, read and judged."""

    def __init__(self, text: str, where: str, index: int, row: Mapping[str, Any]) -> None:
        self._text, self._where, self._index, self._row = text, where, index, row

    def _wrong(self, key: str, why: str) -> UserError:
        return UserError(f"{self._where}{_line(self._text, self._index, key)}: {why}")

    def _whole(self, key: str, lowest: int, highest: int, default: int | None) -> int:
        value = self._row.get(key, default)
        if value is None:
            raise self._wrong(key, f"a switch needs {key} = {lowest} to {highest}.")
        if isinstance(value, bool) or not isinstance(value, int) or not lowest <= value <= highest:
            raise self._wrong(key, f"{key} must be a whole number from {lowest} to {highest}.")
        return value

    def switch(self) -> Switch:
        row = self._row
        for key in row:
            if key not in _KEYS:
                raise self._wrong(key, f"a switch has no {key!r}; it has {', '.join(_KEYS)}.")
        on = row.get("on")
        if on not in KINDS:
            raise self._wrong("on", f"a switch needs on = one of {', '.join(map(repr, KINDS))}.")
        program = on == "program change"
        number = self._whole("number", 1 if program else 0, 128 if program else 127, None)
        latching = row.get("latching", False)
        if not isinstance(latching, bool):
            raise self._wrong("latching", "latching must be true or false.")
        acts = {key: self._act(key) for key in _ACTS if key in row}
        if not acts:
            raise self._wrong("", f"the switch does nothing; give it one of {', '.join(_ACTS)}.")
        if "command" in acts and "short" in acts:
            raise self._wrong("short", "command acts at the press and short at the release: take one of them.")
        if "args" in row and "command" not in row:
            raise self._wrong(
                "args",
                'args belong to command; for others write them inside, as in long = { command = "keep", args = { passes = 4 } }.',
            )
        for key in ("release", "long", *(("short",) if latching else ())):
            if key in acts and (latching or (program and key == "long")):
                what = "a latching switch" if latching else "a program change"
                raise self._wrong(key, f"{what} does not tell how long it is held, so it cannot have {key}.")
        return Switch(
            label=str(row.get("label", f"{on} {number}")),
            on=on,
            number=number,
            channel=self._whole("channel", 1, 16, 0) if "channel" in row else 0,
            threshold=self._whole("threshold", 1, 127, 1 if on == "note" else 64),
            debounce_sec=self._whole("debounce_ms", 0, 500, 25) / 1000.0,
            long_sec=self._whole("long_ms", 200, 5000, 600) / 1000.0,
            double_sec=self._whole("double_ms", 100, 2000, 350) / 1000.0,
            latching=latching,
            **acts,
        )

    def _act(self, key: str) -> Act:
        value = self._row[key]
        if isinstance(value, str):
            args = self._row.get("args", {}) if key == "command" else {}
            return self._checked(key, value, args)
        if not isinstance(value, dict) or not isinstance(value.get("command"), str):
            raise self._wrong(
                key, f'{key} must be a command\'s name, or {{ command = "keep", args = {{ passes = 4 }} }}.'
            )
        for word in value:
            if word not in ("command", "args", "stopped"):
                raise self._wrong(key, f"{key} has no {word!r}; it has command, args, stopped.")
        stopped = value.get("stopped")
        other: Act | None = None
        if isinstance(stopped, str):
            other = self._checked(key, stopped, {})
        elif isinstance(stopped, dict) and isinstance(stopped.get("command"), str):
            other = self._checked(key, stopped["command"], stopped.get("args", {}))
        elif stopped is not None:
            raise self._wrong(key, "stopped must be a command's name, or { command = ..., args = ... }.")
        return self._checked(key, value["command"], value.get("args", {}))._replace(stopped=other)

    def _checked(self, key: str, command: str, args: Any) -> Act:
        if not isinstance(args, dict):
            raise self._wrong(key, "args must be a table such as { passes = 4 }.")
        if command == "brief" and "fields" not in args:
            args = {"fields": args}
        try:
            check_by_foot(command, args)
        except CommandError as error:
            raise self._wrong(key, str(error)) from error
        return Act(command, dict(args))
