"""The page of the shelf: every action by keys and by pedal, searched while typing, and sentences
for what goes wrong.
"""

import json
import time
from collections import deque
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from loopdeck.midi.control_files import controls_from_toml
from loopdeck.midi.controls import Pedals
from loopdeck.process.shelf_client import ShelfAnswer
from loopdeck.process.shelf_server import MOST_LATER, ShelfServer, put_off
from loopdeck.protocol.messages import ShelfChanged, TakeKept
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import take_of_file
from loopdeck.window.background import Done
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import SMALLEST, TEXT, Box, layout
from loopdeck.window.pages.shelf import ShelfPage
from loopdeck.window.pages.shelf_drawing import _picture
from loopdeck.window.picture import picture
from loopdeck.window.sent import command
from loopdeck.window.shelf_requests import MIDI, ShelfRequests, free_name
from loopdeck.window.text import Pen
from loopdeck.window.theme import THEMES
from loopdeck.window.timeline import LanePage
from loopdeck.window.ui_state import UiState
from tests.unit.test_looping import played
from tests.unit.test_ui_state import press
from tests.unit.window_tools import Told, written

NAMES = (
    "tide gate",
    "quay steps",
    "rain on slate",
    "low ember",
    "harbour light",
    "ferry bell",
    "kelp",
    "pier nine",
    "moss",
)


class FakeRequests:
    """A shelf that answers at the next look, without a process."""

    def __init__(self, path: Path) -> None:
        self.server, self.answers, self.count = ShelfServer(path), deque[ShelfAnswer](), 0
        self.files: list[tuple[int, str, str]] = []
        self.asked: list[str] = []

    def ask(self, ask: str, **args: Any) -> int:
        self.count += 1
        self.asked.append(ask)
        answer = json.loads(json.dumps(self.server.answer(ask, args)))
        self.answers.append(ShelfAnswer(self.count, ask, answer.get("found"), answer.get("wrong", "")))
        return self.count

    def answer(self) -> ShelfAnswer | None:
        return self.answers.popleft() if self.answers else None

    def write(self, number: int, name: str, ending: str) -> None:
        self.files.append((number, name, ending))

    def written(self) -> Done | None:
        return Done("file", Path("out.mid")) if self.files and self.files.pop() else None


class Rig:
    """A window's state with the page open on a shelf of nine takes."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "shelf.sqlite"
        take = played(2, odd=9, layer=False)
        with Shelf(self.path) as shelf:
            for name in NAMES:
                shelf.add(take.changed(name=name, events=() if name == "moss" else take.recording.events))
        self.told, self.ui, self.now = Told(), UiState(), 0.0
        self.requests = FakeRequests(self.path)
        self.page.rows.requests = self.requests
        self.sent = self.ui.asked("window-shelf", {}, self.told.view, self.now)
        self.rest()

    @property
    def page(self) -> ShelfPage:
        page = self.ui.pages["shelf"]
        assert isinstance(page, ShelfPage)
        return page

    @property
    def view(self) -> Any:
        return self.told.view

    def rest(self) -> None:
        """Frames until nothing comes any more."""
        for _ in range(60):
            self.now += 0.001
            self.ui.poll(self.view, self.now)

    def keys(self, *names: str) -> list[Any]:
        sent: list[Any] = []
        for name in names:
            sent += press(self.ui, self.told, name.removeprefix("Shift+"), shift=name.startswith("Shift+"))
            self.rest()
        return sent

    def choose(self, word: str) -> None:
        """The belt to an act, as a foot does it."""
        for _ in range(40):
            acts = self.page.acts_here(self.view)
            if acts[min(self.page.act_at, len(acts) - 1)].word == word:
                return
            self.ui.asked("window-value", {"step": 1}, self.view, self.now)
        raise AssertionError(f"there is no {word!r} on the belt")

    def do(self, word: str) -> list[Any]:
        self.choose(word)
        sent = self.ui.asked("window-enter", {}, self.view, self.now)
        self.rest()
        return sent

    def type(self, text: str) -> None:
        for letter in text:
            self.ui.typed(letter)
            self.rest()

    @property
    def names(self) -> list[str]:
        return [row["name"] for row in self.page.rows.found["rows"]]

    @property
    def chosen(self) -> str:
        row = self.page.rows.chosen
        return str(row["name"]) if row is not None else ""

    def said(self) -> str:
        message = self.view.message(self.now)
        return message.text if message is not None else ""

    def texts(self) -> list[str]:
        return [text for text, _ in written(self.view, self.now, self.ui)]


@pytest.fixture
def rig(tmp_path: Path) -> Rig:
    return Rig(tmp_path)


def test_the_newest_take_first_and_steps_to_both_ends(rig: Rig) -> None:
    assert rig.chosen == "moss" and rig.names == list(NAMES[:3:-1])
    rig.keys("Down", "Down")
    assert rig.chosen == "kelp"
    rig.keys("End")
    assert rig.chosen == "tide gate" and rig.names[-1] == "tide gate"
    rig.keys("Down")
    assert rig.chosen == "tide gate"
    rig.keys("Home")
    assert rig.chosen == "moss"
    # Each has its picture; an empty take has none of notes.
    assert [len(rig.page.rows.pictures[number]["notes"]) for number in (9, 8, 7)] == [0, 7, 7]
    # Key repeats that come while an answer is on its way are added up.
    for _ in range(4):
        press(rig.ui, rig.told, "Down")
    rig.rest()
    assert rig.chosen == "harbour light"
    assert {"tide gate", "moss"} & set(rig.texts()) == {"moss"} or "harbour light" in rig.texts()


def test_a_search_narrows_with_each_letter_and_letters_are_no_notes_meanwhile(rig: Rig) -> None:
    rig.keys("Shift+Enter")
    rig.type("e")
    assert rig.page.rows.found["total"] == 9
    rig.type("mber")
    assert rig.names == ["low ember"]
    rig.keys("Enter")
    assert rig.ui.entry is None and rig.chosen == "low ember" and "The shelf: ember" in rig.texts()
    rig.do("search")
    rig.type("zz")
    assert rig.names == [] and "No take has these words." in rig.texts()
    rig.keys("Enter")
    assert rig.do("hear") == [] and rig.said() == "There is no take here; search for other words."
    rig.do("search")
    rig.keys("Backspace", "Backspace", "Enter")
    assert rig.page.rows.found["total"] == 9


def test_of_too_many_pictures_the_oldest_is_given_up_and_asked_for_again(
    rig: Rig, capsys: pytest.CaptureFixture[str]
) -> None:
    later: deque[dict[str, Any]] = deque()
    for number in range(MOST_LATER + 2):
        put_off(later, {"id": number, "ask": "picture"})
    assert [json.loads(line) for line in capsys.readouterr().out.splitlines()] == [{"id": 0}, {"id": 1}]
    assert [question["id"] for question in later] == list(range(2, MOST_LATER + 2))
    rows, number = rig.page.rows, rig.page.number
    rows.pictures.clear()
    rows.look(0)
    rows.take(rig.requests.answers.popleft(), rig.now)
    asked = next(one for one, take in rows._waiting.items() if take == number)
    rig.requests.answers.clear()
    rows.take(ShelfAnswer(asked, "picture"), rig.now)
    assert number not in rows.pictures and number not in rows._waiting.values()
    rig.page.rows.look(0)
    rig.rest()
    assert rows.pictures[number]["notes"] == [] and rig.chosen == "moss", "a take without notes has an empty one"


def test_a_search_that_was_dropped_does_not_come_back_in_the_bin(rig: Rig) -> None:
    rig.do("search")
    rig.type("ember")
    rig.keys("Esc")
    rig.do("look into the bin")
    assert rig.page.rows.binned and rig.page.rows.asked == "" and "The bin is empty." in rig.texts()


def test_hollow_boxes_that_meet_have_one_line_between_them() -> None:
    canvas = Canvas(Pen(), THEMES["paper"], layout(1280, 720), LanePage(0.0, 4.0, 1, 1))
    notes = [[0.0, 0.5, 30, 1.0, 1], [0.5, 0.5, 30, 1.0, 1]]
    drawn = _picture(canvas, 1, {"groups": [], "notes": notes}, Box(0, 0, 320, 52))
    rows = ["".join(" #"[drawn.get_at((x, y)) == THEMES["paper"].ink] for x in range(320)) for y in range(48)]
    across = rows[[row.startswith("##") for row in rows].index(True) + 4]
    assert [len(line) for line in across.split()] == [2, 2, 2] and across.startswith("##") and across.endswith("##")


def test_heard_looped_and_no_longer_heard(rig: Rig) -> None:
    rig.keys("Down")
    number = rig.page.number
    assert rig.do("hear") == command("hear-take", take=number)
    rig.told.hear(ShelfChanged(path="", heard=number, name="pier nine"))
    assert "HEARD" in rig.texts() and "stop hearing" in rig.texts()
    assert rig.do("stop hearing") == command("hear-no-take")
    for word, playing, beside in (
        ("loop the best pass", "best", False), ("loop the riff", "riff", False), ("loop all passes", "passes", False),
        ("loop its layers", "layers", False), ("beside the loop", "best", True),
    ):  # fmt: skip
        (quiet, loop) = rig.do(word)
        assert quiet.name == "hear-no-take"
        assert (loop.name, loop.args) == ("loop-take", {"take": number, "playing": playing, "beside": beside})
    assert rig.do("tab and page") == command("write-take", take=number)
    # Whatever is heard ends with the page.
    assert rig.keys("Esc") == command("hear-no-take")


def test_heard_with_the_click_and_slower(rig: Rig) -> None:
    """What is chosen holds for the takes that are heard from then on, and at once for the one that
    is heard.
    """
    number = rig.page.number
    assert rig.do("click: off") == [] and rig.do("tempo: 100 %") == []
    assert rig.do("hear") == command("hear-take", take=number, click=True, percent=90)
    rig.told.hear(ShelfChanged(path="", heard=number, name="pier nine"))
    assert rig.do("tempo: 90 %") == command("hear-take", take=number, click=True, percent=80)
    assert rig.do("click: on") == command("hear-take", take=number, percent=80)
    for percent in (80, 70, 60, 50):
        rig.do(f"tempo: {percent} %")
    assert rig.do("click: off") == command("hear-take", take=number, click=True)


def test_rated_tagged_and_renamed(rig: Rig) -> None:
    rig.keys("Shift+Right", "Shift+Right", "Shift+Right", "Shift+Left")
    assert rig.page.rows.chosen["rating"] == 2 and "●●" in rig.texts()
    rig.do("tag")
    rig.type("odd bridge")
    rig.keys("Enter")
    assert rig.page.rows.chosen["tags"] == ["bridge", "odd"]
    rig.do("tag")
    rig.keys("Shift+Backspace")
    rig.type("odd")
    rig.keys("Enter")
    rig.do("rename")
    rig.type("lantern")
    rig.keys("Enter")
    assert rig.chosen == "lantern" and rig.said() == "Take 9 is called lantern."
    with Shelf(rig.path) as shelf:
        take = shelf.get("lantern")
    assert (take.rating, take.tags) == (2, ("odd",))
    rig.do("rename")
    rig.keys("Backspace")
    rig.keys("Shift+Backspace", "Enter")
    assert rig.ui.entry is not None and rig.ui.entry.wrong == "A name has at least one letter."


def test_rows_asked_for_before_a_press_do_not_take_it_back(rig: Rig) -> None:
    rows = rig.page.rows
    rows.look(0)
    for pressed in (1, 2, 3):
        press(rig.ui, rig.told, "Right", shift=True)
        answer = rig.requests.answer()
        assert answer is not None
        rows.take(answer, rig.now)
        assert rows.chosen is not None and rows.chosen["rating"] == pressed
    rig.rest()
    with Shelf(rig.path) as shelf:
        assert rows.chosen["rating"] == shelf.get(rows.chosen["number"]).rating == 3


def test_the_switches_of_the_docs_do_all_of_it(rig: Rig) -> None:
    text = (Path(__file__).parents[2] / "docs" / "shelf.md").read_text(encoding="utf-8")
    controls = controls_from_toml(
        "name = 'shelf'\nabout = 'four switches'\n" + text.split("```toml\n")[1].split("```")[0]
    )
    pedals, now = Pedals(controls), 0.0

    def press(number: int, sec: float = 0.1) -> list[Any]:
        nonlocal now
        now += 1.0
        orders = pedals.message(now, bytes((0xB0, number, 127)))[1] + pedals.tick(now + sec)
        orders += pedals.message(now + sec, bytes((0xB0, number, 0)))[1]
        sent: list[Any] = []
        for order in orders:
            if order.act.command.startswith("window-"):
                sent += rig.ui.asked(order.act.command, order.act.args, rig.view, rig.now)
            else:
                sent += command(order.act.command, **order.act.args)
            rig.rest()
        return sent

    press(80), press(80), press(81)
    assert rig.chosen == "pier nine"
    assert press(83) == command("hear-take", take=8)
    press(82), press(82)
    press(82, 0.8)
    assert [one.name for one in press(83)] == ["hear-no-take", "loop-take"]
    assert press(83, 0.8) == command("undo")
    press(80, 0.8)
    assert rig.ui.page == ""


def test_the_panel_of_keeps_hears_of_it_and_a_take_is_practised(rig: Rig) -> None:
    rig.told.hear(TakeKept(number=9, name="moss", when="14:02"))
    rig.keys("Shift+Right")
    (kept,) = rig.view.shelf.kept
    assert (kept.rating, kept.when) == (1, "14:02")
    assert rig.do("practise") == command("window-practise", take=9) and rig.ui.page == ""


def test_to_the_bin_and_back(rig: Rig) -> None:
    rig.told.hear(ShelfChanged(path="", heard=9, name="moss"))
    # Removed while it is heard: it is heard no longer, and the next one is chosen.
    assert rig.keys("Delete") == command("hear-no-take")
    assert rig.said() == "Take 9 is in the bin." and rig.chosen == "pier nine"
    rig.do("look into the bin")
    assert rig.names == ["moss"] and "The bin" in rig.texts()
    rig.do("put back")
    assert rig.names == [] and "The bin is empty." in rig.texts()
    rig.do("back to the shelf")
    assert rig.chosen == "moss"


def test_two_are_compared_in_a_sentence(rig: Rig) -> None:
    rig.keys("Down")
    rig.do("compare")
    assert rig.said() == "Take 8 is marked; choose another one and compare again." and "MARKED" in rig.texts()
    rig.keys("Down")
    rig.do("compare")
    assert rig.said().startswith("kelp has all 7 notes of pier nine; in time, F1 1.00")
    rig.do("compare")
    rig.keys("Home")
    rig.do("compare")
    assert rig.said() == "Take 9, 'moss', has no notes, so there is nothing to loop."


def test_a_file_is_written_and_named(rig: Rig, tmp_path: Path) -> None:
    rig.choose("MIDI file")
    rig.ui.asked("window-enter", {}, rig.view, rig.now)
    assert rig.requests.files == [(9, "moss", MIDI)] and rig.said() == "Take 9 is being written."
    rig.rest()
    assert rig.said() == "It is in out.mid."
    assert free_name(tmp_path, "9 a/b: c", ".mid").name == "9 a-b- c.mid"
    (tmp_path / "9 a.mid").touch()
    assert free_name(tmp_path, "9 a", ".mid").name == "9 a 2.mid"


def test_files_are_written_by_our_own_commands(rig: Rig) -> None:
    requests = ShelfRequests(lambda: str(rig.path))
    for number in (8, 10**6):
        requests.write(number, "pier nine", MIDI)
    done: list[Done] = []
    until = time.monotonic() + 60
    while len(done) < 2 and time.monotonic() < until:
        done += [one for one in [requests.written()] if one is not None]
        time.sleep(0.02)
    assert (
        done[0].value == rig.path.parent / "files" / "8 pier nine.mid"
        and len(take_of_file(done[0].value).notes()) == 14
    )
    assert str(done[1].error).startswith("The file was not written: There is no take '1000000' on the shelf")


def test_what_another_program_changes_is_seen(rig: Rig) -> None:
    with Shelf(rig.path) as shelf:
        shelf.rename("moss", "gravel")
        shelf.remove("pier nine")
        shelf.add(replace(played(1, layer=False), name="dune"))
    rig.now += 2.0
    rig.rest()
    assert rig.names[:3] == ["dune", "gravel", "kelp"] and rig.chosen == "gravel"


def test_a_damaged_shelf_is_a_sentence_and_playing_goes_on(tmp_path: Path) -> None:
    rig = Rig(tmp_path)
    data = bytearray(rig.path.read_bytes())
    data[:100] = bytes(100)
    broken = tmp_path / "broken.sqlite"
    broken.write_bytes(data)
    rig.page.rows.requests = FakeRequests(broken)
    rig.page.rows.look(0)
    rig.rest()
    assert rig.names == [] and rig.said().endswith("-o NEW.sqlite.")
    assert any(text.startswith(str(broken)[:12]) or "rescue" in text for text in rig.texts())
    assert rig.keys("Space") == command("loop-that")
    assert broken.read_bytes() == bytes(data)


def test_a_damaged_take_is_left_out_and_said(rig: Rig) -> None:
    with Shelf(rig.path) as shelf:
        shelf._db.execute("UPDATE take SET brief = 'no json' WHERE number = 7")
    rig.now += 2.0
    rig.rest()
    assert "kelp" not in rig.names and rig.said().startswith("Left out: take 7")


@pytest.mark.parametrize("size", [(800, 450), (1280, 720), (1920, 1080), (1000, 1000)])
def test_everything_stands_on_the_page_and_nothing_on_anything_else(rig: Rig, size: tuple[int, int]) -> None:
    rig.keys("Shift+Right", "Down")
    rig.do("tag")
    rig.type("a very long tag that has no room")
    rig.keys("Enter")
    rig.do("rename")
    rig.type("a take with a name that is much too long for the room that a row of this page has for it")
    rig.keys("Enter")
    rig.do("compare")
    rig.told.hear(ShelfChanged(path="", heard=8, name="pier nine"))
    page = layout(*size).page
    inks = [(text, ink) for text, ink in written(rig.view, rig.now, rig.ui, size) if page.holds(ink)]
    assert len(inks) > 20 and {"The shelf", "moss", "●"} <= {text for text, _ in inks}
    for index, (text, ink) in enumerate(inks):
        for other_text, other in inks[index + 1 :]:
            assert not ink.inset(1).overlaps(other.inset(1)), (text, other_text)


def test_nothing_on_it_is_too_small_to_read(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    """At 1280 x 720 nothing below 18 px; names and what Enter does at least 28."""
    sizes: dict[str, int] = {}
    piece = Pen.piece

    def noted(self: Pen, text: str, size: int, colour: Any) -> Any:
        sizes[text] = min(size, sizes.get(text, size))
        return piece(self, text, size, colour)

    monkeypatch.setattr(Pen, "piece", noted)
    rig.keys("Shift+Right")
    picture(rig.view, rig.now, ui=rig.ui)
    assert min(sizes.values()) >= SMALLEST, min(sizes, key=lambda text: sizes[text])
    assert sizes["moss"] >= TEXT and sizes["hear"] >= TEXT and sizes["The shelf"] >= TEXT
