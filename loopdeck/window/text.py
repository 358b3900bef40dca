"""Writing on a surface: one font that is always there, and the music signs it lacks drawn as
shapes.

Conventions: sizes are em heights in pixels; positions are baselines or boxes in pixels. The font is
the one inside the pygame package, so every machine draws the same picture and none needs a font
installed. It has no flat, sharp or note-value signs: those are polygons here, on a grid where 1.0
is the height of a capital letter and y runs upwards from the baseline.

Text is rendered once and kept: ``Pen.write`` costs a dictionary look-up and a blit.
"""

import os
import re
from collections import OrderedDict
from math import cos, pi, sin

import pygame

from loopdeck.window.layout import Box
from loopdeck.window.theme import Colour

CAP = 0.73  # height of a capital letter in em, measured on the font
HIGH = 0.77  # a round letter or figure is a little higher than a capital, in em
_KEPT = 3000  # widths kept
_KEPT_PIXELS = 6_000_000  # of rendered pieces, four bytes each
_FINE = 6  # signs are drawn this many times larger and smoothed down
# Letters below this size are drawn larger too: the font's hints for small sizes spoil some of them
# and their distances.
_SMOOTH_BELOW = 64
_SMOOTH = 4

Point = tuple[float, float]


def _arc(cx: float, cy: float, rx: float, ry: float, start: float, end: float, tilt: float = 0.0) -> list[Point]:
    """Points of an ellipse's arc, angles and tilt in turns."""
    points = []
    for step in range(25):
        angle = 2 * pi * (start + (end - start) * step / 24)
        x, y = rx * cos(angle), ry * sin(angle)
        turn = 2 * pi * tilt
        points.append((cx + x * cos(turn) - y * sin(turn), cy + x * sin(turn) + y * cos(turn)))
    return points


def _curve(*corners: Point) -> list[Point]:
    """Points of cubic Bezier curves: a start, then two handles and an end for each curve."""
    points = [corners[0]]
    for i in range(0, len(corners) - 1, 3):
        p, q, r, s = corners[i : i + 4]
        for step in range(1, 13):
            t = step / 12
            w = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
            points.append(tuple(sum(k * c[axis] for k, c in zip(w, (p, q, r, s), strict=True)) for axis in (0, 1)))  # type: ignore[arg-type]
    return points


def _box(left: float, bottom: float, right: float, top: float) -> list[Point]:
    return [(left, bottom), (right, bottom), (right, top), (left, top)]


_HEAD = _arc(0.27, 0.16, 0.27, 0.19, 0.0, 1.0, 0.06)
_STEM = _box(0.42, 0.18, 0.53, 1.28)
# sign: (advance, shapes painted, shapes taken out again)
_SIGNS: dict[str, tuple[float, list[list[Point]], list[list[Point]]]] = {
    "♭": (
        0.58,
        [
            _box(0.06, -0.04, 0.17, 1.30),
            _curve((0.10, 0.42), (0.24, 0.74), (0.58, 0.70), (0.54, 0.42), (0.51, 0.22), (0.24, 0.08), (0.06, -0.10)),
        ],
        [
            _curve((0.17, 0.36), (0.24, 0.57), (0.41, 0.58), (0.39, 0.41), (0.37, 0.28), (0.26, 0.20), (0.17, 0.12)),
        ],
    ),
    "♯": (
        0.68,
        [
            _box(0.17, -0.16, 0.26, 1.08),
            _box(0.40, -0.08, 0.49, 1.16),
            [(0.04, 0.19), (0.62, 0.33), (0.62, 0.49), (0.04, 0.35)],
            [(0.04, 0.57), (0.62, 0.71), (0.62, 0.87), (0.04, 0.73)],
        ],
        [],
    ),
    "♩": (0.66, [_HEAD, _STEM], []),
    "♪": (
        0.92,
        [_HEAD, _STEM, [(0.53, 1.28), (0.57, 1.08), (0.84, 0.84), (0.80, 0.50), (0.72, 0.72), (0.53, 0.84)]],
        [],
    ),
    "●": (0.84, [_arc(0.40, 0.5, 0.32, 0.32, 0.0, 1.0)], []),
    "○": (0.84, [_arc(0.40, 0.5, 0.32, 0.32, 0.0, 1.0)], [_arc(0.40, 0.5, 0.22, 0.22, 0.0, 1.0)]),
    "←": (1.2, [_box(0.30, 0.43, 1.10, 0.57), [(0.04, 0.5), (0.44, 0.82), (0.44, 0.18)]], []),
    "→": (1.2, [_box(0.06, 0.43, 0.80, 0.57), [(1.12, 0.5), (0.72, 0.82), (0.72, 0.18)]], []),
    "↑": (0.8, [_box(0.33, 0.0, 0.47, 0.75), [(0.40, 1.04), (0.10, 0.62), (0.70, 0.62)]], []),
    "↓": (0.8, [_box(0.33, 0.25, 0.47, 1.0), [(0.40, -0.04), (0.10, 0.38), (0.70, 0.38)]], []),
}
_SPLIT = re.compile("([" + "".join(_SIGNS) + "])")


def _runs(text: str) -> list[str]:
    """Signs by themselves, and the letters between; what no font can write is a space."""
    plain = text if text.isprintable() else "".join(sign if sign.isprintable() else " " for sign in text)
    return _SPLIT.split(plain)


class Pen:
    """Writes text; keeps what it has rendered. ``log``, when a list, receives (text, Box) of
    everything written onto surfaces of the size ``log_size`` (the window's, not the small ones
    of single notes).
    """

    def __init__(self) -> None:
        if not pygame.font.get_init():
            pygame.font.init()
        self._path = os.path.join(os.path.dirname(pygame.__file__), "freesansbold.ttf")
        self._fonts: dict[int, pygame.font.Font] = {}
        self._runs: OrderedDict[tuple[str, int, Colour], pygame.Surface] = OrderedDict()
        self._pixels = 0
        self._widths: OrderedDict[tuple[str, int], int] = OrderedDict()
        self.log: list[tuple[str, Box]] | None = None
        self.log_size = (0, 0)

    def _font(self, size: int) -> pygame.font.Font:
        if size not in self._fonts:
            self._fonts[size] = pygame.font.Font(self._path, size)
        return self._fonts[size]

    def width(self, text: str, size: int) -> int:
        """The width of ``text`` in pixels at ``size``."""
        key = (text, size)
        if key not in self._widths:
            total = 0.0
            for run in _runs(text):
                if run in _SIGNS:
                    total += _SIGNS[run][0] * CAP * size
                elif run:
                    scale = _SMOOTH if size < _SMOOTH_BELOW else 1
                    total += self._font(size * scale).size(run)[0] / scale
            self._widths[key] = round(total)
            if len(self._widths) > _KEPT:
                self._widths.popitem(last=False)
        return self._widths[key]

    def fit(self, text: str, size: int, width: int, smallest: int = 8) -> int:
        """The largest size up to ``size`` at which ``text`` is no wider than ``width``;
        ``smallest`` if there is none.
        """
        while size > smallest and self.width(text, size) > width:
            size = max(smallest, min(size - 1, int(size * width / self.width(text, size)) + 1))
        return size

    def shorten(self, text: str, size: int, width: int) -> str:
        """``text``, or as many of its first letters as fit in ``width``, with three dots."""
        if self.width(text, size) <= width:
            return text
        while text and self.width(text + "...", size) > width:
            text = text[:-1].rstrip()
        return text + "..." if text else ""

    def piece(self, text: str, size: int, colour: Colour) -> pygame.Surface:
        """``text`` as a surface with transparency; its baseline lies ``round(size * 1.0)`` pixels
        below its top.
        """
        key = (text, size, colour)
        found = self._runs.get(key)
        if found is not None:
            self._runs.move_to_end(key)
            return found
        surface = pygame.Surface((self.width(text, size) + 2, round(size * 1.3)), pygame.SRCALPHA, 32)
        x = 0.0
        for run in _runs(text):
            if run in _SIGNS:
                self._sign(surface, run, round(x), size, colour)
                x += _SIGNS[run][0] * CAP * size
            elif run:
                x += self._letters(surface, run, round(x), size, colour)
        self._runs[key] = surface
        self._pixels += surface.get_width() * surface.get_height()
        while self._pixels > _KEPT_PIXELS and len(self._runs) > 1:
            _, old = self._runs.popitem(last=False)
            self._pixels -= old.get_width() * old.get_height()
        return surface

    def _letters(self, surface: pygame.Surface, run: str, x: int, size: int, colour: Colour) -> float:
        """Draw letters with their baseline at y = size; returns their width."""
        scale = _SMOOTH if size < _SMOOTH_BELOW else 1
        font = self._font(size * scale)
        drawn = font.render(run, True, colour)
        if scale == 1:
            surface.blit(drawn, (x, size - font.get_ascent()))
            return drawn.get_width()
        # The height is made a multiple of the scale with the baseline on a whole pixel.
        width, above = -(-drawn.get_width() // scale), -(-font.get_ascent() // scale)
        height = above + -(-(drawn.get_height() - font.get_ascent()) // scale)
        large = pygame.Surface((width * scale, height * scale), pygame.SRCALPHA, 32)
        large.fill((*colour, 0))
        large.blit(drawn, (0, above * scale - font.get_ascent()))
        surface.blit(pygame.transform.smoothscale(large, (width, height)), (x, size - above))
        return drawn.get_width() / scale

    def _sign(self, surface: pygame.Surface, sign: str, x: int, size: int, colour: Colour) -> None:
        """Draw one sign with its baseline at y = size."""
        advance, painted, taken = _SIGNS[sign]
        cap = CAP * size
        width, height = max(1, round(advance * cap)), round(size * 1.3)
        fine = pygame.Surface((width * _FINE, height * _FINE), pygame.SRCALPHA, 32)
        fine.fill((*colour, 0))

        def place(points: list[Point]) -> list[Point]:
            return [(px * cap * _FINE, (size - py * cap) * _FINE) for px, py in points]

        for shape in painted:
            pygame.draw.polygon(fine, (*colour, 255), place(shape))
        for shape in taken:
            pygame.draw.polygon(fine, (*colour, 0), place(shape))
        surface.blit(pygame.transform.smoothscale(fine, (width, height)), (x, 0))

    def write(
        self,
        surface: pygame.Surface,
        text: str,
        box: Box,
        size: int,
        colour: Colour,
        align: str = "left",
        smallest: int = 8,
    ) -> Box:
        """Write one line into ``box``: capitals centred in its height, ``align`` left, centre or
        right, smaller or shortened where it would be too wide or too high. Returns the box the
        ink takes.
        """
        size = self.fit(text, max(smallest, min(size, int(box.h / HIGH))), box.w, smallest)
        text = self.shorten(text, size, box.w)
        if not text:
            return Box(box.x, box.y, 0, 0)
        width = self.width(text, size)
        x = box.x + {"left": 0, "centre": (box.w - width) // 2, "right": box.w - width}[align]
        baseline = box.y + round((box.h + CAP * size) / 2)
        surface.blit(self.piece(text, size, colour), (x, baseline - size))
        ink = Box(x, baseline - round(CAP * size), width, round(CAP * size))
        if self.log is not None and surface.get_size() == self.log_size:
            self.log.append((text, ink))
        return ink

    def lines(self, text: str, size: int, width: int) -> list[str]:
        """``text`` broken at spaces into lines no wider than ``width`` (a longer word stays
        whole).
        """
        lines: list[str] = []
        for word in text.split():
            if lines and self.width(lines[-1] + " " + word, size) <= width:
                lines[-1] += " " + word
            else:
                lines.append(word)
        return lines
