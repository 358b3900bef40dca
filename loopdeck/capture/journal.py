"""The session journal: every event that arrived and every command, in one file that may be cut anywhere.

Task
    Promise 1: nothing played is lost. A record is appended for each event and command; whatever happens to the process or the
    machine, all records whole on disk can be read back, bit for bit, and fed to the looper again.

Conventions
    The bytes are described in docs/journal.md; the structs below are that description. Times are seconds on the session's clock,
    stored as IEEE 754 doubles, so that they come back exactly. Ports are 0 to 255, in the order the header or the marks name them.
    A writer is not thread safe: one thread owns it. It locks its file, so that a session that still runs is not taken for a lost one.
"""

import contextlib
import json
import os
import shutil
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, NamedTuple, Self
from zlib import crc32

from loopdeck.capture.errors import CaptureError
from loopdeck.files import open_ordinary

MAGIC = b"loopdeck journal"
VERSION = 1
#: Bytes of one record's body at most, and of a file that is read whole into memory.
MAX_BODY = 1 << 20
MAX_FILE = 1 << 30

_HEAD = struct.Struct("<16sHH")
_FRAME = struct.Struct("<II")
_MIDI = struct.Struct("<BdddB")
_COMMAND = struct.Struct("<Bd")
_END = struct.Struct("<BQ")

_KIND_HEADER, _KIND_MIDI, _KIND_COMMAND, _KIND_MARK, _KIND_END = b"HMCKE"


class MidiRecord(NamedTuple):
    """An event: when it took effect in the looper, when it was played, when it arrived, on which port, and its bytes."""

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
    """Something of the session that the looper does not need: the ports' names, a device that went, a take that was kept."""

    kind: str
    data: dict[str, Any]


Record = MidiRecord | CommandRecord | MarkRecord


@dataclass(frozen=True)
class Journal:
    """A journal read back. ``complete``: the session ended in order. ``cut_at``: the byte where the damage begins, None for none."""

    header: dict[str, Any]
    records: tuple[Record, ...]
    complete: bool
    cut_at: int | None


class _DamageError(Exception):
    """The bytes from here on are no whole record."""


class JournalReader:
    """A journal record by record, for files of any length. ``complete`` and ``cut_at`` are known once the records are used up."""

    def __init__(self, path: str | Path) -> None:
        """Open it and read the header. Raises CaptureError for what is no journal, or one from a newer loopdeck; OSError."""
        self.path = path
        self.complete = False
        self.cut_at: int | None = None
        #: Where the last whole record ends, the checksum there, and how many records stand before it.
        self.whole, self.chain, self.count = _HEAD.size, 0, 0
        self._file: BinaryIO = open_ordinary(path, "a journal", 1 << 40)
        try:
            self.header = self._read_header()
        except BaseException:
            self._file.close()
            raise

    def _read_header(self) -> dict[str, Any]:
        head = self._file.read(_HEAD.size)
        if not head:
            raise CaptureError(f"{self.path} is empty; nothing was recorded in this journal.")
        if head[:16] != MAGIC[: len(head)]:
            raise CaptureError(f"{self.path} is not a journal of loopdeck; it does not begin like one.")
        cut = CaptureError(f"{self.path} is cut off or damaged before its first record; nothing can be read from it.")
        if len(head) < _HEAD.size:
            raise cut
        version = _HEAD.unpack(head)[1]
        if version > VERSION:
            raise CaptureError(
                f"{self.path} is a journal of version {version}, from a newer loopdeck; this one reads up to version {VERSION}."
            )
        self.chain = crc32(head)
        try:
            body = self._body()
            if body is None or body[0] != _KIND_HEADER:
                raise cut
            return _json(body[1:])
        except _DamageError:
            raise cut from None

    def _body(self) -> bytes | None:
        """The next record's body, its checksum proved; None at the end of the file."""
        frame = self._file.read(_FRAME.size)
        if not frame:
            return None
        if len(frame) < _FRAME.size:
            raise _DamageError
        length, checksum = _FRAME.unpack(frame)
        if not 1 <= length <= MAX_BODY:
            raise _DamageError
        body = self._file.read(length)
        if len(body) < length or crc32(body, crc32(frame[:4], self.chain)) != checksum:
            raise _DamageError
        self.chain = checksum
        self.whole += _FRAME.size + length
        return body

    def __iter__(self) -> Iterator[Record]:
        """The whole records up to the damage, the end mark or the end of the file; never raises for what the file holds."""
        while not self.complete and self.cut_at is None:
            # A record whose bytes are whole but mean nothing is where the damage begins, so remember the state before it.
            before, chain = self.whole, self.chain
            try:
                body = self._body()
                record = _decode(body, self.count) if body is not None else None
            except _DamageError:
                self.whole, self.chain, self.cut_at = before, chain, before
                break
            if body is None:
                break
            if record is None:
                self.complete = True
                if self._file.read(1):
                    self.cut_at = self.whole
                break
            self.count += 1
            yield record

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def read_journal(path: str | Path) -> Journal:
    """Everything in a journal that is whole. Raises CaptureError for what is no journal, or too large to hold; OSError."""
    open_ordinary(path, "a journal that is read whole", MAX_FILE).close()
    with JournalReader(path) as reader:
        records = tuple(reader)
        return Journal(reader.header, records, reader.complete, reader.cut_at)


def finished(path: str | Path) -> bool:
    """True when a journal seems to end with its end mark: a quick look at the last bytes, for lists of sessions. Raises OSError."""
    size = _FRAME.size + _END.size
    with open(path, "rb") as file:
        file.seek(0, os.SEEK_END)
        file.seek(max(file.tell() - size, 0))
        tail = file.read(size)
    return len(tail) == size and tail[:4] == _END.size.to_bytes(4, "little") and tail[_FRAME.size] == _KIND_END


def in_use(path: str | Path) -> bool:
    """True while a JournalWriter, of this process or another, has the file open. Raises OSError when it cannot be opened."""
    with open(path, "rb") as file:
        return not _lock(file)


class JournalWriter:
    """Appends to a new journal. Records wait in memory until ``flush``; only then are they safe."""

    path: Path
    _waiting: bytearray

    def __init__(self, path: str | Path, header: dict[str, Any]) -> None:
        """Make the file and put the header on disk. Raises CaptureError when the file exists already; OSError."""
        body = bytes((_KIND_HEADER,)) + _dump(header)
        try:
            file = open(path, "xb", buffering=0)  # noqa: SIM115 - it stays open as long as the session
        except FileExistsError:
            raise CaptureError(f"{path} exists already; a new session needs a journal of its own.") from None
        head = _HEAD.pack(MAGIC, VERSION, 0)
        self._start(Path(path), file, crc32(head), 0)
        self._waiting += head
        self._append(body)
        self.flush()
        self._count = 0
        _sync_folder(self.path.parent)

    @classmethod
    def resume(cls, path: str | Path) -> Self:
        """Continue an unfinished journal after its last whole record.

        A damaged tail is copied to a file beside it (``NAME.tail-OFFSET``) before it is cut off.
        Raises CaptureError for what is no journal, is in use, or ended in order; OSError.
        """
        with JournalReader(path):
            pass
        file = open(path, "r+b", buffering=0)  # noqa: SIM115 - it stays open as long as the session
        try:
            self = cls.__new__(cls)
            self._start(Path(path), file, 0, 0)
            with JournalReader(path) as reader:
                for _record in reader:
                    pass
            if reader.complete:
                raise CaptureError(f"{path} ended in order; a new session needs a journal of its own.")
            self._chain, self._count = reader.chain, reader.count
            if file.seek(0, os.SEEK_END) > reader.whole:
                file.seek(reader.whole)
                _save(Path(f"{path}.tail-{reader.whole}"), file)
                file.truncate(reader.whole)
                os.fsync(file.fileno())
            file.seek(reader.whole)
        except BaseException:
            file.close()
            raise
        return self

    def _start(self, path: Path, file: Any, chain: int, count: int) -> None:
        self.path = path
        self._file = file
        self._chain = chain
        self._count = count
        self._waiting = bytearray()
        self._ended = False
        if not _lock(file):
            file.close()
            raise CaptureError(f"{path} is in use by another session; end that one first.")

    def midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        """An event. ``port`` is 0 to 255."""
        self._append(_MIDI.pack(_KIND_MIDI, at_sec, stamp_sec, arrived_sec, port) + data)

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        """A command; ``args`` must be JSON-able."""
        self._append(_COMMAND.pack(_KIND_COMMAND, at_sec) + _dump({"name": name, "args": args}))

    def mark(self, kind: str, data: dict[str, Any]) -> None:
        """A note of the session; ``data`` must be JSON-able."""
        self._append(bytes((_KIND_MARK,)) + _dump({"kind": kind, "data": data}))

    def end(self) -> None:
        """The session ended in order: nothing may follow."""
        if not self._ended:
            self._append(_END.pack(_KIND_END, self._count))
            self._ended = True

    def _append(self, body: bytes) -> None:
        if self._ended:
            raise CaptureError(f"The journal {self.path} has ended; nothing can be added to it.")
        if len(body) > MAX_BODY:
            raise CaptureError(f"A journal's record may have {MAX_BODY:,} bytes; this one has {len(body):,}.")
        length = len(body).to_bytes(4, "little")
        self._chain = crc32(body, crc32(length, self._chain))
        self._waiting += length + self._chain.to_bytes(4, "little") + body
        self._count += 1

    def flush(self, sync: bool = True) -> None:
        """Write what waits; with ``sync``, onto the disk itself.

        Raises OSError (a full disk): what could not be written still waits, and the next flush goes on where this one stopped.
        """
        while self._waiting:
            written = self._file.write(self._waiting)
            del self._waiting[:written]
        if sync:
            os.fsync(self._file.fileno())

    def close(self) -> None:
        """Flush and close. Without ``end`` before it, the journal counts as unfinished."""
        if not self._file.closed:
            try:
                self.flush()
            finally:
                self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _decode(body: bytes, count: int) -> Record | None:
    """The record in a body, None for the end mark, which knows that ``count`` records stand before it."""
    kind = body[0]
    try:
        if kind == _KIND_MIDI:
            at_sec, stamp_sec, arrived_sec, port = _MIDI.unpack_from(body)[1:]
            return MidiRecord(at_sec, stamp_sec, arrived_sec, port, body[_MIDI.size :])
        if kind == _KIND_COMMAND:
            data = _json(body[_COMMAND.size :])
            return CommandRecord(_COMMAND.unpack_from(body)[1], _text(data["name"]), _table(data["args"]))
        if kind == _KIND_MARK:
            data = _json(body[1:])
            return MarkRecord(_text(data["kind"]), _table(data["data"]))
        if body == _END.pack(_KIND_END, count):
            return None
    except (struct.error, KeyError):
        pass
    raise _DamageError


def _dump(data: dict[str, Any]) -> bytes:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")


def _json(text: bytes) -> dict[str, Any]:
    try:
        return _table(json.loads(text.decode("utf-8", "surrogatepass")))
    except (ValueError, RecursionError):
        raise _DamageError from None


def _table(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise _DamageError
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise _DamageError
    return value


def _lock(file: Any) -> bool:
    """Take the file for this process; False when somebody has it. The lock dies with the process, however it dies."""
    try:
        import fcntl
    except ImportError:  # a system without such locks
        return True
    try:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _save(path: Path, rest: BinaryIO) -> None:
    with open(path, "wb") as file:
        shutil.copyfileobj(rest, file)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    """Put a new file's name on the disk too; where folders cannot be opened, the system does that by itself."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
