"""The foot of the window: what waits for an answer, at most one message in a full sentence, and
what is connected.
"""

import pygame

from loopdeck.window import briefpage
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.panels import panel_at
from loopdeck.window.played import FREE_PASS
from loopdeck.window.sent import Entry
from loopdeck.window.timeline import ENDED
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View, space_takes

#: This page has a place of its own for what is wrong with a line that is typed.
BRIEF_PAGE = "brief"
_ROLES = {"in": "instrument", "out": "out", "controls": "pedal"}


def waiting(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The question that waits longest, in a frame, until it is answered."""
    question = view.waiting()
    if question is None:
        return
    pygame.draw.rect(surface, canvas.theme.ink, box, canvas.px(3))
    inner = box.inset(canvas.px(14), canvas.px(4))
    rest = len(view.notices.questions) - 1
    after = "Shift F5 yes   Shift F8 no" + (f"   {rest} more" if rest else "")
    width = canvas.pen.width(after, canvas.px(QUIET + 2))
    canvas.pen.write(surface, after, inner, canvas.px(QUIET + 2), canvas.theme.ink, "right")
    sentence(canvas, surface, Box(inner.x, inner.y, inner.w - width - canvas.px(24), inner.h), question.text)


def message(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The message, on one line or two; a line being typed takes its place. What is wrong has a
    heavy bar before it.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    if ui.entry is not None:
        _entry(canvas, surface, box, ui.entry, "" if ui.page == BRIEF_PAGE else ui.entry.wrong)
        return
    said = view.message(now)
    if said is None:
        pen.write(surface, what_now(view, now, ui.page), box, px(QUIET + 2), theme.quiet, smallest=px(SMALLEST))
        return
    left = 0
    if said.wrong:
        pygame.draw.rect(surface, theme.ink, (box.x, box.y, px(10), box.h))
        left = px(22)
    sentence(canvas, surface, Box(box.x + left, box.y, box.w - left, box.h), said.text)


def what_now(view: View, now: float, page: str = "") -> str:
    """What the biggest keys would do at this moment, while nothing else is to be said.

    On an open page the keys are its own, and it names them itself.
    """
    if page:
        return ""
    if view.played.practising.run is not None:
        return "Insert ends practising.   Shift Insert: let it sound.   Shift End: one bar.   Arrows: which bars."
    looped = space_takes(view, now)
    space = f"Space loops {_pass_words(looped)}." if looped is not None else ""
    undo = "Backspace takes the newest layer away." if view.layers else ""
    words = {
        "STOPPED": ["Tab starts.", space, "Enter starts and layers." if not view.layers else undo],
        "COUNTING IN": ["Tab stops.", "Enter layers the first pass."],
        "LISTENING": [space, "Enter layers every pass.", undo, "F5 keeps."],
        "LAYERING": ["Every pass becomes a layer; Enter ends that.", undo],
        "REPLACING": ["What you play now takes the newest layer's place."],
    }.get(view.clock.state, [])
    return "   ".join(word for word in words if word) if view.brief is not None else ""


def _pass_words(pass_index: int) -> str:
    return f"pass {pass_index + 1}" if pass_index != FREE_PASS else "what you played before the start"


def _entry(canvas: Canvas, surface: pygame.Surface, box: Box, entry: Entry, wrong: str) -> None:
    """A line being typed, and behind it what is ``wrong`` with it, unless the page says so."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    pygame.draw.rect(surface, theme.ink, box, px(2))
    title = next((one.title for one in briefpage.LINES if one.field == entry.field), "name of this take")
    title = entry.title or title
    inner = box.inset(px(10), px(2))
    text = f"{title}: {entry.text}"
    room = inner.w * 2 // 5 if wrong else inner.w
    while text and pen.width(text + "_", px(TEXT)) > room:
        text = text[1:]
    if entry.offered and entry.text:
        # What the first letter typed will take away lies on a shade.
        left = inner.x + max(0, pen.width(text, px(TEXT)) - pen.width(entry.text, px(TEXT)))
        pygame.draw.rect(surface, theme.shade, (left, inner.y, inner.x + pen.width(text, px(TEXT)) - left, inner.h))
    ink = pen.write(surface, text + "_", inner, px(TEXT), theme.ink)
    if wrong:
        x = ink.right + px(24)
        pygame.draw.rect(surface, theme.ink, (x - px(12), box.y, px(6), box.h))
        # Two lines need all of the height.
        sentence(canvas, surface, Box(x, box.y, inner.right - x, box.h), wrong)


def sentence(canvas: Canvas, surface: pygame.Surface, room: Box, text: str) -> None:
    """On one line if it is as large there as on two, else on two that do not touch."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    size = max(px(SMALLEST), min(px(QUIET + 2), room.h * 47 // 100))
    alone = pen.fit(text, px(TEXT), room.w)
    if alone >= size:
        pen.write(surface, text, room, alone, theme.ink)
        return
    while len(lines := pen.lines(text, size, room.w)) > 2 and size > px(SMALLEST):
        size -= 1
    if len(lines) > 2:
        lines = [lines[0], pen.shorten(" ".join(lines[1:]), size, room.w)]
    for line, place in zip(lines, rows(room, 2), strict=False):
        pen.write(surface, line, place, size, theme.ink)


def devices(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """Each connection with its state in words; on the right where the keys are explained and what
    the panel below may show. Once the engine has ended there is neither.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    size = px(QUIET)
    ended = view.clock.state == ENDED
    help_text = "" if ended else f"F3: {panel_at(ui.panel + 1).name}    F1: all keys"
    width = pen.width(help_text, size)
    pen.write(surface, help_text, Box(box.right - width, box.y, width, box.h), size, theme.ink)
    parts = []
    if view.engine_lost:
        parts.append("engine: lost")
    # Without an engine nobody knows of ports and sound.
    gone = ended or bool(view.engine_lost)
    for one in () if gone else view.gear.devices:
        role = _ROLES.get(one.role, one.role)
        name = f" {one.name}" if one.name not in ("", role) and one.state != "none" else ""
        parts.append(f"{role}{name}: {one.state}")
    if view.gear.levels.parts and not gone:
        parts.append("sound: " + ("on" if view.gear.levels.device else "gone, looking"))
    if view.played.taken_out.count:
        parts.append(f"taken out: {view.played.taken_out.count}")
    if ui.plays(view) and not ended:
        parts.append("letter keys play notes")
    room = Box(box.x, box.y, box.w - width - px(24), box.h)
    text = "    ".join(parts)
    size = pen.fit(text, size, room.w, px(SMALLEST))
    pen.write(surface, pen.shorten(text, size, room.w), room, size, theme.quiet)
