"""WAV files, 16 or 24 bit, written piece by piece and put in place only when they are whole.

Conventions
    Samples are floats from -1 to 1, shape (frames,) for one channel or (frames, channels). Full
    scale is the largest positive number (32,767 or 8,388,607) both ways; values are rounded to the
    nearest one and held at full scale beyond it. No dither is added: silence stays silence, the
    first sample of a click stays the first one, and equal sounds give equal files; the rounding of
    16 bits lies some 98 dB below full scale (6.02 dB a bit and 1.76: common knowledge of
    quantization, no source), and 24 bits are there for those who work on.
"""

import contextlib
import os
import tempfile
import wave
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import ArrayLike

from loopdeck.errors import UserError

#: A WAV file counts its bytes in 32 bits.
MOST_BYTES = 2**32 - 1024


class WavWriter:
    """A context manager: leaving it in order puts the file in place, leaving it by an exception
    leaves nothing behind.
    """

    def __init__(self, path: str | Path, rate: int = 48_000, bits: int = 16, channels: int = 2) -> None:
        """Raises UserError for other bits than 16 and 24, OSError when the folder cannot be written
        to.
        """
        if bits not in (16, 24):
            raise UserError(f"A WAV file cannot be written with {bits} bits; 16 or 24 would be right.")
        self._path, self._bits, self._channels = Path(path), bits, channels
        self.frames = 0
        handle, name = tempfile.mkstemp(prefix=f".{self._path.name}.", suffix=".part", dir=self._path.parent)
        self._temporary = Path(name)
        self._file = os.fdopen(handle, "wb")
        self._wave = wave.open(self._file, "wb")  # noqa: SIM115 - it stays open as long as this
        self._wave.setnchannels(channels)
        self._wave.setsampwidth(bits // 8)
        self._wave.setframerate(rate)

    def write(self, samples: ArrayLike) -> None:
        """Append samples.

        Raises UserError for another number of channels, what is not a number, or a file beyond 4
        GiB; OSError.
        """
        block = np.asarray(samples, np.float64)
        if block.ndim == 1:
            block = block[:, None]
        if block.ndim != 2 or block.shape[1] != self._channels:
            raise UserError(
                f"{self._path} has {self._channels} channels; samples of shape {block.shape} do not fit it."
            )
        if not np.isfinite(block).all():
            raise UserError(f"{self._path} was to get samples that are not numbers; only -1 to 1 can be written.")
        if (self.frames + len(block)) * self._channels * self._bits // 8 > MOST_BYTES:
            raise UserError(
                f"{self._path} would grow beyond 4 GiB, the most a WAV file can hold; write a shorter piece."
            )
        full = 2 ** (self._bits - 1) - 1
        whole = np.rint(np.clip(block, -1.0, 1.0) * full).astype("<i4")
        if self._bits == 16:
            data = whole.astype("<i2").tobytes()
        else:
            data = whole.reshape(-1, 1).view(np.uint8)[:, :3].tobytes()
        self._wave.writeframesraw(data)
        self.frames += len(block)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            try:
                self._wave.close()
                self._file.flush()
                os.fsync(self._file.fileno())
                self._file.close()
                # mkstemp lets nobody else read: give the file the rights any new file gets.
                mask = os.umask(0)
                os.umask(mask)
                os.chmod(self._temporary, 0o666 & ~mask)
                os.replace(self._temporary, self._path)
            except BaseException:
                self._discard()
                raise
        else:
            self._discard()

    def _discard(self) -> None:
        # The half-written file is closed in order, or the library complains when it is collected.
        with contextlib.suppress(OSError, wave.Error):
            self._wave.close()
        with contextlib.suppress(OSError):
            self._file.close()
        with contextlib.suppress(OSError):
            self._temporary.unlink()


def write_wav(path: str | Path, samples: ArrayLike, rate: int = 48_000, bits: int = 16) -> None:
    """Write a whole sound, (frames,) or (frames, channels). Raises as WavWriter does."""
    block = np.asarray(samples)
    with WavWriter(path, rate, bits, 1 if block.ndim == 1 else block.shape[1]) as writer:
        writer.write(block)
