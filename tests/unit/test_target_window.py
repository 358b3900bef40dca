"""Practising in the window: begin and end, passes judged, the tempo that follows, what is drawn."""

from pathlib import Path
from typing import Any

import pytest

from loopdeck.practice.progress import read_progress
from loopdeck.protocol.messages import Command, PassHeard, Said, TargetSet
from loopdeck.shelf.store import Shelf
from loopdeck.window.panels import PANELS
from loopdeck.window.target.state import Practising
from loopdeck.window.ui_state import UiState
from tests.unit.test_play_command import take_of
from tests.unit.window_tools import Told, press, row, written

ONSETS = (0.0, 0.5, 1.0, 2.0, 4.0, 5.0)
PITCHES = (28, 31, 33, 35, 40, 38)
CYCLE_Q = 7.5


class Player:
    """A window, an engine that does what it is told, and a player."""

    def __init__(self, shelf: str = "") -> None:
        self.told, self.ui = Told(), UiState()
        self.state: Practising = self.told.view.played.practising
        self.state.shelf = shelf
        self.told.clock("STOPPED", running=False, pass_index=-1)
        self.told.layers(row(1, notes=len(ONSETS)))
        self.told.layer(1, *((onset, 0.4, pitch) for onset, pitch in zip(ONSETS, PITCHES, strict=True)))
        self.pass_index, self.run_pass, self.start_sec, self.qpm = -1, 0, 0.0, 96.0
        self.sent: list[Any] = []

    @property
    def view(self) -> Any:
        return self.told.view

    def key(self, name: str, shift: bool = False) -> None:
        self.do(press(self.ui, self.told, name, shift, self.start_sec))

    def do(self, sent: list[Any]) -> None:
        """What the engine makes of it."""
        self.sent += sent
        for one in sent:
            if isinstance(one, Command) and one.name == "brief" and "tempo" in one.args["fields"]:
                self.qpm = float(one.args["fields"]["tempo"])
                self.told.brief(**{name: str(value) for name, value in one.args["fields"].items()})
            elif isinstance(one, Command) and one.name == "stop":
                self.told.clock("STOPPED", running=False, pass_index=-1)
            elif isinstance(one, Command) and one.name == "start":
                self.run_pass = -1
                self.told.clock("COUNTING IN", pass_index=-1, qpm=self.qpm)

    def begin_pass(self) -> None:
        """The next pass; the clock's anchor is its start."""
        self.start_sec += CYCLE_Q * 60 / self.qpm if self.run_pass >= 0 else 5.0
        self.pass_index += 1
        self.run_pass += 1
        self.told.clock(
            pass_index=self.pass_index, run_pass=self.run_pass, qpm=self.qpm, anchor_sec=self.start_sec, anchor_q=0.0,
            pass_start_q=0.0,
        )  # fmt: skip
        self.step(0.0)

    def step(self, at_q: float, later_sec: float = 0.0) -> None:
        now = self.start_sec + at_q * 60 / self.qpm + later_sec
        self.do(self.state.step(self.view, now))

    def play(self, wrong: dict[int, int] | None = None, left_out: tuple[int, ...] = (), off_ms: float = 0.0) -> None:
        """One pass from its start, to the moment after it when it is judged."""
        self.begin_pass()
        self.notes(wrong or {}, left_out, off_ms)
        self.step(7.4)

    def notes(self, wrong: dict[int, int], left_out: tuple[int, ...], off_ms: float) -> None:
        for index, (onset, pitch) in enumerate(zip(ONSETS, PITCHES, strict=True)):
            if index not in left_out:
                at_q = onset + off_ms / 1000.0 * self.qpm / 60
                self.told.note(wrong.get(index, pitch), at_q, onset, 0.3, pass_index=self.pass_index)
                self.step(at_q)

    def end_pass(self) -> None:
        """The next pass begins, what is late has come, and a beat has gone by."""
        self.begin_pass()
        self.step(0.0, 0.2)
        self.step(1.01)


def test_insert_practises_the_newest_layer_and_ends_it_again() -> None:
    one = Player()
    one.key("Insert")
    assert [sent.name for sent in one.sent if isinstance(sent, Command)] == ["mute", "brief", "start"]
    target = next(sent for sent in one.sent if isinstance(sent, TargetSet))
    assert [note.pitch for note in target.notes] == list(PITCHES) and target.sounds == "never"
    assert one.qpm == 58 and PANELS[one.ui.panel].name == "target", "six tenths of 96"
    assert one.state.words() == "practising 58: lead-in"
    one.sent.clear()
    one.key("Insert")
    assert [sent.name for sent in one.sent if isinstance(sent, Command)] == ["stop", "brief", "unmute"]
    assert one.qpm == 96 and one.state.run is None and "no whole pass was" in one.view.message(one.start_sec).text


def test_what_is_put_back_does_not_hide_what_came_of_it() -> None:
    one = Player()
    one.key("Insert")
    one.key("Insert")
    now = one.start_sec
    one.view.receive(Said(time_sec=now + 0.1, text="Brief: untitled."))
    one.told.clock("STOPPED", running=False, pass_index=-1, qpm=97.0, time_sec=now + 0.2)
    assert "no whole pass was played" in one.view.message(now + 0.3).text
    one.view.receive(Said(time_sec=now + 0.3, text="It is broken.", wrong=True))
    assert one.view.message(now + 0.3).text == "It is broken."
    one.view.receive(Said(time_sec=now + 0.4, text="Counting in, 1 bar."))
    assert one.view.message(now + 0.4).text == "Counting in, 1 bar."


def test_clean_passes_raise_the_tempo_with_a_lead_in() -> None:
    one = Player()
    one.key("Insert")
    one.play()
    one.play()
    one.sent.clear()
    one.end_pass()
    run = one.state.run
    assert run is not None and [judged.clean for judged in run.practice.judged] == [True, True]
    assert [sent.name for sent in one.sent] == ["stop", "brief", "start"] and one.qpm == 62
    one.play()
    one.end_pass()
    assert run.practice.judged[-1].clean and run.practice.judged[-1].qpm == 62 and one.qpm == 62


def test_a_pass_that_was_cut_off_by_the_change_is_not_judged() -> None:
    one = Player()
    one.key("Insert")
    for _ in range(2):
        one.play()
    one.end_pass()
    one.begin_pass()
    one.step(1.0)
    assert one.state.run is not None and len(one.state.run.practice.judged) == 2


def test_what_the_listener_remarks_waits_until_practising_is_over() -> None:
    one = Player()
    one.key("Insert")
    one.play()
    one.told.hear(PassHeard(pass_index=one.pass_index, text="You get later against the click.", about="feel"))
    assert one.view.message(one.start_sec + 60.0) is None, "the pass is told by what is judged"
    one.key("Insert")
    assert one.state.run is None


def test_notes_are_judged_as_they_come() -> None:
    one = Player()
    one.key("Insert")
    one.begin_pass()
    one.notes({2: 34}, (1,), 0.0)
    run = one.state.run
    assert run is not None and run.live is not None
    assert run.live.verdicts == ["in time", "missed", "wrong", "in time", "in time", "in time"]
    one.told.note(50, 6.0, 6.0, 0.3, pass_index=one.pass_index)
    one.step(6.0)
    assert len(run.live.added) == 1
    assert "missed" in [text for text, _ in written(one.view, one.start_sec + 6.0, one.ui)]


@pytest.mark.parametrize(("off_ms", "word"), [(80.0, "late"), (-80.0, "early"), (20.0, "in time")])
def test_early_and_late(off_ms: float, word: str) -> None:
    one = Player()
    one.key("Insert")
    one.begin_pass()
    one.notes({}, (0,), off_ms)
    assert one.state.run is not None and one.state.run.live is not None
    assert one.state.run.live.verdicts[1:] == [word] * 5


def test_in_turns_the_first_pass_is_the_targets_and_the_tempo_changes_under_it() -> None:
    one = Player()
    one.key("Insert")
    one.key("Insert", shift=True)
    assert one.sent[-1].sounds == "turns"
    for _ in range(2):
        one.begin_pass()
        assert one.state.words().endswith("listen")
        one.play()
    one.sent.clear()
    one.end_pass()
    assert [sent.name for sent in one.sent] == ["brief"] and one.qpm == 62
    assert one.state.run is not None and len(one.state.run.practice.judged) == 2


def test_one_bar_alone_and_back_with_the_session_as_it_was() -> None:
    one = Player()
    one.key("Insert")
    one.key("End", shift=True)
    run = one.state.run
    assert run is not None and (run.target.first_bar, run.target.last_bar, run.target.length_q) == (1, 1, 4.0)
    one.key("End", shift=True)
    assert one.state.run is not None and one.state.run.target.length_q == 3.5
    assert one.state.run.target.pitch.tolist() == [40, 38] and one.state.run.target.onset_q.tolist() == [0.0, 1.0]
    one.key("End", shift=True)
    assert one.state.run is not None and one.state.run.target.length_q == 7.5
    one.key("Insert")
    fields = one.sent[-2].args["fields"]
    assert (fields["cycle"], fields["tempo"]) == ("4/4 4+3/8", "96")


def test_a_layer_that_goes_is_told_and_practising_goes_on() -> None:
    one = Player()
    one.key("Insert")
    one.told.layers()
    one.step(0.0)
    assert "Layer 1 is gone" in one.view.message(one.start_sec).text and one.state.run is not None


def test_an_engine_that_dies_costs_the_run_and_not_the_session() -> None:
    one = Player()
    one.key("Insert")
    one.view.lose_engine("The engine has ended.")
    one.step(0.0)
    assert one.state.run is None
    one.sent.clear()
    one.step(1.0)
    assert not one.sent, "there is nobody to tell"
    one.view.engine_lost = ""
    one.step(1.0)
    assert [sent.name for sent in one.sent if isinstance(sent, Command)][-2:] == ["brief", "unmute"] and one.qpm == 96
    one.sent.clear()
    one.step(2.0)
    assert not one.sent


def test_the_record_and_a_take_that_left_the_shelf(tmp_path: Path) -> None:
    shelf = tmp_path / "shelf.sqlite"
    with Shelf(shelf) as opened:
        number = opened.add(take_of([40, 43, 45, 47]))
        empty = opened.add(take_of([]))
    one = Player(str(shelf))
    one.do(one.ui.asked("window-practise", {"take": number}, one.view, 0.0))
    run = one.state.run
    assert run is not None and run.target.pitch.tolist() == [40, 43, 45, 47]
    one.begin_pass()
    one.told.note(40, 0.0, 0.0, 0.3, pass_index=one.pass_index)
    one.state.run = run
    run._judge(one.view, one.start_sec, one.pass_index, one.qpm, "never")
    with Shelf(shelf) as opened:
        opened.remove(number)
    one.key("Insert")
    said = one.view.message(one.start_sec)
    assert said is not None and f"Take {number} has left the shelf" in said.text
    assert len(read_progress(shelf).runs) == 1 and one.state.history
    one.do(one.ui.asked("window-practise", {"take": empty}, one.view, 0.0))
    assert "no notes" in one.view.message(one.start_sec).text and one.state.run is None
    one.do(one.ui.asked("window-practise", {"take": 99}, one.view, 0.0))
    assert "no take '99'" in one.view.message(one.start_sec).text


def test_nothing_to_practise_is_a_sentence() -> None:
    told, ui = Told(), UiState()
    told.clock("STOPPED", running=False, pass_index=-1)
    assert press(ui, told, "Insert") == []
    said = told.view.message(0.0)
    assert said is not None and said.text == "There is nothing to practise yet: play something, or keep a take."
    assert press(ui, told, "End", shift=True) == []


def test_any_stretch_of_bars_is_practised_with_a_lead_in() -> None:
    one = Player()
    one.key("Right")
    assert one.sent == [Command(name="unmute")], "nothing is practised: the layers' key"
    one.key("Insert")
    run = one.state.run
    assert run is not None
    bars = {run.target.first_bar, run.target.last_bar}
    assert bars == {1, 2}
    for key, expected in (("Left", (1, 1)), ("Down", (2, 2)), ("Up", (1, 1)), ("Right", (1, 2))):
        one.sent.clear()
        one.key(key)
        run = one.state.run
        assert run is not None and (run.target.first_bar, run.target.last_bar) == expected, key
        starts = [sent for sent in one.sent if isinstance(sent, Command) and sent.name == "start"]
        assert starts == [Command(name="start", args={"bars": 1})] and run.practice.qpm == 58
    for key in ("Right", "Down", "Up"):
        one.sent.clear()
        one.key(key)
        said = one.view.message(one.start_sec)
        assert not one.sent and said is not None and said.text == "There is nothing more to practise than bars 1 to 2."
    one.key("Insert")
    assert one.state.run is None and one.view.brief_texts["cycle"] == "4/4 4+3/8"


def test_a_take_of_another_cycle_is_practised_while_time_runs(tmp_path: Path) -> None:
    """Until the engine has answered, time still runs in the cycle of before."""
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        number = shelf.add(take_of([28, 31, 33, 35] * 3))
    one = Player(str(tmp_path / "shelf.sqlite"))
    one.key("Tab")
    one.begin_pass()
    sent = one.ui.asked("window-practise", {"take": number}, one.view, 0.0)
    for _ in range(3):
        one.step(0.1)
    assert one.state.run is not None and one.view.cycle_layout.quarters == CYCLE_Q != one.state.run.target.length_q
    one.do(sent)
    one.told.clock("COUNTING IN", pass_index=-1, qpm=72, cycle="4/4 4/4 4/4", cycle_q=12.0)
    one.step(0.2)
    assert one.state.run is not None and one.view.cycle_layout.quarters == one.state.run.target.length_q
    one.told.brief(cycle="5/4")
    one.told.clock(pass_index=one.pass_index + 1, cycle="5/4", cycle_q=5.0)
    one.step(0.3)
    assert one.state.run is None
