"""The top of the window: the brief in force, the count (the biggest thing there is), the state in words, and what was played last."""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.desk import Desk
from loopdeck.window.layout import QUIET, TEXT, Box
from loopdeck.window.shapes import lozenge
from loopdeck.window.view import View
from loopdeck.window.words import pretty_scale, pretty_tempo

HEAVY_STATES = ("LAYERING", "REPLACING")


def header(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """One line: scale, tempo, cycle, grid, swing, tuning; a thin line below."""
    theme = canvas.theme
    pygame.draw.rect(surface, theme.line, (box.x, box.bottom - canvas.px(2), box.w, canvas.px(2)))
    brief = view.brief
    if brief is None:
        canvas.pen.write(surface, "No brief yet: waiting for the engine.", box, canvas.px(TEXT), theme.quiet)
        return
    texts = view.brief_texts
    parts = [
        pretty_scale(str(texts.get("scale") or "")) or "no scale",
        pretty_tempo(str(texts.get("tempo", ""))),
        str(texts.get("cycle", "")),
        f"grid {texts.get('grid', '')}",
        _swing(str(texts.get("swing", ""))),
        str(texts.get("tuning", "")),
    ]
    name = str(texts.get("name") or "")
    size, space = canvas.px(TEXT), canvas.px(34)
    widths = [canvas.pen.width(part, size) for part in parts]
    room = box.w - sum(widths) - space * len(parts)
    if room < 0:
        # Too long for one line at full size (a custom formula): everything a little smaller.
        canvas.pen.write(surface, "   ".join(parts), _above(canvas, box), size, theme.ink)
        return
    x = box.x
    for part, width in zip(parts, widths, strict=True):
        canvas.pen.write(surface, part, Box(x, box.y, width, _above(canvas, box).h), size, theme.ink)
        x += width + space
    if room > canvas.px(120):
        where = Box(box.right - room, box.y, room, _above(canvas, box).h)
        canvas.pen.write(
            surface, canvas.pen.shorten(name, canvas.px(QUIET), room), where, canvas.px(QUIET), theme.quiet, "right"
        )


def _swing(text: str) -> str:
    return text if text.startswith("straight") else f"swing {text}"


def _above(canvas: Canvas, box: Box) -> Box:
    """The box without the line below."""
    return Box(box.x, box.y, box.w, box.h - canvas.px(4))


def count_text(view: View, now: float) -> str:
    """``"2.3"``: bar 2, count 3; only the count while counting in; nothing while nothing runs."""
    place = view.place(now)
    if not place.running:
        return ""
    bar, beat = view.course.count(place.at_q)
    return f"{bar}.{beat}" if bar else str(beat)


def count(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """Bar and beat, as large as the box allows."""
    canvas.pen.write(surface, count_text(view, now), box, canvas.px(160), canvas.theme.ink)


def state_hint(view: View, desk: Desk) -> str:
    """What comes next, in words; or how to begin."""
    if view.engine_lost:
        return "no engine"
    if view.clock.next:
        return view.clock.next
    if view.clock.state == "STOPPED":
        return "Tab starts"
    return ""


def state(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """The state word (on solid ink while passes become layers), the pass, and what comes next."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    word = view.clock.state
    # One size for every state, so that the word does not jump.
    size = pen.fit("COUNTING IN", px(52), box.w - px(36))
    plate = Box(box.x, box.y, min(box.w, pen.width(word, size) + px(32)), px(62))
    if word in HEAVY_STATES:
        pygame.draw.rect(surface, theme.ink, plate)
        pen.write(surface, word, plate.inset(px(16), 0), size, theme.ground)
    else:
        pygame.draw.rect(surface, theme.ink, plate, px(3))
        pen.write(surface, word, plate.inset(px(16), 0), size, theme.ink)
    below = Box(box.x, plate.bottom + px(8), box.w, max(1, box.bottom - plate.bottom - px(10)))
    place = view.place(now)
    text = f"pass {place.pass_index + 1}" if place.running and place.at_q >= 0 else ""
    hint = state_hint(view, desk)
    ink = pen.write(surface, text, below, px(TEXT), theme.ink) if text else Box(below.x, below.y, 0, 0)
    left = ink.right + (px(28) if text else 0)
    if hint:
        pen.write(surface, hint, Box(left, below.y, below.right - left, below.h), px(TEXT), theme.ink)


def readout(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """The last note: name and degree large, and below in words whether it left the scale, was early or late."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    mark = view.last
    if mark is None:
        return
    size = px(64 if mark.outside else 76)
    line = Box(box.x, box.y, box.w, px(70))
    room = box.w - px(60)
    while size > 8 and pen.width(mark.name, size) + pen.width(mark.degree, size) + size // 3 > room:
        size -= 1
    name_w, degree_w = pen.width(mark.name, size), pen.width(mark.degree, size)
    total = name_w + (degree_w + size // 3 if mark.degree else 0)
    x = box.right - total - (px(30) if mark.outside else 0)
    if mark.outside:
        surface.blit(lozenge(canvas, total + px(60), line.h, px(5), px(26)), (box.right - total - px(60), line.y))
    pen.write(surface, mark.name, Box(x, line.y, name_w, line.h), size, theme.ink)
    if mark.degree:
        pen.write(surface, mark.degree, Box(x + total - degree_w, line.y, degree_w, line.h), size, theme.ink)
    words = []
    if mark.outside and view.brief is not None and view.brief.scale is not None:
        words.append("not in the scale")
    if mark.heard:
        words.append(f"{abs(mark.offset_ms):.0f} ms {mark.heard}")
    elif mark.pass_index >= 0 and not words:
        words.append("in time")
    below = Box(box.x, line.bottom + px(4), box.w, max(1, box.bottom - line.bottom - px(6)))
    pen.write(surface, ", ".join(words), below, px(TEXT), theme.ink, "right")
