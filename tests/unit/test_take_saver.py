"""Keeps on their way to the shelf: after a death at any point either the journal and the shelf both
know of one, or it is saved then.
"""

from pathlib import Path
from typing import Any

import pytest

from loopdeck.capture.journal import JournalWriter, MarkRecord, read_journal
from loopdeck.engine.events import TakeListed, TakeSaved, ToSay
from loopdeck.engine.journal_thread import JournalThread
from loopdeck.engine.take_saver import Result, TakeSaver
from loopdeck.looper.keep import Keep
from loopdeck.session.keep_identity import keep_identity
from loopdeck.session.opening import OpenedSession, open_session
from loopdeck.session.recover import recover
from loopdeck.shelf.store import Shelf
from tests.unit.test_recover import note, options
from tests.waiting import until


class Rig:
    """A session with its journal's threads and its take saver, as an engine has them."""

    def __init__(self, path: Path, resume: bool, now: float = 100.0) -> None:
        self.session: OpenedSession
        self.session, writer, self.said = open_session(options(path, resume), now)
        self.posted: list[Result] = []
        self.journal = JournalThread(writer, lambda text, wrong: self.posted.append(ToSay(text, wrong)))
        self.session.journal = self.journal
        self.shelf_path = path.with_name("shelf.sqlite")
        self.saver = TakeSaver(self.shelf_path, self.journal, self.session.identity, self.posted.append, "leave")
        self.saver.start()
        for keep in self.session.take_unsaved():
            self.saver.save(keep, {})
        self.session.keep = lambda keep: self.saver.save(keep, {})

    def rows(self) -> list[dict[str, Any]]:
        return [one.row for one in self.posted if isinstance(one, TakeSaved)]

    def said_all(self) -> str:
        return " ".join(one.text for one in self.posted if isinstance(one, ToSay))

    def die(self) -> None:
        """What a kill leaves: everything written so far, no end mark, no mark of what was saved."""
        self.journal.wait_synced()
        self.saver.end()
        self.journal.abandon()


def takes(path: Path) -> list[dict[str, Any]]:
    with Shelf(path.with_name("shelf.sqlite")) as shelf:
        return sorted(shelf.find(), key=lambda row: int(row["number"]))


def played(rig: Rig) -> None:
    rig.session.command("start", {}, 100.0)
    note(rig.session, 100.5)
    rig.session.advance(102.1)


def test_a_keep_after_a_death_between_shelf_and_journal_is_a_take_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    rig = Rig(path, resume=False)
    played(rig)
    rig.session.command("keep", {"passes": 1, "name": "first"}, 102.2)
    until(rig.rows)
    rig.die()  # before the engine could write down that the take is on the shelf
    assert not any(isinstance(record, MarkRecord) for record in read_journal(path).records)
    again = Rig(path, resume=True, now=200.0)
    again.session.command("start", {}, 201.0)
    note(again.session, 201.5, 47)
    again.session.advance(203.1)
    again.session.command("keep", {"passes": 1, "name": "second"}, 203.2)
    until(lambda: len(again.rows()) == 2)
    again.die()
    assert [row["name"] for row in takes(path)] == ["first", "second"]


def test_a_death_before_the_journal_had_the_keep_still_gives_two(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    rig = Rig(path, resume=False)
    played(rig)
    rig.die()
    whole = path.read_bytes()
    rig = Rig(path, resume=True)
    rig.session.command("keep", {"passes": 1, "name": "first"}, 102.2)
    until(rig.rows)
    rig.die()
    path.write_bytes(whole)  # the machine died, and the disk had less than it said
    again = Rig(path, resume=True, now=200.0)
    again.session.command("start", {}, 201.0)
    note(again.session, 201.5, 47)
    again.session.advance(203.1)
    again.session.command("keep", {"passes": 1, "name": "second"}, 203.2)
    until(again.rows)
    again.die()
    assert [row["name"] for row in takes(path)] == ["first", "second"]


def test_a_keep_pressed_at_the_end_of_a_pass_survives_a_death_before_the_next_event(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    rig = Rig(path, resume=False)
    played(rig)
    note(rig.session, 102.5, 43)
    said = rig.session.command("keep", {"passes": 2, "name": "late press"}, 103.9)
    assert "when it ends" in said
    rig.die()
    again = Rig(path, resume=True, now=200.0)
    until(again.rows)
    again.die()
    (row,) = takes(path)
    assert (row["name"], row["passes"]) == ("late press", 2)


def test_the_same_passes_kept_twice_are_one_take(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    rig = Rig(path, resume=False)
    played(rig)
    rig.session.command("keep", {"passes": 1, "name": ""}, 102.2)
    rig.session.command("keep", {"passes": 1, "name": ""}, 102.6)
    until(lambda: "take 1 already" in rig.said_all())
    note(rig.session, 102.7, 47)
    rig.session.command("keep", {"passes": 1, "name": ""}, 104.3)
    until(lambda: len(rig.rows()) == 2)
    rig.die()
    assert len(takes(path)) == 2
    again = Rig(path, resume=True, now=200.0)
    again.die()
    assert len(takes(path)) == 2


def test_a_new_name_for_the_same_passes_is_the_takes_name(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    rig = Rig(path, resume=False)
    played(rig)
    rig.session.command("keep", {"passes": 1, "name": "first"}, 102.2)
    rig.session.command("keep", {"passes": 1, "name": "better"}, 102.6)
    until(lambda: "called 'better'" in rig.said_all())
    assert [one.row["name"] for one in rig.posted if isinstance(one, TakeListed)] == ["better"]
    rig.die()
    assert [row["name"] for row in takes(path)] == ["better"]


@pytest.mark.parametrize("name", ["", "better", "long " * 70])
def test_a_take_in_the_bin_that_is_kept_again_comes_back_and_holds_up_no_other(tmp_path: Path, name: str) -> None:
    path = tmp_path / "a.journal"
    rig = Rig(path, resume=False)
    played(rig)
    rig.session.command("keep", {"passes": 1, "name": "first"}, 102.2)
    until(rig.rows)
    with Shelf(rig.shelf_path) as shelf:
        shelf.remove(1)
    rig.session.command("keep", {"passes": 1, "name": name}, 102.6)
    until(lambda: "take 1, out of the bin again" in rig.said_all())
    assert [one.row["name"] for one in rig.posted if isinstance(one, TakeListed)] == [name[:199] or "first"]
    note(rig.session, 102.7, 47)
    rig.session.command("keep", {"passes": 1, "name": "second"}, 104.3)
    until(lambda: len(rig.rows()) == 2)
    rig.die()
    assert [row["name"] for row in takes(path)] == [name[:199] or "first", "second"]


def test_a_note_held_over_the_end_makes_no_second_take(tmp_path: Path) -> None:
    kept = []
    rig = Rig(tmp_path / "a.journal", resume=False)
    rig.session.keep = kept.append
    rig.session.command("start", {}, 100.0)
    rig.session.midi(0, bytes((0x90, 40, 90)), 101.5, 101.5)
    rig.session.command("keep", {"passes": 1}, 102.2)
    rig.session.midi(0, bytes((0x80, 40, 0)), 102.4, 102.4)
    rig.session.command("keep", {"passes": 1}, 102.5)
    rig.session.command("loop-that", {}, 102.6)
    rig.session.command("keep", {"passes": 1}, 102.7)
    rig.die()
    first, second, layered = map(keep_identity, kept)
    assert first == second != layered


def test_an_unsaved_keep_of_a_lost_session_is_a_take_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    rig = Rig(path, resume=False)
    rig.session.keep = None
    played(rig)
    rig.session.command("keep", {"passes": 1, "name": "riff"}, 102.2)
    note(rig.session, 102.7, 47)
    rig.session.command("keep", {"passes": 1, "name": "end of pass"}, 103.9)
    rig.die()
    found = recover(path, tmp_path / "shelf.sqlite")
    assert [row["name"] for row in found.kept] == ["riff", "end of pass"]
    rows = takes(path)
    assert [row["name"] for row in rows][:2] == ["riff", "end of pass"]
    assert rows[2]["name"].startswith("session of") and rows[2]["passes"] == 2
    assert read_journal(path).complete


def test_it_is_not_said_to_be_in_the_journal_when_it_is_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loopdeck.engine.take_saver.JOURNAL_SEC", 0.1)
    path = tmp_path / "a.journal"
    rig = Rig(path, resume=False)
    played(rig)
    rig.journal.wait_synced()
    (tmp_path / "shelf.sqlite").mkdir()
    rig.session.command("keep", {"passes": 1}, 102.2)
    until(lambda: "it is in the journal" in rig.said_all())

    def full(sync: bool = True) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(JournalWriter, "flush", lambda self, sync=True: full())
    note(rig.session, 102.7, 47)
    rig.session.advance(104.1)
    rig.session.command("keep", {"passes": 1, "name": "held"}, 104.2)
    until(lambda: "not in the journal either: it is held in memory" in rig.said_all())


def test_a_mistake_of_ours_is_said_once_and_the_next_take_is_saved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    put, fails, tries = TakeSaver._put, [True], list[str]()

    def first_fails(self: TakeSaver, keep: Keep, *more: Any) -> dict[str, Any]:
        tries.append(keep.name)
        if fails and keep.name == "first":
            raise IndexError("nothing there")
        return put(self, keep, *more)

    monkeypatch.setattr(TakeSaver, "_put", first_fails)
    rig = Rig(tmp_path / "a.journal", resume=False)
    played(rig)
    rig.session.command("keep", {"passes": 1, "name": "first"}, 102.2)
    until(lambda: "not on the shelf yet (a mistake in loopdeck, IndexError)" in rig.said_all())
    note(rig.session, 102.5, 43)
    rig.session.advance(104.1)
    rig.session.command("keep", {"passes": 1, "name": "second"}, 104.2)
    until(lambda: [row["name"] for row in rig.rows()] == ["second"])
    rig.saver.answer(False)  # anything that wakes the thread
    until(lambda: tries.count("first") == 3)
    fails.clear()
    rig.saver.answer(False)
    until(lambda: [row["name"] for row in rig.rows()] == ["second", "first"])
    rig.die()
    assert rig.said_all().count("IndexError") == 1
    assert capfd.readouterr().err.count("IndexError: nothing there") == 1


def test_a_system_that_starts_no_process_keeps_no_later_take_from_the_shelf(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any, **more: Any) -> None:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr("loopdeck.engine.take_saver.subprocess.Popen", fail)
    rig = Rig(tmp_path / "a.journal", resume=False)
    rig.saver._lost.append(tmp_path / "lost.journal")
    rig.saver.answer(True)
    until(lambda: "stays in its journal: Resource temporarily unavailable." in rig.said_all())
    played(rig)
    rig.session.command("keep", {"passes": 1, "name": "first"}, 102.2)
    until(rig.rows)
    rig.die()
