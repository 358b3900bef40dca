"""The view: messages in, what is drawn out."""

import pytest

from loopdeck.looper.machine import Looper
from loopdeck.protocol.messages import Message, MixerChanged, PassHeard, TakeKept, Welcome
from loopdeck.session.session import Session
from loopdeck.window.draw_foot import what_now
from loopdeck.window.draw_head import note_of_the_readout
from loopdeck.window.gesture import gesture
from loopdeck.window.note_view import NoteView, just_noticed_ms
from loopdeck.window.pass_picker import PassPicker
from loopdeck.window.played import FREE_PASS, PASSES_KEPT
from loopdeck.window.practice import practice_hint, silent_bar
from loopdeck.window.remarks import Remarks
from loopdeck.window.spelling import layer_word
from loopdeck.window.view import BACK, View, space_takes
from tests.unit.window_tools import CYCLE_Q, QPM, Told, brief, row, sec


def last_of(told: Told) -> NoteView:
    """The note that was played last."""
    assert told.view.played.last is not None
    return told.view.played.last


# ---- notes ---------------------------------------------------------------------------------------


def test_names_degrees_and_what_left_the_scale() -> None:
    """E dorian is E F# G A B C# D (the second mode of D major)."""
    told = Told()
    told.clock()
    for index, pitch in enumerate((28, 30, 31, 39, 37)):
        told.note(pitch, index * 0.5)
    this, before = told.view.shown(sec(3.0))
    assert [(m.spelling.name, m.spelling.degree, m.spelling.root, m.spelling.outside) for m in this] == [
        ("E", "R", True, False),
        ("F♯", "2", False, False),
        ("G", "♭3", False, False),
        (this[3].spelling.name, this[3].spelling.degree, False, True),
        ("C♯", "6", False, False),
    ]
    assert this[3].spelling.name in ("D♯", "E♭") and this[3].spelling.degree == "7?"
    assert before == []


def test_without_a_scale_nothing_is_judged() -> None:
    told = Told(scale="")
    told.clock()
    told.note(39, 0.0)
    assert not last_of(told).spelling.outside and last_of(told).spelling.degree == ""


def test_a_new_scale_judges_anew() -> None:
    told = Told()
    told.clock()
    told.note(39, 0.0)
    assert last_of(told).spelling.outside
    told.brief(scale="E ionian")
    assert not last_of(told).spelling.outside


def test_what_is_heard_as_early_or_late() -> None:
    """Friberg & Sundberg 1995: 6 ms below 240 ms, 2.5 % of the interval above: 7.8 ms for an eighth
    at 96 (312.5 ms).
    """
    assert just_noticed_ms(156.25) == 6.0
    assert just_noticed_ms(240.0) == 6.0
    assert just_noticed_ms(312.5) == pytest.approx(7.8125)
    told = Told()
    told.clock()
    ms = QPM / 60_000
    told.note(28, 0.0)
    told.note(28, 0.5 + 7.7 * ms, 0.5)
    last = lambda: told.view.played.last  # noqa: E731
    assert last().heard == ""  # type: ignore[union-attr]
    told.note(28, 1.0 + 7.9 * ms, 1.0)
    assert last().heard == "late"  # type: ignore[union-attr]
    # A sixteenth after it (156 ms) less is enough.
    told.note(28, 1.25 - 6.2 * ms, 1.25)
    assert last().heard == "early"  # type: ignore[union-attr]
    assert last().offset_ms == pytest.approx(-6.2)  # type: ignore[union-attr]


def test_lanes_are_strings_and_notes_have_frets() -> None:
    """Open strings of the four-string bass: G2 43, D2 38, A1 33, E1 28."""
    told = Told()
    told.clock()
    assert told.view.lanes.labels == ("G", "D", "A", "E")
    places = ((28, 3, 0), (32, 3, 4), (33, 2, 0), (38, 1, 0), (43, 0, 0), (60, 0, 17), (20, 3, None), (100, 0, None))
    for pitch, lane, fret in places:
        told.note(pitch, 0.5 * told.count)
        last = told.view.played.last
        assert last is not None and (last.lane, last.fret) == (lane, fret), pitch
    told.note(43, 5.0, string=2)
    assert (last_of(told).lane, last_of(told).fret) == (1, 5), "the string it came on comes first"


def test_a_chord_takes_a_string_for_each_note() -> None:
    told = Told()
    told.clock()
    told.note(40, 0.0)
    told.note(47, 0.01)
    told.note(41, 0.02)
    lanes = [mark.lane for mark in told.view.played.by_pass[0]]
    assert len(set(lanes)) == 3
    assert [mark.pitch for mark in told.view.played.with_last()] == [40, 41, 47]


def test_a_channel_for_each_string_is_believed() -> None:
    """C3 (48) on the second string is its tenth fret, though the first string has it at the
    fifth.
    """
    told = Told()
    told.clock()
    told.note(33, 0.0, channel=2)
    told.note(48, 0.5, channel=1)
    assert (last_of(told).lane, last_of(told).fret) == (1, 10)


@pytest.mark.parametrize("apart_q", [0.005, 0.04])
@pytest.mark.parametrize(
    ("pitches", "frets"),
    [((41, 48, 53), (8, 10, 10)), ((53, 41, 48), (10, 8, 10)), ((40, 47), (2, 4)), ((28, 40), (0, 2))],
)
def test_a_chord_lies_where_a_hand_can_reach_it(
    pitches: tuple[int, ...], frets: tuple[int, ...], apart_q: float
) -> None:
    told = Told()
    told.clock()
    for index, pitch in enumerate(pitches):
        told.note(pitch, apart_q * index)
    assert tuple(mark.fret for mark in told.view.played.by_pass[0]) == frets


def test_pitch_lanes_hold_every_pitch() -> None:
    told = Told()
    told.clock()
    told.view.set_lanes("pitches")
    assert told.view.lanes.labels[-1] == "E" and len(told.view.lanes.labels) == 12
    for pitch in range(128):
        told.note(pitch, 0.0)
        assert told.view.lanes.classes[last_of(told).lane] == pitch % 12


def test_this_pass_the_one_before_and_the_early_downbeat() -> None:
    told = Told()
    told.clock()
    first = told.note(28, 1.0)
    early = told.note(28, -0.05, 0.0, pass_index=1)
    assert [m.id for m in told.view.shown(sec(7.4))[0]] == [first]
    assert [m.id for m in told.view.early_next(sec(7.4))] == [early]
    told.clock(pass_index=1)
    this, before = told.view.shown(sec(7.6))
    assert [m.id for m in this] == [early] and [m.id for m in before] == [first]
    told.clock(pass_index=1 + PASSES_KEPT)
    assert told.view.shown(sec((1 + PASSES_KEPT) * 7.5 + 1)) == ([], [])
    assert not told.view.played.by_pass, "passes that cannot be looped any more are forgotten"


def test_memory_stays_small_over_a_long_session() -> None:
    told = Told()
    for pass_index in range(300):
        told.clock(pass_index=pass_index)
        for _ in range(20):
            told.note(28, 1.0, pass_index=pass_index)
    most = 20 * PASSES_KEPT
    assert sum(len(notes) for notes in told.view.played.by_pass.values()) <= most
    assert len(told.view.played._by_id) <= most
    told.clock("STOPPED", 299, running=False)
    for index in range(2000):
        told.note(28, 0.0, pass_index=-1, stamp_sec=100 + index * 0.2)
    assert len(told.view.played.by_pass[-1]) < 100


def test_free_playing_is_laid_out_by_its_time_and_not_judged() -> None:
    told = Told()
    told.clock("STOPPED", -1, running=False)
    told.note(28, 0.0, pass_index=-1, stamp_sec=10.0)
    told.note(30, 0.0, pass_index=-1, stamp_sec=10.0 + sec(1.3))
    assert last_of(told).at_q == pytest.approx(1.3) and last_of(told).heard == ""
    assert len(told.view.shown(10.0 + sec(2.0))[0]) == 2
    assert len(told.view.shown(10.0 + sec(8.0))[1]) == 2, "a page later they are the page before"


# ---- layers and passes ---------------------------------------------------------------------------


def test_layers_say_their_state_in_words() -> None:
    rows = [row(1), row(2, muted=True, sounding=False), row(3, sounding=False)]
    assert [layer_word(one, rows) for one in rows] == ["SOUNDING", "MUTED", "READY"]
    rows = [row(1, solo=True), row(2, sounding=False), row(3, muted=True, sounding=False)]
    assert [layer_word(one, rows) for one in rows] == ["SOLO", "SILENT", "MUTED"]


def test_the_notes_of_layers_are_placed_and_named() -> None:
    told = Told()
    told.layers(row(1), row(2))
    told.layer(1, (0.0, 1.0, 28), (1.0, 1.0, 39))
    told.layer(2, (0.0, 1.0, 40), (0.0, 1.0, 47))
    first, second = told.view.layer_notes_of[1], told.view.layer_notes_of[2]
    assert [(m.spelling.name, m.lane, m.fret, m.spelling.outside) for m in first] == [
        ("E", 3, 0, False),
        (first[1].spelling.name, 1, 1, True),
    ]
    assert [(m.lane, m.fret) for m in second] == [(1, 2), (0, 4)], "a chord takes two strings"
    told.layers(row(2))
    assert set(told.view.layer_notes_of) == {2}, "a layer that went takes its notes along"
    told.brief(scale="E ionian", tuning="drop D")
    assert told.view.layer_notes_of[2][0].lane == 1


def test_the_foot_promises_what_loop_that_would_take() -> None:
    told = Told()
    told.clock()
    assert told.view.loops_next is None
    assert "Space" not in what_now(told.view, 0.0), "nothing is promised that would be refused"
    told.layers(loops_next=0)
    assert told.view.loops_next == 0
    assert "Space" not in what_now(told.view, 0.0), "the first pass, while nothing was played in it"
    told.note(40, 1.0)
    assert "Space loops pass 1." in what_now(told.view, 0.0)
    told.layers(row(1, pass_index=0))
    assert "Space" not in what_now(told.view, 0.0)
    told.layers(loops_next=-1)
    assert "Space loops what you played before the start." in what_now(told.view, 0.0)
    assert what_now(told.view, 0.0, page="shelf") == "", "an open page names its own keys"


def test_in_its_last_half_beat_space_means_the_pass_that_runs() -> None:
    """If something was played in it, as the looper has it."""
    told = Told()
    told.clock(pass_index=1)
    told.layers(loops_next=0)
    soon, ending = sec(2 * CYCLE_Q - 1.0), sec(2 * CYCLE_Q - 0.1)
    assert "Space loops pass 1." in what_now(told.view, ending), "nobody means a pass of rest"
    told.note(40, 1.0, pass_index=1)
    assert "Space loops pass 1." in what_now(told.view, soon)
    assert "Space loops pass 2." in what_now(told.view, ending)
    told.hear(
        PassHeard(pass_index=0, about="riff", text="That is the third time.", riff_passes=(0,), whole_passes=(0,))
    )
    told.view.played.remarks.receive(told.view.played.remarks._heard, None)
    assert told.view.message(soon).text == "That is the third time: Space loops it."
    assert told.view.message(ending).text == "That is the third time: it stands in pass 1."
    told.note(40, 1.0, pass_index=0)
    for at_sec, taken in ((soon, 0), (ending, 1)):
        cursor = PassPicker()
        cursor.step(told.view, at_sec, -1)
        assert cursor.chosen == taken, "the cursor begins where Space would loop"


def test_a_note_of_a_pass_that_never_began_stands_where_the_looper_has_it() -> None:
    """Played in a count-in that was stopped, or as the early downbeat of the pass after the
    last.
    """
    session, view = Session(brief(count_in="1", cycle="4/4", tempo="120"), 0.0), View()
    for one in session.snapshot():
        view.receive(one)

    def play(*steps: tuple[float, int | str]) -> None:
        for at_sec, what in steps:
            if isinstance(what, str):
                session.command(what, {}, at_sec)
            else:
                session.midi(0, bytes((0x90, what, 90)), at_sec, at_sec)
                session.midi(0, bytes((0x80, what, 0)), at_sec + 0.02, at_sec + 0.02)
            for one in session.take_messages():
                view.receive(one)

    play((0.0, "start"), (0.3, 40), (0.5, "stop"))
    assert [note.pitch for note in view.played.by_pass.pop(FREE_PASS)] == [40] and not any(view.played.by_pass.values())
    play((1.0, "start"), (3.5, 41), (4.93, 42), (4.98, "stop"))
    assert [[note.pitch for note in notes] for notes in view.played.by_pass.values() if notes] == [[41, 42]]
    assert all(note.length_q is not None for note in view.played.by_pass[0])


@pytest.mark.parametrize("outside", [(0.5, 33), (3.94, 40)])
def test_after_a_stop_the_riff_stays_in_sight(outside: tuple[float, int]) -> None:
    """Whatever was played in the count-in before it, or early for a pass that never began."""
    session, view = Session(brief(count_in="1", cycle="4/4", tempo="120"), 0.0), View()
    told = [*session.snapshot()]
    session.command("start", {}, 0.0)
    for at_sec, pitch in sorted([(2.0, 40), (2.5, 43), (3.0, 45), outside]):
        session.midi(0, bytes((0x90, pitch, 90)), at_sec, at_sec)
        session.midi(0, bytes((0x80, pitch, 0)), at_sec + 0.02, at_sec + 0.02)
    session.command("stop", {}, 3.97)
    for one in (*told, *session.take_messages()):
        view.receive(one)
    assert [note.pitch for note in view.shown(4.0)[0]] == [40, 43, 45]
    assert list(view.played.by_pass) == [0], "no pass more"


def test_what_was_played_last_stands_until_a_whole_pass_was_rested() -> None:
    told = Told()
    told.clock()
    told.note(40, 0.0)
    pass_sec = sec(CYCLE_Q) - sec(0.0)
    assert note_of_the_readout(told.view, sec(0.5)) is told.view.played.last
    assert note_of_the_readout(told.view, sec(0.5) + pass_sec) is told.view.played.last
    assert note_of_the_readout(told.view, sec(0.5) + 2 * pass_sec) is None
    told.clock(running=False, state="STOPPED")
    assert note_of_the_readout(told.view, sec(0.5) + 2 * pass_sec) is told.view.played.last


def test_the_feel_of_the_last_passes_goes_when_they_are_long_past() -> None:
    remarks = Remarks()
    assert remarks.feel(0) == ""
    remarks.receive(PassHeard(pass_index=2, feel="16ths at 58 %"), 3)
    assert remarks.feel(3) == remarks.feel(6) == "16ths at 58 %"
    assert remarks.feel(7) == ""


# ---- messages ------------------------------------------------------------------------------------


def text(told: Told, at_sec: float) -> str:
    said = told.view.message(at_sec)
    return said.text if said is not None else ""


def test_one_message_at_a_time_and_it_goes() -> None:
    told = Told()
    told.say("One.")
    told.say("Two.", wrong=True)
    assert text(told, 1.0) == "Two."
    assert text(told, 60.0) == ""
    told.view.lose_engine("The engine has ended.")
    told.say("Three.")
    assert text(told, 0.0) == "The engine has ended."


def test_a_message_goes_with_the_state_it_speaks_of() -> None:
    told = Told()
    told.clock("COUNTING IN", -1, anchor_q=-4.0)
    told.say("Counting in, 1 bar.", about="state")
    assert text(told, 1.0) == "Counting in, 1 bar."
    told.clock("LISTENING", 0, time_sec=2.5)
    assert text(told, 2.6) == ""


def test_a_message_about_what_comes_next_goes_when_it_has_come() -> None:
    told = Told()
    told.clock(coming="LAYERING at the next cycle")
    told.say("Layering from the next cycle.", at_sec=1.0, about="state")
    told.clock(coming="LAYERING at the next cycle", time_sec=1.5)
    assert text(told, 2.0) == "Layering from the next cycle."
    told.clock("LAYERING", 1, time_sec=4.6875)
    assert text(told, 4.7) == ""


def test_what_is_said_of_the_next_beat_can_be_read_and_then_goes() -> None:
    told = Told()
    told.clock(coming="a new feel at the next beat")
    told.say("Swing: 2:1, from the next beat on.", at_sec=1.0, about="state")
    told.clock(time_sec=1.3)
    assert told.view.clock.next == ""
    assert text(told, 3.5) == "Swing: 2:1, from the next beat on." and text(told, 4.0) == ""
    # It takes nothing else away.
    told.clock(coming="a new feel at the next beat", time_sec=5.0)
    told.say("Kept passes 1 to 4.", at_sec=5.1)
    told.clock(time_sec=5.4)
    assert text(told, 12.0) == "Kept passes 1 to 4."


def test_a_message_of_the_boundary_itself_stays_to_be_read() -> None:
    told = Told()
    told.clock()
    told.say("The pass before is layer 1.", at_sec=4.6875, about="pass")
    told.clock(pass_index=1, time_sec=4.6875)
    assert text(told, 5.0) == "The pass before is layer 1."
    told.clock(pass_index=2, time_sec=9.375)
    assert text(told, 9.4) == "", "a pass later it would be wrong"


def test_a_tempo_that_was_set_is_said_until_the_next_one() -> None:
    told = Told()
    told.clock(qpm=112.0)
    told.say("Tempo: 112.", at_sec=4.0, about="tempo")
    told.clock(pass_index=1, time_sec=4.6875, qpm=112.0)
    assert text(told, 5.0) == "Tempo: 112."
    told.clock(pass_index=1, time_sec=5.2, qpm=118.0)
    assert text(told, 5.3) == ""


def test_a_keep_is_said_across_the_end_of_a_pass() -> None:
    told = Told()
    told.clock()
    told.say("Kept 2 passes.", at_sec=4.0)
    told.clock(pass_index=1, time_sec=4.6875)
    assert text(told, 5.0) == "Kept 2 passes."


# ---- click and tempo by themselves ---------------------------------------------------------------


def test_silent_bars_and_a_ramp_are_said_while_they_run() -> None:
    told = Told(clicks="all; 1 on, 1 off", ramp="+4 every 2 to 120")
    told.clock()
    assert practice_hint(told.view, sec(1.0)) == "silent in 1 bar   +4 in 2 passes"
    assert practice_hint(told.view, sec(5.0)) == "silent for 1 bar   +4 in 2 passes"
    assert [silent_bar(told.view, bar) for bar in (0, 1)] == [False, True]
    told.clock("STOPPED", 0, running=False)
    assert practice_hint(told.view, sec(5.0)) == ""


def test_a_ramp_says_its_unit_and_nothing_where_it_changes_nothing() -> None:
    for tempo, hint in (("8th=208", "♩ +6 in 1 pass"), ("100", "+6 in 1 pass"), ("dotted-quarter=107", "")):
        told = Told(tempo=tempo, ramp="+6 every 1 to 130")
        told.clock()
        assert practice_hint(told.view, sec(1.0)) == hint, tempo


# ---- the rest ------------------------------------------------------------------------------------


def test_messages_of_no_use_here_are_ignored() -> None:
    view = View()
    view.receive(Message())
    assert not view.changed


def test_a_fresh_engine_starts_from_nothing() -> None:
    told = Told()
    told.clock()
    told.note(28, 0.0)
    told.layers(row(1))
    told.ask()
    told.hear(TakeKept(number=1, name="a", passes=1))
    told.hear(MixerChanged(device="a box"))
    told.view.lose_engine("Gone.")
    told.hear(Welcome(protocol=2, version="0", pid=1))
    view = told.view
    assert (
        not view.engine_lost
        and not view.layers
        and not view.played.by_pass
        and not view.shelf.kept
        and not view.waiting()
    )


def test_that_the_engine_is_back_is_not_talked_over_by_its_ports() -> None:
    told = Told()
    told.clock()
    told.view.lose_engine("Gone.")
    told.hear(Welcome(protocol=2, version="0", pid=1))
    told.clock("STOPPED", -1, running=False, time_sec=10.0)
    told.say("a port is connected.", at_sec=10.2, about="device")
    assert text(told, 11.0) == BACK
    told.say("A port is gone; looking for it.", wrong=True, at_sec=12.0, about="device")
    assert text(told, 12.5) == "A port is gone; looking for it."
    told.say("Muted: layer 1.", at_sec=13.0)
    told.say("a port is connected.", at_sec=14.0, about="device")
    assert text(told, 14.5) == "a port is connected."


def test_a_page_of_thirty_seconds_is_half_as_long() -> None:
    told = Told()
    assert len(told.view.cycle_layout.pages) == 1
    told.brief(grid="1/32")
    assert [page.end_q - page.start_q for page in told.view.cycle_layout.pages] == [4.0, CYCLE_Q - 4.0]


# ---- bends ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("curve", "name"),
    [
        ((), ""),
        (((0.0, 0.0), (0.5, 0.05)), ""),
        (((0.0, 0.0), (0.2, 0.6), (0.4, 1.0), (0.8, 0.0)), "bend"),
        (((0.0, 0.0), (0.3, 2.0), (1.0, 2.0)), "slide"),
        (((0.0, 0.0), (0.3, -3.0), (1.0, -3.02)), "slide"),
        (tuple((k / 10, 0.3 * (-1) ** k) for k in range(12)), "vibrato"),
    ],
)
def test_bends_slides_and_vibrato_are_told_apart(curve: tuple[tuple[float, float], ...], name: str) -> None:
    assert gesture(curve) == name


def test_a_bend_is_seen_while_it_is_played_and_kept_with_the_note() -> None:
    """The looper's own news of a pitch bend of a semitone (4096 of 8192 at a range of 2), through
    the messages.
    """
    told = Told()
    looper = Looper(brief(), 0.0)
    looper.midi(1.0, 1.0, 0, bytes((0x90, 33, 90)))
    for step in range(1, 9):
        value = 8192 + 512 * step
        looper.midi(1.0 + step * 0.05, 1.0 + step * 0.05, 0, bytes((0xE0, value & 0x7F, value >> 7)))
    for news in looper.take_news():
        told.hear(news)
    held = told.view.played.sounding()
    assert len(held) == 1 and gesture(held[0].bend) == "bend" and held[0].bend[-1][1] == pytest.approx(1.0)
    looper.midi(2.0, 2.0, 0, bytes((0x80, 33, 0)))
    for news in looper.take_news():
        told.hear(news)
    assert last_of(told).length_q is not None and len(last_of(told).bend) >= 8


def test_layers_lie_where_they_sound() -> None:
    """A note 0.1 quarters late sounds on its slot when quantized fully, and where it was played
    with strength 0.
    """
    told = Told(swing="straight")
    told.layers(row(1))
    told.layer(1, (1.1, 0.5, 33), (9.0, 0.5, 33))
    assert told.view.layer_notes_of[1][0].at_q == pytest.approx(1.0)
    assert told.view.layer_notes_of[1][1].at_q > CYCLE_Q, "beyond the end of the cycle it is silent"
    told.brief(swing="straight", strength="0")
    assert told.view.layer_notes_of[1][0].at_q == pytest.approx(1.1)


@pytest.mark.parametrize(("played", "promised"), [(False, None), (True, 0)])
def test_a_pass_without_a_note_is_not_offered_while_the_news_of_the_next_are_on_their_way(
    played: bool, promised: int | None
) -> None:
    told = Told()
    told.clock(pass_index=0)
    told.layers(loops_next=0)
    if played:
        told.note(40, 0.5)
    assert space_takes(told.view, sec(CYCLE_Q + 0.1)) == promised
