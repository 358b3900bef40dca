"""What each pass brought: the riff that comes back and where it stands, the swing and the scale of
the last passes; and what is said of it.
"""

import sys
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from loopdeck.analysis.live_passes import LivePasses, PassFound, PassNotes
from loopdeck.brief.brief import Brief, load_brief
from loopdeck.capture.journal import read_journal
from loopdeck.configs import find
from loopdeck.engine.demo_session import ABOVE, RIFF_AGAIN, SLOPPY
from loopdeck.engine.events import MessageArrived
from loopdeck.engine.listener import FAILED, ListenerProcess
from loopdeck.engine.listening import PassListener
from loopdeck.process.options import Options
from loopdeck.protocol.messages import ClockChanged, LayerRow, LayersChanged, PassHeard, PassRiff, Said
from loopdeck.session.session import Session
from loopdeck.window.remarks import passes_words
from loopdeck.window.view import View
from tests.unit.engine_rig import EngineRig

#: Eighths and sixteenths of a bar of four, and the pitches of a riff in E dorian.
RIFF = [(0.0, 28), (0.75, 31), (1.0, 33), (1.5, 35), (2.25, 37), (2.5, 38), (3.0, 35), (3.5, 30)]
BRIEF = Brief.default().replace(tempo="100", cycle="4/4", scale="E dorian", count_in="0")


def noodle(seed: int) -> list[tuple[float, int]]:
    rng = np.random.default_rng(seed)
    places = sorted(rng.choice(15, 7, replace=False))
    return [(place / 4, int(rng.choice([28, 30, 31, 33, 35, 37, 38, 40]))) for place in places]


def heard(passes: list[list[tuple[float, int]]], swing: float = 0.5, shift_q: float = 0.0) -> list[PassHeard]:
    """Each pass played by hand in a session; what the listener answers."""
    rng, session, listener = np.random.default_rng(5), Session(BRIEF, 0.0), PassListener(lambda: 0.0)
    answers: list[PassHeard] = []

    def pump() -> None:
        answers.extend(one for message in session.take_messages() if (one := listener.receive(message)) is not None)

    steps: list[tuple[float, bytes]] = []
    for number, notes in enumerate(passes):
        for at_q, pitch in notes:
            late = (swing - 0.5) / 2 if at_q % 0.5 == 0.25 else 0.0
            sec = max((number * 4 + at_q + late + shift_q) * 0.6 + rng.normal(0.0, 0.004), 0.0)
            steps += [(sec, bytes((0x90, pitch, 90))), (sec + 0.1, bytes((0x80, pitch, 0)))]
    session.command("start", {}, 0.0)
    for sec, data in sorted(steps):
        session.advance(sec)
        session.midi(0, data, sec, sec)
        pump()
    session.advance(len(passes) * 2.4 + 0.01)
    pump()
    return answers


def test_the_third_time_is_said_and_where_it_stands() -> None:
    answers = heard([noodle(1), RIFF, noodle(2), RIFF, noodle(3), noodle(4), RIFF, noodle(5)])
    assert [one.pass_index for one in answers] == list(range(8))
    third = answers[6]
    assert (third.text, third.about) == ("That is the third time.", "riff")
    assert third.riff_passes == third.whole_passes == (1, 3, 6)
    assert answers[3].riff_passes == (1, 3) and answers[3].about != "riff"
    assert all(one.about != "riff" for one in (*answers[:6], answers[7]))


def test_a_riff_over_the_bar_line_stands_in_two_passes_and_whole_in_none() -> None:
    """Begun on the third beat: it would be cut in two by looping a pass."""
    answers = heard([noodle(1), RIFF, noodle(2), [], RIFF, noodle(3), [], RIFF, [], []], shift_q=2.0)
    third = next(one for one in answers if one.about == "riff")
    assert set(third.riff_passes) >= {1, 2, 4, 5, 7, 8} and third.whole_passes == ()


def test_swing_and_scale_of_the_last_passes() -> None:
    steady = [(number / 4, (28, 31, 33, 35, 37, 38, 30, 40)[number % 8]) for number in range(16)]
    last = heard([steady] * 5, swing=0.6)[-1]
    assert last.feel in ("16ths at 59 %", "16ths at 60 %", "16ths at 61 %")
    assert last.scale == "fits E dorian"
    assert heard([steady] * 5)[-1].feel == "16ths straight"


def test_what_is_told_stays_until_something_else_is_clearly_found() -> None:
    steady = [(number / 4, (28, 31, 33, 35, 37, 38, 30, 40)[number % 8]) for number in range(16)]
    # One wrong note in thirty-two is no other scale; leaving C sharp for C natural is.
    wrong = [(place, 29 if place == 2.5 else pitch) for place, pitch in steady]
    minor = [(place, 36 if pitch == 37 else pitch) for place, pitch in steady]
    answers = heard([steady] * 3 + [wrong, steady] + [minor] * 5)
    assert {one.scale for one in answers[1:5]} == {"fits E dorian"}
    assert answers[-1].scale == "fits E minor"


def test_another_scale_in_the_brief_is_looked_at_anew() -> None:
    # Notes that E dorian and E minor share: what fits is called as the brief calls it.
    places, passes = np.arange(16) / 4, LivePasses()
    pitch = np.array([(28, 31, 33, 35, 36 + 2, 38, 30, 40)[number % 8] for number in range(16)])
    told = []
    for number in range(8):
        brief = BRIEF.replace(scale="E dorian" if number < 4 else "E minor")
        found = passes.heard(
            PassNotes(
                number,
                BRIEF.cycle,
                100.0,
                number * 2.4 + places * 0.6,
                places,
                np.full(16, 0.2),
                pitch,
                np.full(16, 90.0),
            ),
            brief,
        )
        told.append(found.scale)
    assert told[3] == "fits E dorian"
    assert "fits E dorian" not in told[4:] and told[-1] == "fits E minor"


@pytest.mark.parametrize("chosen", ["E dorian", "E dorian b2"])
def test_slips_make_no_rarer_scale_than_the_one_chosen(chosen: str) -> None:
    """No F sharp, and F, G sharp and A sharp once each: dorian with a flat second is likeliest."""
    brief = load_brief(find("briefs", "crooked-stairs")).replace(scale=chosen)
    strokes = sorted((*RIFF_AGAIN, *RIFF_AGAIN, *ABOVE, *SLOPPY))
    at_q, length_q, velocity = (
        np.array([getattr(one, what) for one in strokes], float) for what in ("at_q", "length_q", "velocity")
    )
    pitch = np.array([one.pitch for one in strokes])
    played = PassNotes(0, brief.cycle, 96.0, at_q * 60 / 96, at_q, length_q, pitch, velocity)
    assert LivePasses().heard(played, brief).scale == f"fits {chosen}"


def test_notes_of_the_chosen_scale_are_given_no_other_root() -> None:
    """Noodling whose likeliest reading is G lydian by a little: its notes are those of E dorian,
    and the player chose the root.
    """
    at_q = np.array([0.0, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.25, 2.5, 2.75, 3.5, 3.75])
    pitch = np.array([30, 31, 40, 31, 33, 35, 37, 40, 31, 38, 35, 31])
    alike = np.ones(len(pitch))
    played = PassNotes(0, BRIEF.cycle, 100.0, at_q * 0.6, at_q, 0.2 * alike, pitch, 90.0 * alike)
    assert LivePasses().heard(played, BRIEF).scale == "fits E dorian"
    assert LivePasses().heard(played, BRIEF.replace(scale="A mixolydian")).scale == "fits A mixolydian"
    assert LivePasses().heard(played, BRIEF.replace(scale="")).scale == "fits G lydian"


def test_a_remark_on_the_timing_comes_after_every_fourth_pass_at_most() -> None:
    """Beat three comes 50 ms early in every pass, and no pass is like another."""
    late = [[(place - 0.08 if place == 2.0 else place, pitch) for place, pitch in noodle_on_beats(n)] for n in range(9)]
    said = [one.pass_index for one in heard(late) if one.about == "feel"]
    assert len(said) >= 2 and all(after - before >= 4 for before, after in pairwise(said))


def noodle_on_beats(seed: int) -> list[tuple[float, int]]:
    rng = np.random.default_rng(seed)
    return [(place / 2, int(rng.choice([28, 31, 33, 35, 37, 38]))) for place in range(8)]


def test_silence_says_nothing_and_forgets_nothing() -> None:
    answers = heard([RIFF, [], [], RIFF, []])
    assert answers[1].text == "" and answers[4].scale == answers[3].scale
    nothing = PassNotes(0, BRIEF.cycle, 100.0, *(np.zeros(0) for _ in range(3)), np.zeros(0, np.int64), np.zeros(0))
    assert LivePasses().heard(nothing, BRIEF) == PassFound()


# ---- in the window -------------------------------------------------------------------------------

RIFF_HEARD = PassHeard(
    pass_index=4,
    text="That is the third time.",
    about="riff",
    riff_passes=(0, 2, 4),
    whole_passes=(2, 4),
    riffs=tuple(PassRiff(index, "A") for index in (0, 2, 4)),
)


def clock(pass_index: int, **more: Any) -> ClockChanged:
    values = {
        "state": "LISTENING",
        "running": pass_index >= 0,
        "pass_index": pass_index,
        "anchor_sec": 0.0,
        "anchor_q": 0.0,
    }
    return ClockChanged(**(values | {"qpm": 100.0, "pass_start_q": 0.0, "cycle": "4/4", "cycle_q": 4.0} | more))


def foot(view: View) -> str:
    said = view.message(100.0)
    return said.text if said is not None else ""


def test_the_window_promises_only_what_space_would_do() -> None:
    view = View()
    view.receive(clock(5))
    view.receive(LayersChanged(layers=(), loops_next=4))
    view.receive(RIFF_HEARD)
    assert foot(view) == "That is the third time: Space loops it."
    # Space would take another pass, or one that holds but a part of the riff.
    for other in (3, 0, None):
        view.receive(LayersChanged(layers=(), loops_next=other))
        assert foot(view) == "That is the third time: it stands in passes 1, 3 and 5."
    row = LayerRow(number=1, muted=False, sounding=True, notes=8, pass_index=4)
    view.receive(LayersChanged(layers=(row,), loops_next=2))
    assert foot(view) == ""
    assert view.played.remarks.riffs == {0: ("A",), 2: ("A",), 4: ("A",)}


def test_it_goes_with_the_next_pass_gives_way_and_comes_too_late() -> None:
    view = View()
    view.receive(clock(5))
    view.receive(LayersChanged(layers=(), loops_next=4))
    view.receive(Said(time_sec=95.0, text="On the shelf: take 1."))
    view.receive(RIFF_HEARD)
    assert foot(view) == "On the shelf: take 1."
    said = view.message(104.0)
    assert said is not None and said.text.startswith("That is the third time")
    view.receive(clock(6))
    assert view.message(104.0) is None
    view.receive(RIFF_HEARD)
    assert view.message(104.0) is None
    view.receive(clock(-1, state="STOPPED"))
    view.receive(RIFF_HEARD)
    assert view.message(104.0) is not None


def test_passes_in_words() -> None:
    assert [passes_words(one) for one in ((2,), (0, 2), tuple(range(9)))] == [
        "pass 3", "passes 1 and 3", "passes 6, 7, 8 and 9"
    ]  # fmt: skip


# ---- in the engine -------------------------------------------------------------------------------


def test_the_engine_passes_it_on_and_writes_it_nowhere(tmp_path: Path) -> None:
    rig = EngineRig(tmp_path)
    rig.engine._begin()
    rig.join()
    assert "listener start" in rig.did
    digest = rig.engine.parts.session.looper.digest()
    rig.put(MessageArrived(2, RIFF_HEARD, 100.0))
    assert [one.text for one in rig.link.told if isinstance(one, PassHeard)] == [RIFF_HEARD.text]
    assert rig.engine.parts.session.looper.digest() == digest
    rig.join(3)
    assert [one.riff_passes for one in rig.link.welcomed[3] if isinstance(one, PassHeard)] == [(0, 2, 4)]
    rig.engine._finish()
    assert b"third time" not in rig.journal.read_bytes()
    assert not [one for one in read_journal(rig.journal).records if type(one).__name__ == "MidiRecord"]


def test_a_listener_that_dies_is_said_once(tmp_path: Path) -> None:
    said: list[str] = []
    options = Options(address="", journal="", shelf="", brief={})
    one = ListenerProcess(options, said.append, (sys.executable, "-c", "raise SystemExit(1)"), 0.0)
    one.start()
    one.start()
    one._thread.join(90)
    assert said == [FAILED]
    one.end()


@pytest.mark.parametrize("after_sec", [0.0, 60.0])
def test_a_listener_that_is_told_to_end_does_so_without_a_word(after_sec: float) -> None:
    """Whether it has begun already or not."""
    said: list[str] = []
    options = Options(address="", journal="", shelf="", brief={})
    one = ListenerProcess(options, said.append, (sys.executable, "-c", "import time; time.sleep(60)"), after_sec)
    one.start()
    while one.pid is None and not after_sec:
        time.sleep(0.01)
    one.end()
    one._thread.join(90)
    assert not one._thread.is_alive() and said == []


def test_a_listener_that_cannot_be_started_is_said() -> None:
    said: list[str] = []
    one = ListenerProcess(Options(address="", journal="", shelf="", brief={}), said.append, ("/nowhere/at/all",), 0.0)
    one.start()
    one._thread.join(90)
    assert said == [FAILED]
