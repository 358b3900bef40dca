"""Pairing: the rules at the top of ``capture/pairing.py`` one by one, and what holds for any stream
of events.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.events import Event
from loopdeck.capture.notes import NOTE_DTYPE, STRAIGHT_BEND, Notes
from loopdeck.capture.pairing import MAX_BEND_POINTS, Ended, Pairer, Started
from loopdeck.capture.writing import events_of


def on(sec: float, pitch: int, velocity: int = 90, channel: int = 0, port: int = 0) -> Event:
    return Event(sec, port, bytes((0x90 | channel, pitch, velocity)))


def off(sec: float, pitch: int, channel: int = 0, port: int = 0) -> Event:
    return Event(sec, port, bytes((0x80 | channel, pitch, 64)))


def cc(sec: float, controller: int, value: int, channel: int = 0, port: int = 0) -> Event:
    return Event(sec, port, bytes((0xB0 | channel, controller, value)))


def bend(sec: float, value: int, channel: int = 0, port: int = 0) -> Event:
    return Event(sec, port, bytes((0xE0 | channel, value & 0x7F, value >> 7)))


def spans(events: list[Event], end_sec: float | None = None) -> list[tuple[int, float, float]]:
    """(pitch, onset, end) of each note, rounded so that they can be written down."""
    array = pair(events, end_sec).array
    ends = array["onset_sec"] + array["duration_sec"]
    return [
        (int(p), round(a, 9), round(b, 9))
        for p, a, b in zip(array["pitch"], array["onset_sec"].tolist(), ends.tolist(), strict=True)
    ]


# ---- keys ----------------------------------------------------------------------------------------


def test_nothing_played_is_no_notes() -> None:
    assert len(pair([])) == 0
    assert len(pair([cc(0.0, 64, 127)])) == 0


def test_velocity_zero_is_a_note_off() -> None:
    assert spans([on(0.0, 40), on(0.5, 40, velocity=0)]) == [(40, 0.0, 0.5)]


def test_a_second_note_on_of_a_pitch_ends_the_first_and_the_extra_off_is_ignored() -> None:
    events = [on(0.0, 40), on(1.0, 40), off(2.0, 40), off(3.0, 40), on(4.0, 41), off(5.0, 41)]
    assert spans(events) == [(40, 0.0, 1.0), (40, 1.0, 2.0), (41, 4.0, 5.0)]


def test_one_pitch_on_two_channels_or_two_ports_is_two_notes() -> None:
    events = [on(0.0, 45), on(0.1, 45, channel=1), on(0.2, 45, port=1), off(1.0, 45), off(2.0, 45, channel=1)]
    events.append(off(3.0, 45, port=1))
    assert spans(events) == [(45, 0.0, 1.0), (45, 0.1, 2.0), (45, 0.2, 3.0)]


def test_a_note_still_held_is_closed_at_the_end_or_at_the_last_event() -> None:
    events = [on(0.0, 40), on(1.0, 43), off(2.5, 43)]
    assert spans(events) == [(40, 0.0, 2.5), (43, 1.0, 2.5)]
    assert spans(events, end_sec=4.0) == [(40, 0.0, 4.0), (43, 1.0, 2.5)]
    assert spans([on(3.0, 40)], end_sec=1.0) == [(40, 3.0, 3.0)]


def test_notes_stand_in_order_of_onset_however_the_events_came() -> None:
    assert spans([on(2.0, 50), off(3.0, 50), on(0.0, 40), off(1.0, 40)]) == [(40, 0.0, 1.0), (50, 2.0, 3.0)]


def test_channel_and_string_are_kept() -> None:
    events = [on(0.0, 28, channel=3), on(0.0, 43, channel=0), off(1.0, 28, channel=3), off(1.0, 43)]
    assert pair(events).array["channel"].tolist() == [3, 0]
    assert pair(events).array["string"].tolist() == [0, 0]
    assert pair(events, strings={0: 1, 3: 4}).array["string"].tolist() == [4, 1]


def test_what_is_no_whole_channel_message_is_ignored() -> None:
    strays = [b"", b"\x90", b"\x90\x28", b"\xf8", b"\xf0\x01\xf7", b"\x28\x40", b"\xc0\x05", b"\x90\x90\x90", b"\xff"]
    assert [outcome for data in strays for outcome in Pairer().feed(Event(0.0, 0, data))] == []


# ---- pedal and modes -----------------------------------------------------------------------------


def test_the_sustain_pedal_holds_notes_until_it_goes_up() -> None:
    events = [on(0.0, 40), cc(0.1, 64, 64), off(0.2, 40), on(0.5, 43), cc(1.0, 64, 63), off(2.0, 43)]
    assert spans(events) == [(40, 0.0, 1.0), (43, 0.5, 2.0)]


def test_the_pedal_of_another_channel_holds_nothing() -> None:
    assert spans([on(0.0, 40), cc(0.0, 64, 127, channel=1), off(0.2, 40)]) == [(40, 0.0, 0.2)]


def test_a_note_that_only_the_pedal_holds_is_ended_by_its_next_note_on() -> None:
    events = [cc(0.0, 64, 127), on(0.0, 40), off(0.2, 40), on(0.7, 40), off(0.9, 40), cc(1.5, 64, 0)]
    assert spans(events) == [(40, 0.0, 0.7), (40, 0.7, 1.5)]


@pytest.mark.parametrize("controller", [123, 124, 125, 126, 127])
def test_all_notes_off_lets_go_every_key_of_its_channel(controller: int) -> None:
    events = [on(0.0, 40), on(0.0, 43), on(0.0, 40, channel=1), cc(1.0, controller, 0), off(2.0, 40, channel=1)]
    assert spans(events) == [(40, 0.0, 1.0), (43, 0.0, 1.0), (40, 0.0, 2.0)]


def test_all_notes_off_respects_the_pedal_and_all_sound_off_does_not() -> None:
    start = [on(0.0, 40), cc(0.1, 64, 127)]
    assert spans([*start, cc(1.0, 123, 0), cc(2.0, 64, 0)]) == [(40, 0.0, 2.0)]
    assert spans([*start, cc(1.0, 120, 0), cc(2.0, 64, 0), off(3.0, 40)]) == [(40, 0.0, 1.0)]


def test_reset_puts_the_pedal_up_and_the_bend_to_the_centre_but_leaves_the_range() -> None:
    events = [cc(0.0, 101, 0), cc(0.0, 100, 0), cc(0.0, 6, 12), cc(0.0, 64, 127), bend(0.0, 12288)]
    events += [on(0.0, 40), off(0.5, 40), cc(1.0, 121, 0), on(2.0, 41), bend(3.0, 12288), off(4.0, 41)]
    notes = pair(events)
    assert notes.array["duration_sec"].tolist() == [1.0, 2.0]
    assert notes.bends[0].tolist() == [[0.0, 6.0], [1.0, 0.0]]
    assert notes.bends[1].tolist() == [[0.0, 0.0], [1.0, 6.0]]


# ---- bend ----------------------------------------------------------------------------------------


def test_an_unbent_note_has_one_row_of_zeros() -> None:
    assert pair([on(0.0, 40), off(1.0, 40)]).bends[0].tolist() == [[0.0, 0.0]]


def test_bend_is_two_semitones_until_set_and_the_one_in_force_at_the_onset_comes_first() -> None:
    events = [bend(0.0, 0), on(1.0, 40), bend(1.25, 8192), bend(1.5, 12288), off(2.0, 40), bend(3.0, 0)]
    assert pair(events).bends[0].tolist() == [[0.0, -2.0], [0.25, 0.0], [0.5, 1.0]]


def test_several_bends_at_one_instant_count_as_the_last() -> None:
    events = [on(0.0, 40), bend(0.0, 0), bend(0.0, 12288), bend(1.0, 0), bend(1.0, 4096), off(2.0, 40)]
    assert pair(events).bends[0].tolist() == [[0.0, 1.0], [1.0, -1.0]]


def test_bend_moves_only_its_own_channel_of_its_own_port() -> None:
    events = [on(0.0, 40), on(0.0, 45, channel=1), on(0.0, 45, port=1), bend(0.5, 12288, channel=1)]
    curves = [curve.tolist() for curve in pair(events, end_sec=1.0).bends]
    assert curves == [[[0.0, 0.0]], [[0.0, 0.0], [0.5, 1.0]], [[0.0, 0.0]]]


def test_the_range_is_registered_parameter_0_0_in_semitones_and_cents() -> None:
    setting = [cc(0.0, 101, 0), cc(0.0, 100, 0), cc(0.0, 6, 7), cc(0.0, 38, 50)]
    assert pair([*setting, bend(0.0, 0), on(0.0, 40)], end_sec=1.0).bends[0].tolist() == [[0.0, -7.5]]


def test_data_entry_for_another_parameter_leaves_the_range_alone() -> None:
    others = [
        [cc(0.0, 101, 0), cc(0.0, 100, 1), cc(0.0, 6, 9)],
        [cc(0.0, 101, 0), cc(0.0, 100, 0), cc(0.0, 101, 127), cc(0.0, 100, 127), cc(0.0, 6, 9)],
        [cc(0.0, 101, 0), cc(0.0, 100, 0), cc(0.0, 99, 0), cc(0.0, 6, 9)],
        [cc(0.0, 101, 0), cc(0.0, 100, 0), cc(0.0, 98, 0), cc(0.0, 6, 9)],
        [cc(0.0, 6, 9)],
    ]
    for setting in others:
        assert pair([*setting, bend(0.0, 0), on(0.0, 40)], end_sec=1.0).bends[0].tolist() == [[0.0, -2.0]]


def test_a_new_range_moves_a_note_that_is_bent() -> None:
    events = [cc(0.0, 101, 0), cc(0.0, 100, 0), bend(0.0, 12288), on(0.0, 40), cc(0.5, 6, 12), off(1.0, 40)]
    assert pair(events).bends[0].tolist() == [[0.0, 1.0], [0.5, 6.0]]


def test_a_sounding_notes_curve_can_be_asked_for_and_does_not_change_afterwards() -> None:
    pairer = Pairer()
    pairer.feed(on(0.0, 40))
    pairer.feed(bend(0.5, 12288))
    early = pairer.bend_of(0)
    pairer.feed(bend(0.75, 4096))
    assert early.tolist() == [[0.0, 0.0], [0.5, 1.0]]
    assert pairer.bend_of(0).tolist() == [[0.0, 0.0], [0.5, 1.0], [0.75, -1.0]]
    with pytest.raises(LookupError):
        pairer.bend_of(1)


def test_memory_is_bounded_through_an_endless_vibrato_and_many_bent_notes() -> None:
    pairer = Pairer(remember=10)
    pairer.feed(on(0.0, 40))
    for step in range(3 * MAX_BEND_POINTS):
        pairer.feed(bend(0.01 * step + 0.01, 8192 + 1 + step % 2))
    curve = pairer.bend_of(0)
    assert len(curve) <= MAX_BEND_POINTS
    assert curve[0].tolist() == [0.0, 0.0]
    assert curve[-1, 0] == pytest.approx(0.03 * MAX_BEND_POINTS)
    assert np.all(np.diff(curve[:, 0]) > 0.0)
    for number in range(20):
        pairer.feed(on(1000.0 + number, 40))
    assert len(pairer.bend_of(19)) == 1
    assert pairer.bend_of(19)[0, 1] != 0.0
    assert pairer.bend_of(2).tolist() == [[0.0, 0.0]], "forgotten: only ten curves are held"


# ---- any stream ----------------------------------------------------------------------------------

CONTROLLERS = [6, 38, 64, 98, 99, 100, 101, 120, 121, 123, 126, 1]
MESSAGES = st.one_of(
    st.builds(lambda c, p, v: bytes((0x90 | c, p, v)), st.integers(0, 1), st.integers(38, 41), st.integers(0, 3)),
    st.builds(lambda c, p: bytes((0x80 | c, p, 0)), st.integers(0, 1), st.integers(38, 41)),
    st.builds(
        lambda c, n, v: bytes((0xB0 | c, n, v)),
        st.integers(0, 1),
        st.sampled_from(CONTROLLERS),
        st.sampled_from([0, 1, 64, 127]),
    ),
    st.builds(lambda c, v: bytes((0xE0 | c, v & 127, v >> 7)), st.integers(0, 1), st.integers(0, 16383)),
    st.binary(max_size=4),
)
STREAMS = st.lists(
    st.builds(Event, st.integers(0, 40).map(lambda tick: tick / 8.0), st.integers(0, 1), MESSAGES), max_size=60
)


def in_order(events: list[Event]) -> list[Event]:
    return sorted(events, key=lambda event: event.time_sec)


@given(STREAMS)
def test_every_note_that_starts_ends_exactly_once_and_not_before(events: list[Event]) -> None:
    pairer = Pairer()
    outcomes: list[Started | Ended] = []
    for event in events:  # also in disorder, as late stamps of several ports come
        outcomes += pairer.feed(event)
    outcomes += pairer.close(100.0)
    starts = {outcome.id: index for index, outcome in enumerate(outcomes) if isinstance(outcome, Started)}
    ends = [(outcome.id, index) for index, outcome in enumerate(outcomes) if isinstance(outcome, Ended)]
    assert sorted(starts) == list(range(len(starts)))
    assert sorted(identity for identity, _ in ends) == sorted(starts)
    for identity, index in ends:
        assert index > starts[identity]
        assert outcomes[index].time_sec >= outcomes[starts[identity]].time_sec
    assert pairer.sounding() == ()


@given(STREAMS)
def test_one_key_sounds_once(events: list[Event]) -> None:
    pairer = Pairer()
    sounding: dict[int, tuple[int, int, int]] = {}
    for event in events:
        for outcome in pairer.feed(event):
            if isinstance(outcome, Started):
                key = (outcome.port, outcome.channel, outcome.pitch)
                assert key not in sounding.values()
                sounding[outcome.id] = key
            else:
                del sounding[outcome.id]
    assert set(pairer.sounding()) == set(sounding)


@given(STREAMS, st.integers(0, 60))
def test_streaming_gives_what_pairing_afterwards_gives(events: list[Event], asked_at: int) -> None:
    events = in_order(events)
    pairer = Pairer({0: 2, 1: 1})
    starts: list[Started] = []
    ends: dict[int, float] = {}
    for number, event in enumerate(events):
        for outcome in pairer.feed(event):
            if isinstance(outcome, Started):
                starts.append(outcome)
            else:
                ends[outcome.id] = outcome.time_sec
        if number == asked_at:  # looking changes nothing
            for note in starts:
                pairer.bend_of(note.id)
    for ended in pairer.close(9.0):
        ends[ended.id] = ended.time_sec
    notes = pair(events, 9.0, {0: 2, 1: 1})
    expected = [(n.time_sec, ends[n.id] - n.time_sec, n.pitch, n.velocity, n.channel, n.string) for n in starts]
    assert notes.array.tolist() == expected
    for note, curve in zip(starts, notes.bends, strict=True):
        assert np.array_equal(pairer.bend_of(note.id), curve)


@given(STREAMS)
def test_every_curve_starts_at_the_onset_and_only_moves_forward(events: list[Event]) -> None:
    for curve in pair(events).bends:
        assert curve.shape[1] == 2
        assert curve[0, 0] == 0.0
        assert np.all(np.diff(curve[:, 0]) > 0.0)
        assert np.all(np.isfinite(curve))


def test_what_is_written_twice_does_not_cut_the_next_note_of_its_pitch() -> None:
    rows = np.array([(0.0, 1.5, 40, 90, 0, 0), (0.0, 2.0, 40, 90, 0, 0), (1.0, 1.0, 40, 90, 0, 0)], NOTE_DTYPE)
    found = pair(events_of(Notes(rows, (STRAIGHT_BEND,) * 3)))
    assert found.array["duration_sec"].tolist()[1:] == [1.0, 1.0]
