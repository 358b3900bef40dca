"""A picture of a latency measurement: how many answers came how late, ink on paper.

Conventions: pixels, x to the right. The axis is in milliseconds, received minus sent, so what is
early lies left of 0. The filled area around the median is what latency may vary by before it is
felt or heard; the median is marked by a line and a triangle, so that no colour is needed to find
it.
"""

import math
from pathlib import Path

from loopdeck import pygame_lean  # noqa: F401 - before pygame

import pygame  # isort: skip

from loopdeck.analysis.latency import JITTER_LIMIT_MS, LATENCY_LIMIT_MS, NOTICED_MS, Latency
from loopdeck.window.layout import Box
from loopdeck.window.text import Pen
from loopdeck.window.theme import PAPER, Theme

SIZE = (1120, 560)
_PLOT = Box(70, 190, 980, 270)
_STEPS = (1.0, 2.0, 5.0)


def latency_picture(latency: Latency, title: str, theme: Theme = PAPER) -> pygame.Surface:
    """The picture; ``title`` says what was measured."""
    pygame.font.init()
    surface = pygame.Surface(SIZE)
    surface.fill(theme.ground)
    pen = Pen()
    _head(pen, surface, latency, title, theme)
    low, high = _range(latency)
    _bars(pen, surface, latency, low, high, theme)
    _axis(pen, surface, low, high, theme)
    return surface


def save_picture(path: str | Path, latency: Latency, title: str) -> None:
    """Write the picture as PNG, whole or not at all. Raises OSError."""
    import io

    from loopdeck.atomic import whole_file

    file = io.BytesIO()
    pygame.image.save(latency_picture(latency, title), file, "picture.png")
    with whole_file(path) as out:
        out.write(file.getvalue())


def _range(latency: Latency) -> tuple[float, float]:
    """What the axis shows: all answers, with room for the band around the median."""
    limit = _limit(latency)
    low, high = min(latency.min_ms, latency.median_ms - limit), max(latency.max_ms, latency.median_ms + limit)
    room = max(0.06 * (high - low), 0.05)
    return low - room, high + room


def _limit(latency: Latency) -> float:
    return JITTER_LIMIT_MS if latency.kind == "loop" else NOTICED_MS


def _x(ms: float, low: float, high: float) -> int:
    return _PLOT.x + round((ms - low) / (high - low) * _PLOT.w)


def _head(pen: Pen, surface: pygame.Surface, latency: Latency, title: str, theme: Theme) -> None:
    pen.write(surface, title, Box(_PLOT.x, 24, _PLOT.w, 40), 30, theme.ink)
    figures = [
        ("median", latency.median_ms),
        ("99 of 100 under", latency.p99_ms),
        ("latest", latency.max_ms),
        ("jitter", latency.jitter_ms),
        ("to take off", latency.correction_ms),
    ]
    width = _PLOT.w // len(figures)
    for index, (name, value) in enumerate(figures):
        left = _PLOT.x + index * width
        pen.write(surface, f"{value:.1f} ms", Box(left, 78, width - 8, 40), 34, theme.ink)
        pen.write(surface, name, Box(left, 120, width - 8, 24), 20, theme.quiet)
    names = ("answers", "lost", "that nobody sent") if latency.kind == "loop" else ("taps", "missed", "besides")
    counts = (len(latency.latency_ms), latency.lost, latency.spurious)
    counted = ", ".join(f"{count} {name}" for count, name in zip(counts, names, strict=True))
    pen.write(surface, counted, Box(_PLOT.x, 524, _PLOT.w // 2, 24), 19, theme.quiet)
    felt = "before it feels uneven" if latency.kind == "loop" else "before it is heard"
    band = f"shaded: {_limit(latency):g} ms either side of the median, what may vary {felt}"
    pen.write(surface, band, Box(_PLOT.x + _PLOT.w // 2 - 60, 524, _PLOT.w // 2 + 60, 24), 19, theme.quiet, "right")


def _bars(pen: Pen, surface: pygame.Surface, latency: Latency, low: float, high: float, theme: Theme) -> None:
    bottom = _PLOT.y + _PLOT.h
    left, right = (_x(latency.median_ms + side * _limit(latency), low, high) for side in (-1, 1))
    surface.fill(theme.shade, (left, _PLOT.y, right - left, _PLOT.h))
    histogram = latency.histogram()
    most = int(histogram.counts.max())
    for count, start, end in zip(
        histogram.counts.tolist(), histogram.edges_ms[:-1].tolist(), histogram.edges_ms[1:].tolist(), strict=True
    ):
        if count:
            x, height = _x(start, low, high), max(round(count / most * (_PLOT.h - 30)), 2)
            wide = max(_x(end, low, high) - x - 1, 2)
            surface.fill(theme.ink, (x, bottom - height, wide, height))
    pen.write(surface, f"{most}", Box(4, _PLOT.y + 18, _PLOT.x - 12, 24), 19, theme.quiet, "right")
    pygame.draw.line(surface, theme.line, (_PLOT.x - 4, _PLOT.y + 30), (_PLOT.x + _PLOT.w, _PLOT.y + 30))
    if latency.kind == "loop" and low < LATENCY_LIMIT_MS < high:
        _mark(pen, surface, _x(LATENCY_LIMIT_MS, low, high), f"{LATENCY_LIMIT_MS:g} ms: feels slow", theme)
    if latency.kind == "tap" and low < 0.0 < high:
        _mark(pen, surface, _x(0.0, low, high), "the click", theme)
    middle = _x(latency.median_ms, low, high)
    pygame.draw.line(surface, theme.now, (middle, _PLOT.y), (middle, bottom), 2)
    pygame.draw.polygon(
        surface, theme.now, [(middle - 9, _PLOT.y - 12), (middle + 9, _PLOT.y - 12), (middle, _PLOT.y + 2)]
    )


def _mark(pen: Pen, surface: pygame.Surface, x: int, words: str, theme: Theme) -> None:
    for top in range(_PLOT.y, _PLOT.y + _PLOT.h, 12):
        pygame.draw.line(surface, theme.quiet, (x, top), (x, top + 5))
    pen.write(surface, words, Box(x - 110, _PLOT.y - 34, 220, 22), 18, theme.quiet, "centre")


def _axis(pen: Pen, surface: pygame.Surface, low: float, high: float, theme: Theme) -> None:
    bottom = _PLOT.y + _PLOT.h
    pygame.draw.line(surface, theme.ink, (_PLOT.x, bottom), (_PLOT.x + _PLOT.w, bottom), 2)
    power = 10.0 ** math.floor(math.log10((high - low) / 8.0))
    step = next(one * power for one in (*_STEPS, 10.0) if (high - low) / (one * power) <= 10.0)
    for index in range(math.ceil(low / step), math.floor(high / step) + 1):
        x = _x(index * step, low, high)
        pygame.draw.line(surface, theme.ink, (x, bottom), (x, bottom + 7), 2)
        pen.write(surface, f"{index * step:.6g}", Box(x - 40, bottom + 12, 80, 22), 19, theme.ink, "centre")
    pen.write(surface, "milliseconds", Box(_PLOT.x, bottom + 36, _PLOT.w, 22), 19, theme.quiet, "right")
