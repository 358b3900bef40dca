"""Each part of the looper by itself, without the others; and that the state is assigned in one
place.
"""

import ast
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

import loopdeck.looper
from loopdeck.capture.events import Event
from loopdeck.capture.pairing import Ended, Started
from loopdeck.looper.free_playing import free_passes
from loopdeck.looper.layer_stack import LayerStack
from loopdeck.looper.layers import LAYER_DTYPE, Layer
from loopdeck.looper.loop_picker import LoopPicker
from loopdeck.looper.playback import Playback
from loopdeck.looper.recorder import FREE, KEEPABLE, REMEMBERED, PassRecord, Played, Recorder
from loopdeck.looper.schedule import Rank
from loopdeck.looper.settings import Settings
from loopdeck.looper.state import (
    COUNTING_IN,
    FOLLOWING,
    LAYERING,
    LISTENING,
    REPLACING,
    STATES,
    STOPPED,
    Refused,
    State,
    Waiting,
)
from loopdeck.looper.through import LiveThrough
from loopdeck.looper.transport import Transport
from loopdeck.looper.voices import Out, Voices
from loopdeck.session.state_codec import dump_state
from tests.unit.looper_tools import brief, check_pairs

ROOM = Path(loopdeck.looper.__path__[0])


def layer(number: int = 1, *rows: tuple[float, float, int], ids: tuple[int, ...] = ()) -> Layer:
    """A layer of (onset, duration, pitch), made of pass 0, on channel ``number``."""
    notes = np.array([(on, length, pitch, 90, 0, 0, 1) for on, length, pitch in rows], LAYER_DTYPE)
    straight = np.array([[0.0, 0.0]])
    return Layer(number, notes, (straight,) * len(rows), 0, 34, number, ids or tuple(range(len(rows))))


# ---- state ---------------------------------------------------------------------------------------


def test_the_state_is_assigned_in_one_place() -> None:
    places = []
    for path in ROOM.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            targets = node.targets if isinstance(node, ast.Assign) else []
            if any(isinstance(one, ast.Attribute) and one.attr == "_name" for one in targets):
                places.append((path.name, node.lineno))
    # Once at the beginning, and in ``enter``.
    assert [name for name, _ in places] == ["state.py", "state.py"]


def test_only_states_that_may_follow_are_entered() -> None:
    for name in STATES:
        for other in STATES:
            state = State()
            state._name = name
            if other == name or other in FOLLOWING[name]:
                state.enter(other)
                assert state.name == other
            else:
                with pytest.raises(ValueError, match="cannot follow"):
                    state.enter(other)


def test_what_was_asked_for_is_entered_once() -> None:
    state = State()
    assert not state.running and not state.passing
    state.enter(COUNTING_IN)
    assert state.running and not state.passing
    state.enter(LISTENING)
    state.coming = LAYERING
    state.enter_coming()
    state.enter_coming()
    assert state.name == LAYERING and state.coming is None
    state.waiting.append(Waiting("keep", {}))
    assert state.take_waiting() == [("keep", {})] and state.take_waiting() == []


# ---- layers --------------------------------------------------------------------------------------


def test_undo_and_redo_of_layers() -> None:
    stack = LayerStack()
    first, _ = stack.add(layer(1, (0.0, 1.0, 40)))
    second, _ = stack.add(layer(2, (0.0, 1.0, 41)))
    third, gone = stack.add(layer(2, (0.0, 1.0, 42)), instead_of=second)
    assert gone == {second} and stack.active == (first, third)
    assert stack.undo().gone == {third} and stack.active == (first, second)
    assert stack.undo().gone == {second}
    assert stack.free_number() == 2
    assert stack.redo().gone == set() and stack.active == (first, second)
    stack.activate(())
    with pytest.raises(Refused, match="nothing to redo"):
        stack.redo()
    assert third not in stack, "what nothing leads to is forgotten"


def test_solo_and_mute_of_layers() -> None:
    stack = LayerStack()
    first, _ = stack.add(layer(1, (0.0, 1.0, 40)))
    second, _ = stack.add(layer(2, (0.0, 1.0, 41)))
    stack.muted.add(first)
    assert stack.quiet_numbers() == {1}
    stack.solo = second
    assert stack.quiet_numbers() == {1}
    stack.solo = first
    assert stack.quiet(second)
    stack.activate((second,))
    assert stack.solo is None and stack.picked("all") == [second]
    with pytest.raises(Refused, match="no layer 1"):
        stack.picked(1)


# ---- recorder ------------------------------------------------------------------------------------


def started(identity: int, sec: float, pitch: int = 40) -> Started:
    return Started(identity, sec, pitch, 90, 0, 0, 0)


def test_notes_find_their_pass() -> None:
    recorder, slots = Recorder(), brief().slots
    recorder.open_pass(0, Fraction(0), 0.0, Fraction(4), slots)
    played, record = recorder.begin(started(0, 1.0), lambda sec: sec * 2.0)
    assert record is recorder.current and (played.pass_index, played.at_q, played.slot) == (0, 2.0, 8)
    early, next_record = recorder.begin(started(1, 1.96), lambda sec: sec * 2.0)
    assert (early.pass_index, early.slot) == (1, 0) and early.at_q == pytest.approx(-0.08)
    assert next_record is recorder.passes[1]
    free, none = recorder.begin(started(2, 3.0), None)
    assert none is None and free.pass_index == FREE
    recorder.end(Ended(2, 3.5), None, 120.0)
    assert free.end_q == 1.0
    assert [note.id for note in recorder.held()] == [0, 1]


def test_late_inputs_are_judged_earlier() -> None:
    recorder = Recorder()
    recorder.open_pass(0, Fraction(0), 0.0, Fraction(4), brief().slots)
    recorder.late_sec[0] = 0.1
    played, _ = recorder.begin(started(0, 1.1), lambda sec: sec * 2.0)
    assert played.at_q == pytest.approx(2.0) and played.stamp_sec == 1.1


def test_old_passes_and_their_events_are_forgotten() -> None:
    recorder, slots = Recorder(), brief().slots
    for index in range(REMEMBERED + 20):
        recorder.open_pass(index, Fraction(4 * index), 2.0 * index, Fraction(4), slots)
        recorder.begin(started(index, 2.0 * index + 1.0), lambda sec: sec * 2.0)
        recorder.event(Event(2.0 * index + 1.0, 0, bytes((0x90, 40, 90))), index, True)
        recorder.passes[index].end_sec = 2.0 * index + 2.0
    assert len(recorder.finished()) == len(recorder.notes) == REMEMBERED
    # Their raw events as far back as they can be kept.
    assert KEEPABLE <= len(recorder.events) <= KEEPABLE + 1


def test_nothing_of_old_passes_is_held() -> None:
    # Notes that ended, notes out of view, and one that went on; no bend, no stop, no retuning.
    recorder, slots, held = Recorder(), brief().slots, {}
    for index in range(3 * REMEMBERED):
        recorder.open_pass(index, Fraction(4 * index), 2.0 * index, Fraction(4), slots)
        for note in (3 * index, 3 * index + 1, 3 * index + 2):
            sec = 2.0 * index + 0.3 + note % 3 / 2.0
            played, _ = recorder.begin(started(note, sec), lambda sec: sec * 2.0)
            recorder.end(Ended(note, sec + 0.1), lambda sec: sec * 2.0, 120.0)
            if note % 3:
                recorder.hide(played, "ghost")
        recorder.passes[index].end_sec = 2.0 * index + 2.0
        if index % REMEMBERED == 0:
            held[index // REMEMBERED] = len(dump_state(recorder)["objects"])
    assert held[2] == held[1]
    assert len(recorder.notes) == 3 * REMEMBERED


def test_a_note_that_goes_on_is_held_again() -> None:
    recorder, slots = Recorder(), brief().slots
    recorder.open_pass(0, Fraction(0), 0.0, Fraction(4), slots)
    before, _ = recorder.begin(started(0, 1.0), lambda sec: sec * 2.0)
    recorder.end(Ended(0, 1.2), lambda sec: sec * 2.0, 120.0)
    assert not list(recorder.held())
    rest, _ = recorder.begin(started(1, 1.21), lambda sec: sec * 2.0)
    recorder.go_on(before, rest)
    assert list(recorder.held()) == [rest, before]


# ---- what was played while no time ran -----------------------------------------------------------


def free_note(identity: int, sec: float, length_q: float | None = 0.5) -> Played:
    return Played(identity, FREE, 0.0, length_q, 40 + identity, 90, 0, 0, 0, sec)


def test_free_playing_is_cut_at_rests_and_cycles() -> None:
    # At 120, 4/4: a cycle is 2 s. The third note is early for the second cycle; after a rest of a
    # cycle a new phrase begins.
    notes = [free_note(0, 1.0), free_note(1, 2.0), free_note(2, 2.98), free_note(3, 9.3, None)]
    found = free_passes(notes, brief(), lambda note: 0.0, 9.8)
    assert [(record.start_sec, [note.id for note in record.notes]) for record in found] == [
        (1.0, [0, 1]),
        (3.0, [2]),
        (9.3, [3]),
    ]
    assert found[1].notes[0].at_q == pytest.approx(-0.04)
    assert found[2].notes[0].end_q == pytest.approx(1.0), "held until now"
    assert all(record.index == FREE and record.qpm == 120.0 and record.finished for record in found)
    assert notes[0].at_q == 0.0 and free_passes([], brief(), lambda note: 0.0, 0.0) == []


def test_the_picker_prefers_what_is_newest_and_no_layer() -> None:
    recorder, stack, state = Recorder(), LayerStack(), State()
    picker = LoopPicker(recorder, stack, state)
    assert picker.promise() is None
    state.enter(LISTENING)
    slots = brief().slots
    for index in range(3):
        record = recorder.open_pass(index, Fraction(4 * index), 2.0 * index, Fraction(4), slots)
        record.end_sec = 2.0 * index + 2.0
        if index < 2:
            record.notes.append(free_note(index, 2.0 * index))
    assert picker.promise() == 1, "the last pass was a rest"
    identity, _ = stack.add(layer(1, (0.0, 1.0, 41)))
    recorder.passes[1].layer = identity
    picker.picked(identity, recorder.passes[1], 0.0)
    assert picker.promise() == 0
    recorder.passes[1].layer, recorder.passes[2].notes = None, [free_note(2, 4.0)]
    assert picker.promise() == 0, "pressing on never goes forward"
    recorder.open_pass(3, Fraction(12), 6.0, Fraction(4), slots)
    assert picker.promise() == 2, "a new pass begins anew"


# ---- transport, settings -------------------------------------------------------------------------


def test_the_transport_goes_on_where_it_stopped() -> None:
    transport = Transport()
    assert transport.start(1.0, 120.0) == 0
    assert transport.quarter_at(2.0) == 2.0 and transport.sec_at(4.0) == 3.0
    transport.set_tempo(2.0, 60.0)
    assert transport.quarter_at(3.0) == 3.0
    transport.nudge(3.0, 0.5)
    assert transport.quarter_at(3.0) == 2.5 and transport.qpm == 60.0
    transport.stop(4.25)
    assert transport.start(10.0, 120.0) == 5


def test_settings_change_when_they_are_told() -> None:
    settings = Settings(brief())
    settings.next_cycle, settings.next_beat = "3/4", {"swing": "2:1"}
    assert str(settings.coming().cycle) == "3/4" and str(settings.brief.cycle) == "4/4"
    assert settings.take_beat() and not settings.take_beat()
    assert settings.take_all() and not settings.take_all()
    assert str(settings.brief.cycle) == "3/4" and settings.brief.swing.ratio == 2


# ---- playback, through ---------------------------------------------------------------------------


def played_back(playback: Playback, stack: LayerStack, until_q: float) -> None:
    """Perform what falls due, at 60 quarters a minute: a quarter is a second."""
    while (item := playback.schedule.first()) is not None and item.quarter <= until_q:
        item, row = playback.schedule.pop()
        if item.rank is Rank.NOTE:
            playback.sound(item.quarter, item.quarter, item.payload, row, stack)
        elif item.rank is Rank.OFF:
            playback.voices.off(item.quarter, *item.payload)


def test_playback_sounds_each_note_once_and_ends_it() -> None:
    playback, stack = Playback(), LayerStack()
    identity, _ = stack.add(layer(1, (0.0, 1.0, 40), (2.0, 0.5, 43)))
    record = PassRecord(1, Fraction(4), 4.0, Fraction(4), brief().slots)
    playback.lay_out(4.0, record, stack, brief())
    played_back(playback, stack, 4.5)
    playback.lay_out(4.5, record, stack, brief(swing="2:1"))
    played_back(playback, stack, 7.9)
    ons = [(out.time_sec, out.data[1]) for out in playback.outs if out.data[0] & 0xF0 == 0x90]
    assert ons == [(4.0, 40), (6.0, 43)]
    check_pairs(playback.outs)
    stack.muted.add(identity)
    playback.lay_out(8.0, PassRecord(2, Fraction(8), 8.0, Fraction(4), brief().slots), stack, brief())
    played_back(playback, stack, 12.0)
    assert len([out for out in playback.outs if out.data[0] & 0xF0 == 0x90]) == 2
    playback.stop(12.0)
    assert playback.schedule.first() is None


def test_a_layer_that_shrinks_while_it_is_laid_out() -> None:
    playback, stack = Playback(), LayerStack()
    identity, _ = stack.add(layer(1, (0.0, 1.0, 40), (2.0, 0.5, 43), ids=(7, 8)))
    playback.lay_out(4.0, PassRecord(1, Fraction(4), 4.0, Fraction(4), brief().slots), stack, brief())
    stack.put(identity, layer(1, (2.0, 0.5, 44), ids=(8,)))
    played_back(playback, stack, 8.0)
    assert [out.data[1] for out in playback.outs if out.data[0] & 0xF0 == 0x90] == [44]


def test_only_inputs_that_are_set_sound_through() -> None:
    outs: list[Out] = []
    through = LiveThrough(Voices(outs.append), outs.append)
    through.begin(0.0, started(0, 0.0))
    through.set(0, True)
    through.begin(1.0, started(1, 1.0))
    through.bend(1.1, 0, bytes((0xE3, 0, 80)))
    through.bend(1.2, 0, bytes((0xE0, 0, 80)))
    through.end(2.0, 1)
    assert [out.data for out in outs] == [bytes((0x90, 40, 90)), bytes((0xE0, 0, 80)), bytes((0x80, 40, 0))]


def test_replacing_is_a_state_that_passes() -> None:
    assert STOPPED in FOLLOWING[REPLACING] and LISTENING in FOLLOWING[REPLACING]
