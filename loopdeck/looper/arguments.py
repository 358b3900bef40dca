"""Arguments of commands: what each may be, and one check for all of them.

Task
    A command comes from a key, a pedal map, the link or a journal. Before it is written down or
    done, every argument is checked here: its name, its type, its range, and that it is a finite
    number. ``check_arguments`` returns plain values or raises CommandError.

Conventions
    A value is what JSON and TOML can hold. Numbers are ``int`` or ``float``, never ``bool``. An
    argument without a default that is not required may be left out, and is then left out of the
    result too. Ranges include both ends.
"""

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.looper.given_layers import check_layers
from loopdeck.looper.mixer_parts import check_part
from loopdeck.rhythm.errors import quoted

WHOLE = "whole number"
NUMBER = "number"
SWITCH = "true or false"
WORDS = "text"
CHOICE = "one of several words"
LAYER = "layer"
PART = "part"
FIELD_TEXT = "field of the brief"
FIELDS = "fields of the brief"
TABLE = "arguments of a command"
LAYERS = "layers"
TAKE = "take"

#: The longest text an argument takes.
MAX_WORDS = 400
#: The highest number a layer is looked for by.
MAX_LAYER = 999_999
ALL = "all"


class CommandError(UserError):
    """Which command or argument was wrong and what would be right, in one sentence.

    ``argument`` is "" for the command itself.
    """

    def __init__(self, sentence: str, command: str, argument: str = "") -> None:
        super().__init__(sentence)
        self.command, self.argument = command, argument


#: Limits from here on only keep nonsense out.
FAR = 1e5


class Argument(NamedTuple):
    """One argument of a command.

    ``lowest`` and ``highest`` are for numbers, in ``unit``; ``choices`` are the words of a choice;
    ``does`` says what it is for.
    """

    name: str
    kind: str
    does: str
    unit: str = ""
    lowest: float = 0.0
    highest: float = 0.0
    default: Any = None
    required: bool = False
    choices: tuple[str, ...] = ()

    @property
    def takes(self) -> str:
        """What it takes, in words: ``a whole number from 1 to 16``. A limit that nobody will reach
        is not named.
        """
        if self.kind == CHOICE:
            return f"{', '.join(self.choices[:-1])} or {self.choices[-1]}"
        if self.kind not in (WHOLE, NUMBER):
            return _TAKES[self.kind]
        unit = f" {self.unit}" if self.unit else ""
        if self.highest < FAR:
            return f"a {self.kind} from {self.lowest:g} to {self.highest:g}{unit}"
        least = f", {self.lowest:g} or more" if self.lowest > -FAR else ""
        return f"a {self.kind}{least}" + (f", in {self.unit}" if self.unit else "")


_TAKES = {
    SWITCH: "true or false",
    WORDS: f"one line of text of at most {MAX_WORDS} letters",
    LAYER: 'the number of a layer, or "all"',
    PART: "click, drums, live, layer 1, layer 2 and so on, or master",
    FIELD_TEXT: "a text or a number, as in a brief",
    FIELDS: 'a table of fields of the brief, such as { swing = "2:1" }',
    TABLE: "a table of arguments, such as { passes = 4 }",
    LAYERS: "a list of layers, each a table with its notes",
    TAKE: "the number or the name of a take on the shelf",
}


def shown(value: object) -> str:
    """A value as it can stand in a sentence: short, on one line, whatever it is."""
    try:
        text = str(value)
    except ValueError:  # Python does not write out integers of more than some thousand digits.
        return "a number of thousands of digits"
    return quoted(text) if isinstance(value, str) else ascii(text if len(text) <= 40 else text[:40] + "...")[1:-1]


# ---- kinds ---------------------------------------------------------------------------------------


def _whole(argument: Argument, value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not argument.lowest <= value <= argument.highest:
        raise ValueError
    return value


def _number(argument: Argument, value: Any) -> float:
    # The range first: an integer of hundreds of digits is not a float.
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError
    if not argument.lowest <= value <= argument.highest or not math.isfinite(value):
        raise ValueError
    return value


def _switch(_: Argument, value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError
    return value


def _words(_: Argument, value: Any) -> str:
    if not isinstance(value, str) or len(value) > MAX_WORDS or not (value.isprintable() or not value):
        raise ValueError
    return value


def _choice(argument: Argument, value: Any) -> str:
    word = value.strip().lower() if isinstance(value, str) else ""
    if word not in argument.choices:
        raise ValueError
    return word


def _layer(_: Argument, value: Any) -> int | str:
    if value == ALL:
        return ALL
    if isinstance(value, str) and value.isascii() and value.isdecimal() and len(value) <= 6:
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MAX_LAYER:
        raise ValueError
    return value


def _take(argument: Argument, value: Any) -> str:
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value < 10**15:
        return str(value)
    if not _words(argument, value).strip():
        raise ValueError
    return str(value)


def _part(_: Argument, value: Any) -> str | int:
    if isinstance(value, bool) or not isinstance(value, str | int) or (isinstance(value, int) and value > MAX_LAYER):
        raise ValueError
    check_part(value)
    return value


def _field(argument: Argument, value: Any) -> Any:
    Brief.default().replace(**{argument.name.replace("-", "_"): _plain(value)})
    return value


def _fields(_: Argument, value: Any) -> dict[str, Any]:
    if not isinstance(value, Mapping) or not value or not all(isinstance(key, str) for key in value):
        raise ValueError
    fields = {key: _plain(one) for key, one in value.items()}
    Brief.default().replace(**fields)
    return fields


def _table(_: Argument, value: Any) -> dict[str, Any]:
    """The arguments of another command, which checks them itself."""
    if not isinstance(value, Mapping) or len(value) > 20 or not all(isinstance(key, str) for key in value):
        raise ValueError
    return {
        key: _table(_, one) if isinstance(one, Mapping) else one if isinstance(one, bool) else _plain(one)
        for key, one in value.items()
    }


def _plain(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError
    if isinstance(value, int | float) and not abs(value) < 1e9:  # NaN too
        raise ValueError
    if isinstance(value, str) and len(value) > MAX_WORDS:
        raise ValueError
    return value


_CHECKS: dict[str, Callable[[Argument, Any], Any]] = {
    WHOLE: _whole,
    NUMBER: _number,
    SWITCH: _switch,
    WORDS: _words,
    CHOICE: _choice,
    LAYER: _layer,
    PART: _part,
    FIELD_TEXT: _field,
    FIELDS: _fields,
    TABLE: _table,
    LAYERS: lambda _, value: check_layers(value),
    TAKE: _take,
}


# ---- the check -----------------------------------------------------------------------------------


def check_arguments(command: str, arguments: tuple[Argument, ...], values: Mapping[str, Any]) -> dict[str, Any]:
    """The arguments of one command, in the order of its table, with defaults filled in.

    Raises CommandError.
    """
    known = {argument.name: argument for argument in arguments}
    for name in values:
        if name not in known:
            takes = ", ".join(known) or "nothing"
            raise CommandError(
                f"The command {command!r} does not take {shown(name)}; it takes {takes}.", command, str(name)
            )
    checked: dict[str, Any] = {}
    for argument in arguments:
        value = values.get(argument.name)
        if value is None:
            value = argument.default
        if value is None:
            if argument.required:
                raise CommandError(
                    f"The command {command!r} needs {argument.name}: {argument.takes}.", command, argument.name
                )
            continue
        checked[argument.name] = _check(command, argument, value)
    return checked


def _check(command: str, argument: Argument, value: Any) -> Any:
    try:
        return _CHECKS[argument.kind](argument, value)
    except ValueError as error:
        # A mistake inside a field of the brief has a sentence of its own.
        why = str(error) if isinstance(error, UserError) else f"{argument.takes} would be right, not {shown(value)}."
        raise CommandError(f"The command {command!r}, {argument.name}: {why}", command, argument.name) from error
