"""The hand held against the target: remarks on techniques, and a pass judged by the better
reading.
"""

import numpy as np

from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.practice.live import LivePass
from loopdeck.practice.practising import Plan, PracticeRun, judge
from loopdeck.practice.target import Target, part_of, target_from_dict, target_of_notes
from loopdeck.practice.techniques import HandNote, written_notes
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.window.target.marks import otherwise
from tests.unit.test_target_window import Player

QUARTER = 0.5  # 120 quarters a minute


def stairs(start: float, end: float, frets: int, until: float) -> list[tuple[float, float]]:
    """A slide over the frets, as a pickup with one note for it tells it: a point every 5 ms."""
    at = np.arange(0.0, until, 0.01)
    steps = np.clip(np.floor((at - start) / (end - start) * frets) + 1, 0, frets)
    return list(zip(at.tolist(), steps.tolist(), strict=True))


#: Three quarters on A, and from the last of them a slide of five frets that arrives on bar 2.
SLIDE = stairs(0.8, 1.0, 5, 1.8)
STRAIGHT = [(0.0, 0.0)]
VIBRATO = [(at, 0.3 * float(np.sin(2 * np.pi * 5.5 * at * QUARTER))) for at in np.arange(0.0, 1.9, 0.02).tolist()]


def riff() -> Target:
    rows = [
        (0.0, 0.9, 33, 90, 3, STRAIGHT), (1.0, 0.9, 33, 90, 3, STRAIGHT), (2.0, 0.9, 33, 90, 3, STRAIGHT),
        (3.0, 1.9, 33, 90, 3, SLIDE), (6.0, 1.9, 40, 90, 2, VIBRATO),
    ]  # fmt: skip
    return target_of_notes("steps", rows, parse_cycle("4/4 4/4"), 120.0)


def hand(rows: list[tuple[float, float, int, list[tuple[float, float]]]]) -> list[HandNote]:
    array = np.zeros(len(rows), NOTE_DTYPE)
    for row, (onset, long, pitch, _) in enumerate(rows):
        array[row] = (onset * QUARTER, long * QUARTER, pitch, 90, 0, 3 if pitch < 40 else 2)
    return written_notes(array, [np.array(curve) * [QUARTER, 1.0] for *_, curve in rows], QUARTER)


PLUCKED = [(0.0, 0.9, 33, STRAIGHT), (1.0, 0.9, 33, STRAIGHT), (2.0, 0.9, 33, STRAIGHT), (3.0, 0.9, 33, STRAIGHT)]


def test_the_target_knows_its_slide_and_where_it_arrives() -> None:
    slid = [note for note in riff().written if note.reached == "slide"]
    assert [(note.bar, note.opens_bar, note.pitch) for note in slid] == [(2, True, 38)]


def test_a_slide_that_was_plucked_is_told_and_the_notes_are_clean() -> None:
    played = [*PLUCKED, (4.0, 0.9, 38, STRAIGHT), (6.0, 1.9, 40, VIBRATO)]
    found = judge(riff(), 120.0, [row[0] for row in played], [row[2] for row in played], 50.0, hand(played))
    assert found.remarks == ("The slide into bar 2 was plucked.",)
    assert found.clean, "on this pickup the slide's end is a note of its own; the notes are right"
    assert "The slide into bar 2 was plucked." in found.sentence()


def test_as_it_was_played_there_is_nothing_to_say() -> None:
    played = [*PLUCKED[:3], (3.0, 1.9, 33, SLIDE), (6.0, 1.9, 40, VIBRATO)]
    found = judge(riff(), 120.0, [row[0] for row in played], [row[2] for row in played], 50.0, hand(played))
    assert found.clean and found.remarks == ()


def test_a_vibrato_that_was_left_out() -> None:
    played = [*PLUCKED[:3], (3.0, 1.9, 33, SLIDE), (6.0, 1.9, 40, STRAIGHT)]
    found = judge(riff(), 120.0, [row[0] for row in played], [row[2] for row in played], 50.0, hand(played))
    assert found.remarks == ("The vibrato in bar 2 was left out.",)


def test_a_run_may_ask_for_the_techniques() -> None:
    played = [*PLUCKED, (4.0, 0.9, 38, STRAIGHT), (6.0, 1.9, 40, VIBRATO)]
    for asked in (False, True):
        run = PracticeRun(riff(), Plan(120, 120, technique=asked))
        found = run.judge([row[0] for row in played], [row[2] for row in played], hand(played))
        assert found.clean is not asked and "slide" in run.work_on()


def test_a_target_goes_to_another_process_and_back_whole() -> None:
    one = riff()
    other = target_from_dict(one.to_dict())
    assert other.mark == one.mark and other.written == one.written and str(other.cycle) == str(one.cycle)
    second = part_of(one, 2, 2)
    assert (second.first_bar, second.length_q, second.onset_q.tolist()) == (2, 4.0, [2.0])


#: In every beat a plucked note and one that is hammered on from it, softer, without a gap.
HAMMERED = [
    row
    for beat in range(4)
    for row in ((float(beat), 0.5, 33, 95, 3, STRAIGHT), (beat + 0.5, 0.45, 35, 55, 3, STRAIGHT))
]


def test_technique_is_told_while_the_pass_goes_on() -> None:
    """As soon as it is told for sure how a note was reached, it is held against the target's."""
    target = target_of_notes("steps", HAMMERED, parse_cycle("4/4"), 120.0)
    assert [note.reached for note in target.written] == ["pluck", "hammer-on"] * 4
    live = LivePass(target, 120.0, 50.0)
    for number, (onset, _, pitch, *_) in enumerate(HAMMERED[:4]):
        live.hear(number, onset, pitch)
    assert not live.read_hands({}) and not live.read_hands({0: "pluck", 1: "hammer-on"})
    assert live.read_hands({0: "pluck", 1: "hammer-on", 2: "slide", 3: "pluck"})
    assert live.otherwise == {2: "slide", 3: "plucked"}
    assert not live.read_hands({0: "pluck", 1: "hammer-on", 2: "slide", 3: "pluck"})
    # What comes later may tell more of it; what is none of the target's notes is not asked of.
    assert live.read_hands({2: "hammer-on", 3: "pull-off", 9: "slide"}) and live.otherwise == {3: "pull-off"}


def test_a_technique_is_told_in_the_window_while_the_pass_goes_on() -> None:
    one = Player()
    one.told.layer(1, *((onset, long, pitch, velocity, 3) for onset, long, pitch, velocity, *_ in HAMMERED))
    one.key("Insert")
    run = one.state.run
    assert run is not None and [note.reached for note in run.target.written][:2] == ["pluck", "hammer-on"]
    one.begin_pass()
    quarter = 60 / one.qpm
    for onset, long, pitch, velocity, *_ in HAMMERED[:4]:
        # The first hammer-on is one, the second is plucked as hard as the note before, after a gap.
        plucked = onset > 1.0
        length = 0.3 if onset == 1.0 else long
        one.told.note(
            pitch, onset, onset, length, pass_index=one.pass_index, velocity=100 if plucked else velocity,
            stamp_sec=one.start_sec + onset * quarter, string=3,
        )  # fmt: skip
        one.step(onset + 0.01)
    one.step(1.99)
    assert run.live is not None and run.live.verdicts[:4] == ["in time"] * 4
    assert run.live.otherwise == {3: "plucked"} and otherwise(one.view) == {3: "plucked"}
