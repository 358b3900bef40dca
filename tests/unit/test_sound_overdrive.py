"""The overdriven guitar: how little folds back, how loud it is beside the plain string, and that
time may be cut anywhere.
"""

import numpy as np
import pytest

from loopdeck.export import driven
from loopdeck.export.driven import split_guitars
from loopdeck.synth.events import SoundEvent
from loopdeck.synth.mixer import Mixer
from loopdeck.synth.overdrive import DELAY, Overdrive, shaped

RATE = 48_000
CHORD = (40, 47, 52)
GUITAR, BASS = 29, 33


def _events(program: int, at: int = 500, velocity: int = 92) -> list[SoundEvent]:
    notes = [SoundEvent(at, "layer:1", bytes((0x90, pitch, velocity))) for pitch in CHORD]
    return [SoundEvent(0, "layer:1", bytes((0xC0, program))), *notes]


def _rms(samples: np.ndarray) -> float:
    return float(20 * np.log10(np.sqrt((samples.astype(float) ** 2).mean()) + 1e-12))


@pytest.mark.parametrize("hertz", [997.0, 2500.0, 4186.0])
def test_what_folds_back_is_60_db_below_the_tone(hertz: float) -> None:
    """An overtone above half the rate comes back at a place that is not a multiple of the tone
    (sampling theorem).
    """
    tone = 0.5 * np.sin(2 * np.pi * hertz * np.arange(RATE) / RATE)
    driven = Overdrive(RATE).drive(tone)[4800 : 4800 + 32768]
    spectrum = np.abs(np.fft.rfft(driven * np.blackman(32768)))
    places = np.fft.rfftfreq(32768, 1 / RATE)
    away = np.abs(places - np.round(places / hertz) * hertz) > 12
    loudest = spectrum.max()
    assert 20 * np.log10(spectrum[away & (places > 30)].max() / loudest) < -60
    # And it is driven: there are overtones.
    third = np.abs(places - 3 * hertz) < 12
    if 3 * hertz < 5000:
        assert 20 * np.log10(spectrum[third].max() / loudest) > -30


def test_without_oversampling_it_would_fold_back() -> None:
    tone = np.sin(2 * np.pi * 4186.0 * np.arange(RATE) / RATE)
    spectrum = np.abs(np.fft.rfft(shaped(7 * tone)[:32768] * np.blackman(32768)))
    places = np.fft.rfftfreq(32768, 1 / RATE)
    away = np.abs(places - np.round(places / 4186.0) * 4186.0) > 12
    assert 20 * np.log10(spectrum[away & (places > 30)].max() / spectrum.max()) > -50


def test_a_driven_chord_is_as_loud_as_a_plain_one() -> None:
    levels = []
    for program in (BASS, GUITAR):
        mixer = Mixer(RATE)
        mixer.feed(_events(program))
        levels.append(_rms(mixer.render(0, RATE)))
    assert abs(levels[0] - levels[1]) < 2.0
    # Quiet at the start: the master begins low.
    assert max(levels) < -27


def test_cutting_time_into_blocks_changes_nothing() -> None:
    whole, pieces = Mixer(RATE), Mixer(RATE)
    for mixer in (whole, pieces):
        mixer.feed(_events(GUITAR))
        mixer.set_level("master", 0.0)
    expected = whole.render(0, 9000)
    found, at = [], 0
    for size in (1, 127, 500, 372, 3000, 5000):
        found.append(pieces.render(at, size))
        at += size
    assert np.allclose(np.concatenate(found), expected, atol=1e-6)
    first = np.flatnonzero(np.abs(expected).max(axis=1) > 1e-4)[0]
    assert 500 <= first <= 500 + DELAY + 32


def test_it_is_silent_when_muted_let_go_or_cut_off() -> None:
    mixer = Mixer(RATE)
    mixer.feed(_events(GUITAR))
    mixer.render(0, 4800)
    mixer.set_mute("layer:1", True)
    mixer.render(4800, 4800)
    assert not np.abs(mixer.render(9600, 4800)).max() > 1e-5
    mixer.set_mute("layer:1", False)
    mixer.feed(SoundEvent(14_400, "layer:1", bytes((0x80, pitch, 0))) for pitch in CHORD)
    mixer.render(14_400, 2 * RATE)
    assert mixer.voices == 0
    assert not np.abs(mixer.render(14_400 + 2 * RATE, 4800)).max() > 1e-6


def test_another_program_makes_it_plain_again_and_other_parts_are_left_alone() -> None:
    mixer, plain = Mixer(RATE), Mixer(RATE)
    other = [SoundEvent(100, "live", bytes((0x90, 40, 90)))]
    mixer.feed([SoundEvent(0, "layer:1", bytes((0xC0, GUITAR))), SoundEvent(1, "layer:1", bytes((0xC0, BASS))), *other])
    plain.feed(other)
    assert np.array_equal(mixer.render(0, 4800), plain.render(0, 4800))


def test_a_note_from_before_the_change_ends_and_the_guitar_is_cut_after_it() -> None:
    rows = [(0, 0x90, 40, 90), (4800, 0xC0, GUITAR), (9600, 0x80, 40, 0), (9600, 0x90, 47, 90), (14_400, 0xC0, BASS)]
    events = [SoundEvent(at, "layer:1", bytes(data)) for at, *data in rows]
    mixer = Mixer(RATE)
    mixer.feed(events)
    mixer.render(0, 3 * RATE)
    assert mixer.voices == 0
    plain, guitars = split_guitars(events)
    assert [event.data[:2] for event in plain] == [b"\x90(", b"\x80("]
    assert [event.data[:2] for event in guitars["layer:1", 0]] == [b"\x80(", b"\x90/", b"\xb0x"]


def test_what_was_set_before_is_looked_for_once_a_guitar(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(driven, "_sets", lambda event, place: bool(asked.append(event)))
    notes = [SoundEvent(at, "live", bytes((0x90 | at % 2, 40, 90))) for at in range(200)]
    split_guitars([SoundEvent(0, "live", bytes((0xC1, GUITAR))), *notes])
    assert len(asked) <= 200
