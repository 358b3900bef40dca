"""The page of devices: on the left what is in use, on the right what there is to choose from."""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.pages import widgets
from loopdeck.window.pages.devices import DevicesPage, Option, Role
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

KEYS = (("↑ ↓", "choose a line"), ("→ or Enter", "what there is; Enter takes it"), ("←", "back"), ("Esc", "close"))


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """Both columns and the keys."""
    page = ui.pages["devices"]
    assert isinstance(page, DevicesPage)
    inner = widgets.key_line(canvas, surface, box, KEYS)
    width, gap = inner.w * 50 // 100, canvas.px(26)
    roles = page.roles(view)
    at = max(0, min(page.at, len(roles) - 1))
    places = widgets.list_places(canvas, Box(inner.x, inner.y, width, inner.h), len(roles), 72)
    first = widgets.first_shown(len(roles), at, len(places))
    for index, (role, place) in enumerate(zip(roles[first:], places, strict=False), first):
        _role(canvas, surface, place.inset(0, canvas.px(3)), role, index == at, page.inside is None)
    right = Box(inner.x + width + gap, inner.y, inner.w - width - gap, inner.h)
    options = page.options(view)
    if not options or page.why_none(view):
        widgets.paragraph(canvas, surface, right, page.why_none(view), canvas.px(26), canvas.theme.ink, 6)
        return
    _options(canvas, surface, right, options, page.inside)


def _role(canvas: Canvas, surface: pygame.Surface, box: Box, role: Role, chosen: bool, here: bool) -> None:
    """A title with its state in words, and below it the device's name."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    if chosen and here:
        widgets.frame(canvas, surface, box)
    elif chosen:
        pygame.draw.rect(surface, theme.shade, box)
    upper, lower = rows(box.inset(px(14), px(3)), 2)
    size = px(QUIET + 2)
    ink = pen.write(surface, role.title, upper, size, theme.quiet, smallest=px(SMALLEST))
    state = Box(ink.right + px(20), upper.y, max(1, upper.right - ink.right - px(20)), upper.h)
    pen.write(surface, role.state, state, size, theme.quiet, "right", px(SMALLEST))
    pen.write(surface, role.value, lower, px(TEXT), theme.ink, smallest=px(QUIET))


def _options(canvas: Canvas, surface: pygame.Surface, box: Box, options: list[Option], inside: int | None) -> None:
    """A name on each line; a heavy bar before the one in use."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    used = next((at for at, one in enumerate(options) if one.in_use), 0)
    places = widgets.list_places(canvas, box, len(options), 40)
    first = 0
    if len(options) > len(places):
        rest, places = places[-1], places[:-1]
        first = widgets.first_shown(len(options), used if inside is None else inside, len(places))
        widgets.more(canvas, surface, rest.inset(px(18), 0), first, len(options) - first - len(places))
    for index, (option, place) in enumerate(zip(options[first:], places, strict=False), first):
        line = place.inset(0, px(1))
        if index == inside:
            widgets.frame(canvas, surface, line)
        if option.in_use:
            pygame.draw.rect(surface, theme.ink, (line.x, line.y, px(8), line.h))
        inner = Box(line.x + px(18), line.y, max(1, line.w - px(28)), line.h)
        word = "in use" if option.in_use else ""
        width = pen.width(word, px(QUIET)) if word else 0
        pen.write(surface, word, inner, px(QUIET), theme.quiet, "right", px(SMALLEST))
        room = Box(inner.x, inner.y, max(1, inner.w - width - px(14)), inner.h)
        ink = theme.ink if inside is not None or option.in_use else theme.quiet
        pen.write(surface, option.title, room, px(TEXT), ink, smallest=px(QUIET))
