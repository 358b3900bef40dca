"""The journal: whatever happens to the file, all that was whole on the disk comes back bit for
bit.
"""

import errno
import itertools
import os
import signal
import struct
import subprocess
import sys
from pathlib import Path
from typing import Any
from zlib import crc32

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.capture import journal
from loopdeck.capture.journal import (
    CommandRecord,
    JournalReader,
    JournalWriter,
    MarkRecord,
    MidiRecord,
    Record,
    finished,
    in_use,
    read_journal,
)
from loopdeck.errors import UserError

HEADER = {"brief": {"name": "Rusty gate", "scale": "G blues"}, "start_sec": 0.1}
RECORDS: list[Record] = [
    MarkRecord("ports", {"0": "loopdeck in"}),
    MidiRecord(0.1 + 0.2, 0.3, 5e-324, 0, b"\x90\x28\x5a"),
    CommandRecord(1.0 / 3.0, "keep", {"passes": 4, "name": "Gïtter ♭"}),
    MidiRecord(-0.0, 1e300, 2.5, 255, b"\xf0" + bytes(20) + b"\xf7"),
    MidiRecord(9.0, 9.0, 9.0, 1, b"\x80\x28\x00"),
]


def add(writer: JournalWriter, records: list[Record]) -> None:
    for record in records:
        if isinstance(record, MidiRecord):
            writer.midi(*record)
        elif isinstance(record, CommandRecord):
            writer.command(*record)
        else:
            writer.mark(*record)


def write(path: Path, records: list[Record] = RECORDS, ended: bool = True) -> list[int]:
    """A journal of these records; returns the sizes that the file had after the header and after
    each record (and end mark).
    """
    with JournalWriter(path, HEADER) as writer:
        sizes = [path.stat().st_size]
        for record in records:
            add(writer, [record])
            writer.flush()
            sizes.append(path.stat().st_size)
        if ended:
            writer.end()
            writer.flush()
            sizes.append(path.stat().st_size)
    return sizes


def sentence(error: pytest.ExceptionInfo[UserError]) -> str:
    text = str(error.value)
    assert text.endswith(".")
    assert "\n" not in text
    return text


# ---- there and back ------------------------------------------------------------------------------


def test_records_come_back_bit_for_bit(tmp_path: Path) -> None:
    write(tmp_path / "a.journal")
    found = read_journal(tmp_path / "a.journal")
    assert (found.header, found.complete, found.cut_at) == (HEADER, True, None)
    assert list(found.records) == RECORDS
    # -0.0 == 0.0, so equality alone would not see that bit.
    assert struct.pack("<d", found.records[3][0]) == struct.pack("<d", -0.0)


TIMES = st.floats(width=64)
JSON = st.dictionaries(
    st.text(), st.one_of(st.text(), st.integers(), st.floats(allow_nan=False), st.booleans(), st.none())
)
ANY_RECORD = st.one_of(
    st.builds(MidiRecord, TIMES, TIMES, TIMES, st.integers(0, 255), st.binary(min_size=1, max_size=300)),
    st.builds(CommandRecord, TIMES, st.text(), JSON),
    st.builds(MarkRecord, st.text(), JSON),
)


@given(st.lists(ANY_RECORD, max_size=20), JSON)
def test_any_records_come_back(
    tmp_path_factory: pytest.TempPathFactory, records: list[Record], header: dict[str, Any]
) -> None:
    path = tmp_path_factory.mktemp("journal") / "a.journal"
    with JournalWriter(path, header) as writer:
        add(writer, records)
    found = read_journal(path)
    assert found.header == header
    # repr tells every double apart, and makes one not-a-number like another.
    assert repr(list(found.records)) == repr(records)
    assert (found.complete, found.cut_at) == (False, None)


def test_the_bytes_are_those_of_the_docs(tmp_path: Path) -> None:
    """Written out by hand after docs/journal.md, so that the code cannot change the format by
    itself.
    """
    head = b"loopdeck journal" + bytes([1, 0, 0, 0])
    bodies = [b'H{"a":1}', b"M" + struct.pack("<dddB", 1.5, 1.25, 1.375, 3) + b"\x90\x28\x40"]
    bodies += [b"C" + struct.pack("<d", 2.0) + b'{"name":"undo","args":{}}', b'K{"kind":"n","data":{"x":"y"}}']
    bodies += [b"E" + struct.pack("<Q", 3)]
    expected, chain = head, crc32(head)
    for body in bodies:
        length = struct.pack("<I", len(body))
        chain = crc32(length + body, chain)
        expected += length + struct.pack("<I", chain) + body
    with JournalWriter(tmp_path / "a.journal", {"a": 1}) as writer:
        writer.midi(1.5, 1.25, 1.375, 3, b"\x90\x28\x40")
        writer.command(2.0, "undo", {})
        writer.mark("n", {"x": "y"})
        writer.end()
    assert (tmp_path / "a.journal").read_bytes() == expected


def test_nothing_follows_the_end_mark(tmp_path: Path) -> None:
    with JournalWriter(tmp_path / "a.journal", HEADER) as writer:
        writer.end()
        writer.end()
        with pytest.raises(UserError, match="has ended"):
            writer.mark("late", {})


def test_a_record_that_no_reader_would_take_is_not_written(tmp_path: Path) -> None:
    with JournalWriter(tmp_path / "a.journal", HEADER) as writer:
        writer.midi(0.0, 0.0, 0.0, 0, bytes(1000))
        with pytest.raises(UserError, match="1,048,576"):
            writer.midi(0.0, 0.0, 0.0, 0, bytes(journal.MAX_BODY))
        writer.midi(1.0, 0.0, 0.0, 0, b"\xfe")
    assert [record[0] for record in read_journal(tmp_path / "a.journal").records] == [0.0, 1.0]


def test_a_journal_is_never_written_over(tmp_path: Path) -> None:
    write(tmp_path / "a.journal")
    before = (tmp_path / "a.journal").read_bytes()
    with pytest.raises(UserError) as error:
        JournalWriter(tmp_path / "a.journal", HEADER)
    assert "exists already" in sentence(error)
    assert (tmp_path / "a.journal").read_bytes() == before


# ---- damage --------------------------------------------------------------------------------------


def test_cut_at_every_byte_all_whole_records_come_back(tmp_path: Path) -> None:
    path = tmp_path / "whole.journal"
    sizes = write(path)
    data = path.read_bytes()
    cut = tmp_path / "cut.journal"
    for length in range(len(data)):
        cut.write_bytes(data[:length])
        assert not finished(cut)
        if length < sizes[0]:
            with pytest.raises(UserError) as error:
                read_journal(cut)
            assert ("is empty" if not length else "before its first record") in sentence(error)
            continue
        whole = sum(size <= length for size in sizes) - 1
        found = read_journal(cut)
        assert list(found.records) == RECORDS[:whole]
        assert not found.complete
        assert found.cut_at == (None if length in sizes else sizes[whole])


@pytest.mark.parametrize("flip", [0x01, 0x80, 0xFF])
def test_a_flipped_byte_anywhere_costs_only_what_follows(tmp_path: Path, flip: int) -> None:
    path = tmp_path / "whole.journal"
    sizes = write(path)
    data = path.read_bytes()
    hurt = tmp_path / "hurt.journal"
    for place in range(len(data)):
        hurt.write_bytes(data[:place] + bytes((data[place] ^ flip,)) + data[place + 1 :])
        if place < sizes[0]:
            with pytest.raises(UserError) as error:
                read_journal(hurt)
            sentence(error)
            continue
        whole = sum(size <= place for size in sizes) - 1
        found = read_journal(hurt)
        assert list(found.records) == RECORDS[:whole]
        assert found.cut_at == sizes[whole]
        assert not found.complete


@pytest.mark.parametrize("garbage", [b"\0", b"\0" * 4096, b"\xff" * 4096, b"loopdeck journal", bytes(range(256)) * 9])
@pytest.mark.parametrize("ended", [True, False])
def test_appended_garbage_costs_nothing(tmp_path: Path, garbage: bytes, ended: bool) -> None:
    path = tmp_path / "a.journal"
    size = write(path, ended=ended)[-1]
    with open(path, "ab") as file:
        file.write(garbage)
    found = read_journal(path)
    assert list(found.records) == RECORDS
    assert (found.complete, found.cut_at) == (ended, size)


def test_a_record_missing_doubled_or_moved_is_damage(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    sizes = write(path)
    data = path.read_bytes()
    parts = [data[begin:end] for begin, end in itertools.pairwise(sizes)]
    for order, whole in (((0, 2, 3, 4, 5), 1), ((0, 1, 1, 2, 3, 4, 5), 2), ((1, 0, 2, 3, 4, 5), 0), ((5,), 0)):
        path.write_bytes(data[: sizes[0]] + b"".join(parts[number] for number in order))
        found = read_journal(path)
        assert list(found.records) == RECORDS[:whole]
        assert not found.complete


def test_records_with_a_good_checksum_that_mean_nothing_are_passed_over(tmp_path: Path) -> None:
    bodies = [b"Z", b"H{}", b"M\0\0", b"C\0", b"C" + bytes(8) + b"[]", b"C" + bytes(8) + b'{"name":1,"args":{}}', b"K{"]
    bodies += [b'K{"kind":"a","data":[]}', b"E", b"E" + struct.pack("<Q", 99), b"K" + b'{"a":' * 100_000, b"K\xff\xfe"]
    bodies += [b'K{"kind":"a","data":{"a":' + b"9" * 10_000 + b"}}"]
    for number, body in enumerate(bodies):
        path = tmp_path / f"{number}.journal"
        with JournalWriter(path, HEADER) as writer:
            add(writer, RECORDS)
            writer._append(body)
            writer.mark("after", {})
        found = read_journal(path)
        assert list(found.records) == [*RECORDS, MarkRecord("after", {})], body[:30]
        assert (found.cut_at, found.unreadable, found.complete) == (None, 1, False)
        with JournalWriter.resume(path) as writer:
            writer.mark("on", {})
            writer.end()
        found = read_journal(path)
        assert list(found.records) == [*RECORDS, MarkRecord("after", {}), MarkRecord("on", {})]
        assert (found.unreadable, found.complete) == (1, True)


def test_a_length_that_lies_fills_no_memory(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    size = write(path, ended=False)[-1]
    with open(path, "ab") as file:
        file.write(b"\xff\xff\xff\xff" + bytes(8))
        file.truncate(1 << 29)
    with JournalReader(path) as reader:
        assert list(reader) == RECORDS
        assert reader.cut_at == size
    with open(path, "ab") as file:
        file.truncate((1 << 30) + 1)
    with pytest.raises(UserError) as error:
        read_journal(path)
    assert "1,073,741,825 bytes" in sentence(error)


def test_what_is_no_journal_gets_one_sentence(tmp_path: Path) -> None:
    cases = {
        "empty": (b"", "is empty"),
        "midi": (b"MThd\0\0\0\6", "is not a journal"),
        "text": (b"loopdeck, a story\n" * 9, "is not a journal"),
        "newer": (
            b"loopdeck journal" + struct.pack("<HH", 2, 0) + b"what we cannot know",
            "version 2, from a newer loopdeck",
        ),
    }
    for name, (data, words) in cases.items():
        path = tmp_path / name
        path.write_bytes(data)
        for attempt in (read_journal, JournalReader, JournalWriter.resume):
            with pytest.raises(UserError) as error:
                attempt(path)
            assert words in sentence(error)
            assert str(path) in str(error.value)
        assert path.read_bytes() == data
    with pytest.raises(UserError, match="is a folder"):
        read_journal(tmp_path)
    with pytest.raises(FileNotFoundError):
        read_journal(tmp_path / "nowhere")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_that_nobody_writes_to_does_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(UserError, match="device or a pipe"):
        read_journal(tmp_path / "pipe")


# ---- going on ------------------------------------------------------------------------------------


def test_resume_after_a_cut_at_every_byte_goes_on_after_the_last_whole_record(tmp_path: Path) -> None:
    whole = tmp_path / "whole.journal"
    sizes = write(whole)
    data = whole.read_bytes()
    after = MidiRecord(10.0, 10.0, 10.0, 0, b"\x90\x30\x40")
    for length in range(sizes[0], len(data)):
        path = tmp_path / f"{length}.journal"
        path.write_bytes(data[:length])
        with JournalWriter.resume(path) as writer:
            add(writer, [after])
            writer.end()
        count = sum(size <= length for size in sizes) - 1
        found = read_journal(path)
        assert list(found.records) == [*RECORDS[:count], after]
        assert (found.complete, found.cut_at) == (True, None)
        tail = tmp_path / f"{length}.journal.tail-{sizes[count]}"
        assert (tail.read_bytes() if tail.exists() else b"") == data[sizes[count] : length]


def test_a_session_that_ended_in_order_is_not_resumed(tmp_path: Path) -> None:
    write(tmp_path / "a.journal")
    assert finished(tmp_path / "a.journal")
    before = (tmp_path / "a.journal").read_bytes()
    with pytest.raises(UserError) as error:
        JournalWriter.resume(tmp_path / "a.journal")
    assert "ended in order" in sentence(error)
    assert (tmp_path / "a.journal").read_bytes() == before


def test_a_journal_that_is_being_written_is_in_use(tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    path = tmp_path / "a.journal"
    with JournalWriter(path, HEADER) as writer:
        assert in_use(path)
        with pytest.raises(UserError) as error:
            JournalWriter.resume(path)
        assert "in use" in sentence(error)
        writer.mark("still here", {})
    assert not in_use(path)
    assert not finished(path)
    assert read_journal(path).records == (MarkRecord("still here", {}),)


KILLED = """
import sys
from loopdeck.capture.journal import JournalWriter
writer = JournalWriter(sys.argv[1], {})
number = 0
while True:
    for _ in range(50):
        writer.midi(number, number, number, 0, bytes((0x90, 40, 64)))
        number += 1
    writer.flush()
    print(number, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no such signal")
def test_killed_in_the_middle_everything_flushed_is_there(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    process = subprocess.Popen([sys.executable, "-c", KILLED, str(path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    for _ in range(5):
        process.stdout.readline()
    process.kill()
    flushed = 250 + 50 * len(process.stdout.readlines())
    process.wait()
    found = read_journal(path)
    assert not found.complete
    assert not in_use(path)
    assert [record[0] for record in found.records] == list(range(len(found.records)))
    assert len(found.records) >= flushed


class FullDisk:
    """A raw file on a disk with room for so many bytes."""

    def __init__(self, file: Any, room: int) -> None:
        self.file, self.room = file, room

    def write(self, data: bytes) -> int:
        if not self.room:
            raise OSError(errno.ENOSPC, "No space left on device")
        written: int = self.file.write(bytes(data[: self.room]))
        self.room -= written
        return written

    def __getattr__(self, name: str) -> Any:
        return getattr(self.file, name)


@pytest.mark.parametrize("room", [0, 1, 7, 8, 9, 40, 100])
def test_a_full_disk_loses_nothing_once_there_is_room_again(tmp_path: Path, room: int) -> None:
    path = tmp_path / "a.journal"
    with JournalWriter(path, HEADER) as writer:
        disk = FullDisk(writer._file, room)
        writer._file = disk
        add(writer, RECORDS)
        with pytest.raises(OSError, match="No space"):
            writer.flush()
        add(writer, RECORDS)
        with pytest.raises(OSError, match="No space"):
            writer.flush()
        disk.room = 1 << 20
        writer.flush()
    assert list(read_journal(path).records) == RECORDS * 2
