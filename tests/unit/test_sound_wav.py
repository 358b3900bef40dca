"""WAV writing: whole or not at all."""

import os
from pathlib import Path

import numpy as np
import pytest

from loopdeck.errors import UserError
from loopdeck.synth.wav import WavWriter, write_wav


def test_a_broken_off_file_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "mix.wav"
    path.write_bytes(b"the old one")
    with pytest.raises(KeyboardInterrupt), WavWriter(path) as writer:
        writer.write(np.zeros((100, 2)))
        raise KeyboardInterrupt
    assert path.read_bytes() == b"the old one"
    assert os.listdir(tmp_path) == ["mix.wav"]


def test_a_new_file_can_be_read_by_others(tmp_path: Path) -> None:
    write_wav(tmp_path / "mix.wav", np.zeros(10))
    (tmp_path / "plain").write_text("")
    assert (tmp_path / "mix.wav").stat().st_mode == (tmp_path / "plain").stat().st_mode


@pytest.mark.parametrize(
    ("samples", "words"),
    [(np.zeros((5, 3)), "2 channels"), (np.zeros(5), "2 channels"), (np.full((5, 2), np.nan), "not numbers")],
)
def test_samples_that_do_not_fit(tmp_path: Path, samples: np.ndarray, words: str) -> None:
    with pytest.raises(UserError, match=words), WavWriter(tmp_path / "mix.wav") as writer:
        writer.write(samples)
    assert os.listdir(tmp_path) == []


def test_other_bits_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="16 or 24"):
        WavWriter(tmp_path / "mix.wav", bits=8)


def test_a_file_beyond_four_gigabytes_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="4 GiB"), WavWriter(tmp_path / "mix.wav", bits=24) as writer:
        writer.frames = 2**32 // 6
        writer.write(np.zeros((1000, 2)))


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        WavWriter(tmp_path / "nowhere" / "mix.wav")
