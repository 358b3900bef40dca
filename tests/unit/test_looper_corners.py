"""Corners where two things of the looper meet: a stop and a note out of view, a pass and the loop
that comes after it, a setting and what was told before.
"""

from typing import Any

import pytest

from loopdeck.bass.pickup.profile import Cleaning, words_of_cleaning
from loopdeck.brief.brief import Brief
from loopdeck.engine.pass_collector import PassCollector
from loopdeck.looper.machine import Looper
from loopdeck.looper.news import Kept
from loopdeck.protocol.messages import BriefChanged, LayerNotes, NoteStarted, PassHeard
from loopdeck.session.session import Session
from loopdeck.session.snapshot import Snapshot
from loopdeck.window.view import View
from tests.unit.looper_tools import Player, brief

LOW: dict[str, Any] = {"notes": [[0.0, 0.5, 28, 100, 0, 4], [1.02, 0.5, 31, 90, 0, 4]], "program": 34}


def pitches(looper: Looper) -> list[list[int]]:
    return [layer.notes["pitch"].tolist() for layer in looper.layers()]


# ---- an early downbeat at a stop -----------------------------------------------------------------


@pytest.mark.parametrize("how", ["layer-on", "start-now"])
def test_an_early_downbeat_that_is_not_sure_yet_at_a_stop_is_the_downbeat_once_it_is(how: str) -> None:
    player = Player()
    player.command(0.0, "pickup", channels="1 2 3 4", cleaning=words_of_cleaning(Cleaning()))
    player.command(0.0, how)
    for place in range(6):
        player.note(0.5 + place / 2, 0.4, 40 + place)
    # So soft that it might be a ghost: out of view until it has lasted, and the stop comes before.
    player.on(3.92, 47, 40)
    player.command(3.95, "stop")
    player.off(4.6, 47)
    player.until(6.0)
    if how == "start-now":
        player.command(6.0, "loop-that")
    assert pitches(player.looper) == [[47, *range(40, 46)]]
    player.command(8.0, "start-now")
    player.until(15.0)
    assert player.looper.layers()[0].notes["pitch"].tolist()[0] == 47
    assert player.kept == []
    player.command(15.0, "keep")
    assert not any(event.data[1] == 47 for keep in player.kept for event in keep.events)


def test_both_notes_of_an_early_downbeat_are_in_the_pass_that_was_stopped() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(1.0, pitch=33)
    player.on(3.92, 28)
    player.on(3.93, 40)
    player.command(3.95, "stop")
    assert pitches(player.looper) == [[28, 40, 33]]


# ---- what was asked of a pass, and another loop that comes with the next one ---------------------


@pytest.mark.parametrize("first", ["loop-that", "bring-back"])
def test_a_pass_that_is_looped_at_the_boundary_is_of_the_loop_before(first: str) -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(1.0)
    presses: dict[str, dict[str, Any]] = {
        "loop-that": {},
        "bring-back": {"layers": [LOW], "fields": {"cycle": "3/4", "tempo": "90"}, "name": "tide"},
    }
    for name in sorted(presses, key=lambda one: one != first):
        player.command(3.7, name, **presses[name])
    player.until(4.5)
    assert pitches(player.looper) == [[28, 31]] and str(player.looper.brief.cycle) == "3/4"
    player.command(4.5, "stop")
    player.command(4.6, "undo")
    assert pitches(player.looper) == [[40]] and str(player.looper.brief.cycle) == "4/4"


def test_a_pass_kept_at_the_boundary_is_kept_with_its_own_loop_and_brief() -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(1.0)
    player.command(3.7, "keep")
    player.command(3.8, "bring-back", layers=[LOW], fields={"cycle": "3/4"}, name="tide")
    player.until(4.5)
    (keep,) = player.kept
    assert str(keep.brief.cycle) == "4/4" and keep.layers == ()


def test_a_pass_that_is_layered_while_another_loop_comes_is_not_lost() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(1.0)
    player.command(3.0, "bring-back", layers=[LOW], name="tide")
    player.until(4.5)
    assert pitches(player.looper) == [[28, 31]] and player.looper.state == "LISTENING"
    player.command(4.5, "undo")
    assert pitches(player.looper) == [[40]]


def test_an_early_downbeat_of_the_last_pass_layered_is_its_own_when_another_loop_comes() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(1.0, pitch=41)
    player.note(3.95, pitch=50)
    # Its end comes after the exchange, and makes the layers anew.
    player.on(7.5, pitch=60)
    player.command(7.6, "bring-back", layers=[LOW], name="tide")
    player.off(8.3, pitch=60)
    player.command(8.6, "undo")
    assert pitches(player.looper) == [[41], [50, 60]]


# ---- settings ------------------------------------------------------------------------------------


def test_thru_is_switched_from_what_it_is() -> None:
    looper = Looper(brief())
    looper.command(0.0, "thru", port=1, on=True)
    assert looper.command(0.1, "thru-toggle") == "Thru is off."
    assert looper.command(0.2, "thru-toggle") == "Thru is on."
    looper.command(0.3, "thru", on=False)
    assert looper.command(0.4, "thru-toggle") == "Thru is on."


def test_layers_are_told_their_strings_anew_when_the_tuning_changes() -> None:
    looper = Looper(brief(tuning="standard"))
    looper.command(0.0, "start-now")
    # A channel for each string, the lowest first: E1 and A1 at the fifth fret.
    for sec, channel, pitch in ((0.2, 0, 33), (0.7, 1, 38)):
        looper.midi(sec, sec, 0, bytes((0x90 | channel, pitch, 90)))
        looper.midi(sec + 0.2, sec + 0.2, 0, bytes((0x80 | channel, pitch, 0)))
    looper.command(2.1, "loop-that")
    looper.take_news()
    looper.command(2.2, "brief", fields={"tuning": "five-string"})
    told = [one for one in looper.take_news() if isinstance(one, LayerNotes)]
    assert [[note.string for note in one.notes] for one in told] == [[5, 4]]


def test_what_was_heard_of_a_scale_goes_when_the_brief_has_another() -> None:
    plain = Brief.default()
    heard = PassHeard(
        pass_index=3, text="C# leaves the scale.", about="feel", feel="16ths at 58 %", scale="fits E dorian"
    )
    changed = BriefChanged(time_sec=2.0, fields=plain.replace(scale="G mixolydian").to_dict())
    same = BriefChanged(time_sec=1.0, fields=plain.replace(swing="60%").to_dict())
    view, snapshot = View(), Snapshot(plain, 0.0)
    for one in (BriefChanged(time_sec=0.0, fields=plain.to_dict()), heard, same):
        view.receive(one)
        snapshot.receive(one)
    assert view.played.remarks.feel(3) == "16ths at 58 %, fits E dorian"
    view.receive(changed)
    snapshot.receive(changed)
    assert view.played.remarks.feel(3) == "16ths at 58 %"
    (left,) = [one for one in snapshot.messages() if isinstance(one, PassHeard)]
    assert (left.text, left.feel, left.scale) == ("", "16ths at 58 %", "")


def test_what_comes_at_the_next_beat_is_said_until_that_beat_and_no_longer() -> None:
    looper, view = Looper(brief()), View()
    looper.command(0.0, "start-now")
    looper.command(0.1, "brief", fields={"swing": "2:1"})

    def coming(sec: float) -> str:
        looper.advance(sec)
        for one in looper.take_news():
            if not isinstance(one, Kept):
                view.receive(one)
        return view.clock.next

    assert coming(0.4) == "a new feel at the next beat"
    assert coming(0.6) == ""


@pytest.mark.parametrize("place", [-0.2, -0.12])
def test_an_early_downbeat_is_heard_in_a_finer_grid_than_it_was_played_in_too(place: float) -> None:
    player = Player(grid="1/8", strength=0)
    player.command(0.0, "layer-on")
    player.note(1.0, pitch=33)
    player.note(4.0 + place, pitch=40)
    player.command(4.5, "layer-off")
    player.note(5.0, pitch=35)
    # From the next beat on it lies further off than half a slot.
    player.command(5.5, "brief", fields={"grid": "1/16"})
    player.until(24.5)
    assert [at_q for at_q, pitch in player.sounded() if pitch == 40] == [
        8 + place,
        12 + place,
        16 + place,
        20 + place,
        24 + place,
    ]


def test_an_early_note_of_a_pass_that_never_began_is_remembered_nowhere_as_one_of_it() -> None:
    session, collector = Session(brief(), 0.0), PassCollector()
    ended = []

    def pump() -> None:
        ended.extend(found for one in session.take_messages() if (found := collector.receive(one)) is not None)

    def note(at_q: float, pitch: int) -> None:
        for status, sec in ((0x90, at_q / 2), (0x80, at_q / 2 + 0.01)):
            session.midi(0, bytes((status, pitch, 90)), sec, sec)
        pump()

    session.command("start-now", {}, 0.0)
    note(0.0, 33)
    note(3.94, 35)
    # The pass has a downbeat of its own, so the early one is of no pass once time stops.
    session.command("stop", {}, 1.99)
    session.command("start-now", {}, 5.0)
    note(11.0, 36)
    session.advance(8.0)
    pump()
    assert [found.pitch.tolist() for found in ended] == [[33], [36]]
    told = [one for one in session.snapshot() if isinstance(one, NoteStarted)]
    assert sorted((one.id, one.pass_index) for one in told) == [(0, 0), (1, -1), (2, 1)]


def test_an_early_downbeat_that_is_not_sure_yet_at_the_start_is_of_the_first_pass_once_it_is() -> None:
    player = Player()
    player.command(0.0, "pickup", channels="1 2 3 4", cleaning=words_of_cleaning(Cleaning()))
    for place in range(6):
        player.note(0.5 + place / 2, 0.4, 40 + place)
    player.on(9.95, 47, 40)
    player.command(10.0, "layer-on")
    player.off(11.0, 47)
    player.note(12.0, pitch=33)
    player.until(14.5)
    assert pitches(player.looper) == [[47, 33]]


@pytest.mark.parametrize("name", ["mute", "unmute", "mute-toggle"])
def test_without_a_layer_nothing_is_said_to_be_muted(name: str) -> None:
    assert Player().command(0.0, name) == "There is no layer yet."


@pytest.mark.parametrize("end", ["boundary", "stop", "bring-back"])
def test_a_press_that_meant_the_pass_that_runs_is_no_step_back_from_the_press_before(end: str) -> None:
    player = Player()
    player.command(0.0, "start-now")
    for number in range(3):
        player.note(4 * number + 1.0, pitch=40 + number)
    assert player.command(10.5, "loop-that") == "Pass 2 is layer 1."
    assert player.command(11.6, "loop-that") == "Pass 3 becomes a layer when it ends."
    if end == "bring-back":
        player.command(11.7, "bring-back", layers=[LOW], beside=True)
    if end == "stop":
        player.command(11.8, "stop")
    player.until(12.2)
    assert pitches(player.looper)[:2] == [[41], [42]]
