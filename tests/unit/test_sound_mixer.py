"""The mixer: exact to the sample, the same however time is cut, quiet at first, never beyond full
scale.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.errors import UserError
from loopdeck.synth.events import HIGHEST, LOWEST, EventQueue, SoundEvent, layer_number, layer_part
from loopdeck.synth.mixer import HEADROOM, MASTER_START, Mixer, factor
from tests.unit.sound_tools import RATE, bend, control, loud_mixer, loudness_db, off, on, play, render

PARTS = ("click", "drums", "live", "layer:1", "layer:2", "layer:8")

messages = st.one_of(
    st.builds(lambda c, p, v: bytes((0x90 | c, p, v)), st.integers(0, 2), st.integers(0, 127), st.integers(0, 127)),
    st.builds(lambda c, p: bytes((0x80 | c, p, 0)), st.integers(0, 2), st.integers(0, 127)),
    st.builds(lambda c, a, b: bytes((0xE0 | c, a, b)), st.integers(0, 2), st.integers(0, 127), st.integers(0, 127)),
    st.builds(
        lambda c, n, v: bytes((0xB0 | c, n, v)),
        st.integers(0, 2),
        st.sampled_from([1, 6, 38, 64, 98, 100, 101, 120, 121, 123, 127]),
        st.integers(0, 127),
    ),
    st.binary(max_size=4),
)
events = st.lists(st.builds(SoundEvent, st.integers(-500, 5000), st.sampled_from(PARTS), messages), max_size=40)

SONG = [
    on(0, 28), on(10, 76, 110, "click"), on(333, 40, 90, "layer:1", 1), on(334, 36, 120, "drums"), bend(700, 3000),
    bend(1100, -5000), off(1500, 28), on(2001, 46, 100, "drums"), on(2600, 42, 100, "drums"), on(2600, 72, 127, "layer:2", 2),
    on(2601, 100, 60, "layer:2", 2), control(3000, 64, 127), on(3100, 33, 10), off(3300, 33), control(4000, 120, 0),
    on(4097, 37, 80, "click"),
]  # fmt: skip


@pytest.mark.parametrize("block", [1, 37, 64, 128, 200, 256, 1024])
def test_blocks_of_any_size_give_the_same_bits(block: int) -> None:
    whole, cut = loud_mixer(), loud_mixer()
    whole.feed(SONG)
    frames = 1500 if block == 1 else 6000
    expected = whole.render(0, frames)
    assert np.abs(expected).max() > 0.1
    got = []
    # Each event is fed only when the block that it belongs to comes, as in live playing.
    for at in range(0, frames, block):
        count = min(block, frames - at)
        cut.feed(event for event in SONG if at <= event.sample < at + count)
        got.append(cut.render(at, count))
    np.testing.assert_array_equal(np.concatenate(got), expected)


@settings(max_examples=25, deadline=None)
@given(events, st.lists(st.integers(1, 700), min_size=1, max_size=12))
def test_any_events_in_any_blocks(fed: list[SoundEvent], blocks: list[int]) -> None:
    whole, cut = loud_mixer(), loud_mixer()
    whole.feed(fed)
    cut.feed(fed)
    at, got = 0, []
    for block in blocks:
        got.append(cut.render(at, block))
        at += block
    expected = whole.render(0, at)
    np.testing.assert_array_equal(np.concatenate(got), expected)
    assert expected.dtype == np.float32 and expected.shape == (at, 2)
    assert np.isfinite(expected).all() and np.abs(expected).max() <= 1.0


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 100), st.integers(1, 60), st.lists(st.integers(0, 127), min_size=1, max_size=20))
def test_nothing_leaves_full_scale(gap: int, times: int, pitches: list[int]) -> None:
    mixer = Mixer()
    for part in ("master", *PARTS):
        mixer.set_level(part, HIGHEST)
    for number, part in enumerate(PARTS):
        mixer.feed(on(n * gap, pitch, 127, part, number) for n in range(times) for pitch in (36, 76, *pitches))
    sound = render(mixer, 6000)
    assert np.isfinite(sound).all()
    assert 0.5 < np.abs(sound).max() <= 1.0


@pytest.mark.parametrize("part", ["click", "drums", "live", "layer:3"])
@pytest.mark.parametrize("sample", [0, 1, 63, 127, 128, 4711, 10_001])
def test_a_sound_begins_exactly_at_its_sample(part: str, sample: int) -> None:
    mixer = Mixer()
    mixer.feed([on(sample, 37, 64, part)])
    sound = render(mixer, sample + 300, 256)
    assert np.flatnonzero(sound[:, 0])[0] == sample
    assert np.flatnonzero(sound[:, 1])[0] == sample


def test_two_hundred_clicks_each_at_its_sample() -> None:
    mixer = Mixer()
    places = [round(n * 12_345.678) for n in range(200)]
    mixer.feed(on(place, (76, 77, 37, 75)[n % 4], 80, "click") for n, place in enumerate(places))
    sound = render(mixer, places[-1] + 100, 8192)[:, 0]
    heard = np.flatnonzero(sound)
    begun = heard[np.diff(heard, prepend=-10_000) > 1000]
    assert begun.tolist() == places


def test_events_in_any_order_and_late_ones_at_once() -> None:
    mixer = loud_mixer()
    mixer.render(0, 1000)
    mixer.feed([on(1200, 76, 100, "click"), on(1100, 37, 100, "click"), on(3, 30, 100)])
    sound = render(mixer, 600, start=1000)
    assert sound[0, 0] != 0.0
    mixer = loud_mixer()
    mixer.render(0, 1000)
    mixer.feed([on(1100, 37, 100, "click")])
    assert np.flatnonzero(render(mixer, 300, start=1000)[:, 0])[0] == 100


def test_a_gap_in_the_blocks_loses_no_event() -> None:
    mixer = loud_mixer()
    mixer.feed([on(900, 76, 100, "click"), on(700, 40), on(2100, 37, 100, "click")])
    assert not mixer.render(0, 512).any()
    after = mixer.render(2000, 512)
    assert after[0].any()
    assert mixer.voices == 1


def test_it_starts_quiet() -> None:
    mixer = Mixer()
    mixer.feed([on(0, 28, 127)])
    loudest = 20.0 * np.log10(np.abs(render(mixer, 9600)).max())
    assert mixer.level("master") == MASTER_START
    assert MASTER_START + HEADROOM - 3.0 < loudest <= MASTER_START + HEADROOM + 0.1


def test_levels_are_decibels() -> None:
    def loudness(decibels: float) -> float:
        mixer = loud_mixer()
        mixer.set_level("live", decibels)
        mixer.feed([on(0, 40)])
        return loudness_db(render(mixer, 9600)[:, 0].astype(float), 0.0, 0.2)

    assert loudness(-20.0) - loudness(-5.0) == pytest.approx(-15.0, abs=0.01)
    assert loudness(LOWEST) - loudness(0.0) == pytest.approx(LOWEST, abs=0.01)


@pytest.mark.parametrize("part", ["click", "drums", "live", "layer:1"])
def test_each_part_and_the_master_can_be_muted(part: str) -> None:
    for muted in (part, "master"):
        mixer = loud_mixer()
        mixer.set_mute(muted, True)
        assert mixer.muted(muted) and not mixer.muted("layer:7")
        mixer.feed([on(2048, 42, 100, part)])
        assert not render(mixer, 9600).any()
    mixer = loud_mixer()
    mixer.set_mute("layer:5", True)
    mixer.feed([on(0, 42, 100, part)])
    assert np.abs(render(mixer, 2000)).max() > 0.01


def test_muting_while_it_sounds_is_quick_but_does_not_click() -> None:
    def steepest(mute: bool) -> float:
        mixer = loud_mixer()
        mixer.feed([on(0, 28, 40)])
        before = render(mixer, 24_000, 256)
        mixer.set_mute("live", mute)
        after = render(mixer, 9600, 256, 24_000)
        if mute:
            assert not after[4800:].any()
        else:
            assert after[4800:].any()
        return float(np.abs(np.diff(np.concatenate((before[12_000:], after))[:, 0].astype(float), 2)).max())

    assert steepest(True) < 1.5 * steepest(False)


def test_layers_stand_apart_and_the_rest_in_the_middle() -> None:
    def sides(part: str) -> float:
        mixer = loud_mixer()
        mixer.feed([on(0, 42, 100, part)])
        left, right = np.abs(render(mixer, 4000)).sum(axis=0)
        return float(left / right)

    assert sides("live") == sides("click") == sides("drums") == 1.0
    assert sides("layer:1") > 1.2 and sides("layer:2") < 1 / 1.2


def test_silence_cuts_everything_off() -> None:
    mixer = loud_mixer()
    mixer.feed([on(0, 28, 127), on(0, 46, 127, "drums"), on(9000, 76, 127, "click"), control(100, 64, 127)])
    assert np.abs(render(mixer, 4096)).max() > 0.1
    mixer.silence()
    assert not render(mixer, 12_000, start=4096)[2400:].any()
    assert mixer.voices == 0


def test_what_is_no_part_or_no_level_is_refused_in_a_sentence() -> None:
    mixer = Mixer()
    for part in ("layer:0", "layer:", "bass", "layer:1x", ""):
        with pytest.raises(UserError, match=r"There is no part .* layer:1"):
            mixer.feed([on(0, 40), on(0, 40, part=part)])
        with pytest.raises(UserError):
            mixer.set_mute(part, True)
    assert not mixer.render(0, 300).any(), "none of the refused events may sound"
    for level in (float("nan"), float("inf"), 12.5, -61.0):
        with pytest.raises(UserError, match=r"-60 to 12 dB would be right\."):
            mixer.set_level("live", level)
    with pytest.raises(UserError, match="32000 to 96000"):
        Mixer(8000)


@pytest.mark.parametrize("rate", [32_000, 44_100, 96_000])
def test_other_rates(rate: int) -> None:
    mixer = Mixer(rate)
    mixer.feed([on(777, 33, 100), on(50, 76, 100, "click"), on(60, 72, 100)])
    sound = mixer.render(0, 4000)
    assert np.flatnonzero(sound[:, 0])[0] == 50
    assert mixer.voices == 2


def test_parts() -> None:
    assert layer_number(layer_part(12)) == 12
    assert layer_number("drums") is None
    assert factor(-20.0) == pytest.approx(0.1)


def test_the_queue_keeps_order() -> None:
    queue = EventQueue()
    queue.push([on(5, 1), on(2, 2), on(5, 3)])
    queue.push([on(4, 4), on(5, 5), off(1, 6)])
    assert queue.next_note_on(100) == 2 and queue.next_note_on(2) == 2
    assert [event.data[1] for event in queue.take(5)] == [6, 2, 4]
    assert len(queue) == 3
    assert [event.data[1] for event in queue.take(6)] == [1, 3, 5]
    assert queue.next_note_on(100) == 100


def test_rendering_is_the_same_every_time() -> None:
    np.testing.assert_array_equal(play(*SONG, seconds=0.2), play(*SONG, seconds=0.2))
    assert len(play(*SONG, seconds=0.2)) == 0.2 * RATE


def test_a_block_with_more_strokes_than_a_kit_has_room_for_loses_none() -> None:
    """Forty strokes in a block of two seconds, each over before the next: all are heard, as in
    blocks of 128.
    """
    strokes = [on(1000 + 2400 * index, 42, 100, "drums") for index in range(40)]
    whole, cut = loud_mixer(), loud_mixer()
    whole.feed(strokes)
    cut.feed(strokes)
    sound = whole.render(0, 96_000)
    np.testing.assert_array_equal(sound, np.concatenate([cut.render(at, 128) for at in range(0, 96_000, 128)]))
    assert all(np.abs(sound[1000 + 2400 * index : 1400 + 2400 * index]).max() > 0.01 for index in range(40))
