"""Reading a journal: record by record, or as a whole (docs/journal.md)."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple
from zlib import crc32

from loopdeck.capture.journal_records import (
    END,
    FRAME,
    HEAD,
    KIND_END,
    KIND_HEADER,
    MAGIC,
    MAX_BODY,
    MAX_FILE,
    VERSION,
    DamageError,
    Record,
    decode_record,
    from_json,
)
from loopdeck.errors import UserError
from loopdeck.files import Closing, open_ordinary


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


class JournalReader(Closing):
    """A journal record by record, for files of any length.

    ``complete`` and ``cut_at`` are known once the records are used up.
    """

    def __init__(self, path: str | Path) -> None:
        """Open it and read the header.

        Raises UserError if it is not a journal, or comes from a newer loopdeck; OSError.
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
                f"{self.path} is a journal of version {version}, from a newer loopdeck; this one reads up to "
                f"version {VERSION}."
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


def read_journal(path: str | Path) -> Journal:
    """Everything in a journal that is whole.

    Raises UserError if it is not a journal, or too large to hold; OSError.
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
