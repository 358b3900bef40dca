"""Notes of a loop that go on without a new pluck: what the looper sends, and what the built-in
string makes of it, by spectra and envelopes.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.bass.technique.finding import technique
from loopdeck.bass.technique.touch import touch_of
from loopdeck.brief.brief import Brief
from loopdeck.capture.notes import NOTE_DTYPE, STRAIGHT_BEND
from loopdeck.export.score import score_of_take
from loopdeck.looper.machine import Looper, Out
from loopdeck.looper.news import Kept
from loopdeck.shelf.codec import pack_layers, unpack_layers
from loopdeck.shelf.take import take_of_keep
from loopdeck.synth.events import SoundEvent
from loopdeck.synth.mixer import Mixer
from tests.unit.sound_tools import RATE, centroid_hz, control, loudness_db, off, on, peak_hz, play, render

BRIEF = Brief.default().replace(tempo="120", cycle="4/4", count_in="0", grid="1/16", strength="100", swing="straight")
#: (second, length, pitch, velocity): E plucked, F# hammered, a slide from A to D in semitones, a
#: dead note, a plucked E.
RIFF = (
    (0.00, 0.25, 40, 90),
    (0.25, 0.25, 42, 55),
    (0.60, 0.30, 45, 90),
    (0.90, 0.03, 46, 60),
    (0.93, 0.03, 47, 58),
    (0.96, 0.03, 48, 56),
    (0.99, 0.03, 49, 54),
    (1.02, 0.28, 50, 54),
    (1.50, 0.03, 40, 88),
    (1.75, 0.20, 40, 92),
)


def hertz(pitch: float) -> float:
    """Equal temperament, A4 = 440 Hz (ISO 16)."""
    return float(440.0 * 2.0 ** ((pitch - 69.0) / 12.0))


def looped(riff: tuple[tuple[float, float, int, int], ...] = RIFF) -> Looper:
    """A looper that has one pass of the riff as a layer."""
    looper = Looper(BRIEF)
    looper.command(0.0, "start-now")
    events = [(at, bytes((0x90, pitch, level))) for at, _, pitch, level in riff]
    events += [(at + length, bytes((0x80, pitch, 0))) for at, length, pitch, _ in riff]
    for at, data in sorted(events, key=lambda one: (round(one[0], 6), one[1][0] & 0x10)):
        looper.midi(at, at, 0, data)
    looper.command(2.01, "loop-that")
    return looper


def layer_outs(looper: Looper, until_sec: float = 5.99) -> list[Out]:
    """The messages of the third pass, the first in which the whole layer sounds, counted from its
    start; before them what set
    something up in the second."""
    looper.advance(until_sec)
    outs = [out for out in looper.take_outs() if out.part == "layer"]
    setup = [
        out for out in outs if out.time_sec < 3.99 and out.data[0] & 0xF0 == 0xB0 and out.data[1] in (6, 38, 100, 101)
    ]
    return [
        *(out._replace(time_sec=0.0) for out in setup),
        *(out._replace(time_sec=out.time_sec - 4.0) for out in outs if out.time_sec >= 3.99),
    ]


def sound_of(outs: list[Out], seconds: float) -> NDArray[np.float64]:
    """What the built-in sound makes of messages."""
    mixer = Mixer()
    mixer.set_level("master", 0.0)
    mixer.feed(SoundEvent(round(out.time_sec * RATE), "layer:1", out.data) for out in outs)
    return render(mixer, round(seconds * RATE))[:, 0].astype(np.float64)


def high_db(sound: NDArray[np.float64]) -> float:
    """The energy above 500 Hz, in dB."""
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    return float(10 * np.log10(spectrum[round(500 * len(sound) / RATE) :].sum()))


def test_the_touch_of_a_riff() -> None:
    touch = looped().layers()[0].touch
    assert touch.source.tolist() == [-1, 0, -1, 2, 3, 4, 5, 6, -1, -1]
    assert touch.leader.tolist() == [0, 1, 2, 7, 7, 7, 7, 7, 8, 9]
    assert touch.dead.tolist() == [False] * 8 + [True, False]


def test_a_hammered_note_names_its_string_and_is_no_new_pluck() -> None:
    outs = layer_outs(looped())
    hammered = next(place for place, out in enumerate(outs) if out.data[0] & 0xF0 == 0x90 and out.data[1] == 42)
    channel = outs[hammered].data[0] & 0x0F
    assert outs[hammered - 1].data == bytes((0xB0 | channel, 84, 40))
    assert outs[hammered + 1].data[:2] == bytes((0x80 | channel, 40))
    sound = sound_of(outs, 2.0)
    # The pitch is there, and no new attack: nothing is added high up, where a pluck is by far
    # stronger than what rings.
    assert peak_hz(sound[13_500:23_000], 60, 120) == pytest.approx(hertz(42), rel=2e-3)
    assert high_db(sound[12_000:14_400]) < high_db(sound[9_000:11_400]) + 1.0
    # The string never falls silent in between.
    assert min(loudness_db(sound, at, at + 0.03) for at in (0.22, 0.24, 0.26, 0.28)) > -45.0


def test_a_slide_by_new_notes_is_quantized_as_one_move_and_arrives_on_its_slot() -> None:
    looper = looped()
    layer = looper.layers()[0]
    places = layer.places(BRIEF)
    assert places[7] == pytest.approx(2.0)
    assert np.diff(places[3:8]) == pytest.approx(np.diff(layer.notes["onset_q"][3:8]))
    outs = layer_outs(looper)
    named = [out.data[2] for out in outs if out.data[0] & 0xF0 == 0xB0 and out.data[1] == 84]
    assert named == [40, 45, 46, 47, 48, 49]
    sound = sound_of(outs, 2.0)
    assert peak_hz(sound[49_500:60_000], 120, 170) == pytest.approx(hertz(50), rel=2e-3)
    # On the way no fret is struck: the level only falls or stays.
    levels = [loudness_db(sound, at, at + 0.03) for at in np.arange(0.80, 1.1, 0.03)]
    assert max(np.diff(levels)) < 3.0


def test_a_dead_note_is_dead_and_the_next_one_rings() -> None:
    outs = layer_outs(looped())
    decay = [(out.data[2], round(out.time_sec, 3)) for out in outs if out.data[0] & 0xF0 == 0xB0 and out.data[1] == 75]
    assert decay == [(0, 1.5), (64, 1.75)]
    sound = sound_of(outs, 2.0)
    assert loudness_db(sound, 1.50, 1.53) > -50.0
    assert loudness_db(sound, 1.62, 1.70) < -70.0
    assert loudness_db(sound, 1.85, 1.93) > -40.0


def test_a_stop_leaves_no_channel_without_decay() -> None:
    looper = looped()
    looper.advance(3.6)
    looper.command(3.6, "stop")
    decay = [out.data[2] for out in looper.take_outs() if out.data[0] & 0xF0 == 0xB0 and out.data[1] == 75]
    assert decay == [0, 64]


def test_a_bent_slide_sounds_with_its_slide() -> None:
    """Bend mode: one note whose bend goes up by five frets in 60 ms; range 12 by registered
    parameter 0,0.
    """
    looper = Looper(BRIEF)
    looper.command(0.0, "start-now")
    for control_, value in ((101, 0), (100, 0), (6, 12), (38, 0)):
        looper.midi(0.0, 0.0, 0, bytes((0xB0, control_, value)))
    looper.midi(0.0, 0.0, 0, bytes((0x90, 40, 90)))
    for step in range(1, 16):
        bend = 8192 + round(min(step / 15.0, 1.0) * 5 / 12 * 8192)
        looper.midi(0.5 + step * 0.004, 0.5 + step * 0.004, 0, bytes((0xE0, bend & 0x7F, bend >> 7)))
    looper.midi(1.5, 1.5, 0, bytes((0x80, 40, 0)))
    looper.command(2.01, "loop-that")
    sound = sound_of(layer_outs(looper), 2.0)
    assert peak_hz(sound[6_000:23_000], 60, 150) == pytest.approx(hertz(40), rel=2e-3)
    assert peak_hz(sound[30_000:60_000], 60, 150) == pytest.approx(hertz(45), rel=2e-3)
    assert centroid_hz(sound[24_000:28_800]) < 1.3 * centroid_hz(sound[20_000:23_900])


def test_a_muted_source_leaves_a_plucked_note() -> None:
    """Undo between a note and the one that goes on from it: nothing hangs, nothing is named that
    does not sound.
    """
    looper = looped()
    looper.advance(2.1)
    looper.take_outs()
    looper.command(2.15, "undo")
    looper.command(2.2, "redo")
    looper.command(3.0, "stop")
    sounding: set[int] = set()
    outs = looper.take_outs()
    named = [out.data[2] for out in outs if out.data[0] & 0xF0 == 0xB0 and out.data[1] == 84]
    assert 40 not in named
    for out in outs:
        if out.part == "layer" and out.data[0] & 0xF0 == 0x90:
            sounding.add(out.data[1])
        elif out.part == "layer" and out.data[0] & 0xF0 == 0x80:
            sounding.discard(out.data[1])
    assert not sounding


def test_a_kept_layer_keeps_its_touch_and_renders_with_it() -> None:
    looper = looped()
    looper.advance(4.1)
    looper.take_news()
    looper.command(4.2, "keep")
    keep = next(news.keep for news in looper.take_news() if isinstance(news, Kept))
    take = take_of_keep(keep)
    layers, _ = unpack_layers(pack_layers(take.recording.layers, take.recording.muted))
    assert layers[0].touch.source.tolist() == take.recording.layers[0].touch.source.tolist() != [-1] * 10
    score = score_of_take(take, RATE, parts=("layer1",))
    named = [event.data[2] for event in score.events if event.data[0] & 0xF0 == 0xB0 and event.data[1] == 84]
    assert named[:6] == [40, 45, 46, 47, 48, 49]


def test_the_string_goes_on_only_from_what_rings() -> None:
    """A source that was cut off, or never struck, is not a source: the note is plucked."""
    never = play(control(100, 84, 40), on(100, 42, 80), seconds=0.3)
    np.testing.assert_array_equal(never, play(on(100, 42, 80), seconds=0.3))
    ended = play(on(0, 40), off(1000, 40), control(40_000, 84, 40), on(40_000, 42, 80), seconds=1.2)
    assert loudness_db(ended, 0.85, 0.95) > -40.0


def test_a_layer_reads_legato_as_reports_do() -> None:
    """Plucks on one string tell how soft is clearly softer on another one; and a string that is
    named sounds one note at a time, however late the pickup tells of an end.
    """
    rows = [(1 + at / 4, 0.235, 36 + at % 4, 80 + (-5, 0, 5, 2, -2)[at % 5], 2, 3) for at in range(24)]
    rows += [
        (8.0, 0.25, 40, 80, 1, 2),
        (8.25, 0.35, 42, 66, 1, 2),
        (9.0, 0.32, 40, 80, 1, 2),
        (9.25, 0.3, 42, 50, 1, 2),
    ]
    notes = np.array(rows, NOTE_DTYPE)
    bends = (STRAIGHT_BEND,) * len(rows)
    assert [one.reached for one in technique(notes, bends)[-4:]] == ["pluck", "hammer-on"] * 2
    assert touch_of(notes, bends).source[-4:].tolist() == [-1, 24, -1, 26]


@pytest.mark.parametrize(("low", "high"), [(28, 31), (40, 47), (43, 41), (45, 57)])
def test_a_string_that_goes_on_is_in_tune(low: int, high: int) -> None:
    sound = play(on(0, low), control(24_000, 84, low), on(24_000, high, 70), off(24_001, low), seconds=1.2)
    assert peak_hz(sound[28_000:], hertz(high) * 0.8, hertz(high) * 1.25) == pytest.approx(hertz(high), rel=2e-4)


def test_touch_of_nothing() -> None:
    touch = touch_of(np.zeros(0, NOTE_DTYPE), ())
    assert len(touch.source) == len(touch.leader) == len(touch.dead) == 0
    one = np.zeros(1, NOTE_DTYPE)
    one["duration_sec"], one["pitch"], one["velocity"] = 0.5, 40, 90
    assert touch_of(one, (STRAIGHT_BEND,)).source.tolist() == [-1]


def test_what_goes_on_has_no_attack_where_a_pluck_has_one() -> None:
    before = (on(0, 40, 100),)
    goes_on = play(*before, control(24_000, 84, 40), on(24_000, 42, 100), off(24_001, 40))
    plucked = play(*before, off(24_000, 40), on(24_000, 42, 100))
    assert high_db(goes_on[24_000:26_400]) < high_db(goes_on[21_000:23_400]) + 4.0
    assert high_db(plucked[24_000:26_400]) > high_db(goes_on[24_000:26_400]) + 4.0


def test_what_is_hammered_live_sounds_through_without_a_pluck() -> None:
    looper = Looper(BRIEF)
    looper.command(0.0, "pickup", channels="1 2 3 4")
    looper.command(0.0, "thru", port=0, on=True)
    for at, length, pitch, level in (
        *((0.3 * n, 0.2, 40, 90) for n in range(5)),
        (1.5, 0.3, 40, 90),
        (1.8, 0.2, 43, 55),
        (2.0, 0.2, 45, 90),
    ):
        looper.midi(at, at, 0, bytes((0x91, pitch, level)))
        looper.midi(at + length, at + length, 0, bytes((0x81, pitch, 0)))
    outs = [out.data for out in looper.take_outs() if out.part == "live"]
    named = [place for place, data in enumerate(outs) if data[:2] == bytes((0xB0, 84))]
    assert [outs[place][2] for place in named] == [40]
    assert outs[named[0] + 1][:2] == bytes((0x90, 43))
    assert not any(data[0] == 0xB0 and data[1] == 84 for data in (out.data for out in _without_a_pickup()))


def test_thru_is_turned_from_how_the_input_played_last_sounds() -> None:
    """The letter keys (here input 2) sound through by themselves, an instrument does not."""
    looper = Looper(BRIEF)
    looper.command(0.0, "thru", port=1, on=True)
    looper.midi(0.1, 0.1, 0, bytes((0x90, 40, 90)))
    assert looper.command(0.2, "thru-toggle") == "Thru is on."
    looper.midi(0.3, 0.3, 1, bytes((0x90, 40, 90)))
    assert looper.command(0.4, "thru-toggle") == "Thru is off."


def _without_a_pickup() -> list[Out]:
    """Softly struck keys that follow each other: a keyboard has no strings."""
    looper = Looper(BRIEF)
    looper.command(0.0, "thru", port=0, on=True)
    for place in range(10):
        level = 50 if place == 8 else 90
        looper.midi(place * 0.2, place * 0.2, 0, bytes((0x90, 40 + place % 3, level)))
        looper.midi(place * 0.2 + 0.2, place * 0.2 + 0.2, 0, bytes((0x80, 40 + place % 3, 0)))
    return looper.take_outs()
