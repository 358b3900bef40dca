"""The page of moods: on the left what is drawn and what is held, on the right the first step and
the reason for the chosen line.
"""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box
from loopdeck.window.pages import widgets
from loopdeck.window.pages.mood import FROM, LIMITS, LINES, MOOD, MoodPage
from loopdeck.window.spelling import pretty_scale, pretty_tempo
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

KEYS = (
    ("↑ ↓", "line"),
    ("← →", "mood, hold"),
    ("Enter", "draw"),
    ("Backspace", "take it back"),
    ("Shift Enter", "type a mood"),
    ("Esc", "close"),
)
TITLES = {"cycle": "meter", "swing": "feel"}


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """Lines, reasons, keys."""
    page = ui.pages["mood"]
    assert isinstance(page, MoodPage)
    inner = widgets.key_line(canvas, surface, box, KEYS)
    width, gap = inner.w * 47 // 100, canvas.px(26)
    _lines(canvas, surface, Box(inner.x, inner.y, width, inner.h), view, page)
    _reasons(canvas, surface, Box(inner.x + width + gap, inner.y, inner.w - width - gap, inner.h), view, page)


def value(name: str, view: View, page: MoodPage) -> str:
    """What stands on a line."""
    if name == MOOD:
        drawn = page.found["mood"] if page.found is not None and page.mood == "any" else ""
        return f"{page.mood} ({drawn})" if drawn else page.mood
    if name == FROM:
        return LIMITS[page.limit]
    text = str(view.brief_texts.get(name) or "none")
    return {"scale": pretty_scale, "tempo": pretty_tempo}.get(name, str)(text)


def _lines(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, page: MoodPage) -> None:
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    places = widgets.list_places(canvas, box, len(LINES), min(46.0, box.h / (len(LINES) * canvas.layout.unit)))
    for index, (name, place) in enumerate(zip(LINES, places, strict=False)):
        line = place.inset(0, px(2))
        chosen = index == page.at
        if chosen:
            widgets.frame(canvas, surface, line)
        held = name in page.held
        if held:
            pygame.draw.rect(surface, theme.ink, (line.x, line.y, px(8), line.h))
        inside = Box(line.x + px(18), line.y, max(1, line.w - px(28)), line.h)
        if held:
            pen.write(surface, "HELD", inside, px(QUIET + 2), theme.ink, "right", px(SMALLEST))
            inside = Box(inside.x, inside.y, max(1, inside.w - px(76)), inside.h)
        text = value(name, view, page)
        turns = chosen and name in (MOOD, FROM)
        widgets.pair(canvas, surface, inside, TITLES.get(name, name), f"← {text} →" if turns else text, 116)


def _reasons(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, page: MoodPage) -> None:
    theme, px = canvas.theme, canvas.px
    found = page.found
    if found is None:
        text = "Enter draws a brief: a scale, a tempo, a meter, a feel, a technique, and a first step to try."
        room = widgets.paragraph(canvas, surface, box, text, px(TEXT), theme.ink, 5)
        hold = "To keep a line as it is, choose it and hold it with ← or →."
        widgets.paragraph(canvas, surface, _below(canvas, room), hold, px(24), theme.quiet, 4)
        return
    step = str(found["first_step"])
    room = widgets.paragraph(canvas, surface, box, f"{step[0].upper()}{step[1:]}.", px(31), theme.ink, 4)
    room = widgets.paragraph(
        canvas, surface, _below(canvas, room), page.why("first_step", view), px(22), theme.quiet, 4
    )
    room = _below(canvas, room)
    pygame.draw.rect(surface, theme.line, (room.x, room.y, room.w, px(2)))
    room = _below(canvas, room)
    name, why = reason(view, page)
    room = widgets.paragraph(canvas, surface, room, name, px(24), theme.ink, 1)
    widgets.paragraph(canvas, surface, room, why, px(24), theme.ink, 7)


def reason(view: View, page: MoodPage) -> tuple[str, str]:
    """The title and the reason for the chosen line; for the lines that choose, the scale's."""
    name = page.line if page.line not in (MOOD, FROM) else "scale"
    return f"Why this {TITLES.get(name, name)}?", page.why(name, view)


def _below(canvas: Canvas, room: Box) -> Box:
    gap = canvas.px(8)
    return Box(room.x, room.y + gap, room.w, max(0, room.h - gap))
