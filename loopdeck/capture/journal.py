"""The session journal: every event that arrived and every command, in one file that may be cut
anywhere.

Task
    Promise 1: nothing played is lost. A record is appended for each event and command; whatever
    happens to the process or the machine, all records whole on disk can be read back, bit for bit,
    and fed to the looper again.

Conventions
    The bytes are described in docs/journal.md; the structs below are that description. Times are
    seconds on the session's clock, stored as IEEE 754 doubles, so that they come back exactly.
    Ports are 0 to 255, in the order the header or the marks name them. A writer is not thread safe:
    one thread owns it, but for ``sync``. It locks its file, so that a session that still runs is
    not taken for a lost one.
"""

import contextlib
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, NamedTuple, Self, TypeVar
from zlib import crc32

from loopdeck.capture.journal_records import (
    COMMAND,
    END,
    FRAME,
    HEAD,
    KIND_COMMAND,
    KIND_END,
    KIND_HEADER,
    KIND_MARK,
    KIND_MIDI,
    MIDI,
    CommandRecord,
    DamageError,
    MarkRecord,
    MidiRecord,
    Record,
    decode_record,
    from_json,
    to_json,
)
from loopdeck.capture.spare import put_aside, take_back
from loopdeck.errors import UserError
from loopdeck.files import open_ordinary

MAGIC = b"loopdeck journal"
VERSION = 1
__all__ = [
    "MAGIC",
    "MAX_BODY",
    "MAX_FILE",
    "VERSION",
    "CommandRecord",
    "Journal",
    "JournalPosition",
    "JournalReader",
    "JournalWriter",
    "MarkRecord",
    "MidiRecord",
    "Record",
    "UnfinishedJournal",
    "finished",
    "in_use",
    "read_journal",
]

#: Bytes of one record's body at most, and of a file that is read whole into memory.
MAX_BODY = 1 << 20
MAX_FILE = 1 << 30


@dataclass(frozen=True)
class Journal:
    """A journal read back. ``complete``: the session ended in order. ``cut_at``: the byte where the
    damage begins, None for none.
    ``unreadable``: how many whole records were passed over because they mean nothing."""

    header: dict[str, Any]
    records: tuple[Record, ...]
    complete: bool
    cut_at: int | None
    unreadable: int = 0


class JournalPosition(NamedTuple):
    """A place in a journal, behind a whole record: its offset in bytes, the offset and the checksum
    of that record, and how many records
    stand before it."""

    offset: int
    record: int
    chain: int
    records: int


class JournalReader:
    """A journal record by record, for files of any length.

    ``complete`` and ``cut_at`` are known once the records are used up.
    """

    def __init__(self, path: str | Path) -> None:
        """Open it and read the header.

        Raises UserError for what is no journal, or one from a newer loopdeck; OSError.
        """
        self.path = path
        self.complete = False
        self.cut_at: int | None = None
        #: How many records were passed over because they mean nothing, though they are whole.
        self.unreadable = 0
        #: Where the last whole record ends, the checksum there, and how many records stand before
        #: it.
        self.whole, self.chain, self.count = HEAD.size, 0, 0
        self._record = HEAD.size
        self._file: BinaryIO = open_ordinary(path, "a journal", 1 << 40)
        try:
            self.header = self._read_header()
        except BaseException:
            self._file.close()
            raise

    def _read_header(self) -> dict[str, Any]:
        head = self._file.read(HEAD.size)
        if not head:
            raise UserError(f"{self.path} is empty; nothing was recorded in this journal.")
        if head[:16] != MAGIC[: len(head)]:
            raise UserError(f"{self.path} is not a journal of loopdeck; it does not begin like one.")
        cut = UserError(f"{self.path} is cut off or damaged before its first record; nothing can be read from it.")
        if len(head) < HEAD.size:
            raise cut
        version = HEAD.unpack(head)[1]
        if version > VERSION:
            raise UserError(
                f"{self.path} is a journal of version {version}, from a newer loopdeck; this one reads up to version {VERSION}."
            )
        self.chain = crc32(head)
        try:
            body = self._body()
            if body is None or body[0] != KIND_HEADER:
                raise cut
            self._header_chain = self.chain
            return from_json(body[1:])
        except DamageError:
            raise cut from None

    def _body(self) -> bytes | None:
        """The next record's body, its checksum proved; None at the end of the file."""
        frame = self._file.read(FRAME.size)
        if not frame:
            return None
        if len(frame) < FRAME.size:
            raise DamageError
        length, checksum = FRAME.unpack(frame)
        if not 1 <= length <= MAX_BODY:
            raise DamageError
        body = self._file.read(length)
        if len(body) < length or crc32(body, crc32(frame[:4], self.chain)) != checksum:
            raise DamageError
        self.chain = checksum
        self._record = self.whole
        self.whole += FRAME.size + length
        return body

    @property
    def position(self) -> JournalPosition:
        """Where it has got to."""
        return JournalPosition(self.whole, self._record, self.chain, self.count)

    @property
    def identity(self) -> str:
        """What tells this session from any other: the id in its header, or for journals without one
        the header's checksum.
        """
        return str(self.header.get("id") or f"{self._header_chain:08x}")

    def go_to(self, place: JournalPosition) -> None:
        """Go on reading at a place that was a ``position`` of this very journal.

        Raises UserError when it was not.
        """
        self._file.seek(place.record)
        frame = self._file.read(FRAME.size)
        length, checksum = FRAME.unpack(frame) if len(frame) == FRAME.size else (0, 0)
        if checksum != place.chain or place.record + FRAME.size + length != place.offset or place.record < HEAD.size:
            self._file.seek(self.whole)
            raise UserError(f"{self.path} has no record that ends at byte {place.offset}.")
        self._file.seek(place.offset)
        self.whole, self._record, self.chain, self.count = place

    def __iter__(self) -> Iterator[Record]:
        """The whole records up to the damage, the end mark or the end of the file; never raises for
        what the file holds.
        """
        while not self.complete and self.cut_at is None:
            try:
                body = self._body()
            except DamageError:
                self.cut_at = self.whole
                break
            if body is None:
                break
            try:
                record = decode_record(body, self.count)
            except DamageError:
                # Its checksum proves that it was written so: what comes after it is as good as what
                # came before.
                self.count += 1
                self.unreadable += 1
                continue
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
    """Everything in a journal that is whole.

    Raises UserError for what is no journal, or too large to hold; OSError.
    """
    open_ordinary(path, "a journal that is read whole", MAX_FILE).close()
    with JournalReader(path) as reader:
        records = tuple(reader)
        return Journal(reader.header, records, reader.complete, reader.cut_at, reader.unreadable)


def finished(path: str | Path) -> bool:
    """True when a journal seems to end with its end mark: a quick look at the last bytes, for lists
    of sessions. Raises OSError.
    """
    size = FRAME.size + END.size
    with open(path, "rb") as file:
        file.seek(0, os.SEEK_END)
        file.seek(max(file.tell() - size, 0))
        tail = file.read(size)
    return len(tail) == size and tail[:4] == END.size.to_bytes(4, "little") and tail[FRAME.size] == KIND_END


def in_use(path: str | Path) -> bool:
    """True while a JournalWriter, of this process or another, has the file open.

    Raises OSError when it cannot be opened.
    """
    with open(path, "rb") as file:
        return not _lock(file)


_Writer = TypeVar("_Writer", bound="JournalWriter")


class JournalWriter:
    """Appends to a new journal. Records wait in memory until ``flush``; only then are they safe."""

    path: Path
    _waiting: bytearray

    def __init__(self, path: str | Path, header: dict[str, Any]) -> None:
        """Make the file and put the header on disk.

        Raises UserError when the file exists already; OSError.
        """
        body = bytes((KIND_HEADER,)) + to_json(header)
        try:
            file = open(path, "xb", buffering=0)  # noqa: SIM115 - it stays open as long as the session
        except FileExistsError:
            raise UserError(f"{path} exists already; a new session needs a journal of its own.") from None
        head = HEAD.pack(MAGIC, VERSION, 0)
        self._start(Path(path), file, crc32(head), 0)
        self._waiting += head
        try:
            self._append(body)
            self.flush()
        except BaseException:
            # A journal without a header is none; nobody should find it.
            file.close()
            self.path.unlink(missing_ok=True)
            raise
        self._count = 0
        _sync_folder(self.path.parent)

    @classmethod
    def resume(cls, path: str | Path) -> Self:
        """Continue an unfinished journal after its last whole record.

        A damaged tail is copied to a file beside it (``NAME.tail-OFFSET``) before it is cut off; a
        last record that was not written whole is cut off. Raises UserError for what is no journal,
        is in use, or ended in order; OSError.
        """
        with UnfinishedJournal(path) as unfinished:
            for _record in unfinished.reader:
                pass
            return unfinished.go_on(cls)

    def _start(self, path: Path, file: Any, chain: int, count: int) -> None:
        self.path = path
        self._file = file
        self._chain = chain
        self._count = count
        self._waiting = bytearray()
        self._ended = False
        if not _lock(file):
            file.close()
            raise _in_use(path)

    def midi(self, at_sec: float, stamp_sec: float, arrived_sec: float, port: int, data: bytes) -> None:
        """An event. ``port`` is 0 to 255."""
        self._append(MIDI.pack(KIND_MIDI, at_sec, stamp_sec, arrived_sec, port) + data)

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        """A command; ``args`` must be JSON-able."""
        self._append(COMMAND.pack(KIND_COMMAND, at_sec) + to_json({"name": name, "args": args}))

    def mark(self, kind: str, data: dict[str, Any]) -> None:
        """A note of the session; ``data`` must be JSON-able."""
        self._append(bytes((KIND_MARK,)) + to_json({"kind": kind, "data": data}))

    def end(self) -> None:
        """The session ended in order: nothing may follow."""
        if not self._ended:
            self._append(END.pack(KIND_END, self._count))
            self._ended = True

    def _append(self, body: bytes) -> None:
        if self._ended:
            raise UserError(f"The journal {self.path} has ended; nothing can be added to it.")
        if len(body) > MAX_BODY:
            raise UserError(f"A journal's record may have {MAX_BODY:,} bytes; this one has {len(body):,}.")
        length = len(body).to_bytes(4, "little")
        self._chain = crc32(body, crc32(length, self._chain))
        self._waiting += length + self._chain.to_bytes(4, "little") + body
        self._count += 1

    def flush(self, sync: bool = True) -> None:
        """Write what waits; with ``sync``, onto the disk itself.

        Raises OSError (a full disk): what could not be written still waits, and the next flush goes
        on where this one stopped.
        """
        try:
            while self._waiting:
                written = self._file.write(self._waiting)
                del self._waiting[:written]
        except OSError as error:
            error.filename = error.filename or str(self.path)
            raise
        if sync:
            self.sync()

    def sync(self) -> None:
        """Force what was written onto the disk itself.

        May be called from any thread. Raises OSError.
        """
        os.fsync(self._file.fileno())

    def put_aside(self) -> str:
        """Put what could not be written on another disk, and close.

        Returns a sentence that says where it is.
        """
        with contextlib.suppress(OSError):
            self.flush()
        rest, offset = bytes(self._waiting), self._file.tell()
        self._waiting.clear()
        self.close()
        if not rest:
            return f"Everything is in {self.path}."
        try:
            aside = put_aside(self.path, offset, rest)
        except OSError:
            return f"The disk has no room: the last {len(rest):,} bytes of {self.path} are lost."
        return f"The disk has no room: the last {len(rest):,} bytes of {self.path} lie in {aside}, and are taken back at the next start."

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


class UnfinishedJournal:
    """An unfinished journal, held so that nobody else takes it up.

    Read it with ``reader``, then ``go_on`` writing. A context manager.
    """

    def __init__(self, path: str | Path) -> None:
        """Hold it. Raises UserError for what is no journal or is in use; OSError."""
        self.path = Path(path)
        JournalReader(path).close()
        self._file: Any = open(path, "r+b", buffering=0)  # noqa: SIM115 - it stays open as long as the session
        try:
            if not _lock(self._file):
                raise _in_use(self.path)
            # A disk that is still full keeps what was put aside where it is.
            with contextlib.suppress(OSError):
                take_back(self.path)
            self.reader = JournalReader(path)
        except BaseException:
            self._file.close()
            raise

    def start_again(self) -> JournalReader:
        """A new ``reader``, at the beginning."""
        self.reader.close()
        self.reader = JournalReader(self.path)
        return self.reader

    def go_on(self, kind: type[_Writer]) -> _Writer:
        """A writer that goes on after the last whole record, once the reader is used up.

        Raises UserError when the session ended in order; OSError.
        """
        if self.reader.complete:
            raise UserError(f"{self.path} ended in order; a new session needs a journal of its own.")
        place = self.reader.position
        self._cut(place.offset)
        self._file.seek(place.offset)
        writer = kind.__new__(kind)
        writer._start(self.path, self._file, place.chain, place.records)
        self._file = None
        return writer

    def _cut(self, whole: int) -> None:
        size = self._file.seek(0, os.SEEK_END)
        if size == whole:
            return
        self._file.seek(whole)
        frame = self._file.read(FRAME.size)
        torn = len(frame) < FRAME.size or whole + FRAME.size + FRAME.unpack(frame)[0] > size
        self._file.seek(whole)
        try:
            _save(Path(f"{self.path}.tail-{whole}"), self._file)
        except OSError:
            # A full disk: the beginning of one record, which nobody can read, is not worth a
            # session.
            if not torn:
                raise
        self._file.truncate(whole)
        os.fsync(self._file.fileno())

    def close(self) -> None:
        """Let go of it, unless a writer has it now."""
        self.reader.close()
        if self._file is not None:
            self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _in_use(path: Path) -> UserError:
    return UserError(f"{path} is in use by another session; end that one first.")


def _lock(file: Any) -> bool:
    """Take the file for this process; False when somebody has it. The lock dies with the process,
    however it dies.
    """
    try:
        import fcntl
    except ImportError:
        return _lock_on_windows(file)
    try:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _lock_on_windows(file: Any) -> bool:
    """The same by a byte far behind the end of any journal, since there a locked byte cannot be
    read by others.
    """
    import msvcrt

    at = file.tell()
    file.seek(1 << 30)
    try:
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
    except OSError:
        return False
    finally:
        file.seek(at)
    return True


def _save(path: Path, rest: BinaryIO) -> None:
    try:
        with open(path, "wb") as file:
            shutil.copyfileobj(rest, file)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        path.unlink(missing_ok=True)
        error.filename = error.filename or str(path)
        raise


def _sync_folder(folder: Path) -> None:
    """Put a new file's name on the disk too; where folders cannot be opened, the system does that
    by itself.
    """
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
