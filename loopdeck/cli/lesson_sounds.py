"""The sounds of a lesson: each with the same count-in, all as loud as each other, none clipped."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from loopdeck.export.lanes import RATE
from loopdeck.synth.loudness import LoudnessMeter

if TYPE_CHECKING:
    from loopdeck.shelf.take import Take

#: What all are brought to, in LUFS, where no peak would then be above the second figure, in dB of
#: full scale; else all to what the one with the highest peaks allows. Our own choice.
_LOUDNESS, _PEAK_DB = -18.0, -1.0
#: How long a riff rings on after its last pass, in seconds.
_RING_SEC = 1
_BLOCK = RATE * 10


class LessonSound(NamedTuple):
    """A take as one file of a lesson, by these parts."""

    name: str
    take: "Take"
    parts: tuple[str, ...]


class _Rendered(NamedTuple):
    raw: Path
    lufs: float
    peak: float


def write_sounds(
    folders: Sequence[tuple[Path, Sequence[LessonSound]]], scratch: Path, whole: Path | None = None
) -> None:
    """Write the sounds of each folder; into ``whole`` those of one name, one after the other.

    Raises OSError, UserError.
    """
    rendered: dict[tuple[Path, str], _Rendered] = {}
    for folder, sounds in folders:
        for sound in sounds:
            rendered[folder, sound.name] = _render(sound, scratch / f"{len(rendered)}.raw")
    gain = {key: 10 ** ((_target(rendered.values()) - one.lufs) / 20) for key, one in rendered.items()}
    for (folder, name), one in rendered.items():
        _write(folder / name, [(one.raw, gain[folder, name])])
    if whole is not None:
        for name in dict.fromkeys(name for _, name in rendered):
            _write(whole / name, [(one.raw, gain[key]) for key, one in rendered.items() if key[1] == name])


def _target(rendered: Iterable[_Rendered]) -> float:
    """The loudness that all of them can have."""
    room = [one.lufs + _PEAK_DB - 20 * np.log10(one.peak) for one in rendered if one.peak > 0 and one.lufs > -np.inf]
    return float(min([_LOUDNESS, *room]))


def _render(sound: LessonSound, raw: Path) -> _Rendered:
    from loopdeck.export.count_in import counted_in
    from loopdeck.export.render import render
    from loopdeck.export.score import mix_of_take, score_of_take

    score = counted_in(score_of_take(sound.take, RATE, sound.parts), sound.take, RATE)
    meter = LoudnessMeter()
    with raw.open("wb") as file:
        for block in render(score, mix_of_take(sound.take), RATE * _RING_SEC):
            meter.feed(block)
            file.write(block.tobytes())
    return _Rendered(raw, meter.lufs(), meter.peak)


def _write(path: Path, pieces: Sequence[tuple[Path, float]]) -> None:
    from loopdeck.synth.wav import WavWriter

    with WavWriter(path, RATE, 16) as writer:
        for raw, gain in pieces:
            samples = np.memmap(raw, np.float32, "r").reshape(-1, 2)
            for at in range(0, len(samples), _BLOCK):
                writer.write(samples[at : at + _BLOCK] * (gain if np.isfinite(gain) else 1.0))
