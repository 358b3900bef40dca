"""The page of a session's riffs: a line for each, with its mark, how often it came, and its notes
as a small picture.
"""

from typing import Any

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box
from loopdeck.window.pages import widgets
from loopdeck.window.pages.harvest import HarvestPage
from loopdeck.window.panels.riff_marks import riff_mark
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

KEYS = (("↑ ↓", "choose"), ("→", "tick"), ("←", "untick"), ("Enter", "ticked ones to the shelf"))
TITLE, END_TITLE = "The riffs of this session", "Before you go: the riffs of this session"
_ROW_PX = 54


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """A title, the riffs, the keys."""
    page = ui.pages["harvest"]
    assert isinstance(page, HarvestPage)
    px, theme, pen = canvas.px, canvas.theme, canvas.pen
    inner = widgets.key_line(canvas, surface, box, (*KEYS, ("Esc", "leave" if page.leaving else "close")))
    head = Box(inner.x, inner.y, inner.w, px(40))
    ink = pen.write(surface, END_TITLE if page.leaving else TITLE, head, px(TEXT), theme.ink)
    body = Box(inner.x, head.bottom + px(4), inner.w, max(1, inner.bottom - head.bottom - px(4)))
    if not page.riffs:
        room = body
        for text in page.says():
            room = widgets.paragraph(canvas, surface, room, text, px(TEXT), theme.ink, 3)
        return
    count = len(page.riffs)
    ticked = len(page.ticked - page.kept.keys())
    words = f"{count} found, {ticked} ticked, {len(page.kept)} on the shelf"
    right = Box(ink.right + px(20), head.y, max(1, head.right - ink.right - px(20)), head.h)
    pen.write(surface, words, right, px(QUIET), theme.quiet, "right", smallest=px(SMALLEST))
    _lines(canvas, surface, body, page)


def _lines(canvas: Canvas, surface: pygame.Surface, box: Box, page: HarvestPage) -> None:
    riffs, px = page.riffs, canvas.px
    room = max(1, box.h // px(_ROW_PX))
    if len(riffs) > room:
        box = Box(box.x, box.y, box.w, box.h - px(24))
        room = max(1, box.h // px(_ROW_PX))
    first = widgets.first_shown(len(riffs), page.at, room)
    shown = riffs[first : first + room]
    for index, (riff, place) in enumerate(
        zip(shown, widgets.list_places(canvas, box, len(shown), _ROW_PX), strict=False), first
    ):
        _line(canvas, surface, place.inset(0, px(2)), riff, page, index == page.at)
    if len(riffs) > len(shown):
        foot = Box(box.x, box.bottom, box.w, px(24))
        widgets.more(canvas, surface, foot, first, len(riffs) - first - len(shown))


def _line(
    canvas: Canvas, surface: pygame.Surface, place: Box, riff: dict[str, Any], page: HarvestPage, chosen: bool
) -> None:
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    if chosen:
        widgets.frame(canvas, surface, place)
    name = riff["name"]
    tick = Box(place.x + px(12), place.y + (place.h - px(30)) // 2, px(30), px(30))
    _tick(canvas, surface, tick, name in page.ticked or name in page.kept)
    mark = Box(tick.right + px(14), place.y + (place.h - px(34)) // 2, px(60), px(34))
    ground = theme.shade if chosen else theme.ground
    riff_mark(canvas, surface, mark.x, mark, name, theme.ink, ground)
    times = len(riff["occurrences"])
    words = "twice" if times == 2 else f"{times} times"
    bars = f"{riff['bars']} bar{'' if riff['bars'] == 1 else 's'}"
    first = Box(mark.right + px(6), place.y, px(150), place.h)
    pen.write(surface, words, first, px(TEXT), theme.ink, smallest=px(SMALLEST))
    second = Box(first.right, place.y, px(290), place.h)
    kept = page.kept.get(name)
    best = riff["occurrences"][riff["best"]]
    text = (
        f"{bars}, {len(riff['notes'])} notes, best {_where(best['bar'])}"
        if kept is None
        else f"on the shelf: take {kept}"
    )
    pen.write(surface, text, second, px(QUIET + 2), theme.quiet if kept is None else theme.ink, smallest=px(SMALLEST))
    right = Box(second.right + px(14), place.y + px(6), max(1, place.right - second.right - px(28)), place.h - px(12))
    _picture(canvas, surface, right, riff["notes"])


def _where(bar: int) -> str:
    """A bar in words; those of playing before the first start count backwards from it."""
    return f"at bar {bar}" if bar >= 1 else "before the start"


def _tick(canvas: Canvas, surface: pygame.Surface, box: Box, on: bool) -> None:
    """A box; ticked: a hook of ink in it."""
    theme, px = canvas.theme, canvas.px
    pygame.draw.rect(surface, theme.ink, box, px(3))
    if on:
        points = [(0.2, 0.5), (0.42, 0.75), (0.82, 0.22)]
        places = [(box.x + round(x * box.w), box.y + round(y * box.h)) for x, y in points]
        pygame.draw.lines(surface, theme.ink, False, places, px(5))


def _picture(canvas: Canvas, surface: pygame.Surface, box: Box, notes: list[dict[str, Any]]) -> None:
    """The notes: time to the right, pitch upwards."""
    if not notes:
        return
    px, theme = canvas.px, canvas.theme
    low = min(one["pitch"] for one in notes)
    high = max(one["pitch"] for one in notes)
    until_q = max(one["at_q"] + max(one["length_q"], 0.1) for one in notes)
    height = max(px(4), min(px(9), box.h // max(high - low + 1, 4)))
    for one in notes:
        x = box.x + round(one["at_q"] / until_q * box.w)
        width = max(px(4), round(one["length_q"] / until_q * box.w) - px(2))
        share = (high - one["pitch"]) / (high - low) if high > low else 0.5
        y = box.y + round(share * (box.h - height))
        pygame.draw.rect(surface, theme.ink, (x, y, min(width, box.right - x), height))
