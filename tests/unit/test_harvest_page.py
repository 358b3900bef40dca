"""The page of a session's riffs, and the end of a session in the window."""

import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from loopdeck.shelf.store import Shelf
from loopdeck.window import harvest_process, keys
from loopdeck.window.harvest_process import SessionFiles
from loopdeck.window.leaving import LEAST_NOTES, Leaving
from loopdeck.window.pages.harvest import NOWHERE, SEARCHING, HarvestPage
from loopdeck.window.ui_state import UiState
from tests.unit.test_harvest_command import journal
from tests.unit.test_riffs import RIFF
from tests.unit.window_tools import Told, press, written
from tests.waiting import PATIENCE_SEC, until


def polled(ui: UiState, told: Told, seconds: float = PATIENCE_SEC) -> None:
    """Wait until what the page asked for is done."""
    end = time.monotonic() + seconds
    page = ui.pages["harvest"]
    assert isinstance(page, HarvestPage)
    while page.background.busy:
        assert time.monotonic() < end, "no answer"
        ui.poll(told.view, 5.0)
        time.sleep(0.01)


def opened(path: Path, shelf: Path) -> tuple[UiState, Told, HarvestPage]:
    """The page, opened by its key, when the search is done."""
    ui, told = UiState(), Told()
    page = ui.pages["harvest"]
    assert isinstance(page, HarvestPage)
    page.files = SessionFiles(str(path), str(shelf))
    press(ui, told, "ScrollLock")
    assert ui.page == "harvest" and page.says() == [SEARCHING]
    press(ui, told, "Right")
    assert told.view.message(5.0) is None, "what the page says would stand there when it is over"
    polled(ui, told)
    return ui, told, page


def test_riffs_are_found_ticked_and_put_on_the_shelf(tmp_path: Path) -> None:
    path, shelf = journal(tmp_path / "one.journal"), tmp_path / "shelf"
    before = path.read_bytes()
    ui, told, page = opened(path, shelf)
    try:
        assert [riff["name"] for riff in page.riffs] == ["A"]
        press(ui, told, "Enter")
        assert "Tick" in told.view.message(5.0).text and not shelf.exists()  # type: ignore[union-attr]
        press(ui, told, "Right")
        press(ui, told, "Left")
        press(ui, told, "Right")
        press(ui, told, "Enter")
        polled(ui, told)
        assert told.view.message(5.0).text == "On the shelf: riff A as take 1."  # type: ignore[union-attr]
        assert page.kept == {"A": 1}
        press(ui, told, "Enter")
        polled(ui, told)
        with Shelf(shelf) as there:
            assert len(there.find()) == 1, "what is on the shelf is not put there twice"
            assert there.get(1).notes().array["pitch"].tolist() == [pitch for _, pitch in RIFF]
    finally:
        page.end()
    assert path.read_bytes() == before


def test_the_page_shows_marks_times_and_keys(tmp_path: Path) -> None:
    ui, told, page = opened(journal(tmp_path / "one.journal", end=False), tmp_path / "shelf")
    page.end()
    words = [text for text, _ in written(told.view, 5.0, ui)]
    assert "A" in words and "3 times" in words and "The riffs of this session" in words
    assert any(text.startswith("1 found, 0 ticked") for text in words)
    assert any("Enter" in text and "shelf" in text for text in words)


@pytest.mark.parametrize(
    ("notes", "sentence"),
    [
        ([], "Nothing was played"),
        ([(0.0, 28)], "One note alone"),
        ([(n * 1.7, 28 + n * 7 % 11) for n in range(9)], "Nothing comes back"),
    ],
)
def test_nothing_found_is_said(tmp_path: Path, notes: list[tuple[float, int]], sentence: str) -> None:
    ui, told, page = opened(journal(tmp_path / "one.journal", notes=notes), tmp_path / "shelf")
    page.end()
    assert page.riffs == [] and sentence in page.says()[0]
    press(ui, told, "Right")
    assert told.view.message(5.0).text == "There is no riff to choose."  # type: ignore[union-attr]


def test_a_window_alone_says_that_it_cannot() -> None:
    ui, told = UiState(), Told()
    press(ui, told, "ScrollLock")
    assert ui.page == "" and told.view.message(0.0).text == NOWHERE  # type: ignore[union-attr]


def test_the_search_that_dies_is_said(tmp_path: Path) -> None:
    ui, told, page = opened(journal(tmp_path / "one.journal"), tmp_path / "shelf")
    assert page._process is not None and page._process._child is not None
    page._process._child.kill()
    page._process._child.wait()
    press(ui, told, "Right")
    press(ui, told, "Enter")
    polled(ui, told)
    assert "loopdeck harvest" in told.view.message(5.0).text  # type: ignore[union-attr]
    page.end()


# ---- the end of a session ------------------------------------------------------------------------


def played(count: int) -> tuple[UiState, Told]:
    told, ui = Told(), UiState()
    told.clock()
    for index in range(count):
        told.note(40, index * 0.5)
    return ui, told


def leave(ui: UiState, told: Told, files: SessionFiles | None) -> tuple[Leaving, list[str], bool]:
    leaving, did = Leaving(files, ui), list[str]()
    ui.quit = True
    return leaving, did, leaving.begins(told.view, 1.0, lambda: did.append("goodbye"))


def files_of(path: Path, shelf: Path) -> SessionFiles:
    files = SessionFiles(str(path), str(shelf))
    files.ended.set()
    return files


def test_who_has_played_gets_the_page_and_the_engine_its_goodbye(tmp_path: Path) -> None:
    ui, told = played(LEAST_NOTES)
    told.view.tell("Press F12 once more to leave.", False, 0.5)
    files = files_of(journal(tmp_path / "one.journal"), tmp_path / "shelf")
    leaving, did, stays = leave(ui, told, files)
    assert told.view.message(1.0) is None, "it was pressed"
    assert stays and did == ["goodbye"] and files.leaving.is_set() and not ui.quit
    assert ui.page == "harvest" and told.view.clock.state == "ENDED"
    polled(ui, told)
    assert not leaving.over(99.0), "it stays as long as the player likes"
    words = [text for text, _ in written(told.view, 5.0, ui)]
    assert "Before you go: the riffs of this session" in words
    press(ui, told, "Esc")
    assert leaving.over(99.0)
    leaving.end()


def test_asking_once_more_leaves_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    endless = (sys.executable, "-c", "import time; time.sleep(600)")
    monkeypatch.setattr(harvest_process, "python_command", lambda *words: endless)
    ui, told = played(LEAST_NOTES)
    leaving, _, _ = leave(ui, told, files_of(journal(tmp_path / "one.journal"), tmp_path / "shelf"))
    page = ui.pages["harvest"]
    assert isinstance(page, HarvestPage) and page._process is not None
    process = page._process
    child = until(lambda: process._child, "the search")
    began = time.monotonic()
    ui.quit = True
    assert not leaving.begins(told.view, 1.1, lambda: None)
    leaving.end()
    assert time.monotonic() - began < PATIENCE_SEC and child.poll() is not None, "the search is not waited for"


def test_f12_on_the_last_page_leaves(tmp_path: Path) -> None:
    ui, told = played(LEAST_NOTES)
    leaving, _, _ = leave(ui, told, files_of(journal(tmp_path / "one.journal"), tmp_path / "shelf"))
    press(ui, told, "F12")
    assert leaving.over(1.2)
    leaving.end()


def test_no_key_opens_a_page_in_place_of_the_last_one_and_the_foot_names_none(tmp_path: Path) -> None:
    ui, told = played(LEAST_NOTES)
    told.devices(("in", "pickup", "connected"))
    before = " ".join(text for text, _ in written(told.view, 0.5, ui))
    assert "F1: all keys" in before and "pickup: connected" in before
    leaving, _, _ = leave(ui, told, files_of(journal(tmp_path / "one.journal"), tmp_path / "shelf"))
    for key, shift in (("F1", False), ("F2", True), ("F11", True), ("F3", False), ("Tab", False)):
        assert press(ui, told, key, shift=shift) == [] and not leaving.over(1.2), key
    words = " ".join(text for text, _ in written(told.view, 5.0, ui))
    assert "all keys" not in words and "pickup" not in words, "there is no engine any more"
    leaving.end()


def test_nothing_found_lets_the_window_end_by_itself(tmp_path: Path) -> None:
    ui, told = played(LEAST_NOTES)
    leaving, _, _ = leave(ui, told, files_of(journal(tmp_path / "one.journal", notes=[(0.0, 28)]), tmp_path / "shelf"))
    assert not leaving.over(1e9), "the search has not ended"
    polled(ui, told)
    assert not leaving.over(5.1) and leaving.over(8.0)
    leaving.end()


def test_who_has_hardly_played_or_knows_no_journal_just_leaves(tmp_path: Path) -> None:
    practising = SessionFiles("j", "s", at_end=False)
    for count, files in ((LEAST_NOTES - 1, SessionFiles("j", "s")), (LEAST_NOTES, None), (LEAST_NOTES, practising)):
        ui, told = played(count)
        _, did, stays = leave(ui, told, files)
        assert not stays and not did and ui.quit


def test_the_search_waits_for_the_engine_to_have_saved(tmp_path: Path) -> None:
    ui, told = played(LEAST_NOTES)
    files = SessionFiles(str(tmp_path / "one.journal"), str(tmp_path / "shelf"))
    leaving, _, _ = leave(ui, told, files)

    def saved() -> None:
        journal(tmp_path / "one.journal")
        files.ended.set()

    threading.Timer(0.3, saved).start()
    polled(ui, told)
    page = ui.pages["harvest"]
    assert isinstance(page, HarvestPage) and len(page.riffs) == 1
    leaving.end()


def test_the_key_has_its_place() -> None:
    assert keys.BY_KEY["ScrollLock"].act == "window-harvest"


def many(count: int) -> dict[str, Any]:
    """What the search would find, with so many riffs."""
    one = {
        "bars": 1, "notes": [{"at_q": n / 2, "length_q": 0.4, "pitch": 28 + n * 5 % 12} for n in range(8)], "best": 0,
        "occurrences": [{"bar": 3}] * 4,
    }  # fmt: skip
    return {"riffs": [{**one, "name": chr(ord("A") + n)} for n in range(count)], "says": ["A comes 4 times."]}


@pytest.mark.parametrize("size", [(1280, 720), (800, 480), (1920, 1080)])
def test_many_riffs_move_along_and_nothing_overlaps(size: tuple[int, int]) -> None:
    ui, told = UiState(page="harvest"), Told()
    page = ui.pages["harvest"]
    assert isinstance(page, HarvestPage)
    page.found, page.ticked, page.kept = many(20), frozenset("BC"), {"C": 12}
    for at in (0, 9, 19):
        page.at = at
        log = written(told.view, 0.0, ui, size)
        letter = chr(ord("A") + at)
        assert any(text == letter for text, _ in log), "the chosen one is in sight"
        inside = [box for _, box in log if size[1] * 0.25 < box.y < size[1] * 0.85]
        for index, one in enumerate(inside):
            assert not any(one.overlaps(other) for other in inside[index + 1 :])
