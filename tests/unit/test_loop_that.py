"""Loop that reaches back: past rests, pass by pass, across stops, and into what was played before
the start.
"""

import random

import pytest

from loopdeck.looper.machine import Looper
from loopdeck.looper.recorder import FREE
from loopdeck.protocol.messages import LayerNotes, LayersChanged
from loopdeck.session.session import Session
from tests.unit.looper_tools import Player, brief, check_pairs


def pitches(player: Player) -> list[list[int]]:
    return [layer.notes["pitch"].tolist() for layer in player.looper.layers()]


def passes(count: int, **fields: object) -> Player:
    """Passes 0 to ``count - 1`` with one note each: pitch 40 in the first, 41 in the second ... Now
    in pass ``count``.
    """
    player = Player(**fields)
    player.command(0.0, "start")
    for index in range(count):
        player.note(4 * index + 1, pitch=40 + index)
    player.until(4 * count + 1)
    return player


def test_a_pass_of_rest_is_passed_over() -> None:
    player = passes(1)
    assert player.command(9.5, "loop-that") == "Pass 1 is layer 1."
    player.until(13.5)
    assert player.sounded() == [(13.0, 40)]


def test_an_early_downbeat_does_not_make_the_rest_before_it_a_riff() -> None:
    player = passes(1)
    player.note(8 - 0.05, pitch=50)
    assert player.command(8.5, "loop-that") == "Pass 1 is layer 1."


def test_what_lies_too_far_back_is_not_denied() -> None:
    player = passes(1)
    player.until(4 * 20 + 1)
    assert player.command(82.0, "loop-that") == "Nothing was played in the last 16 passes."


def test_what_lies_beyond_the_reach_is_not_denied_while_pressing_on() -> None:
    player = passes(18)
    for index in range(16):
        player.command(73.0 + index * 0.1, "loop-that")
    assert player.command(75.0, "loop-that") == "This reaches 16 passes back; choose an earlier pass to loop that."
    assert player.command(75.5, "loop-pass", number=1) == "Pass 1 is layer 2."
    assert player.command(75.6, "loop-pass", number=2) == "Pass 2 is layer 3."


def test_sixteen_passes_back_one_press_each() -> None:
    player = passes(16)
    for index in range(15, -1, -1):
        said = player.command(65.0 + (15 - index) * 0.1, "loop-that")
        assert said.startswith(f"Pass {index + 1} is layer 1")
        assert pitches(player) == [[40 + index]]
    assert player.command(66.6, "loop-that") == "Nothing was played further back."
    assert pitches(player) == [[40]]
    player.command(67.0, "stop")
    check_pairs(player.outs)


def test_stepping_back_is_undone_step_by_step() -> None:
    player = passes(3)
    player.command(13.0, "loop-that")
    player.command(13.1, "loop-that")
    assert pitches(player) == [[41]]
    player.command(13.2, "undo")
    assert pitches(player) == [[42]]
    player.command(13.3, "undo")
    assert pitches(player) == []


def test_a_press_in_a_later_pass_adds_a_layer() -> None:
    player = passes(3)
    player.command(13.0, "loop-that")
    assert player.command(17.0, "loop-that") == "Pass 2 is layer 2."
    assert pitches(player) == [[42], [41]]


def test_while_time_stands_the_passes_before_can_be_looped() -> None:
    player = passes(2)
    player.command(9.5, "stop")
    assert player.command(10.0, "loop-that") == "Pass 2 is layer 1."
    assert player.command(11.0, "loop-that") == "Pass 1 is layer 1 instead."
    player.command(12.0, "start")
    player.until(14.0)
    assert [pitch for _, pitch in player.sounded()] == [40]


def test_what_was_played_before_the_start_can_be_looped_before_and_after_it() -> None:
    for press, begin in ((9.0, 10.0), (11.0, 10.0)):
        player = Player()
        player.note(2.0, pitch=50)
        player.note(3.5, pitch=52)
        if press > begin:
            player.command(begin, "start")
        assert player.command(press, "loop-that") == "What was played before the start is layer 1."
        if press < begin:
            player.command(begin, "start")
        player.until(begin + 6.0)
        # The first note is the downbeat: 50 on every one, 52 a quarter and a half later.
        assert (begin + 4.0, 50) in player.sounded() and (begin + 5.5, 52) in player.sounded()
        player.command(begin + 7.0, "stop")
        check_pairs(player.outs)


def test_free_playing_is_cut_into_cycles_and_stepped_through() -> None:
    player = Player()
    for index in range(3):
        player.note(2.0 + 4 * index, pitch=50 + index)
    assert player.command(15.0, "loop-that") == "What was played before the start is layer 1."
    assert pitches(player) == [[52]]
    # Of several it says which: 52 was played 2.5 s ago, 51 before it.
    assert player.command(15.5, "loop-that") == "What was played 5 s ago is layer 1 instead."
    assert pitches(player) == [[51]]
    # What is played after a press is newer: the next press means that, in a layer of its own.
    player.note(20.0, pitch=60)
    player.command(22.0, "loop-that")
    assert pitches(player) == [[51], [60]]


def test_a_note_still_held_lasts_until_the_press() -> None:
    player = Player()
    player.on(2.0, pitch=50)
    player.command(3.0, "loop-that")
    assert player.looper.layers()[0].notes["duration_q"].tolist() == [1.0]


def test_free_playing_keeps_its_early_downbeats() -> None:
    player = Player()
    player.note(0.0, pitch=50)
    player.note(3.95, pitch=51)
    player.command(6.0, "loop-that")
    assert player.looper.layers()[0].notes["onset_q"].round(6).tolist() == [-0.05]


def test_nothing_is_promised_where_nothing_was_played() -> None:
    assert Player().command(0.0, "loop-that") == "Nothing was played yet."
    player = Player()
    player.command(0.0, "start")
    assert player.command(1.0, "loop-that") == "Pass 1 becomes a layer when it ends, if you play in it."
    player.until(4.5)
    assert player.looper.layers() == []
    assert player.said[-1] == "Nothing was played yet."


def test_pressing_on_steps_back_at_the_end_of_a_pass_of_rest_too() -> None:
    """The last half beat means the running pass only where something was played in it."""
    player = Player()
    player.command(0.0, "start")
    for index in range(3):
        player.note(1.0 + 4 * index, pitch=50 + index)
    player.until(12.5)
    said = [player.command(sec, "loop-that") for sec in (14.0, 15.0, 15.8)]
    assert said == ["Pass 3 is layer 1.", "Pass 2 is layer 1 instead.", "Pass 1 is layer 1 instead."]


def test_pressing_twice_in_the_first_pass_asks_for_it_once() -> None:
    player = Player()
    player.command(0.0, "start")
    player.note(1.0)
    assert (
        player.command(2.0, "loop-that") == player.command(3.0, "loop-that") == "Pass 1 becomes a layer when it ends."
    )
    player.until(4.2)
    assert player.said[-1] == "Pass 1 is layer 1."


def test_a_pass_that_is_layered_anyway_is_meant_once() -> None:
    """In its last half beat, and twice."""
    player = Player()
    player.command(0.0, "start")
    player.command(0.1, "layer")
    player.note(1.0)
    said = [
        player.command(3.7, "loop-that"),
        player.command(3.8, "loop-that"),
        player.command(3.9, "loop-pass", number=1),
    ]
    assert said == ["Pass 1 becomes a layer when it ends."] * 3
    player.until(4.2)
    assert len(player.looper.layers()) == 1
    assert player.said[-1] == "Pass 1 is layer 1."


def test_two_presses_at_the_end_of_a_pass_mean_that_pass() -> None:
    player = passes(1)
    player.note(5.5, pitch=50)
    for quarter in (7.7, 7.8):
        assert player.command(quarter, "loop-that") == "Pass 2 becomes a layer when it ends."
    player.until(8.2)
    assert pitches(player) == [[50]]
    assert player.command(8.4, "loop-that") == "Pass 1 is layer 1 instead."


def test_what_is_promised_is_what_is_done() -> None:
    """Whatever was told last of the pass that comes next is the one that the next press takes."""
    rng = random.Random(5)
    taken = 0
    for _ in range(40):
        looper, now, promised = Looper(brief(tempo="300")), 0.0, None
        for _ in range(120):
            now += rng.uniform(0.0, 0.5)
            kind = rng.random()
            if kind < 0.5:
                pitch = rng.choice((40, 43, 45))
                looper.midi(now, now, 0, bytes((0x90, pitch, 90)))
                looper.midi(now + 0.05, now + 0.05, 0, bytes((0x80, pitch, 0)))
            elif kind < 0.75:
                name = rng.choice(("start", "stop", "undo", "redo", "layer", "replace", "clear", "start"))
                looper.command(now, name)
            looper.advance(now + 0.06)
            now += 0.06
            for news in looper.take_news():
                promised = news.loops_next if isinstance(news, LayersChanged) else promised
            if kind < 0.75 or looper._core.press_is_early():
                continue
            said = looper.command(now, "loop-that")
            if promised is None:
                assert "layer 1" not in said and " is layer" not in said, said
            elif promised == FREE:
                assert said.startswith("What was played ") and " is layer" in said, said
            else:
                assert said.startswith(f"Pass {promised + 1} "), (promised, said)
            taken += promised is not None
            looper.take_news()
            promised = looper._core.told_promise
    assert taken > 200


def test_a_stop_is_not_prevented_by_what_waited() -> None:
    player = Player()
    player.command(0.0, "start")
    player.command(1.0, "loop-that")
    player.command(2.0, "stop")
    assert player.looper.state == "STOPPED"


def test_journals_of_before_reach_one_pass_back_only() -> None:
    from loopdeck.capture.journal import CommandRecord, MidiRecord

    session = Session(brief())
    session.apply(CommandRecord(0.0, "start", {}))
    session.apply(MidiRecord(0.5, 0.5, 0.5, 0, bytes((0x90, 40, 90))))
    session.apply(MidiRecord(0.7, 0.7, 0.7, 0, bytes((0x80, 40, 0))))
    session.apply(CommandRecord(4.5, "loop-that", {}))
    assert session.looper.layers() == []
    session.command("loop-that", {}, 4.6)
    assert len(session.looper.layers()) == 1


def test_journals_of_before_tap_to_a_hundredth() -> None:
    from loopdeck.capture.journal import CommandRecord

    session = Session(brief())
    for index in range(4):
        session.apply(CommandRecord(index * 0.58, "tap", {"sec": index * 0.58}))
    assert str(session.looper.brief.tempo) == "103.45"
    session.command("tap", {"sec": 4 * 0.58}, 4 * 0.58)
    assert str(session.looper.brief.tempo) == "103"


def test_a_layer_tells_the_strings_that_its_channels_name() -> None:
    """A channel a string, the highest first: A2 (45) is the seventh fret of the second string."""
    looper = Looper(brief())
    looper.command(0.0, "start")
    for sec, channel, pitch in ((0.2, 3, 28), (0.7, 1, 45), (1.2, 2, 33)):
        looper.midi(sec, sec, 0, bytes((0x90 | channel, pitch, 90)))
        looper.midi(sec + 0.2, sec + 0.2, 0, bytes((0x80 | channel, pitch, 0)))
    looper.command(2.5, "loop-that")
    told = next(one for one in looper.take_news() if isinstance(one, LayerNotes))
    assert [(note.pitch, note.string) for note in told.notes] == [(28, 4), (45, 2), (33, 3)]


@pytest.mark.parametrize(("first_q", "said"), [(22.5, "Pass 4 is layer 1 instead."), (21.0, "Pass 4 is layer 2.")])
def test_who_pressed_at_the_end_of_a_pass_presses_on_in_the_next(first_q: float, said: str) -> None:
    """A pass lasts 2 s; passes 1 to 5 were played in, and pass 6 is a rest."""
    player = passes(5)
    player.until(20.5)
    assert player.command(first_q, "loop-that") == "Pass 5 is layer 1."
    assert player.command(24.5, "loop-that") == said
    # Two passes on, a press begins anew.
    assert player.command(32.5, "loop-that").endswith("is layer 2." if "instead" in said else "is layer 3.")


@pytest.mark.parametrize("press_q", [0.5, 2.5, 3.4])
def test_a_press_in_each_pass_that_is_played_through_makes_a_layer_of_each(press_q: float) -> None:
    player = Player()
    player.command(0.0, "start-now")
    player.note(1.0, pitch=40)
    for index in range(1, 5):
        player.note(4 * index + 0.1, pitch=40 + index)
        assert player.command(4 * index + press_q, "loop-that") == f"Pass {index} is layer {index}."
    assert pitches(player) == [[40], [41], [42], [43]]
