"""WAV files of ours, read back by the standard library's ``wave`` (and by hand: two's complement,
little endian, as RIFF WAVE has it).
"""

import wave
from pathlib import Path

import numpy as np
import pytest

from loopdeck.synth.events import SoundEvent
from loopdeck.synth.mixer import Mixer
from loopdeck.synth.wav import WavWriter, write_wav


def read(path: Path) -> tuple[np.ndarray, int, int]:
    """(frames, channels) of integers, rate, bits."""
    with wave.open(str(path), "rb") as file:
        size, channels = file.getsampwidth(), file.getnchannels()
        data = file.readframes(file.getnframes())
        rate = file.getframerate()
    numbers = [int.from_bytes(data[at : at + size], "little", signed=True) for at in range(0, len(data), size)]
    return np.array(numbers).reshape(-1, channels), rate, 8 * size


@pytest.mark.parametrize(("bits", "full"), [(16, 32_767), (24, 8_388_607)])
@pytest.mark.parametrize("channels", [1, 2])
def test_read_back(tmp_path: Path, bits: int, full: int, channels: int) -> None:
    path = tmp_path / "noise.wav"
    samples = np.random.default_rng(1).uniform(-1.0, 1.0, (3000, channels))
    samples[:5] = np.array([[0.0], [1.0], [-1.0], [2.0], [-2.0]])
    write_wav(path, samples[:, 0] if channels == 1 else samples, 44_100, bits)
    numbers, rate, read_bits = read(path)
    assert (rate, read_bits, numbers.shape) == (44_100, bits, samples.shape)
    assert numbers[:5, 0].tolist() == [0, full, -full, full, -full]
    assert np.abs(numbers / full - np.clip(samples, -1.0, 1.0)).max() <= 0.5 / full + 1e-12


def test_written_in_pieces_it_is_the_same_file(tmp_path: Path) -> None:
    samples = np.random.default_rng(2).uniform(-1.0, 1.0, (1000, 2))
    write_wav(tmp_path / "whole.wav", samples)
    with WavWriter(tmp_path / "pieces.wav") as writer:
        for begin in range(0, 1000, 77):
            writer.write(samples[begin : begin + 77])
    assert writer.frames == 1000
    assert (tmp_path / "whole.wav").read_bytes() == (tmp_path / "pieces.wav").read_bytes()


def test_a_click_in_a_file_begins_at_its_sample(tmp_path: Path) -> None:
    mixer = Mixer()
    mixer.set_level("master", 0.0)
    mixer.feed([SoundEvent(24_001, "click", b"\x99\x4c\x7f")])
    write_wav(tmp_path / "click.wav", mixer.render(0, 30_000))
    numbers, _, _ = read(tmp_path / "click.wav")
    assert np.flatnonzero(numbers[:, 0])[0] == 24_001
