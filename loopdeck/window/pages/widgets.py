"""What the pages draw in common: lists that move along, framed lines, paragraphs, the keys at the
foot, and a cycle as a small picture.
"""

from collections.abc import Sequence

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.draw_cycle import BAR_RISE, GROUP_RISE, arch_picture
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.theme import Colour
from loopdeck.window.timeline import CycleLayout

Keys = tuple[tuple[str, str], ...]


def first_shown(count: int, chosen: int, room: int) -> int:
    """The first line to show of ``count``, so that the chosen one is in sight among ``room``."""
    return min(max(chosen - room // 2, 0), max(count - room, 0))


def frame(canvas: Canvas, surface: pygame.Surface, place: Box) -> None:
    """The chosen line: a shade in a frame."""
    pygame.draw.rect(surface, canvas.theme.shade, place)
    pygame.draw.rect(surface, canvas.theme.ink, place, canvas.px(2))


def key_line(canvas: Canvas, surface: pygame.Surface, box: Box, pairs: Keys) -> Box:
    """The keys of the page on one line at its foot; returns what is left above."""
    height = canvas.px(30)
    text = "    ".join(f"{key} {words}" for key, words in pairs)
    foot = Box(box.x, box.bottom - height, box.w, height)
    canvas.pen.write(surface, text, foot, canvas.px(QUIET), canvas.theme.quiet, smallest=canvas.px(SMALLEST))
    return Box(box.x, box.y, box.w, max(1, box.h - height - canvas.px(4)))


def paragraph(
    canvas: Canvas, surface: pygame.Surface, box: Box, text: str, size: int, colour: Colour, most: int = 4
) -> Box:
    """Text on as many lines as it takes, at most ``most``; smaller, and at last shortened, where
    that is not enough. Returns the room below it.
    """
    pen, px = canvas.pen, canvas.px
    height = max(1, round(size * 1.25))
    most = max(1, min(most, box.h // height))
    smaller = size
    while len(lines := pen.lines(text, smaller, box.w)) > most and smaller > px(SMALLEST):
        smaller -= 1
    if len(lines) > most:
        lines = [*lines[: most - 1], pen.shorten(" ".join(lines[most - 1 :]), smaller, box.w)]
    for at, line in enumerate(lines):
        pen.write(surface, line, Box(box.x, box.y + at * height, box.w, height), smaller, colour)
    used = len(lines) * height
    return Box(box.x, box.y + used, box.w, max(0, box.h - used))


def pair(canvas: Canvas, surface: pygame.Surface, place: Box, title: str, text: str, width: float) -> None:
    """A title in quiet ink, ``width`` wide at the design size, and what stands behind it."""
    pen, px, theme = canvas.pen, canvas.px, canvas.theme
    left = Box(place.x, place.y, px(width) - px(10), place.h)
    pen.write(surface, title, left, px(QUIET + 2), theme.quiet, smallest=px(SMALLEST))
    right = Box(place.x + px(width), place.y, max(1, place.w - px(width)), place.h)
    pen.write(surface, text, right, px(TEXT), theme.ink, smallest=px(QUIET))


def list_places(canvas: Canvas, box: Box, count: int, least_px: float = 34) -> list[Box]:
    """Places for a list, each at least so high: as many as there is room for, not more than
    needed.
    """
    most = max(1, box.h // canvas.px(least_px))
    return rows(Box(box.x, box.y, box.w, most * canvas.px(least_px)), most)[: max(count, 1)]


def more(canvas: Canvas, surface: pygame.Surface, place: Box, above: int, below: int) -> None:
    """How many lines are out of sight."""
    parts = [f"{count} more {word}" for count, word in ((above, "above"), (below, "below")) if count]
    canvas.pen.write(
        surface, ", ".join(parts), place, canvas.px(QUIET), canvas.theme.quiet, smallest=canvas.px(SMALLEST)
    )


def cycle_picture(canvas: Canvas, surface: pygame.Surface, box: Box, cycle: str) -> None:
    """A cycle to scale: an arch for each group, the highest where a bar begins, with its count and
    a stroke for each count inside; above each bar its meter, a heavy line between bars.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    cycle_layout, meters = CycleLayout(cycle), cycle.split()
    head = px(QUIET + 6)
    rise_most = max(px(8), box.h - head - px(2))
    scale = (box.w - px(4)) / cycle_layout.quarters

    def x_of(at_q: float) -> int:
        return box.x + px(2) + round(at_q * scale)

    for arch in cycle_layout.groups:
        left, right = x_of(arch.start_q), x_of(arch.start_q + arch.length_q)
        rise = round(rise_most * (BAR_RISE if arch.opens_bar else GROUP_RISE))
        surface.blit(
            arch_picture(canvas, right - left, rise, px(4 if arch.opens_bar else 3), False), (left, box.bottom - rise)
        )
        room = Box(left + px(4), box.bottom - rise + px(6), max(1, right - left - px(8)), max(1, rise - px(12)))
        if room.h >= px(SMALLEST) and pen.width(arch.label, px(SMALLEST)) <= room.w:
            pen.write(surface, arch.label, room, px(QUIET + 2), theme.ink, "centre", px(SMALLEST))
        for unit in range(1, arch.units):
            x = x_of(arch.start_q + arch.length_q * unit / arch.units)
            pygame.draw.rect(surface, theme.ink, (x - px(1), box.bottom - px(6), px(3), px(6)))
    _bars(
        canvas,
        surface,
        Box(box.x, box.y, box.w, head),
        box.bottom,
        [x_of(one) for one in cycle_layout.bar_starts],
        meters,
    )


def _bars(
    canvas: Canvas, surface: pygame.Surface, head: Box, bottom: int, starts: Sequence[int], meters: list[str]
) -> None:
    """The meters above their bars, as far as there is room, and the lines between."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    ends = [*starts[1:], head.right]
    for index, (left, right) in enumerate(zip(starts, ends, strict=True)):
        if index:
            pygame.draw.rect(surface, theme.ink, (left - px(2), head.y, px(4), bottom - head.y))
        text = meters[index] if index < len(meters) else ""
        if text and pen.width(text, px(SMALLEST)) <= right - left - px(12):
            pen.write(
                surface, text, Box(left + px(8), head.y, right - left - px(12), head.h), px(QUIET), theme.quiet,
                smallest=px(SMALLEST),
            )  # fmt: skip
