"""Messages as bytes.

Conventions: each message is a frame: the length of its body in bytes (4, big-endian), then JSON in
UTF-8, ``{"kind", "time_sec", "data"}``.
"""

import json
import struct
from collections.abc import Mapping

from loopdeck.protocol.fields import MessageError, plain_of
from loopdeck.protocol.messages import Message, kind_of, kinds_of, message_from

HEAD = struct.Struct(">I")
#: The largest body: a layer of some ten thousand notes; nothing a window sends comes near it.
MAX_BODY_BYTES = 1 << 20
_ENCODER = json.JSONEncoder(separators=(",", ":"), allow_nan=False)


def encode(message: Message) -> bytes:
    """One frame. Raises MessageError for what JSON cannot say, or a message that is too large."""
    data = plain_of(message)
    frame = {"kind": kind_of(type(message)), "time_sec": data.pop("time_sec"), "data": data}
    try:
        body = _ENCODER.encode(frame).encode()
    except (ValueError, TypeError) as error:
        raise MessageError(f"The message {kind_of(type(message))} cannot be written as JSON ({error}).") from error
    if len(body) > MAX_BODY_BYTES:
        raise MessageError(f"A message of {len(body)} bytes is too large; {MAX_BODY_BYTES} is the most.")
    return HEAD.pack(len(body)) + body


def decode(body: bytes, kinds: Mapping[str, type[Message]]) -> Message:
    """The message in a frame's body, fully checked.

    ``kinds``: the types that are expected, by kind. Raises MessageError.
    """
    try:
        found = json.loads(body)
    except (ValueError, RecursionError):
        raise MessageError("A message is not JSON.") from None
    if not isinstance(found, dict) or not isinstance(data := found.get("data", {}), dict):
        raise MessageError("A message is not a table of kind, time_sec and data.")
    kind = found.get("kind")
    message_type = kinds.get(kind) if isinstance(kind, str) else None
    if message_type is None:
        raise MessageError(f"A message of the kind {str(kind)[:40]!r} is not expected here.")
    return message_from(message_type, {"time_sec": found.get("time_sec", 0.0), **data})


class FrameReader:
    """Messages of the given types from a stream of bytes that comes in pieces."""

    def __init__(self, types: tuple[type[Message], ...]) -> None:
        self._kinds = kinds_of(types)
        self._buffer = bytearray()

    def feed(self, data: bytes) -> list[Message]:
        """The messages these bytes complete.

        Raises MessageError; nothing that follows in this stream can be trusted then.
        """
        self._buffer += data
        found: list[Message] = []
        start = 0
        while len(self._buffer) - start >= HEAD.size:
            (length,) = HEAD.unpack_from(self._buffer, start)
            if length > MAX_BODY_BYTES:
                raise MessageError(f"A message claims {length} bytes; {MAX_BODY_BYTES} is the most.")
            if len(self._buffer) - start - HEAD.size < length:
                break
            body = bytes(self._buffer[start + HEAD.size : start + HEAD.size + length])
            start += HEAD.size + length
            found.append(decode(body, self._kinds))
        del self._buffer[:start]
        return found
