"""The page of pedals: on the left the commands, each with its switch; on the right what the pedal
sends while one is learned.
"""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box
from loopdeck.window.pages import widgets
from loopdeck.window.pages.pedals import CHOICES, PedalsPage
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

KEYS = (
    ("↑ ↓", "choose a command"),
    ("← →", "by groups"),
    ("Enter", "learn a switch for it"),
    ("Delete", "take its switch away"),
    ("Esc", "close"),
)
LEARNING_KEYS = (("the pedal", "short, long, or twice"), ("Enter", "yes, where it is asked for"), ("Esc", "leave"))


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """Commands, what is heard, keys."""
    page = ui.pages["pedals"]
    assert isinstance(page, PedalsPage)
    inner = widgets.key_line(canvas, surface, box, LEARNING_KEYS if page.learning else KEYS)
    width, gap = inner.w * 60 // 100, canvas.px(22)
    _commands(canvas, surface, Box(inner.x, inner.y, width, inner.h), page)
    _heard(canvas, surface, Box(inner.x + width + gap, inner.y, inner.w - width - gap, inner.h), page)


def _commands(canvas: Canvas, surface: pygame.Surface, box: Box, page: PedalsPage) -> None:
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    places = widgets.list_places(canvas, box, len(CHOICES), 38)
    rest, places = places[-1], places[:-1]
    first = widgets.first_shown(len(CHOICES), page.at, len(places))
    widgets.more(canvas, surface, rest.inset(px(14), 0), first, len(CHOICES) - first - len(places))
    for index, (choice, place) in enumerate(zip(CHOICES[first:], places, strict=False), first):
        line = place.inset(0, px(1))
        if index == page.at:
            widgets.frame(canvas, surface, line)
        inside = Box(line.x + px(14), line.y, max(1, line.w - px(24)), line.h)
        switches = ", ".join(page.switches(choice))
        width = min(pen.width(switches, px(QUIET + 2)), inside.w * 2 // 5) if switches else 0
        right = Box(inside.right - width, inside.y, max(1, width), inside.h)
        pen.write(surface, switches, right, px(QUIET + 2), theme.ink, "right", px(SMALLEST))
        words = choice.words[:1].upper() + choice.words[1:]
        room = Box(inside.x, inside.y, max(1, inside.w - width - px(16)), inside.h)
        ink = theme.ink if index == page.at or switches else theme.quiet
        pen.write(surface, words, room, px(26), ink, smallest=px(QUIET))


def _heard(canvas: Canvas, surface: pygame.Surface, box: Box, page: PedalsPage) -> None:
    """The command, what the pedal sends, and the sentence on it."""
    theme, px, pedals = canvas.theme, canvas.px, page.pedals
    choice = page.choice
    if not page.learning:
        name = f"Control map: {pedals.name}." if pedals.name else "No control map yet."
        room = widgets.paragraph(canvas, surface, box, name, px(TEXT), theme.ink, 2)
        text = pedals.text or "Choose a command, press Enter, and then the switch: briefly, long, or twice."
        widgets.paragraph(canvas, surface, _below(canvas, room), text, px(26), theme.ink, 7)
        return
    pygame.draw.rect(surface, theme.ink, box, px(3))
    inside = box.inset(px(16), px(12))
    words = choice.words[:1].upper() + choice.words[1:]
    room = widgets.paragraph(canvas, surface, inside, words, px(TEXT), theme.ink, 3)
    room = _below(canvas, room)
    pygame.draw.rect(surface, theme.line, (room.x, room.y, room.w, px(2)))
    room = widgets.paragraph(canvas, surface, _below(canvas, room), pedals.heard or "nothing yet", px(30), theme.ink, 3)
    room = _below(canvas, room)
    if pedals.wrong:
        pygame.draw.rect(surface, theme.ink, (room.x, room.y, px(8), room.h))
        room = Box(room.x + px(20), room.y, max(1, room.w - px(20)), room.h)
    widgets.paragraph(canvas, surface, room, pedals.text, px(26), theme.ink, 7)


def _below(canvas: Canvas, room: Box) -> Box:
    gap = canvas.px(10)
    return Box(room.x, room.y + gap, room.w, max(0, room.h - gap))
