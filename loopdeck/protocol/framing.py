"""Messages as bytes, and the addresses they travel to: the ground floor of ``live.messages``, which describes both."""

import json
import os
import secrets
import shutil
import socket
import struct
import tempfile
from pathlib import Path
from typing import Any

from loopdeck.errors import UserError

Message = dict[str, Any]

PROTOCOL = 1
LOCAL_SOCKETS = hasattr(socket, "AF_UNIX")
HEAD = struct.Struct(">I")
#: The largest message: a layer of some ten thousand notes; nothing a window sends comes near it.
MAX_MESSAGE_BYTES = 1 << 20


class LinkError(UserError, OSError):
    """The link cannot be made; ``str(error)`` is one full sentence."""


def message(kind: str, time_sec: float = 0.0, /, **data: Any) -> Message:
    """Build a message."""
    return {"kind": kind, "time_sec": time_sec, "data": data}


def encode(one: Message) -> bytes:
    """One frame. Raises ValueError for what JSON cannot say, or a message that is too large."""
    body = json.dumps(one, separators=(",", ":"), allow_nan=False).encode()
    if len(body) > MAX_MESSAGE_BYTES:
        raise ValueError(f"A message of {len(body)} bytes is too large; {MAX_MESSAGE_BYTES} is the most.")
    return HEAD.pack(len(body)) + body


class FrameReader:
    """Messages from a stream of bytes. ``problems`` collects a sentence for each one that was ignored."""

    def __init__(self) -> None:
        self._buffer = bytearray()
        self.problems: list[str] = []

    def feed(self, data: bytes) -> list[Message]:
        """The messages completed by these bytes. Raises ValueError when the framing is broken: nothing after it can be trusted."""
        self._buffer += data
        found: list[Message] = []
        start = 0
        while len(self._buffer) - start >= HEAD.size:
            (length,) = HEAD.unpack_from(self._buffer, start)
            if length > MAX_MESSAGE_BYTES:
                raise ValueError(f"A message claims {length} bytes; {MAX_MESSAGE_BYTES} is the most.")
            if len(self._buffer) - start - HEAD.size < length:
                break
            body = bytes(self._buffer[start + HEAD.size : start + HEAD.size + length])
            start += HEAD.size + length
            one = self._parse(body)
            if one is not None:
                found.append(one)
        del self._buffer[:start]
        return found

    def _parse(self, body: bytes) -> Message | None:
        try:
            one = json.loads(body)
        except (ValueError, RecursionError):
            self.problems.append("A message that is not JSON was ignored.")
            return None
        if not isinstance(one, dict) or not isinstance(one.get("kind"), str):
            self.problems.append("A message without a kind was ignored.")
            return None
        data, sec = one.get("data", {}), one.get("time_sec", 0.0)
        if not isinstance(data, dict) or isinstance(sec, bool) or not isinstance(sec, int | float):
            self.problems.append(f"A message {one['kind'][:40]!r} of the wrong form was ignored.")
            return None
        return {"kind": one["kind"], "time_sec": float(sec), "data": data}


# ---- addresses --------------------------------------------------------------------------------------------------------------


def new_address() -> str:
    """An address nobody uses yet; ``forget_address`` clears it away."""
    if LOCAL_SOCKETS:
        base = os.environ.get("XDG_RUNTIME_DIR")
        # A socket's path has room for about a hundred bytes only, so a deep folder will not do.
        base = base if base and len(base) < 60 and os.access(base, os.W_OK) else None
        folder = tempfile.mkdtemp(prefix="loopdeck-", dir=base)
        os.chmod(folder, 0o700)
        return f"unix:{folder}/link"
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return f"tcp:{probe.getsockname()[1]}:{secrets.token_hex(16)}"


def forget_address(address: str) -> None:
    """Clear away what ``new_address`` made; harmless when it is gone already."""
    kind, _, rest = address.partition(":")
    folder = Path(rest).parent
    if kind == "unix" and folder.name.startswith("loopdeck-"):
        shutil.rmtree(folder, ignore_errors=True)


def address_parts(address: str) -> tuple[int, Any, str]:
    """(socket family, what connect and bind take, token)."""
    kind, _, rest = address.partition(":")
    if kind == "unix" and rest and LOCAL_SOCKETS:
        return socket.AF_UNIX, rest, ""
    port, _, token = rest.partition(":")
    if kind == "tcp" and port.isdigit() and token:
        return socket.AF_INET, ("127.0.0.1", int(port)), token
    raise LinkError(f"{address!r} is not an address of the engine; it should read unix:PATH or tcp:PORT:TOKEN.")
