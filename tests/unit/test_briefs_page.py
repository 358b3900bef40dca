"""Briefs in the window: listed, chosen and taken back, saved and deleted; what goes wrong is one
sentence and loses nothing.
"""

import os
from pathlib import Path
from typing import Any

import pytest

from loopdeck.brief.brief import Brief, load_brief
from loopdeck.brief.folder import BriefExistsError, delete_brief, file_name, list_briefs, save_brief
from loopdeck.cli.jam import FIRST_BRIEF
from loopdeck.errors import UserError
from loopdeck.looper.machine import Looper
from loopdeck.protocol.messages import BriefChanged, Command, Said
from loopdeck.window.pages.briefs import BriefsPage
from loopdeck.window.ui_state import UiState
from tests.unit.window_tools import Told, press, settled, written


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the player's own briefs."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setattr("loopdeck.configs.own_folder", lambda kind: tmp_path / "config" / "loopdeck" / kind)
    return tmp_path / "config" / "loopdeck" / "briefs"


def opened(told: Told) -> tuple[UiState, BriefsPage]:
    ui = UiState()
    press(ui, told, "F1", shift=True)
    settled(ui, told.view, "briefs")
    page = ui.pages["briefs"]
    assert ui.page == "briefs" and isinstance(page, BriefsPage)
    return ui, page


def titles(page: BriefsPage, told: Told) -> list[str]:
    return [row.title for row in page.rows(told.view)]


def go_to(ui: UiState, told: Told, page: BriefsPage, title: str) -> None:
    for _ in range(40):
        if page.row(told.view).title == title:
            return
        press(ui, told, "Down")
    raise AssertionError(title)


def said(told: Told) -> str:
    message = told.view.message(0.0)
    return message.text if message is not None else ""


class Playing(Told):
    """A view on a real looper: what is sent is done, and its brief comes back."""

    def __init__(self) -> None:
        super().__init__()
        self.looper = Looper(Brief.default().replace(**FIRST_BRIEF))
        self.hear(BriefChanged(fields=self.looper.brief.to_dict()))

    def do(self, sent: list[Any]) -> None:
        for one in sent:
            assert isinstance(one, Command)
            self.looper.command(0.0, one.name, **one.args)
        self.hear(BriefChanged(fields=self.looper.brief.to_dict()))


def test_the_list_has_ours_and_the_players_and_opens_at_the_one_in_force(own: Path) -> None:
    told = Told()
    save_brief(Brief.default().replace(scale="D dorian"), "Zinc roof")
    tram = next(one for one in list_briefs() if one.name == "late-tram")
    assert tram.brief is not None
    told.hear(BriefChanged(fields=tram.brief.to_dict()))
    _, page = opened(told)
    assert titles(page, told)[:3] == ["save the brief in force as ...", "Zinc roof", "Copper kettle"]
    assert page.row(told.view).title == "Late tram" and page.in_force(page.row(told.view), told.view)


def test_a_brief_is_chosen_and_chosen_back() -> None:
    told = Playing()
    first = dict(told.view.brief_texts)
    ui, page = opened(told)
    go_to(ui, told, page, "Seven herons")
    told.do(press(ui, told, "Enter"))
    assert told.view.brief_texts["scale"] == "F# phrygian dominant" and told.view.brief_texts["tempo"] == "8th=232"
    assert page.in_force(page.row(told.view), told.view)
    assert press(ui, told, "Enter") == [] and "already" in said(told)
    go_to(ui, told, page, "back to untitled")
    told.do(press(ui, told, "Enter"))
    assert told.view.brief_texts == first, "everything as it was"
    go_to(ui, told, page, "back to Seven herons")
    told.do(press(ui, told, "Enter"))
    assert told.view.brief_texts["name"] == "Seven herons"


def test_taken_twice_before_its_cycle_begins_the_way_back_stays() -> None:
    told = Told(name="mine", cycle="5/4")
    ui, page = opened(told)
    go_to(ui, told, page, "Seven herons")
    (sent,) = press(ui, told, "Enter")
    told.hear(BriefChanged(fields={**told.view.brief_texts, **sent.args["fields"], "cycle": "5/4"}))
    (sent,) = press(ui, told, "Enter")
    assert set(sent.args["fields"]) == {"cycle"}
    assert [title for title in titles(page, told) if title.startswith("back")] == ["back to mine"]


def test_choosing_sends_what_differs_and_the_looper_says_it_in_a_few_words() -> None:
    told = Playing()
    ui, page = opened(told)
    go_to(ui, told, page, "Rust moth")
    (sent,) = press(ui, told, "Enter")
    assert "click_level" not in sent.args["fields"] and sent.args["fields"]["tuning"] == "drop D"
    told.looper.command(0.0, sent.name, **sent.args)
    texts = [news.text for news in told.looper.take_news() if isinstance(news, Said)]
    assert texts == ["Brief: Rust moth. Everything on the lowest string two frets higher."]


def test_the_brief_in_force_is_saved_under_a_typed_name(own: Path) -> None:
    told = Told(scale="A phrygian", tempo="88")
    ui, page = opened(told)
    page.at = 0
    press(ui, told, "Enter")
    assert ui.entry is not None and ui.entry.title == "save as"
    ui.typed("Back stairs")
    press(ui, told, "Enter")
    sent = settled(ui, told.view, "briefs")
    assert load_brief(own / "back-stairs.toml").to_dict() == {**told.view.brief_texts, "name": "Back stairs"}
    assert sent == [Command(name="brief", args={"fields": {"name": "Back stairs"}})]
    assert "back-stairs" in said(told) and ui.entry is None
    told.hear(BriefChanged(fields={**told.view.brief_texts, "name": "Back stairs"}))
    assert page.row(told.view).title == "Back stairs"


def test_a_name_that_is_taken_is_not_overwritten_without_a_second_enter(own: Path) -> None:
    save_brief(Brief.default().replace(tempo="70"), "attic")
    told = Told(tempo="123")
    ui, page = opened(told)
    page.at = 0
    press(ui, told, "Enter")
    ui.typed("Attic")
    press(ui, told, "Enter")
    settled(ui, told.view, "briefs")
    assert ui.entry is not None and "Enter replaces it" in ui.entry.wrong and ui.entry.text == "Attic"
    assert str(load_brief(own / "attic.toml").tempo) == "70"
    press(ui, told, "Enter")
    settled(ui, told.view, "briefs")
    assert ui.entry is None and str(load_brief(own / "attic.toml").tempo) == "123"
    # Another name after the warning is not a yes to it.
    press(ui, told, "Up"), press(ui, told, "Up")
    page.at = 0
    press(ui, told, "Enter")
    ui.typed("Attic")
    press(ui, told, "Enter")
    settled(ui, told.view, "briefs")
    ui.typed("s")
    press(ui, told, "Enter")
    settled(ui, told.view, "briefs")
    assert (own / "attics.toml").exists()


@pytest.mark.parametrize(
    ("typed", "wrong"), [("...", "a letter or a figure"), ("late tram", "comes with"), ("x" * 70, "60 letters")]
)
def test_a_name_that_cannot_be_is_said_and_can_be_mended(own: Path, typed: str, wrong: str) -> None:
    told = Told()
    ui, page = opened(told)
    page.at = 0
    press(ui, told, "Enter")
    ui.typed(typed)
    press(ui, told, "Enter")
    settled(ui, told.view, "briefs")
    assert ui.entry is not None and wrong in ui.entry.wrong and ui.entry.text == typed
    press(ui, told, "Enter")
    settled(ui, told.view, "briefs")
    assert ui.entry is not None, "a second Enter replaces none of ours"
    press(ui, told, "Esc")
    assert ui.entry is None and not own.exists()


def test_only_the_players_own_are_deleted_and_only_by_two_presses(own: Path) -> None:
    save_brief(Brief.default(), "attic")
    told = Told()
    ui, page = opened(told)
    go_to(ui, told, page, "Tide mill")
    press(ui, told, "Delete"), press(ui, told, "Delete")
    settled(ui, told.view, "briefs")
    assert "comes with loopdeck" in said(told)
    go_to(ui, told, page, "attic")
    press(ui, told, "Delete", at_sec=0.0)
    press(ui, told, "Delete", at_sec=60.0)
    assert (own / "attic.toml").exists(), "a press a minute later is the first one again"
    press(ui, told, "Delete", at_sec=61.0)
    settled(ui, told.view, "briefs")
    assert not (own / "attic.toml").exists() and "attic" not in titles(page, told)
    go_to(ui, told, page, "save the brief in force as ...")
    press(ui, told, "Delete")
    assert "your own" in said(told)


def test_a_file_that_is_no_brief_is_shown_with_what_is_wrong_and_hides_no_other(own: Path) -> None:
    own.mkdir(parents=True)
    (own / "aa.toml").write_text("tempo = 9000\n", encoding="utf-8")
    told = Told()
    ui, page = opened(told)
    go_to(ui, told, page, "aa")
    assert press(ui, told, "Enter") == []
    assert "tempo" in said(told) and len(titles(page, told)) > 6
    assert any("tempo" in text for text, _ in written(told.view, 1.0, ui))


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_cannot_be_written_by_permission(own: Path) -> None:
    own.mkdir(parents=True)
    own.chmod(0o500)
    with pytest.raises(UserError, match="cannot be saved"):
        save_brief(Brief.default(), "attic")
    own.chmod(0o700)


def test_a_folder_that_cannot_be_written_is_said_and_nothing_is_changed(own: Path) -> None:
    own.parent.mkdir(parents=True)
    own.write_text("a file where the folder should be")
    told = Told()
    ui, page = opened(told)
    page.at = 0
    press(ui, told, "Enter")
    ui.typed("attic")
    press(ui, told, "Enter")
    settled(ui, told.view, "briefs")
    assert ui.entry is not None and "cannot be saved" in ui.entry.wrong
    assert own.read_text() == "a file where the folder should be"


def test_saving_by_the_library(own: Path) -> None:
    assert file_name("  Grüne Treppe, 7/8 ") == "grüne-treppe-7-8"
    assert file_name("../../etc/passwd") == "etc-passwd"
    assert file_name("हिन्दी") == "हिन्दी" != file_name("हुन्दी")
    for device in ("CON", "aux", "Com1", "LPT³"):
        with pytest.raises(UserError, match="take another name"):
            file_name(device)
    save_brief(Brief.default(), "one")
    with pytest.raises(BriefExistsError):
        save_brief(Brief.default(), "One")
    shipped = next(one for one in list_briefs() if not one.own)
    with pytest.raises(UserError, match="comes with"):
        delete_brief(shipped)
    assert shipped.path.exists()


def test_a_new_players_first_brief_has_a_scale() -> None:
    assert Brief.default().replace(**FIRST_BRIEF).scale is not None


def test_pedals_move_on_the_page() -> None:
    told = Told()
    ui, page = opened(told)
    at = page.at
    ui.asked("window-line", {"step": 1}, told.view, 0.0)
    assert page.at == at + 1
    ui.asked("window-enter", {}, told.view, 0.0)
    ui.asked("window-briefs", {}, told.view, 0.0)
    assert ui.page == ""
