"""The plucked string: it rings and fades, answers velocity, is damped, bends without clicks, and
never runs away.
"""

import numpy as np
import pytest

from loopdeck.synth import pluck
from loopdeck.synth.delay_line import CELL
from loopdeck.synth.events import SoundEvent
from loopdeck.synth.string import SOUNDING
from tests.unit.sound_tools import (
    RATE,
    bend,
    centroid_hz,
    control,
    loud_mixer,
    loudness_db,
    off,
    on,
    peak_hz,
    play,
    render,
)


def test_low_notes_ring_for_seconds_and_high_ones_less() -> None:
    def lost_in_a_second(pitch: int) -> float:
        sound = play(on(0, pitch), seconds=2.0)
        return loudness_db(sound, 0.3, 0.6) - loudness_db(sound, 1.3, 1.6)

    losses = [lost_in_a_second(pitch) for pitch in (23, 28, 40, 52, 64, 72)]
    assert losses == sorted(losses)
    assert 4.0 < losses[1] < 12.0, "an open E falls by 60 dB in 5 to 15 s"
    assert 25.0 < losses[-1] < 60.0


def test_a_tone_grows_round_as_it_rings() -> None:
    sound = play(on(0, 33, 110), seconds=2.5)
    assert centroid_hz(sound[96_000:]) < 0.6 * centroid_hz(sound[:24_000])


def test_velocity_makes_it_louder_and_brighter() -> None:
    soft, middle, hard = (play(on(0, 33, velocity), seconds=0.5) for velocity in (25, 70, 120))
    levels = [loudness_db(sound, 0.0, 0.5) for sound in (soft, middle, hard)]
    assert levels[0] + 6.0 < levels[1] < levels[2] - 4.0
    assert centroid_hz(soft) * 1.1 < centroid_hz(middle) < centroid_hz(hard) / 1.1


def test_the_plucking_place_takes_harmonics_away() -> None:
    """Jaffe & Smith 1983: a string plucked (or heard) at 1/n of its length lacks the n-th
    harmonic.
    """
    harmonics = np.abs(np.fft.rfft(pluck.pluck(28).hard))
    assert harmonics[9] < 0.15 * min(harmonics[7], harmonics[12])  # heard at 0.11 of the length, near a ninth
    assert harmonics[16] < 0.5 * harmonics[13]  # plucked at 0.19: 16 x 0.19 is near 3


def test_letting_go_damps_without_a_click() -> None:
    held, damped = play(on(0, 28, 60), seconds=1.5), play(on(0, 28, 60), off(24_000, 28), seconds=1.5)
    np.testing.assert_array_equal(held[:24_000], damped[:24_000])
    assert loudness_db(damped, 0.75, 0.9) < loudness_db(held, 0.75, 0.9) - 50.0
    assert not damped[48_000:].any()
    assert np.abs(np.diff(damped, 2)).max() <= 1.01 * np.abs(np.diff(held, 2)).max()


def test_note_on_with_velocity_0_is_a_note_off() -> None:
    np.testing.assert_array_equal(
        play(on(0, 28, 60), on(9000, 28, 0), seconds=0.5), play(on(0, 28, 60), off(9000, 28), seconds=0.5)
    )


def test_the_pedal_holds() -> None:
    held = play(control(0, 64, 127), on(0, 40), off(4800, 40), seconds=0.6)
    np.testing.assert_array_equal(held, play(on(0, 40), seconds=0.6))
    released = play(control(0, 64, 127), on(0, 40), off(4800, 40), control(9600, 64, 0), seconds=0.6)
    np.testing.assert_array_equal(released, play(on(0, 40), off(9600, 40), seconds=0.6))
    # A key struck again while the pedal is down and still held when it goes up goes on sounding.
    again = play(control(0, 64, 127), on(0, 40), off(900, 40), on(4800, 40), control(9600, 64, 0), seconds=0.6)
    assert loudness_db(again, 0.4, 0.6) > -40.0


@pytest.mark.parametrize(("controller", "within_sec"), [(120, 0.03), (123, 0.25), (124, 0.25)])
def test_all_off(controller: int, within_sec: float) -> None:
    sound = play(on(0, 40), on(10, 45), control(9600, controller, 0), seconds=0.6)
    assert np.abs(sound[:9600]).max() > 0.1
    assert np.abs(sound[9600 + round(within_sec * RATE) :]).max() < 1e-3


def test_a_dead_note_is_a_short_thump() -> None:
    dead = play(on(0, 33, pluck.DEAD_BELOW - 1), seconds=0.5)
    soft = play(on(0, 33, pluck.DEAD_BELOW), seconds=0.5)
    assert np.abs(dead).max() > np.abs(soft).max(), "a muted string is still struck"
    assert loudness_db(dead, 0.2, 0.3) < loudness_db(dead, 0.0, 0.1) - 35.0
    assert loudness_db(soft, 0.2, 0.3) > loudness_db(soft, 0.0, 0.1) - 10.0


@pytest.mark.parametrize(("wheel", "semitones"), [(8191, 2.0), (4096, 1.0), (-8192, -2.0), (-2048, -0.5)])
def test_bends_reach_their_pitch(wheel: int, semitones: float) -> None:
    for pitch in (28, 48, 72):
        sound = play(on(0, pitch), bend(9600, wheel), seconds=2.0)[14_400:]
        hertz = pluck.frequency(pitch + semitones)
        assert abs(1200 * np.log2(peak_hz(sound, hertz * 0.97, hertz * 1.03) / hertz)) < 2.0


def test_the_bend_range_can_be_set() -> None:
    wide = [control(0, 101, 0), control(0, 100, 0), control(0, 6, 12), control(0, 38, 0)]
    sound = play(*wide, on(0, 40), bend(4800, 8191), seconds=2.0)[14_400:]
    hertz = pluck.frequency(52)
    assert abs(1200 * np.log2(peak_hz(sound, hertz * 0.97, hertz * 1.03) / hertz)) < 3.0
    back = play(*wide, on(0, 40), bend(4800, 8191), control(9600, 121, 0), seconds=2.0)[19_200:]
    hertz = pluck.frequency(40)
    assert abs(1200 * np.log2(peak_hz(back, hertz * 0.97, hertz * 1.03) / hertz)) < 2.0


def test_a_note_begun_bent_is_in_tune_at_once() -> None:
    sound = play(bend(0, 4096), on(0, 45), seconds=1.0)
    hertz = pluck.frequency(46)
    assert abs(1200 * np.log2(peak_hz(sound, hertz * 0.97, hertz * 1.03) / hertz)) < 2.0


@pytest.mark.parametrize("pitch", [28, 45, 67])
def test_slides_and_vibrato_do_not_click(pitch: int) -> None:
    """A click would stand out in the high frequencies, where a ringing bass string has nothing
    left.
    """

    def highs(*bends: SoundEvent) -> float:
        sound = play(on(0, pitch, 100), *bends, seconds=2.0)[48_000:]
        spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
        return float(10.0 * np.log10(spectrum[round(8000 * len(sound) / RATE) :].sum() / spectrum.sum() + 1e-20))

    vibrato = [bend(n, round(1600 * np.sin(2 * np.pi * 6 * n / RATE))) for n in range(48_000, 96_000, 240)]
    slide = [bend(48_000 + n * 96, round(8191 * n / 100)) for n in range(101)]
    jump = [bend(60_000, 8191), bend(80_000, -8192)]
    for bends in (vibrato, slide, jump):
        assert highs(*bends) < -75.0


def test_a_key_struck_again_does_not_pile_up() -> None:
    mixer = loud_mixer()
    mixer.feed(on(n * 960, 40, 127) for n in range(200))
    sound = render(mixer, 200 * 960)
    assert mixer.voices <= 2
    assert np.abs(sound).max() < 0.75


def test_more_notes_than_voices_take_the_one_heard_least() -> None:
    many = [on(100 + n, 40 + n, 120) for n in range(SOUNDING + 3)]

    def sound(*more: SoundEvent) -> np.ndarray:
        mixer = loud_mixer()
        mixer.set_level("live", -24.0)
        mixer.feed([*more, *many])
        heard = render(mixer, 9600)
        assert mixer.voices == SOUNDING
        return heard

    with_soft, without = sound(on(0, 31, 25)), sound()
    # The soft one gave way, within 20 ms of being pushed out, and no other note for it.
    assert np.abs(with_soft - without)[:100].max() > 1e-4
    np.testing.assert_allclose(with_soft[100 + SOUNDING + 960 :], without[100 + SOUNDING + 960 :], atol=1e-6)


def test_a_flood_of_notes_ends_in_silence() -> None:
    mixer = loud_mixer()
    mixer.feed(on(n, n % 128, 127, channel=n % 16) for n in range(300))
    render(mixer, 600)
    assert mixer.voices <= SOUNDING
    mixer.silence()
    assert not render(mixer, 9600, start=600)[4800:].any()


@pytest.mark.parametrize("pitch", [23, 40, 60, 72, 96])
def test_a_note_comes_in_without_a_step(pitch: int) -> None:
    sound = play(on(0, pitch, 127), seconds=0.1)
    assert 0.0 < abs(sound[0]) < 0.01 * np.abs(sound).max()
    assert np.abs(np.diff(sound, prepend=0.0)[:8]).max() < 0.1 * np.abs(sound).max()
    # And yet at once: half the height is there within 3 ms.
    assert np.flatnonzero(np.abs(sound) > 0.5 * np.abs(sound).max())[0] < 0.003 * RATE


def test_every_note_every_bend_stays_finite_and_bounded() -> None:
    for pitch in range(0, 128):
        mixer = loud_mixer()
        mixer.feed([control(0, 101, 0), control(0, 100, 0), control(0, 6, 24), on(0, pitch, 127)])
        mixer.feed(bend(200 + n * 300, (8191, -8192, 0)[n % 3]) for n in range(8))
        sound = render(mixer, 3000)
        assert np.isfinite(sound).all()
        assert 0.05 < np.abs(sound).max() < 0.6


def test_rows_are_free_again_when_the_sound_is_gone() -> None:
    mixer = loud_mixer()
    mixer.feed([on(0, 90, 127), on(0, 33, 10)])
    render(mixer, CELL)
    assert mixer.voices == 2
    render(mixer, 96_000, start=CELL)
    assert mixer.voices == 0
