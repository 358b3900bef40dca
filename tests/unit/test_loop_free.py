"""Playing before the start as a loop: tempo and meter are guessed from it, offered, and taken only
by the player's word.
"""

import socket
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.analysis.induction.free_tempo import FreeTempo, free_tempo, last_phrase
from loopdeck.engine.events import MessageArrived, SessionOffered
from loopdeck.engine.free_listener import FreeListener
from loopdeck.engine.listening import PassListener, listen
from loopdeck.looper.machine import Looper
from loopdeck.protocol.messages import (
    FROM_WINDOW,
    ClockChanged,
    Message,
    NoteStarted,
    Question,
    QuestionsPending,
    TempoGuessed,
)
from loopdeck.protocol.wire import FrameReader, encode
from loopdeck.session.session import Session
from tests.bench.bench_free_tempo import judge, players
from tests.unit.engine_rig import EngineRig
from tests.unit.looper_tools import Player, brief, check_pairs

#: A bar of 4/4: place in quarters, pitch.
RIFF = ((0.0, 28), (0.75, 31), (1.0, 33), (1.5, 35), (2.0, 28), (2.5, 38), (3.0, 35), (3.5, 30))


def riff(qpm: float, bars: int, start_sec: float = 3.0) -> list[tuple[float, int]]:
    """(second, pitch) of a riff that comes back, and a last downbeat."""
    notes = [(start_sec + (4 * bar + at) * 60 / qpm, pitch) for bar in range(bars) for at, pitch in RIFF]
    return [*notes, (start_sec + 4 * bars * 60 / qpm, 28)]


def guessed(notes: list[tuple[float, int]]) -> FreeTempo | None:
    return free_tempo([sec for sec, _ in notes], [pitch for _, pitch in notes], [90.0] * len(notes))


# ---- the guess -----------------------------------------------------------------------------------


@pytest.mark.parametrize("qpm", [72.0, 96.0, 120.0])
def test_a_plain_riff_is_heard_as_it_is_and_its_newest_bar_is_the_loop(qpm: float) -> None:
    found = guessed(riff(qpm, 4))
    assert found is not None
    assert found.qpm == pytest.approx(qpm, rel=1e-3) and found.meter == "4/4" and found.swing == 0.5
    assert found.cycle == "4/4", "it comes back after one bar"
    assert found.start_sec == pytest.approx(3.0 + 12 * 60 / qpm, abs=0.01)


def test_what_never_comes_back_is_looped_whole() -> None:
    rng = np.random.default_rng(3)
    notes = [(1.0 + beat * 0.3, int(rng.integers(28, 50))) for beat in range(32)]
    found = guessed(notes)
    assert found is not None and found.bars > 1
    assert found.start_sec == pytest.approx(1.0, abs=0.02)


def test_too_little_says_nothing() -> None:
    assert guessed([]) is None
    assert guessed([(0.0, 28)]) is None
    assert guessed([(0.1 * n, 28) for n in range(8)]) is None, "less than three seconds"
    assert guessed([(0.0, 28 + n) for n in range(12)]) is None, "one chord"


def test_the_last_phrase_counts() -> None:
    early, late = riff(70.0, 2, 1.0), riff(112.0, 4, 40.0)
    found = guessed(early + late)
    assert found is not None and found.qpm == pytest.approx(112.0, rel=1e-3)
    assert last_phrase([sec for sec, _ in early + late]) == len(early)
    assert last_phrase([]) == 0


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.0, 60.0), st.integers(0, 127), st.integers(1, 127)), max_size=60),
)
def test_any_notes_give_a_guess_that_can_be_taken_or_none(notes: list[tuple[float, int, int]]) -> None:
    notes.sort()
    found = free_tempo(*([one[column] for one in notes] for column in range(3)))
    if found is None:
        return
    assert 20.0 <= found.qpm <= 400.0 and 0.0 <= found.sure <= 1.0 and 1 <= found.bars <= 8
    assert brief(tempo=str(round(found.qpm)), cycle=found.cycle).cycle.quarters > 0
    first = notes[last_phrase([one[0] for one in notes])][0]
    assert first - 6.0 <= found.start_sec <= notes[-1][0] + 1.0


def test_players_of_other_seeds_are_mostly_heard_right() -> None:
    """Floors well below the figures in docs/performance.md, on seeds nothing was chosen on."""
    found = judge(players(20_000, 36))
    assert found["both_right"] >= 0.5 and found["meter_right"] >= 0.6
    assert found["tempo_right"] + found["octave"] >= 0.65


# ---- the command ---------------------------------------------------------------------------------


def free_player(qpm: float = 80.0, bars: int = 4) -> tuple[Player, dict[str, Any]]:
    """A player at 120 who has played freely at another tempo; and what would loop the last bar of
    it.
    """
    player = Player()
    for sec, pitch in riff(qpm, bars, 3.0):
        player.note(2 * sec, pitch=pitch, length=0.3)
    fields = {"tempo": str(qpm), "cycle": "4/4"}
    return player, {"fields": fields, "note": len(RIFF) * (bars - 1), "after_sec": 0.0, "qpm": qpm}


def test_it_is_looped_at_its_own_tempo_and_undo_takes_both_back() -> None:
    player, how = free_player()
    said = player.command(40.0, "loop-free", **how)
    assert said == "What you played is layer 1: 1 bar at 80; Tab starts it, undo takes it back."
    (layer,) = player.looper.layers()
    assert layer.notes["onset_q"].round(6).tolist() == [at for at, _ in RIFF]
    assert layer.notes["pitch"].tolist() == [pitch for _, pitch in RIFF]
    assert layer.notes["duration_q"].round(6).tolist() == [0.2] * len(RIFF), "0.15 s are a fifth of a quarter at 80"
    assert str(player.looper.brief.tempo) == "80"
    player.command(41.0, "undo")
    assert player.looper.layers() == [] and str(player.looper.brief.tempo) == "120"
    player.command(42.0, "redo")
    assert len(player.looper.layers()) == 1 and str(player.looper.brief.tempo) == "80"
    player.command(43.0, "start")
    player.until(60.0)
    player.command(60.0, "stop")
    check_pairs(player.outs)
    places = [place for place, _ in player.sounded()]
    assert places[1] - places[0] == pytest.approx(0.75 * 1.5, abs=1e-3)


def test_it_is_refused_in_a_sentence_while_time_runs_or_layers_stand() -> None:
    player, how = free_player()
    player.command(40.0, "start")
    assert player.command(41.0, "loop-free", **how).startswith("Stop first")
    player.command(42.0, "stop")
    player.command(43.0, "loop-that")
    assert "clear them first" in player.command(44.0, "loop-free", **how)
    player.command(45.0, "clear")
    assert "not remembered" in player.command(46.0, "loop-free", **{**how, "note": 999})
    assert "cycle" in player.command(47.0, "loop-free", **{**how, "fields": {"cycle": "1/0"}})
    assert "needs note" in player.command(48.0, "loop-free", fields={"tempo": "80"}, qpm=80.0)
    assert player.looper.layers() == [] and str(player.looper.brief.tempo) == "120"


def test_a_replay_gives_the_same() -> None:
    player, how = free_player()
    player.command(40.0, "loop-free", **how)
    again, _ = free_player()
    again.command(40.0, "loop-free", **how)
    assert again.looper.digest() == player.looper.digest()


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.01, 1.0), st.integers(30, 50), st.floats(0.02, 2.0)), min_size=1, max_size=20),
    st.integers(0, 25),
    st.floats(-5.0, 5.0),
    st.floats(20.0, 400.0),
    st.sampled_from(["4/4", "7/8", "3/4 3/4", "4+3/8"]),
    st.sampled_from([[], ["undo"], ["undo", "redo"], ["undo", "undo", "redo"]]),
)
def test_whatever_is_looped_every_note_ends_and_undo_brings_the_brief_back(
    notes: list[tuple[float, int, float]], note: int, after_sec: float, qpm: float, cycle: str, steps: list[str]
) -> None:
    looper = Looper(brief(tempo="150"))
    now, stream = 0.0, []
    for pause, pitch, long in notes:
        now += pause
        stream += [(now, 0x90, pitch, 90), (now + long, 0x80, pitch, 0)]
    for sec, status, pitch, velocity in sorted(stream):
        looper.midi(sec, sec, 0, bytes((status, pitch, velocity)))
    now += 3.0
    before = looper.brief
    looper.command(now, "loop-free", fields={"tempo": "93", "cycle": cycle}, note=note, after_sec=after_sec, qpm=qpm)
    made = looper.layers()
    assert (str(looper.brief.cycle), str(looper.brief.tempo)) == (cycle, "93") if made else looper.brief == before
    for step in steps:
        looper.command(now, step)
    if made:
        # A second undo finds nothing to undo.
        back = steps[-1:] == ["undo"]
        assert (looper.brief == before) == back and (looper.layers() == []) == back
    looper.command(now + 0.1, "start")
    looper.advance(now + 12.0)
    looper.command(now + 12.0, "stop")
    check_pairs(looper.take_outs())


# ---- the process that listens, and the question --------------------------------------------------


def note_of(number: int, note: tuple[float, int]) -> NoteStarted:
    """A note of free playing as the engine tells it."""
    sec, pitch = note
    return NoteStarted(id=number, pass_index=-1, at_q=0.0, slot_q=0.0, pitch=pitch, velocity=90, stamp_sec=sec)


def told(notes: list[tuple[float, int]], listener: FreeListener) -> None:
    for number, one in enumerate(notes):
        listener.receive(note_of(number, one), one[0])


def test_the_briefs_tempo_helps_where_another_fits_nearly_as_well() -> None:
    qpm, _, *notes = players(0, 11)[10]
    alone, known = free_tempo(*notes), free_tempo(*notes, known_qpm=1.1 * qpm)
    assert alone is not None and known is not None
    assert abs(alone.qpm / qpm - 1.0) > 0.04 > abs(known.qpm / qpm - 1.0)


def test_a_guess_comes_in_a_pause_and_once() -> None:
    listener, notes = FreeListener(), riff(96.0, 4)
    told(notes[:12], listener)
    assert listener.guess(notes[11][0] + 0.2) is None, "the player goes on"
    told(notes, listener)
    found = listener.guess(notes[-1][0] + 1.2)
    assert found is not None and found.text == "♩ = 96 in 4/4, one bar long"
    assert found.fields == {"tempo": "96", "cycle": "4/4"} and found.phrase == 0
    assert listener.guess(notes[-1][0] + 2.0) is None


class LinkOfNotes:
    """A link by which playing has come; it closes once something was sent."""

    def __init__(self, notes: list[tuple[float, int]]) -> None:
        self._socket, self._other = socket.socketpair()
        self._other.send(b"!")
        self.notes, self.sent, self.closed = notes, list[Message](), False

    def fileno(self) -> int:
        return self._socket.fileno()

    def poll(self) -> list[Message]:
        return [note_of(number, one) for number, one in enumerate(self.notes)] if not self.sent else []

    def send(self, message: Message) -> None:
        self.sent.append(message)
        self.closed = True
        self._socket.close()
        self._other.close()


def test_the_process_that_listens_sends_its_guess() -> None:
    link = LinkOfNotes(riff(96.0, 4))
    listen(cast(Any, link), PassListener(lambda: 60.0))
    (found,) = link.sent
    assert isinstance(found, TempoGuessed) and found.text == "♩ = 96 in 4/4, one bar long"


def test_what_was_played_before_it_listened_is_not_guessed_at() -> None:
    listener = FreeListener()
    for number, one in enumerate(riff(96.0, 4)):
        listener.receive(replace(note_of(number, one), length_q=0.3), one[0])
    assert listener.guess(60.0) is None


def test_while_time_runs_there_is_no_guess() -> None:
    listener, session = FreeListener(), Session(brief())
    session.command("start", {}, 0.0)
    (clock,) = (one for one in session.take_messages() if isinstance(one, ClockChanged))
    listener.receive(clock, 0.0)
    told(riff(96.0, 4), listener)
    assert listener.guess(60.0) is None


GUESS = TempoGuessed(
    fields={"tempo": "96", "cycle": "4/4"}, note=0, after_sec=0.0, qpm=96.0, phrase=0, text="♩ = 96 in 4/4"
)


def questions(rig: EngineRig) -> list[Question]:
    pending = [one for one in rig.link.told if isinstance(one, QuestionsPending)]
    return list(pending[-1].questions) if pending else []


def asked(tmp_path: Path) -> EngineRig:
    rig = EngineRig(tmp_path)
    rig.join()
    rig.midi(bytes((0x90, 40, 90)))
    rig.run_to(100.2)
    rig.midi(bytes((0x80, 40, 0)))
    rig.put(MessageArrived(2, GUESS, rig.clock.now()))
    return rig


def test_the_guess_is_offered_and_taken_by_the_players_word(tmp_path: Path) -> None:
    rig = asked(tmp_path)
    (question,) = questions(rig)
    assert question.text == "It sounds like ♩ = 96 in 4/4. Loop it so?"
    looper = rig.engine.parts.session.looper
    assert str(looper.brief.tempo) == "120" and looper.layers() == [], "nothing happens by itself"
    rig.command(question.accept.name, **question.accept.args)
    assert str(looper.brief.tempo) == "96" and len(looper.layers()) == 1
    assert questions(rig) == []
    rig.command("undo")
    assert str(looper.brief.tempo) == "120" and looper.layers() == []


def test_a_refusal_changes_nothing_and_holds_for_the_phrase(tmp_path: Path) -> None:
    rig = asked(tmp_path)
    rig.command("leave-free-tempo")
    assert questions(rig) == []
    rig.put(MessageArrived(2, GUESS, rig.clock.now()))
    assert questions(rig) == []
    assert rig.engine.parts.session.looper.layers() == []
    rig.put(MessageArrived(2, replace(GUESS, phrase=5), rig.clock.now()))
    assert len(questions(rig)) == 1, "the next phrase may be asked of"


def test_a_start_or_a_layer_ends_the_offer(tmp_path: Path) -> None:
    for command in ("start", "loop-that"):
        (tmp_path / command).mkdir()
        rig = asked(tmp_path / command)
        assert len(questions(rig)) == 1
        rig.command(command)
        assert questions(rig) == []
        rig.put(MessageArrived(2, replace(GUESS, phrase=9), rig.clock.now()))
        assert questions(rig) == []


def test_the_other_question_keeps_its_place(tmp_path: Path) -> None:
    rig = asked(tmp_path)
    rig.put(SessionOffered("There is an unfinished session."))
    assert [one.key for one in questions(rig)] == ["free-tempo", "last-session"]
    rig.command("leave-free-tempo")
    assert [one.key for one in questions(rig)] == ["last-session"]
    rig.put(SessionOffered(""))
    assert questions(rig) == []


def test_the_message_travels() -> None:
    reader = FrameReader(FROM_WINDOW)
    assert reader.feed(encode(GUESS)) == [GUESS]
