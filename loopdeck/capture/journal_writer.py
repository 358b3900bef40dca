"""Writing a journal, a new one or one that was not finished (docs/journal.md).

Conventions: a writer is not thread safe: one thread owns it, but for ``sync``. It locks its file,
so that a session that still runs is not taken for a lost one.
"""

import contextlib
import os
from pathlib import Path
from typing import Any, Self, TypeVar
from zlib import crc32

from loopdeck.capture.disk_room import put_aside, take_back
from loopdeck.capture.journal_files import in_use_error, lock, save_tail, sync_folder
from loopdeck.capture.journal_reader import JournalReader
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
    MAGIC,
    MAX_BODY,
    MIDI,
    VERSION,
    to_json,
)
from loopdeck.errors import UserError
from loopdeck.files import Closing

_Writer = TypeVar("_Writer", bound="JournalWriter")


class JournalWriter(Closing):
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
        sync_folder(self.path.parent)

    @classmethod
    def resume(cls, path: str | Path) -> Self:
        """Continue an unfinished journal after its last whole record.

        A damaged tail is copied to a file beside it (``NAME.tail-OFFSET``) before it is cut off; a
        last record that was not written whole is cut off. Raises UserError if it is not a journal,
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
        if not lock(file):
            file.close()
            raise in_use_error(path)

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


class UnfinishedJournal(Closing):
    """An unfinished journal, held so that nobody else takes it up.

    Read it with ``reader``, then ``go_on`` writing. A context manager.
    """

    def __init__(self, path: str | Path) -> None:
        """Hold it. Raises UserError if it is not a journal or is in use; OSError."""
        self.path = Path(path)
        JournalReader(path).close()
        self._file: Any = open(path, "r+b", buffering=0)  # noqa: SIM115 - it stays open as long as the session
        try:
            if not lock(self._file):
                raise in_use_error(self.path)
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
            save_tail(Path(f"{self.path}.tail-{whole}"), self._file)
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
