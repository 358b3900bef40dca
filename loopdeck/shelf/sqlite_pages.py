"""Rows straight from the pages of a SQLite file, for when SQLite itself gives up.

Task
    A table's rows lie in leaf pages that say so in their first byte, each with the row's number. So
    every whole leaf page can be read by itself, whatever happened to the header, the schema or the
    pages that lead to it.
Source
    "Database File Format", sqlite.org/fileformat2.html: sections 1.5 (b-tree pages), 1.6
    (overflow), 2.1 (records) and 4 (the log).
"""

import struct
from collections.abc import Callable, Iterator
from pathlib import Path

#: What a page of a table's rows begins with.
_LEAF = 0x0D
#: The same with one bit flipped: such a page is read as rows, too, and what makes no sense as a row
#: is left out.
_NEARLY_LEAF = frozenset({_LEAF} | {_LEAF ^ 1 << bit for bit in range(8)})
_USUAL_PAGE = 4096
_LOG_HEAD, _FRAME_HEAD = 32, 24
#: No take has more bytes than this; a longer chain of pages is a damaged one.
_MAX_ROW = 128 << 20
#: So many times its own size may be read of a file whose pages refer to each other; a sound one is
#: read once.
_MOST_TIMES, _ALWAYS = 8, 64 << 20
#: Bytes of the integer types 1 to 6.
_WIDTHS = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}

Value = int | float | bytes | None


class StoredText(bytes):
    """A text value, not decoded yet."""


def rows(path: Path) -> Iterator[tuple[int, list[Value]]]:
    """(row number, values) of every row of any table that can still be read, the log's newer pages
    in place of the file's.

    Raises OSError when the file cannot be read at all.
    """
    size = _page_size(path)
    newer = _log_pages(Path(f"{path}-wal"), size)
    with path.open("rb") as file:

        def page(number: int) -> bytes:
            if number in newer:
                return newer[number]
            file.seek((number - 1) * size)
            return file.read(size)

        length_of_file = path.stat().st_size
        last = max([length_of_file // size, *newer])
        budget = _MOST_TIMES * (length_of_file + len(newer) * size) + _ALWAYS
        for number in range(1, last + 1):
            data = page(number)
            start = 100 if number == 1 else 0
            if len(data) < size or data[start] not in _NEARLY_LEAF:
                continue
            (count,) = struct.unpack_from(">H", data, start + 3)
            seen: set[int] = set()
            for index in range(min(count, size // 4)):
                try:
                    (at,) = struct.unpack_from(">H", data, start + 8 + 2 * index)
                    if at in seen or budget < 0:
                        continue
                    seen.add(at)
                    length, at = _varint(data, at)
                    row, at = _varint(data, at)
                    payload = _payload(data, at, length, size, page, last)
                    budget -= len(payload)
                    yield row, _record(payload)
                except (ValueError, IndexError, struct.error):
                    continue


def _page_size(path: Path) -> int:
    with path.open("rb") as file:
        head = file.read(18)
    if head[:16] == b"SQLite format 3\0" and len(head) == 18:
        (size,) = struct.unpack(">H", head[16:])
        if size >= 512 and size & (size - 1) == 0:
            return int(size)
    return _USUAL_PAGE


def _log_pages(log: Path, size: int) -> dict[int, bytes]:
    """The newest version of each page in the write-ahead log, up to its last whole transaction."""
    if not log.is_file():
        return {}
    data = log.read_bytes()
    pages: dict[int, bytes] = {}
    open_pages: dict[int, bytes] = {}
    for at in range(_LOG_HEAD, len(data) - _FRAME_HEAD - size + 1, _FRAME_HEAD + size):
        number, whole = struct.unpack_from(">II", data, at)
        if data[at + 8 : at + 16] != data[16:24] or not number:
            break
        open_pages[number] = data[at + _FRAME_HEAD : at + _FRAME_HEAD + size]
        if whole:
            pages.update(open_pages)
            open_pages = {}
    return pages


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for index in range(9):
        byte = data[at + index]
        if index == 8:
            value = value << 8 | byte
            return value - (1 << 64 if value >> 63 else 0), at + 9
        value = value << 7 | byte & 0x7F
        if not byte & 0x80:
            return value, at + index + 1
    raise AssertionError("a varint has nine bytes at most")


def _payload(data: bytes, at: int, length: int, size: int, page: Callable[[int], bytes], last: int) -> bytes:
    """A row's bytes, those on overflow pages included."""
    if not 0 < length <= _MAX_ROW:
        raise ValueError("no row is that long")
    most = size - 35
    if length <= most:
        if at + length > size:
            raise ValueError("the row leaves its page")
        return data[at : at + length]
    least = (size - 12) * 32 // 255 - 23
    here = least + (length - least) % (size - 4)
    here = here if here <= most else least
    parts = [data[at : at + here]]
    (following,) = struct.unpack_from(">I", data, at + here)
    missing = length - here
    visited: set[int] = set()
    while missing > 0:
        if not 0 < following <= last or following in visited:
            raise ValueError("the chain of pages is broken")
        visited.add(following)
        more = page(following)
        (following,) = struct.unpack_from(">I", more, 0)
        parts.append(more[4 : 4 + missing])
        if len(more) < size:
            raise ValueError("the chain of pages is broken")
        missing -= size - 4
    return b"".join(parts)


def _record(payload: bytes) -> list[Value]:
    head, at = _varint(payload, 0)
    kinds = []
    while at < head:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    values: list[Value] = []
    for kind in kinds:
        if kind in _WIDTHS:
            width = _WIDTHS[kind]
            values.append(int.from_bytes(payload[at : at + width], "big", signed=True))
        elif kind == 7:
            width = 8
            values.append(struct.unpack_from(">d", payload, at)[0])
        elif kind in (0, 8, 9):
            width = 0
            values.append(None if kind == 0 else kind - 8)
        elif kind >= 12:
            width = (kind - 12) // 2
            part = payload[at : at + width]
            values.append(StoredText(part) if kind % 2 else part)
        else:
            raise ValueError("no such kind of value")
        at += width
    if at != len(payload):
        raise ValueError("the values are not as long as their row")
    return values
