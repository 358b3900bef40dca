"""A brief drawn from a mood in the window: drawn, held, drawn again, taken back, limited; the same
draws as the command's.
"""

import itertools
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from loopdeck.brief.brief import Brief
from loopdeck.practice.draw import DRAWN, LIKE_KEPT, UNTRIED, draw
from loopdeck.practice.drawn import default_draws, read_draws
from loopdeck.practice.moods import MOODS
from loopdeck.protocol.messages import BriefChanged, Command
from loopdeck.shelf.store import Shelf
from loopdeck.window.pages.mood import LINES, MoodPage
from loopdeck.window.ui_state import UiState
from tests.unit.shelf_tools import small_take
from tests.unit.window_tools import Told, press, settled, written


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The player's data folder."""
    monkeypatch.setattr("platformdirs.user_data_path", lambda *words, **more: tmp_path)
    return tmp_path


class Rig:
    """The page on a view whose brief follows what is sent."""

    def __init__(self, folder: Path) -> None:
        self.told, self.ui = Told(scale="G dorian", tuning="five-string"), UiState()
        page = self.ui.pages["mood"]
        assert isinstance(page, MoodPage)
        self.page = page
        self.page.shelf = str(folder / "shelf.sqlite")
        press(self.ui, self.told, "F12", shift=True)
        assert self.ui.page == "mood"

    @property
    def texts(self) -> dict[str, Any]:
        return dict(self.told.view.brief_texts)

    def do(self, sent: list[Any]) -> None:
        for one in sent:
            assert isinstance(one, Command) and one.name == "brief"
            brief = Brief.default().replace(**(self.texts | one.args["fields"]))
            self.told.hear(BriefChanged(fields=brief.to_dict()))

    def press(self, *names: str) -> None:
        for name in names:
            shift, _, key = name.rpartition("+")
            self.do(press(self.ui, self.told, key, shift=bool(shift)))
            self.do(settled(self.ui, self.told.view, "mood"))

    def choose(self, mood: str) -> None:
        self.page.mood = mood

    def line(self, name: str) -> None:
        while self.page.line != name:
            self.press("Down")

    def said(self) -> str:
        message = self.told.view.message(0.0)
        return message.text if message is not None else ""


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    return Rig(tmp_path)


def test_a_draw_is_in_force_with_its_first_step_and_every_reason(rig: Rig) -> None:
    rig.choose("dark")
    rig.press("Enter")
    found = rig.page.found
    assert found == draw("dark", found["seed"], Brief.default().replace(scale="G dorian", tuning="five-string", tempo="96", cycle="4/4 4+3/8")).to_dict()  # fmt: skip
    assert rig.texts == found["brief"] and rig.texts["tuning"] == "five-string", "what is not drawn stays"
    shown = ""
    for name in LINES:
        rig.line(name)
        shown += " ".join(text for text, _ in written(rig.told.view, 1.0, rig.ui)) + " "
    assert f"{found['first_step'][1:]}." in shown
    for name in (*DRAWN, "first_step"):
        assert found["why"][name] in shown, name


def test_the_command_knows_of_the_draws_of_the_window(rig: Rig, tmp_path: Path) -> None:
    rig.press("Enter", "Enter")
    assert default_draws() == tmp_path / "draws.json"
    assert [one["brief"] for one in read_draws(default_draws())][-1] == rig.texts
    assert len(read_draws(default_draws())) == 2


def test_no_draw_comes_twice_in_a_row(rig: Rig) -> None:
    rig.choose("heavy")
    before: dict[str, Any] = {}
    for _ in range(8):
        rig.press("Enter")
        music = {name: rig.texts[name] for name in DRAWN}
        assert music != before
        before = music


def test_with_everything_held_the_first_step_changes(rig: Rig) -> None:
    rig.choose("sad")
    rig.press("Enter")
    for name in DRAWN:
        rig.line(name)
        rig.press("Right")
    music = {name: rig.texts[name] for name in DRAWN}
    steps = [rig.page.found["first_step"]]
    for _ in range(5):
        rig.press("Enter")
        steps.append(rig.page.found["first_step"])
        assert {name: rig.texts[name] for name in DRAWN} == music
    assert all(one != other for one, other in itertools.pairwise(steps))


def test_held_fields_stay_and_are_let_go_again(rig: Rig) -> None:
    rig.line("scale")
    rig.press("Right")
    rig.line("tempo")
    rig.press("Left")
    for mood in ("angry", "calm", "bluesy"):
        rig.choose(mood)
        rig.press("Enter")
        assert (rig.texts["scale"], rig.texts["tempo"]) == ("G dorian", "96")
        assert rig.page.found["why"]["scale"] == "You held G dorian, so it stayed."
    assert any(text == "HELD" for text, _ in written(rig.told.view, 1.0, rig.ui))
    rig.press("Left")
    rig.choose("angry")
    rig.press("Enter")
    assert float(rig.texts["tempo"]) >= 128


def test_draws_are_taken_back_one_by_one_to_the_brief_before(rig: Rig) -> None:
    stages = [rig.texts]
    for _ in range(3):
        rig.press("Enter")
        stages.append(rig.texts)
    for stage in reversed(stages[:-1]):
        rig.press("Backspace")
        assert rig.texts == stage
    # Nothing of this window is left; the file still has its first draw, and before it there is
    # none.
    rig.press("Backspace")
    assert rig.texts == stages[0] and "no draw" in rig.said()


def test_what_was_drawn_before_this_window_can_be_taken_back(rig: Rig, tmp_path: Path) -> None:
    rig.press("Enter", "Enter", "Enter")
    other = Rig(tmp_path)
    draws = read_draws(default_draws())
    other.press("Backspace")
    assert other.texts == draws[-2]["brief"] and read_draws(default_draws()) == draws[:-1]


def test_a_change_since_the_draw_has_no_reason_of_the_draw(rig: Rig) -> None:
    rig.press("Enter")
    rig.do([Command(name="brief", args={"fields": {"tempo": "201"}})])
    assert rig.page.why("tempo", rig.told.view) == "You have changed it since it was drawn."


def test_it_is_limited_to_what_was_rated_well_or_never_tried(rig: Rig, tmp_path: Path) -> None:
    rig.page.limit = LIKE_KEPT
    before = rig.texts
    rig.press("Enter")
    assert "rated 4 or more" in rig.said() and rig.texts == before
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        shelf.add(replace(small_take(scale="A mixolydian", tempo="101", cycle="5/4"), rating=5))
    rig.choose("happy")
    for _ in range(4):
        rig.press("Enter")
        assert rig.texts["scale"].endswith("mixolydian") and rig.texts["cycle"] == "5/4"
    rig.page.limit = UNTRIED
    for _ in range(6):
        rig.press("Enter")
        assert not rig.texts["scale"].endswith("mixolydian")


def test_a_mood_is_typed_and_a_mistyped_one_stays_to_be_mended(rig: Rig) -> None:
    rig.press("Shift+Enter")
    rig.ui.typed("gloomi")
    rig.press("Enter")
    assert rig.ui.entry is not None and "gloomi" in rig.ui.entry.wrong
    rig.press("Backspace")
    rig.ui.typed("y")
    rig.press("Enter")
    assert rig.ui.entry is None and rig.page.mood == "dark"


def test_turning_goes_round_all_moods_and_any(rig: Rig) -> None:
    seen = set()
    for _ in range(len(MOODS) + 1):
        seen.add(rig.page.mood)
        rig.press("Right")
    assert seen == {"any", *MOODS}


def test_a_foot_draws_and_takes_back_without_the_page(rig: Rig) -> None:
    rig.press("Esc")
    first = rig.texts
    rig.do(rig.ui.asked("window-draw", {}, rig.told.view, 0.0))
    rig.do(settled(rig.ui, rig.told.view, "mood"))
    assert rig.ui.page == "mood" and rig.texts != first
    rig.do(rig.ui.asked("window-draw-back", {}, rig.told.view, 0.0))
    rig.do(settled(rig.ui, rig.told.view, "mood"))
    assert rig.texts == first


def test_a_data_folder_that_cannot_be_written_costs_the_memory_and_not_the_draw(
    rig: Rig, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setattr("platformdirs.user_data_path", lambda *words, **more: tmp_path / "file")
    before = rig.texts
    rig.press("Enter")
    assert rig.texts != before and "cannot be remembered" in rig.said()
