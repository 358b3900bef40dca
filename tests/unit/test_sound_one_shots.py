"""Click and drums: told apart by ear, begin with their first sample, the same every time."""

from itertools import combinations

import numpy as np
import pytest

from loopdeck.looper.strokes import CLICK_NOTES
from loopdeck.synth.click import BAR, BEAT, BETWEEN, GROUP, KINDS, click_sounds
from loopdeck.synth.drums import BASS_DRUM, CLOSED_HAT, OPEN_HAT, SIDE_STICK, SNARE, drum_sounds
from loopdeck.synth.one_shots import MOST, OneShots
from tests.unit.sound_tools import RATE, centroid_hz, control, loudness_db, off, on, peak_hz, play


def length_sec(sound: np.ndarray) -> float:
    """How long a sound stays above a hundredth of its peak."""
    return float(np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())[-1] / RATE)


def test_the_looper_s_clicks_are_ours() -> None:
    assert {KINDS[note] for note in CLICK_NOTES.values()} == set(CLICK_NOTES)
    assert all(KINDS[note] == kind for kind, note in CLICK_NOTES.items())


def test_clicks_differ_in_pitch_and_length_and_colour() -> None:
    bar, group, beat = (play(on(0, note, 100, "click"), seconds=0.2) for note in (BAR, GROUP, BEAT))
    pitches = [peak_hz(sound[:4800], 200, 8000) for sound in (bar, group, beat)]
    # At least a major third apart, and falling.
    assert pitches[0] > 1.26 * pitches[1] > 1.26**2 * pitches[2]
    lengths = [length_sec(sound) for sound in (bar, group, beat)]
    assert lengths[0] > 1.3 * lengths[1] > 1.3**2 * lengths[2]
    colours = [centroid_hz(sound[:2048]) / pitch for sound, pitch in zip((bar, group, beat), pitches, strict=True)]
    # How far the weight lies above the pitch: a bell, a hollow tone, a knock with noise.
    assert all(max(a, b) > 1.1 * min(a, b) for a, b in combinations(colours, 2)), colours


def test_what_lies_between_beats_is_softest_and_shortest() -> None:
    between, beat = (play(on(0, note, 100, "click"), seconds=0.2) for note in (BETWEEN, BEAT))
    assert length_sec(between) < length_sec(beat)
    assert loudness_db(between, 0.0, 0.05) < loudness_db(beat, 0.0, 0.05) - 3.0


def test_any_other_note_clicks_as_a_beat() -> None:
    np.testing.assert_array_equal(
        play(on(0, 60, 100, "click"), seconds=0.1), play(on(0, BEAT, 100, "click"), seconds=0.1)
    )


@pytest.mark.parametrize("sounds", [click_sounds(RATE), drum_sounds(RATE)])
def test_every_sound_begins_at_once_ends_at_rest_and_stays_in_bounds(sounds: dict[int, tuple[np.ndarray, ...]]) -> None:
    for layers in sounds.values():
        for sound in layers:
            assert abs(sound[0]) >= 1e-3
            assert sound[-1] == 0.0
            assert 0.4 < np.abs(sound).max() <= 1.0 + 1e-9 and not sound.flags.writeable


def test_sounds_are_the_same_every_time() -> None:
    for note, layers in drum_sounds(RATE).items():
        for sound, again in zip(layers, drum_sounds(RATE)[note], strict=True):
            np.testing.assert_array_equal(sound, again)


def test_the_kit_has_its_voices() -> None:
    made = {
        note: play(on(0, note, 110, "drums"), seconds=1.0)
        for note in (BASS_DRUM, SIDE_STICK, SNARE, CLOSED_HAT, OPEN_HAT)
    }
    assert 40.0 < peak_hz(made[BASS_DRUM][2400:], 20, 2000) < 70.0
    colours = [centroid_hz(made[note][:2400]) for note in (BASS_DRUM, SNARE, CLOSED_HAT)]
    assert colours == sorted(colours) and colours[0] < 1000 and colours[2] > 6000
    assert length_sec(made[OPEN_HAT]) > 3.0 * length_sec(made[CLOSED_HAT])
    assert length_sec(made[SIDE_STICK]) < 0.5 * length_sec(made[SNARE])


def test_other_notes_are_silent_and_note_offs_do_not_stop() -> None:
    assert not play(on(0, 60, 100, "drums"), seconds=0.1).any()
    np.testing.assert_array_equal(
        play(on(0, OPEN_HAT, 100, "drums"), off(100, OPEN_HAT, "drums"), seconds=0.3),
        play(on(0, OPEN_HAT, 100, "drums"), seconds=0.3),
    )


def test_softer_is_quieter_and_duller() -> None:
    for note in (SNARE, BASS_DRUM):
        soft, hard = (play(on(0, note, velocity, "drums"), seconds=0.2) for velocity in (20, 120))
        assert loudness_db(soft, 0.0, 0.2) < loudness_db(hard, 0.0, 0.2) - 12.0
        assert centroid_hz(soft[:960]) < 0.8 * centroid_hz(hard[:960])


def test_the_closed_hat_stops_the_open_one() -> None:
    rings = play(on(0, OPEN_HAT, 120, "drums"), seconds=0.6)
    stopped = play(on(0, OPEN_HAT, 120, "drums"), on(4801, CLOSED_HAT, 1, "drums"), seconds=0.6)
    np.testing.assert_array_equal(rings[:4801], stopped[:4801])
    assert loudness_db(stopped, 0.11, 0.2) < loudness_db(rings, 0.11, 0.2) - 25.0


def test_all_sound_off() -> None:
    sound = play(on(0, OPEN_HAT, 120, "drums"), control(4800, 120, 0, "drums"), seconds=0.6)
    assert sound[4700:4800].any() and not sound[4800 + 400 :].any()


def test_a_flood_stays_small() -> None:
    shots = OneShots(drum_sounds(RATE))
    for n in range(1000):
        shots.play(n, bytes((0x99, OPEN_HAT, 127)))
    assert np.abs(shots.render(0, 2000)).max() <= 2 * MOST
