"""A frame as an encoder wants it: brightness and colour apart, worked out anew only where the
picture has changed.

Conventions
    Brightness (and alpha, where there is one) for every pixel, colour for every block of two by
    two: 4:2:0 of Rec. ITU-R BT.601-7, narrow range (16 to 235, and 16 to 240 around 128). Sizes
    are even. Planes are arrays of uint8, shape (height, width) or half of both.
"""

import numpy as np
from numpy.typing import NDArray

from loopdeck.window.layout import Box

_RED, _BLUE = 0.299, 0.114
_GREEN = 1.0 - _RED - _BLUE


def _weights() -> NDArray[np.float32]:
    """Rows: blue, green, red, nothing; columns: Y, Cb, Cr (BT.601-7, tables 3 and 4)."""
    y = np.array([_BLUE, _GREEN, _RED])
    cb = (np.array([1.0, 0.0, 0.0]) - y) / (2 * (1 - _BLUE))
    cr = (np.array([0.0, 0.0, 1.0]) - y) / (2 * (1 - _RED))
    columns = np.column_stack([219 * y, 224 * cb, 224 * cr]) / 255
    return np.vstack([columns, np.zeros(3)]).astype(np.float32)


_WEIGHTS = _weights()


class Planes:
    """The planes of a frame of ``size`` (width, height): Y, Cb, Cr, and alpha where ``alpha``."""

    def __init__(self, size: tuple[int, int], alpha: bool) -> None:
        width, height = size
        self._whole = Box(0, 0, width, height)
        self.y = np.zeros((height, width), np.uint8)
        self.cb, self.cr = (np.zeros((height // 2, width // 2), np.uint8) for _ in range(2))
        self.alpha = np.zeros((height, width), np.uint8) if alpha else None

    def all(self) -> tuple[NDArray[np.uint8], ...]:
        """In the order of their formats, yuv420p and yuva420p."""
        return (self.y, self.cb, self.cr, *([self.alpha] if self.alpha is not None else []))

    def even(self, box: Box) -> Box:
        """The box within the frame, grown to whole blocks of two by two."""
        left, top = max(box.x, 0) & ~1, max(box.y, 0) & ~1
        right, bottom = min(box.right + 1, self._whole.w) & ~1, min(box.bottom + 1, self._whole.h) & ~1
        return Box(left, top, max(right - left, 0), max(bottom - top, 0))

    def take(self, piece: NDArray[np.uint8], box: Box) -> None:
        """Take what lies in an even box, shape (height, width, 4): blue, green, red, alpha."""
        height, width = piece.shape[:2]
        down, along = slice(box.y, box.bottom), slice(box.x, box.right)
        colours = piece.astype(np.float32)
        self.y[down, along] = np.rint(colours @ _WEIGHTS[:, 0] + 16)
        fours = colours.reshape(height // 2, 2, width // 2, 2, 4)
        mean = (fours[:, 0, :, 0] + fours[:, 0, :, 1] + fours[:, 1, :, 0] + fours[:, 1, :, 1]) * np.float32(0.25)
        half = (slice(down.start // 2, down.stop // 2), slice(along.start // 2, along.stop // 2))
        self.cb[half] = np.rint(mean @ _WEIGHTS[:, 1] + 128)
        self.cr[half] = np.rint(mean @ _WEIGHTS[:, 2] + 128)
        if self.alpha is not None:
            self.alpha[down, along] = piece[..., 3]
