"""A session that ended without warning: found, offered once, and kept as a take that says when
everything was played.
"""

import os
import time
from datetime import datetime
from pathlib import Path

import pytest

from loopdeck.capture.journal import JournalWriter, read_journal
from loopdeck.errors import UserError
from loopdeck.process.options import Options
from loopdeck.rhythm.tempo import TempoMap
from loopdeck.session.opening import open_session
from loopdeck.session.recover import keep_of_journal, lost_sessions, mark_done, recover, said_when, when_of
from loopdeck.session.session import CONTROL, Session, header
from loopdeck.shelf.store import Shelf
from tests.unit.looper_tools import brief

ON, OFF = bytes((0x90, 40, 90)), bytes((0x80, 40, 0))


def session(path: Path, start: float = 100.0, count_in: int = 0) -> tuple[Session, JournalWriter]:
    start_brief = brief(scale="E dorian", count_in=count_in)
    writer = JournalWriter(path, header(start_brief, start, started="2026-03-01T20:15:00+00:00"))
    return Session(start_brief, start, journal=writer), writer


def note(one: Session, sec: float, pitch: int = 40) -> None:
    one.midi(0, bytes((0x90, pitch, 90)), sec - 0.002, sec)
    one.midi(0, bytes((0x80, pitch, 0)), sec + 0.2, sec + 0.2)


def test_only_unfinished_sessions_with_notes_that_nobody_holds_are_lost(tmp_path: Path) -> None:
    played, writer = session(tmp_path / "1-played.journal")
    note(played, 101.0)
    writer.close()
    empty, writer = session(tmp_path / "2-empty.journal")
    empty.command("start", {}, 101.0)
    writer.close()
    done, writer = session(tmp_path / "3-done.journal")
    note(done, 101.0)
    writer.end()
    writer.close()
    running, held = session(tmp_path / "4-running.journal")
    note(running, 101.0)
    held.flush()
    feet, writer = session(tmp_path / "5-feet.journal")
    feet.control(0, ON, 101.0, 101.0)
    writer.close()
    (tmp_path / "6-noise.journal").write_bytes(os.urandom(200))
    (tmp_path / "7-nothing.journal").touch()
    assert [path.name for path in lost_sessions(tmp_path)] == ["1-played.journal"]
    held.close()
    assert [path.name for path in lost_sessions(tmp_path, tmp_path / "1-played.journal")] == ["4-running.journal"]


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="this system sets no time zone for a process")
def test_when_a_session_began_is_local_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.journal"
    session(path)[1].close()
    with monkeypatch.context() as there:
        there.setenv("TZ", "EST5")
        time.tzset()
        assert when_of(path) == "2026-03-01 15:15"
    time.tzset()
    JournalWriter(tmp_path / "odd.journal", {"started": "some day in spring"}).close()
    assert when_of(tmp_path / "odd.journal") == "some day in spri"


@pytest.mark.parametrize(
    ("when", "said"),
    [
        ("2026-03-02 19:05", "19:05"),
        ("2026-03-01 20:15", "yesterday, 20:15"),
        ("2026-02-28 20:15", "28 February, 20:15"),
        ("2025-12-31 23:59", "31 December 2025, 23:59"),
        ("", ""),
        ("some day", "some day"),
    ],
)
def test_when_a_session_began_is_said_as_players_say_it(when: str, said: str) -> None:
    assert said_when(when, datetime(2026, 3, 2, 21, 0)) == said


def test_the_keep_has_everything_and_its_time_begins_with_the_first_pass(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    one, writer = session(path, count_in=1)
    note(one, 101.0)  # before anything runs
    one.command("start", {}, 110.0)  # a bar of counting in at 120: the first pass begins at 112
    note(one, 112.5)
    one.command("late", {"port": 0, "sec": 0.01}, 113.0)
    note(one, 114.5, 43)
    one.command("layer-on", {}, 115.9)
    note(one, 116.5, 45)
    writer.close()
    keep = keep_of_journal(path)
    assert keep is not None
    assert keep.start_sec == pytest.approx(112.0)
    assert [round(event.time_sec, 3) for event in keep.events] == [-11.002, -10.8, 0.498, 0.7, 2.498, 2.7, 4.498, 4.7]
    assert keep.passes == 3
    assert keep.late == {0: 0.01}
    assert [layer.notes["pitch"].tolist() for layer in keep.layers] == [[45]]  # it was being layered when the end came
    assert TempoMap(keep.tempo_map).quarters([0.0, 0.5, 4.0]).tolist() == pytest.approx([0.0, 1.0, 8.0])


def test_a_pause_lasts_whole_cycles(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    one, writer = session(path)
    one.command("start", {}, 100.0)
    note(one, 100.5)
    one.command("stop", {}, 103.0)  # six quarters
    one.command("tempo", {"tempo": "60"}, 104.0)
    one.command("start", {}, 110.0)
    note(one, 111.0, 43)
    one.command("tempo", {"tempo": "240"}, 112.0)
    note(one, 112.5, 44)
    writer.close()
    keep = keep_of_journal(path)
    assert keep is not None
    quarters = TempoMap(keep.tempo_map).quarters([0.0, 3.0, 10.0, 11.0, 12.0, 12.5]).tolist()
    assert quarters[:2] == pytest.approx([0.0, 6.0])
    again = quarters[2]
    assert again % 4.0 == pytest.approx(0.0, abs=1e-6) and again > 6.0
    assert [one - again for one in quarters[3:]] == pytest.approx([1.0, 2.0, 4.0])
    assert all(20.0 < anchor.qpm < 400.0 for anchor in keep.tempo_map)


def test_a_session_without_a_start_begins_with_its_first_event(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    one, writer = session(path)
    note(one, 101.0)
    writer.close()
    keep = keep_of_journal(path)
    assert keep is not None
    assert keep.events[0].time_sec == 0.0 and keep.passes == 0 and keep.layers == ()


def test_controls_are_not_played(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    one, writer = session(path)
    note(one, 101.0)
    one.control(0, ON, 102.0, 102.0)
    writer.close()
    keep = keep_of_journal(path)
    assert keep is not None
    assert len(keep.events) == 2
    assert any(getattr(record, "port", 0) >= CONTROL for record in read_journal(path).records)


def test_recovered_once(tmp_path: Path) -> None:
    path, shelf_path = tmp_path / "a.journal", tmp_path / "shelf.sqlite"
    one, writer = session(path)
    one.command("start", {}, 100.0)
    note(one, 100.5)
    writer.close()
    row = recover(path, shelf_path)
    with Shelf(shelf_path) as shelf:
        take = shelf.get(row.whole["number"])
    assert take.origin == "recovered"
    assert [event.data for event in take.recording.events] == [ON, OFF]
    assert "2026-03-01 20:15" in take.name
    assert lost_sessions(tmp_path) == []
    assert read_journal(path).complete


def test_left_once(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    one, writer = session(path)
    note(one, 101.0)
    writer.close()
    mark_done(path, "left", {})
    assert lost_sessions(tmp_path) == []
    assert len(read_journal(path).records) == 3


def test_nothing_played_is_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    _, writer = session(path)
    writer.close()
    with pytest.raises(UserError, match=r"^Nothing was played in .*\.$"):
        recover(path, tmp_path / "shelf.sqlite")


def options(path: Path, resume: bool = True) -> Options:
    return Options(
        address="unix:/nowhere/link",
        journal=str(path),
        shelf=str(path.with_name("shelf.sqlite")),
        brief=brief().to_dict(),
        resume=resume,
    )


def test_a_session_is_taken_up_where_it_stopped(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    one, writer = session(path)
    one.command("start", {}, 100.0)
    note(one, 100.5)
    one.command("keep", {"passes": 1, "name": "unsaved"}, 102.1)
    one.command("loop-that", {}, 102.2)
    one.command("late", {"port": 0, "sec": 0.0125}, 102.25)
    one.midi(0, ON, 102.3, 102.3)
    writer.close()
    with path.open("r+b") as file:
        file.seek(-5, os.SEEK_END)
        file.truncate()
    back, writer, said = open_session(options(path), 200.0)
    assert back.looper.state == "STOPPED"
    # What is taken off the input is known, so nobody need be told again.
    assert back.late_sec == {0: 0.0125}
    assert len(back.looper.layers()) == 1
    assert [keep.name for keep in back.take_unsaved()] == ["unsaved"]
    assert "and 1 layer." in said[0]
    back.command("start", {}, 201.0)
    note(back, 201.5)
    writer.end()
    writer.close()
    journal = read_journal(path)
    assert journal.complete and journal.cut_at is None
    # It has ended in order now, so what comes is a new session in a journal of its own.
    again, other, _ = open_session(options(path), 300.0)
    assert again.looper.layers() == [] and other.path != path
    other.close()


def test_a_journal_that_cannot_be_read_begins_anew_and_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    path.write_bytes(b"loopdeck journal")
    _, writer, said = open_session(options(path), 200.0)
    assert "could not be taken up again" in said[0]
    assert path.read_bytes() == b"loopdeck journal"
    assert writer.path != path
    writer.close()
