"""The journal's thread: what is handed over is in the file at once, a full disk is said once and
loses nothing.
"""

import statistics
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from loopdeck.brief.brief import Brief
from loopdeck.capture import disk_room
from loopdeck.capture.journal import JournalWriter, MidiRecord, UnfinishedJournal, read_journal
from loopdeck.engine import journal_thread
from loopdeck.engine.journal_thread import JournalThread, what_is_unsaved
from loopdeck.session.session import header
from tests.waiting import PATIENCE_SEC, until


def head() -> dict[str, Any]:
    return header(Brief.default(), 0.0)


def test_records_are_in_the_file_soon_and_in_order(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    said: list[str] = []
    thread = JournalThread(JournalWriter(path, head()), lambda text, wrong: said.append(text))
    thread.command(0.5, "start", {})
    for number in range(500):
        thread.midi(float(number), float(number), float(number), 0, bytes((0x90, number % 128, 1)))
    thread.mark("kept", {"number": 1})
    until(lambda: len(read_journal(path).records) == 502)
    assert not read_journal(path).complete
    assert thread.end()
    journal = read_journal(path)
    assert journal.complete and said == []
    assert [record.at_sec for record in journal.records if isinstance(record, MidiRecord)] == [
        float(n) for n in range(500)
    ]


def test_letting_go_leaves_the_session_unfinished(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    thread = JournalThread(JournalWriter(path, head()), lambda text, wrong: None)
    thread.command(0.5, "start", {})
    thread.abandon()
    journal = read_journal(path)
    assert len(journal.records) == 1 and not journal.complete


class FullDisk:
    """Stands before a writer's file and takes nothing while ``full``."""

    def __init__(self, file: Any) -> None:
        self.file, self.full = file, False

    def write(self, data: Any) -> int:
        if self.full:
            raise OSError(28, "No space left on device")
        return int(self.file.write(data))

    def __getattr__(self, name: str) -> Any:
        return getattr(self.file, name)


def test_a_full_disk_is_said_once_and_nothing_is_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_thread, "RETRY_SEC", 0.05)
    path = tmp_path / "a.journal"
    writer = JournalWriter(path, head())
    disk = FullDisk(writer._file)
    writer._file = disk
    said: list[tuple[str, bool]] = []
    thread = JournalThread(writer, lambda text, wrong: said.append((text, wrong)))
    disk.full = True
    took = []
    for number in range(100):
        begun = time.perf_counter()
        thread.midi(float(number), 0.0, 0.0, 0, b"\x90\x40\x40")
        took.append(time.perf_counter() - begun)
    assert statistics.median(took) < 0.1
    until(lambda: said)
    time.sleep(0.3)
    assert len(said) == 1 and said[0][1] and "no space left" in said[0][0] and said[0][0].endswith(".")
    assert read_journal(path).records == ()
    disk.full = False
    until(lambda: len(said) == 2)
    assert said[1] == ("The journal is written again, with everything that was held back.", False)
    assert thread.end()
    journal = read_journal(path)
    assert len(journal.records) == 100 and journal.complete


def test_a_disk_that_stays_full_does_not_keep_the_engine_from_ending(tmp_path: Path) -> None:
    writer = JournalWriter(tmp_path / "a.journal", head())
    disk = FullDisk(writer._file)
    writer._file, disk.full = disk, True
    thread = JournalThread(writer, lambda text, wrong: None)
    thread.command(0.0, "start", {})
    begun = time.monotonic()
    assert thread.end(0.5) is False
    assert time.monotonic() - begun < 30.0


def test_a_record_is_in_the_file_at_once_however_slow_the_disk_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.journal"
    writer = JournalWriter(path, head())
    disk = threading.Event()
    monkeypatch.setattr(JournalWriter, "sync", lambda self: disk.wait(PATIENCE_SEC))
    thread = JournalThread(writer, lambda text, wrong: None)
    for number in range(5):
        thread.midi(float(number), 0.0, 0.0, 0, b"\x90\x40\x40")
        until(lambda number=number: len(read_journal(path).records) == number + 1)
    assert not thread.wait_synced(None, 0.0)
    disk.set()
    assert thread.wait_synced(None, PATIENCE_SEC)
    assert thread.end()


def test_room_that_was_kept_free_takes_what_a_full_disk_does_not(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    writer = JournalWriter(path, head())
    disk = FullDisk(writer._file)
    writer._file = disk
    said: list[str] = []
    thread = JournalThread(writer, lambda text, wrong: said.append(text))
    until(lambda: thread._spare._file is not None)
    give_up = thread._spare.give_up
    thread._spare.give_up = lambda: (setattr(disk, "full", False), give_up())[1]  # type: ignore[method-assign]
    disk.full = True
    thread.midi(0.0, 0.0, 0.0, 0, b"\x90\x40\x40")
    until(lambda: said)
    assert "room for a few more minutes" in said[0]
    assert thread.end()
    assert read_journal(path).complete


def test_what_the_disk_did_not_take_lies_on_another_one_and_is_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    monkeypatch.setattr(disk_room, "folders_aside", lambda path: iter((other,)))
    path = tmp_path / "a.journal"
    writer = JournalWriter(path, head())
    disk = FullDisk(writer._file)
    writer._file, disk.full = disk, True
    thread = JournalThread(writer, lambda text, wrong: None)
    for number in range(100):
        thread.midi(float(number), 0.0, 0.0, 0, b"\x90\x40\x40")
    assert thread.end(0.3) is False
    (sentence,) = what_is_unsaved(True, False, thread)
    (aside,) = other.iterdir()
    assert str(aside) in sentence and "taken back at the next start" in sentence
    with UnfinishedJournal(path) as unfinished:
        assert len(list(unfinished.reader)) == 100 and unfinished.reader.complete
    assert list(other.iterdir()) == []


def test_when_no_disk_has_room_it_is_said_to_be_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(disk_room, "folders_aside", lambda path: iter(()))
    writer = JournalWriter(tmp_path / "a.journal", head())
    disk = FullDisk(writer._file)
    writer._file, disk.full = disk, True
    thread = JournalThread(writer, lambda text, wrong: None)
    thread.midi(0.0, 0.0, 0.0, 0, b"\x90\x40\x40")
    assert thread.end(0.3) is False
    assert "are lost" in what_is_unsaved(True, False, thread)[0]


def test_a_disk_that_fills_up_is_said_before_it_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_thread, "free_bytes", lambda path: 31_000_000)
    said: list[str] = []
    thread = JournalThread(JournalWriter(tmp_path / "a.journal", head()), lambda text, wrong: said.append(text))
    until(lambda: said)
    assert said == [f"Only 31 MB are left on the disk of the journal ({tmp_path}); make room before it is full."]
    assert thread.end()


def test_a_journal_that_could_not_be_begun_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: JournalWriter, sync: bool = True) -> None:
        raise OSError(28, "No space left on device", str(self.path))

    monkeypatch.setattr(JournalWriter, "flush", full)
    with pytest.raises(OSError) as error:
        JournalWriter(tmp_path / "a.journal", head())
    assert error.value.filename == str(tmp_path / "a.journal")
    assert list(tmp_path.iterdir()) == []


KILLED = """
import sys, time
from pathlib import Path
from loopdeck.capture.journal import JournalWriter
from loopdeck.engine.journal_thread import JournalThread, what_is_unsaved
thread = JournalThread(JournalWriter(Path(sys.argv[1]), {}), lambda text, wrong: None)
number = 0
while True:
    now = time.perf_counter()
    thread.midi(now, now, now, 0, bytes((0x90, number % 128, 1)))
    number += 1
    print(now, flush=True)
    time.sleep(0.001)
"""


def test_kill_9_loses_next_to_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    process = subprocess.Popen([sys.executable, "-c", KILLED, str(path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    handed_over = [float(process.stdout.readline()) for _ in range(500)]
    process.kill()
    handed_over += [float(line) for line in process.stdout.read().splitlines()]
    process.wait()
    journal = read_journal(path)
    written = [record.at_sec for record in journal.records if isinstance(record, MidiRecord)]
    # The last one may have been written before it was told of here.
    both = min(len(written), len(handed_over))
    assert written[:both] == handed_over[:both] and len(written) <= both + 1
    # A machine that does something else for a moment is given that moment; docs/reliability.md has
    # what was measured.
    assert handed_over[-1] - written[-1] < 1.0
