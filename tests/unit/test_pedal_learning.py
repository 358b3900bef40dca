"""A switch learned by pressing it: which it is, how it was pressed, what rattles; and the control
map that comes of it.
"""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck import configs
from loopdeck.midi.control_edit import act_at, controls_to_toml, joined, same_act, switch_of, with_act, without_act
from loopdeck.midi.control_files import controls_from_toml, load_controls
from loopdeck.midi.controls import Act, ControlMap, Pedals
from loopdeck.midi.learning import DOUBLE, LONG, SHORT, Learned, Learner, SwitchMessage, sent_of

CC = SwitchMessage("control change", 64, 1, 127)


def cc(value: int, number: int = 64, channel: int = 0) -> bytes:
    return bytes((0xB0 | channel, number, value))


def learn(*messages: tuple[float, bytes], until: float = 10.0, learner: Learner | None = None) -> Learner:
    """Feed the messages, and let time pass in steps of 5 ms between and after them."""
    learner = learner or Learner()
    rest = list(messages)
    now = 0.0
    while now <= until and (learner.result is None or rest):
        while rest and rest[0][0] <= now:
            learner.hear(*rest.pop(0))
        learner.tick(now)
        now += 0.005
    return learner


def press(at: float, length: float, number: int = 64) -> list[tuple[float, bytes]]:
    return [(at, cc(127, number)), (at + length, cc(0, number))]


@pytest.mark.parametrize("gap_ms", [2, 4, 7, 11])
@pytest.mark.parametrize("count", [2, 3, 5, 8])
def test_contacts_that_chatter_are_no_double_press(gap_ms: int, count: int) -> None:
    """On and off again within hundredths of a second: one short press, or what rattles is told."""
    rows = [(1.0 + index * gap_ms / 1000, cc(127 * (index % 2 == 0))) for index in range(2 * count)]
    learner = learn(*rows)
    if learner.result is None:
        assert learner.wrong and "rattle" in learner.says
    else:
        assert learner.result.press == SHORT


@pytest.mark.parametrize(
    ("messages", "found"),
    [
        (press(1.0, 0.2), Learned(CC, SHORT)),
        (press(1.0, 0.05), Learned(CC, SHORT)),
        (press(1.0, 0.9), Learned(CC, LONG)),
        ([*press(1.0, 0.1), *press(1.3, 0.1)], Learned(CC, DOUBLE)),
        # Two presses far apart are two.
        ([*press(1.0, 0.1), *press(2.0, 0.1)], Learned(CC, SHORT)),
        # It stays down: only the second press brings it up again.
        ([(1.0, cc(127)), (5.0, cc(0))], Learned(CC, SHORT, latching=True)),
        # It tells of presses only.
        ([(1.0, cc(127)), (1.25, cc(127))], Learned(CC, DOUBLE, lets_go=False)),
        ([(1.0, cc(127)), (5.0, cc(127))], Learned(CC, SHORT, lets_go=False)),
        ([(1.0, bytes((0xC3, 4)))], Learned(SwitchMessage("program change", 5, 4, 0), SHORT, lets_go=False)),
        (
            [(1.0, bytes((0xC3, 4))), (1.2, bytes((0xC3, 4)))],
            Learned(SwitchMessage("program change", 5, 4, 0), DOUBLE, lets_go=False),
        ),
        (
            [(1.0, bytes((0x99, 36, 80))), (1.1, bytes((0x89, 36, 0)))],
            Learned(SwitchMessage("note", 36, 10, 80), SHORT),
        ),
        (
            [(1.0, bytes((0x99, 36, 80))), (1.1, bytes((0x99, 36, 0)))],
            Learned(SwitchMessage("note", 36, 10, 80), SHORT),
        ),
    ],
)
def test_what_was_pressed_and_how(messages: list[tuple[float, bytes]], found: Learned) -> None:
    assert learn(*messages).result == found


def test_what_a_pedal_sends_is_said() -> None:
    assert CC.words == "CC 64 value 127, channel 1"
    assert SwitchMessage("note", 36, 10, 80).words == "note 36 (C2) velocity 80, channel 10"
    assert SwitchMessage("program change", 5, 4, 0).words == "program 5, channel 4"
    learner = learn((1.0, cc(127)), until=1.2)
    assert learner.sent is not None and learner.sent.words == "CC 64 value 127, channel 1"
    learner.hear(1.3, cc(0))
    assert learner.sent.words == "CC 64 value 0, channel 1"


def test_a_release_of_before_and_what_no_switch_sends_is_not_taken() -> None:
    learner = learn((0.5, cc(0)), (0.6, bytes((0xE0, 0, 64))), (0.7, bytes((0xF8,))), (0.8, cc(127, 123)), until=2.0)
    assert learner.sent is None and learner.result is None
    assert sent_of(bytes((0xD0, 64))) is None


@given(st.lists(st.floats(0.0005, 0.02), max_size=8), st.lists(st.floats(0.0005, 0.02), max_size=8))
def test_contacts_that_rattle_for_a_moment_are_one_press(down: list[float], up: list[float]) -> None:
    """At most five changes within the 25 ms in which contacts come to rest."""
    moments = [(1.0, 127)]
    for start, gaps, first in ((1.0, down, 0), (1.3, up, 127)):
        if start > 1.0:
            moments.append((start, 0))
        at, value = start, first
        for gap in gaps[:2]:
            at += gap / 2
            moments.append((at, value))
            value = 127 - value
        if moments[-1][1] != (127 if start == 1.0 else 0):
            moments.append((at + 0.001, 127 if start == 1.0 else 0))
    learner = learn(*((sec, cc(value)) for sec, value in moments))
    assert learner.result == Learned(CC, SHORT)


def test_contacts_that_rattle_for_long_are_said_and_given_more_time() -> None:
    chatter = [(1.0 + 0.03 * step, cc(127 if step % 2 == 0 else 0)) for step in range(10)]
    learner = learn(*chatter, until=3.0)
    assert learner.result is None and learner.wrong and "rattle" in learner.says
    again = [(4.0, cc(127)), (4.03, cc(0)), (4.06, cc(127)), (4.4, cc(0)), (4.43, cc(127)), (4.46, cc(0))]
    learn(*again, learner=learner)
    assert learner.result == Learned(CC, SHORT, rattles=True)
    switch = with_act(ControlMap("a", ()), learner.result, Act("keep", {})).switches[0]
    assert switch.debounce_sec == 0.1


def test_a_pedal_that_moves_is_no_switch() -> None:
    learner = learn(*((1.0 + step / 50, cc(60 + step, 11)) for step in range(20)), until=2.0)
    assert learner.result is None and learner.wrong and "CC 11 moves through many values" in learner.says
    assert learn(*press(3.0, 0.2), learner=learner).result == Learned(CC, SHORT)


def test_a_held_switch_says_so() -> None:
    assert learn((1.0, cc(127)), until=1.8).says == "Held: let it go."
    assert learn((1.0, cc(127)), until=4.2).says.startswith("Is your foot off?")


def test_time_to_ask_again_is_told() -> None:
    learner = Learner()
    assert learner.next_due() is None
    learner.hear(1.0, cc(127))
    assert learner.next_due() == pytest.approx(1.6)
    learner.tick(1.6)
    assert learner.next_due() == pytest.approx(4.0)
    learner.tick(4.0)
    assert learner.next_due() is None
    learner = Learner()
    learner.hear(1.0, cc(127)), learner.hear(1.1, cc(0))
    assert learner.next_due() == pytest.approx(1.45, abs=1e-3)


# ---- the map -------------------------------------------------------------------------------------


def test_presses_of_one_switch_share_it() -> None:
    controls = with_act(ControlMap("mine", ()), Learned(CC, SHORT), Act("loop-that", {}))
    (switch,) = controls.switches
    assert switch.command == Act("loop-that", {}) and switch.short is None, "alone it acts at the press"
    controls = with_act(controls, Learned(CC, LONG), Act("keep", {"passes": 4}))
    (switch,) = controls.switches
    assert (switch.command, switch.short) == (None, Act("loop-that", {})), "told apart it acts when it is let go"
    assert switch.long == Act("keep", {"passes": 4})
    controls = with_act(controls, Learned(CC._replace(channel=2), SHORT), Act("undo", {}))
    assert [one.channel for one in controls.switches] == [1, 2]
    assert controls_from_toml(controls_to_toml(controls), "mine") == controls


def test_a_switch_that_tells_of_presses_only_always_acts_at_the_press() -> None:
    first = with_act(ControlMap("mine", ()), Learned(CC, SHORT, lets_go=False), Act("layer", {}))
    both = with_act(first, Learned(CC, DOUBLE, lets_go=False), Act("undo", {}))
    (switch,) = both.switches
    assert switch.command == Act("layer", {}) and switch.double == Act("undo", {})


def test_what_was_learned_is_obeyed_as_it_was_pressed() -> None:
    controls = ControlMap("mine", ())
    for how, act in ((SHORT, "loop-that"), (LONG, "keep"), (DOUBLE, "undo")):
        controls = with_act(controls, Learned(CC, how), Act(act, {}))
    for messages, wanted in (
        (press(1.0, 0.2), "loop-that"),
        (press(1.0, 0.9), "keep"),
        ([*press(1.0, 0.1), *press(1.3, 0.1)], "undo"),
    ):
        pedals, orders = Pedals(controls), []
        for sec, data in messages:
            orders += pedals.message(sec, data)[1]
        orders += pedals.tick(3.0)
        assert [one.act.command for one in orders] == [wanted]


@pytest.mark.parametrize("name", configs.names("controls"))
def test_every_map_of_ours_is_written_and_read_back(name: str) -> None:
    controls = load_controls(name)
    assert controls_from_toml(controls_to_toml(controls), name) == controls


def test_a_latching_switch_and_what_stops_it_are_written() -> None:
    controls = with_act(ControlMap("mine", (), 'a "board"'), Learned(CC, SHORT, latching=True), Act("layer", {}, Act("start", {"bars": 0})))  # fmt: skip
    assert controls.switches[0].latching
    assert controls_from_toml(controls_to_toml(controls), "mine") == controls


def test_what_a_switch_does_already_is_found() -> None:
    controls = load_controls("four-switch")
    sent = SwitchMessage("control change", 80, 7, 127)
    assert act_at(switch_of(controls, sent), SHORT) == Act("start-stop", {})
    assert act_at(switch_of(controls, sent), LONG) is None
    assert switch_of(controls, CC) is None and switch_of(None, CC) is None


def test_an_act_is_taken_away_and_an_idle_switch_goes() -> None:
    controls = load_controls("four-switch")
    less = without_act(controls, "layer", {})
    assert less.switches[1].long is None and less.switches[1].short is not None
    assert len(without_act(controls, "start-stop", {}).switches) == 3
    assert same_act(Act("keep", {"passes": 4}), "keep", {"passes": 4}) and not same_act(Act("keep", {}), "keep", {"passes": 4})  # fmt: skip


def test_two_maps_are_joined_without_a_switch_twice(tmp_path: Path) -> None:
    four = load_controls("four-switch")
    mine = with_act(
        ControlMap("mine", ()), Learned(SwitchMessage("control change", 80, 3, 127), SHORT), Act("undo", {})
    )
    mine = with_act(mine, Learned(CC, SHORT), Act("redo", {}))
    found = joined(four, mine)
    assert len(found.switches) == 5 and found.switches[-1].number == 64
    assert controls_from_toml(controls_to_toml(found), "x").switches == found.switches
