"""Types of message fields, and the check of plain JSON values against them.

Conventions
    A message is a frozen dataclass. Its annotations say everything that is checked: the type of a
    field, and with ``Annotated`` its range (``Between``) or its largest size (``AtMost``). Values
    are what ``json.loads`` gives; ``checker_of`` makes the function that turns them into the
    field's type, or raises MessageError. Numbers are finite, whole numbers are not ``bool``, and
    text is valid Unicode.
"""

import dataclasses
import functools
import math
import types
import typing
from collections.abc import Callable, Mapping
from typing import Annotated, Any, NamedTuple, Union, get_args, get_origin

#: The largest text, list and table where a field does not say otherwise, and how deep the arguments
#: of a command may be nested.
MOST_TEXT, MOST_ITEMS, MOST_DEPTH = 10_000, 50_000, 6
_WHOLE = 1 << 53
_FLOAT = 1e15


class MessageError(ValueError):
    """A message that does not follow the protocol; ``str(error)`` is one full sentence."""


class Between(NamedTuple):
    """The range of a number, both ends included."""

    lowest: float
    highest: float


class AtMost(NamedTuple):
    """The largest number of characters or items."""

    size: int


#: Seconds of a monotonic clock, quarter notes, and what MIDI 1.0 calls a data byte.
Seconds = Annotated[float, Between(-1e12, 1e12)]
Quarters = Annotated[float, Between(-1e12, 1e12)]
Byte = Annotated[int, Between(0, 127)]
Count = Annotated[int, Between(0, _WHOLE)]
Word = Annotated[str, AtMost(200)]

Check = Callable[[Any, str], Any]
#: What JSON says by itself.
_PLAIN = (float, int, str)


def plain(value: Any, where: str, depth: int = 0) -> Any:
    """Anything JSON can say, within bounds: the arguments of a command, say. Raises
    MessageError.
    """
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int):
        return _number(value, where, -_WHOLE, _WHOLE)
    if isinstance(value, float):
        return _number(value, where, -_FLOAT, _FLOAT)
    if isinstance(value, str):
        return _text(value, where, MOST_TEXT)
    if depth >= MOST_DEPTH or len(value) > MOST_ITEMS:
        raise MessageError(f"{where} is nested too deeply or too long.")
    if isinstance(value, Mapping):
        return {_text(key, where, 200): plain(one, where, depth + 1) for key, one in value.items()}
    return [plain(one, where, depth + 1) for one in value]


@functools.cache
def checker_of(kind: Any) -> Check:
    """The check for one annotation. Raises TypeError for an annotation that no message may have."""
    origin, args = get_origin(kind), get_args(kind)
    if origin is Annotated:
        return _bounded(args[0], args[1])
    if origin in (Union, types.UnionType):
        return _optional(kind, args)
    if origin is tuple and args[1:] == (Ellipsis,):
        return functools.partial(_items, checker_of(args[0]), MOST_ITEMS)
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        return functools.partial(_record, kind)
    if isinstance(kind, type) and issubclass(kind, tuple):
        return functools.partial(_row, kind)
    if origin is not None and issubclass(origin, Mapping):
        return functools.partial(_table, args[1])
    return _bounded(kind, None)


def record_of(kind: Any, values: Mapping[str, Any], where: str) -> Any:
    """The dataclass ``kind`` made of plain values.

    Raises MessageError for a field that is wrong, missing or unknown.
    """
    return _record(kind, values, where)


def plain_of(value: Any) -> Any:
    """The plain JSON value of a message or a part of one. A NamedTuple becomes a list."""
    if isinstance(value, _PLAIN) or value is None:
        return value
    if dataclasses.is_dataclass(value):
        found = ((name, getattr(value, name)) for name in _names(value.__class__))
        # Most fields hold one value: what sends a message shares the interpreter with the thread
        # that plays.
        return {name: one if isinstance(one, _PLAIN) else plain_of(one) for name, one in found}
    if isinstance(value, Mapping):
        return {key: plain_of(one) for key, one in value.items()}
    if isinstance(value, tuple | list):
        return [plain_of(one) for one in value]
    raise MessageError(f"A message cannot hold {type(value).__name__}.")


# ---- inside --------------------------------------------------------------------------------------


def _number(value: Any, where: str, lowest: float, highest: float) -> Any:
    # A comparison of int and float is exact; only a float can be no number.
    if isinstance(value, float) and not math.isfinite(value):
        raise MessageError(f"{where} must be a finite number.")
    if not lowest <= value <= highest:
        raise MessageError(f"{where} must lie between {lowest:g} and {highest:g}.")
    return value


def _text(value: Any, where: str, most: int) -> str:
    if not isinstance(value, str):
        raise MessageError(f"{where} must be text.")
    if len(value) > most:
        raise MessageError(f"{where} is longer than {most} characters.")
    if not value.isascii():
        try:
            value.encode()
        except UnicodeEncodeError:
            raise MessageError(f"{where} is not valid Unicode text.") from None
    return value


def _bounded(kind: Any, bound: Any) -> Check:
    if get_origin(kind) is tuple:
        return functools.partial(_items, checker_of(get_args(kind)[0]), bound.size)
    if kind is str:
        most = bound.size if bound is not None else MOST_TEXT
        return lambda value, where: _text(value, where, most)
    if kind is bool:
        return _bool
    if kind is int:
        lowest, highest = bound or (-_WHOLE, _WHOLE)
        return lambda value, where: _whole(value, where, lowest, highest)
    if kind is float:
        lowest, highest = bound or (-_FLOAT, _FLOAT)
        return lambda value, where: _real(value, where, lowest, highest)
    if kind is Any:
        return plain
    raise TypeError(f"a message cannot have a field of type {kind!r}")


def _bool(value: Any, where: str) -> bool:
    if not isinstance(value, bool):
        raise MessageError(f"{where} must be true or false.")
    return value


def _whole(value: Any, where: str, lowest: float, highest: float) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise MessageError(f"{where} must be a whole number.")
    return int(_number(value, where, lowest, highest))


def _real(value: Any, where: str, lowest: float, highest: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise MessageError(f"{where} must be a number.")
    return float(_number(value, where, lowest, highest))


def _optional(kind: Any, args: tuple[Any, ...]) -> Check:
    if len(args) == 2 and type(None) in args:
        check = checker_of(next(one for one in args if one is not type(None)))
        return lambda value, where: None if value is None else check(value, where)
    if set(args) <= {int, float, str, bool}:
        return plain
    raise TypeError(f"a message cannot have a field of type {kind!r}")


def _items(check: Check, most: int, value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple) or len(value) > most:
        raise MessageError(f"{where} must be a list of at most {most}.")
    return tuple([check(one, where) for one in value])


def _table(kind: Any, value: Any, where: str) -> dict[str, Any]:
    if not isinstance(value, Mapping) or len(value) > 200:
        raise MessageError(f"{where} must be a table of at most 200.")
    check = checker_of(kind)
    return {_text(key, where, 200): check(one, where) for key, one in value.items()}


@functools.cache
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(kind))


@functools.cache
def _checks(kind: Any) -> tuple[tuple[str, Check, bool], ...]:
    """(name, check, may be missing) of every field."""
    hints = typing.get_type_hints(kind, include_extras=True)
    if dataclasses.is_dataclass(kind):
        missing = dataclasses.MISSING
        fields = dataclasses.fields(kind)
        optional = {one.name for one in fields if one.default is not missing or one.default_factory is not missing}
        return tuple((one.name, checker_of(hints[one.name]), one.name in optional) for one in fields)
    names: tuple[str, ...] = kind._fields
    return tuple((name, checker_of(hints[name]), name in kind._field_defaults) for name in names)


def _record(kind: Any, value: Any, where: str) -> Any:
    if not isinstance(value, Mapping):
        raise MessageError(f"{where} must be a table.")
    found: dict[str, Any] = {}
    for name, check, optional in _checks(kind):
        if name in value:
            found[name] = check(value[name], f"{where}: {name}")
        elif not optional:
            raise MessageError(f"{where} has no {name}.")
    if len(found) < len(value):
        unknown = next(str(name) for name in value if name not in found)
        raise MessageError(f"{where} has a field {unknown[:40]!r} too many.")
    return kind(**found)


def _row(kind: Any, value: Any, where: str) -> Any:
    """A NamedTuple from a list; fields with a default may be left out at the end."""
    checks = _checks(kind)
    if not isinstance(value, list | tuple) or len(value) > len(checks):
        raise MessageError(f"{where} must be a list of at most {len(checks)}.")
    if len(value) < len(checks) and not checks[len(value)][2]:
        raise MessageError(f"{where} has too few values.")
    return kind(*[check(one, where) for one, (_, check, _) in zip(value, checks, strict=False)])
