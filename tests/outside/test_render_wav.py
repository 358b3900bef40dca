"""A rendered file, read back with the standard library's ``wave``: rate, bits, length, where notes
begin, and at what pitch.

Equal temperament at A4 = 440 Hz (ISO 16): the frequency of MIDI note n is 440 * 2^((n - 69) / 12).
"""

import wave
from pathlib import Path

import mido
import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.cli.main import main
from tests.unit.sound_tools import peak_hz

RATE = 48_000
TICKS = 480
#: (quarter, length, pitch) at 100 quarters a minute; far enough apart that each dies away before
#: the next.
NOTES = [(0.0, 0.5, 33), (2.0, 0.5, 40), (4.5, 0.25, 45), (7 + 1 / 3, 0.5, 28)]


def write(path: Path) -> str:
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=600_000)])
    rows = [(at, "note_on", pitch) for at, _, pitch in NOTES] + [(at + long, "note_off", p) for at, long, p in NOTES]
    before = 0
    for quarter, kind, pitch in sorted(rows):
        tick = round(quarter * TICKS)
        track.append(mido.Message(kind, note=pitch, velocity=100, time=tick - before))
        before = tick
    mido.MidiFile(type=0, ticks_per_beat=TICKS, tracks=[track]).save(path)
    return str(path)


def read(path: Path) -> tuple[int, NDArray[np.float64]]:
    """Bytes a sample, and the samples, (frames, 2)."""
    with wave.open(str(path)) as file:
        assert file.getframerate() == RATE and file.getnchannels() == 2
        width, data = file.getsampwidth(), file.readframes(file.getnframes())
    raw = np.frombuffer(data, np.uint8).reshape(-1, width)
    whole = np.zeros((len(raw), 4), np.uint8)
    whole[:, 4 - width :] = raw
    return width, whole.view("<i4").reshape(-1, 2) / 2.0**31


@pytest.mark.parametrize("bits", [16, 24])
def test_a_file_read_back(tmp_path: Path, bits: int) -> None:
    out = tmp_path / "out.wav"
    source = write(tmp_path / "riff.mid")
    assert main(["render", source, "-o", str(out), "--bits", str(bits), "--tail", "0.5"]) == 0
    width, sound = read(out)
    assert width * 8 == bits
    ends_sec = (7 + 1 / 3 + 0.5) * 0.6
    assert abs(len(sound) - (ends_sec + 0.5) * RATE) <= 0.6 / TICKS * RATE
    for quarter, _, pitch in NOTES:
        # Ticks are exact here but for the third of a quarter: 160 ticks of 480.
        begins = round(quarter * 0.6 * RATE)
        before = sound[max(begins - 2000, 0) : begins]
        assert not len(before) or np.abs(before).max() == 0.0
        assert np.abs(sound[begins : begins + 3]).max() > 0.0
        ringing = sound[begins + 500 : begins + 500 + round(0.14 * RATE), 0]
        expected = 440.0 * 2.0 ** ((pitch - 69) / 12.0)
        # A short stretch of a tone that dies away: within a tenth of a semitone.
        assert abs(1200.0 * np.log2(peak_hz(ringing, expected * 0.8, expected * 1.25) / expected)) < 10.0


def test_the_click_stands_where_the_bars_do(tmp_path: Path) -> None:
    out = tmp_path / "out.wav"
    assert main(["render", write(tmp_path / "riff.mid"), "-o", str(out), "--parts", "click", "--tail", "0"]) == 0
    sound = np.abs(read(out)[1][:, 0])
    for beat in range(8):
        begins = round(beat * 0.6 * RATE)
        assert sound[begins] > 0.0
        assert not begins or sound[begins - 5000 : begins].max() == 0.0
