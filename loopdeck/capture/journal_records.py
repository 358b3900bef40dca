"""What a journal's records are, and their bytes (docs/journal.md)."""

import json
import struct
from typing import Any, NamedTuple

MAGIC = b"loopdeck journal"
VERSION = 1
#: Bytes of one record's body at most, and of a file that is read whole into memory.
MAX_BODY = 1 << 20
MAX_FILE = 1 << 30

HEAD = struct.Struct("<16sHH")
FRAME = struct.Struct("<II")
MIDI = struct.Struct("<BdddB")
COMMAND = struct.Struct("<Bd")
END = struct.Struct("<BQ")

KIND_HEADER, KIND_MIDI, KIND_COMMAND, KIND_MARK, KIND_END = b"HMCKE"


class MidiRecord(NamedTuple):
    """An event: when it took effect in the looper, when it was played, when it arrived, on which
    port, and its bytes.
    """

    at_sec: float
    stamp_sec: float
    arrived_sec: float
    port: int
    data: bytes


class CommandRecord(NamedTuple):
    """A command to the looper, and when it took effect."""

    at_sec: float
    name: str
    args: dict[str, Any]


class MarkRecord(NamedTuple):
    """Something of the session that the looper does not need: the ports' names, a device that went,
    a take that was kept.
    """

    kind: str
    data: dict[str, Any]


Record = MidiRecord | CommandRecord | MarkRecord


class DamageError(Exception):
    """The bytes from here on are not a whole record."""


def decode_record(body: bytes, count: int) -> Record | None:
    """The record in a body, None for the end mark, which knows that ``count`` records stand before
    it.
    """
    kind = body[0]
    try:
        if kind == KIND_MIDI:
            at_sec, stamp_sec, arrived_sec, port = MIDI.unpack_from(body)[1:]
            return MidiRecord(at_sec, stamp_sec, arrived_sec, port, body[MIDI.size :])
        if kind == KIND_COMMAND:
            data = from_json(body[COMMAND.size :])
            return CommandRecord(COMMAND.unpack_from(body)[1], _text(data["name"]), _table(data["args"]))
        if kind == KIND_MARK:
            data = from_json(body[1:])
            return MarkRecord(_text(data["kind"]), _table(data["data"]))
        if body == END.pack(KIND_END, count):
            return None
    except (struct.error, KeyError):
        pass
    raise DamageError


def to_json(data: dict[str, Any]) -> bytes:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")


def from_json(text: bytes) -> dict[str, Any]:
    try:
        return _table(json.loads(text.decode("utf-8", "surrogatepass")))
    except (ValueError, RecursionError):
        raise DamageError from None


def _table(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise DamageError
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise DamageError
    return value
