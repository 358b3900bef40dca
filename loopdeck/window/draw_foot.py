"""The foot of the window: at most one message, in a full sentence, and what is connected."""

import pygame

from loopdeck.window import briefpage
from loopdeck.window.canvas import Canvas
from loopdeck.window.desk import Desk
from loopdeck.window.layout import QUIET, TEXT, Box, rows
from loopdeck.window.view import View

_ROLES = {"in": "instrument", "out": "out", "controls": "pedal"}


def message(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """The message, on one line or two; a line being typed takes its place. What is wrong has a heavy bar before it."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    if desk.entry is not None:
        pygame.draw.rect(surface, theme.ink, box, px(2))
        title = next((one.title for one in briefpage.LINES if one.field == desk.entry.field), "name of this keep")
        inner = box.inset(px(10), 0)
        text = f"{title}: {desk.entry.text}"
        while text and pen.width(text + "_", px(TEXT)) > inner.w:
            text = text[1:]
        pen.write(surface, text + "_", inner, px(TEXT), theme.ink)
        return
    said = view.message(now)
    if said is None:
        return
    left = 0
    if said.wrong:
        pygame.draw.rect(surface, theme.ink, (box.x, box.y, px(10), box.h))
        left = px(22)
    room = Box(box.x + left, box.y, box.w - left, box.h)
    size = px(TEXT)
    if pen.fit(said.text, size, room.w) >= round(size * 0.86):
        pen.write(surface, said.text, room, size, theme.ink)
        return
    size = px(QUIET + 1)
    while len(lines := pen.lines(said.text, size, room.w)) > 2 and size > 8:
        size -= 1
    # A little higher than the middle: the second line has letters that hang down.
    raised = Box(room.x, room.y, room.w, room.h - px(4))
    for line, place in zip(lines, rows(raised, 2), strict=False):
        pen.write(surface, line, place, size, theme.ink)


def devices(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """Each connection with its state in words; on the right where the keys are explained."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    size = px(QUIET)
    help_text = "F1: all keys"
    width = pen.width(help_text, size)
    pen.write(surface, help_text, Box(box.right - width, box.y, width, box.h), size, theme.ink)
    parts = []
    if view.engine_lost:
        parts.append("engine: lost")
    for one in view.devices:
        role = _ROLES.get(one.role, one.role)
        name = f" {one.name}" if one.name not in ("", role) and one.state != "none" else ""
        parts.append(f"{role}{name}: {one.state}")
    if view.levels.parts:
        parts.append("sound: " + ("on" if view.levels.device else "gone, looking"))
    if desk.plays(view):
        parts.append("letter keys play notes")
    room = Box(box.x, box.y, box.w - width - px(24), box.h)
    pen.write(surface, "    ".join(parts), room, size, theme.quiet, smallest=max(8, px(15)))
