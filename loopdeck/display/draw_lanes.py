"""The lanes: what was played in this pass, each note with name and degree, and smaller the pass before.

A note is a block from its true onset with its name and degree reversed out, and a foot below it as long as it sounded. Root: a
double left edge. Out of the scale: a hollow lozenge with pointed ends and ``?`` behind the degree. Early or late, beyond what is
heard: a whisker from the block's upper edge, to the left for early and to the right for late, one pixel a millisecond (at
1280 x 720; the true distance would be too small to see) and heavier with the distance.
"""

from collections.abc import Iterable

import pygame

from loopdeck.display.canvas import Canvas
from loopdeck.display.desk import Desk
from loopdeck.display.layout import TEXT, Box, rows
from loopdeck.display.marks import Mark
from loopdeck.display.shapes import lozenge
from loopdeck.display.text import CAP, HIGH
from loopdeck.display.view import View

WHISKER_MS = 60.0  # longer ones are drawn as this long
POINT = 13  # the length of a lozenge's points
SMALLEST = 13  # below this a label is left away; the readout still says it


def grid(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """Lanes with their names, slots (at their played places, so swing is seen), groups and bars."""
    theme, px, page, course = canvas.theme, canvas.px, canvas.page, view.course
    lanes = view.lanes
    left, right = canvas.layout.time_left, canvas.layout.time_right
    if view.brief is not None and view.brief.cycle is not None:
        for slot in view.brief.slots.played_q:
            if page.start_q <= slot < page.end_q:
                pygame.draw.rect(surface, theme.line, (canvas.x_of(float(slot)), box.y, 1, box.h))
    for arch in course.arches:
        if page.start_q <= arch.start_q < page.end_q:
            width = px(4) if arch.opens_bar else px(2)
            colour = theme.ink if arch.opens_bar else theme.quiet
            pygame.draw.rect(surface, colour, (canvas.x_of(arch.start_q) - width // 2, box.y, width, box.h))
    pygame.draw.rect(surface, theme.ink, (right - px(2), box.y, px(4), box.h))
    for row, label in zip(lane_rows(canvas, view), lanes.labels, strict=True):
        y = row.y + row.h // 2
        thick = px(2) if lanes.kind == "strings" or label else 1
        pygame.draw.rect(
            surface, theme.quiet if label else theme.line, (left - px(14), y, right - left + px(14), thick)
        )
        if label:
            where = Box(box.x, row.y, left - px(26) - box.x, row.h)
            canvas.pen.write(surface, label, where, min(px(TEXT), row.h), theme.ink, "left")


def lane_rows(canvas: Canvas, view: View) -> list[Box]:
    """The row of each lane. Pitches lie closer than a note is high: the outer ones keep away from the edge."""
    lanes = view.lanes
    edge = canvas.px(12) if lanes.kind == "pitches" else 0
    return rows(canvas.layout.lanes.inset(0, edge), len(lanes.labels))


def _roomy(canvas: Canvas, row: Box) -> Box:
    """A row at least as high as a note needs to be read, around the same middle."""
    more = max(0, canvas.px(44) - row.h)
    return Box(row.x, row.y - more // 2, row.w, row.h + more)


def notes(canvas: Canvas, surface: pygame.Surface, view: View, now: float) -> None:
    """The notes of this pass, and the early downbeat of the next one where it was played."""
    box = canvas.layout.lanes
    surface.set_clip(box)
    this, before_this = view.shown(now)
    end_q = view.course.quarters
    place = view.place(now)
    sounding_q = place.at_q if place.running else view.free_at(now)
    lanes = [_roomy(canvas, row) for row in lane_rows(canvas, view)]
    for mark in before_this:
        _tied(canvas, surface, lanes[mark.lane], mark, end_q, sounding_q)
    if this:
        _heads(canvas, surface, lanes, this, 0.0, sounding_q)
    coming = [mark for mark in view.early_next(now) if mark.at_q < 0]
    if coming:
        _heads(canvas, surface, lanes, coming, end_q, sounding_q)
    surface.set_clip(None)


def _heads(
    canvas: Canvas,
    surface: pygame.Surface,
    lanes: list[Box],
    these: list[Mark],
    shift_q: float,
    sounding_q: float | None,
) -> None:
    """Notes from left to right; on one lane each has the room up to the next."""
    following: dict[int, int] = {}
    page = canvas.page
    drawn = []
    for mark in sorted(these, key=lambda one: one.at_q, reverse=True):
        at_q = mark.at_q + shift_q
        if not page.start_q - 0.5 <= at_q < page.end_q or (at_q < page.start_q and page.start_q > 0):
            following[mark.lane] = canvas.x_of(at_q)
            continue
        x = canvas.x_of(at_q)
        room = following.get(mark.lane, canvas.layout.lanes.right) - x
        following[mark.lane] = x
        drawn.append((mark, at_q, x, room))
    for mark, at_q, x, room in reversed(drawn):
        end_q = at_q + mark.length_q if mark.length_q is not None else max(at_q, sounding_q or at_q)
        foot_end = min(canvas.x_of(end_q), canvas.layout.time_right)
        note(canvas, surface, lanes[min(mark.lane, len(lanes) - 1)], mark, x, room, foot_end)


def note(canvas: Canvas, surface: pygame.Surface, lane: Box, mark: Mark, x: int, room: int, foot_end: int) -> None:
    """One note with its left edge at ``x``; ``room`` pixels are free to its right on the lane; it sounded up to ``foot_end``."""
    theme, pen, px = canvas.theme, canvas.pen, canvas.px
    foot, top = px(5), px(8)
    head = Box(x, lane.y + top, 0, max(4, lane.h - top - foot - px(3)))
    edge = px(11) if mark.root else 0
    pad = px(POINT + 1) if mark.outside else px(4)
    inner_h = head.h - (2 * px(4) if mark.outside else 0)
    in_line = f"{mark.name} {mark.degree}".strip()
    # A lozenge has little room for a second line: it takes one only where the first does not fit.
    wide = mark.outside and pen.width(in_line, px(TEXT)) + 2 * pad <= room
    stacked = bool(mark.degree) and not wide and head.h >= 1.6 * px(TEXT)
    texts = [mark.name, mark.degree] if stacked else [in_line]
    largest = size = min(px(TEXT), int(inner_h / (1.65 if stacked else 0.78)))

    def width_at(one: int) -> int:
        return max(pen.width(text, one) for text in texts) + 2 * pad + edge

    while size > px(SMALLEST) and width_at(size) > room:
        size -= 1
    fits = width_at(size) <= max(room, px(16))
    if not fits and mark.degree:
        texts, stacked, size = (["?"] if mark.outside else [mark.name]), False, min(largest, px(SMALLEST + 3))
        fits = width_at(size) <= max(room, px(16))
    width = width_at(size) if fits else max(px(5), min(room - px(2), px(16)))
    head = Box(head.x, head.y, width, head.h)
    if mark.outside:
        surface.blit(lozenge(canvas, head.w, head.h, px(4), px(POINT)), (head.x, head.y))
        colour = theme.ink
    else:
        pygame.draw.rect(surface, theme.ink, head)
        # A thin rim of ground keeps neighbours apart.
        pygame.draw.rect(surface, theme.ground, (head.right, head.y, 1, head.h))
        if mark.root:
            gap = Box(head.x + px(5), head.y, px(3), head.h)
            pygame.draw.rect(surface, theme.ground, gap)
        colour = theme.ground
    if fits:
        inner = Box(head.x + pad + edge, head.y, head.w - 2 * pad - edge, head.h)
        if stacked:
            # Two lines with the same space above, between and below.
            cap = round(size * CAP)
            space = (inner_h - 2 * cap) // 3
            top = head.y + (head.h - inner_h) // 2 + max(0, space - 1)
            for line, text in enumerate(texts):
                where = Box(inner.x, top + line * (cap + space), inner.w, round(size * HIGH) + 1)
                pen.write(surface, text, where, size, colour, "centre")
        else:
            pen.write(surface, texts[0], inner, size, colour, "centre")
    pygame.draw.rect(surface, theme.ink, (x, head.bottom + px(2), max(px(3), foot_end - x), foot))
    if mark.heard:
        _whisker(canvas, surface, head, lane, mark.offset_ms)


def _whisker(canvas: Canvas, surface: pygame.Surface, head: Box, lane: Box, offset_ms: float) -> None:
    px, theme = canvas.px, canvas.theme
    length = px(max(10.0, min(abs(offset_ms), WHISKER_MS)))
    thick = px(4 if abs(offset_ms) < 20 else 6 if abs(offset_ms) < 40 else 8)
    x = head.x - length if offset_ms < 0 else head.x
    pygame.draw.rect(surface, theme.ink, (x, head.y - thick, length, thick))
    # The slot's line end: a short upright stroke where the whisker begins.
    pygame.draw.rect(surface, theme.ink, (head.x - px(1), lane.y, px(3), head.y - lane.y))


def _tied(
    canvas: Canvas, surface: pygame.Surface, lane: Box, mark: Mark, cycle_q: float, sounding_q: float | None
) -> None:
    """The rest of a note held across the end of the cycle: its foot goes on."""
    if canvas.page.start_q > 0:
        return
    end_q = mark.end_q - cycle_q if mark.end_q is not None else sounding_q
    if end_q is None or end_q <= 0:
        return
    px = canvas.px
    left, right = canvas.layout.time_left, min(canvas.x_of(end_q), canvas.layout.time_right)
    pygame.draw.rect(surface, canvas.theme.ink, (left, lane.bottom - px(8), max(px(3), right - left), px(5)))


def before_key(view: View, now: float) -> object:
    """What decides which notes are the pass before."""
    _, old = view.shown(now)
    return tuple(mark.id for mark in old)


def before(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """The pass before: quieter and smaller, bars as long as the notes, lozenges where one left the scale."""
    theme, px = canvas.theme, canvas.px
    where = Box(box.x, box.y, canvas.layout.time_left - px(20) - box.x, box.h)
    halves = rows(where, 2)
    canvas.pen.write(surface, "pass", halves[0], px(18), theme.quiet)
    canvas.pen.write(surface, "before", halves[1], px(18), theme.quiet)
    _, old = view.shown(now)
    lanes = rows(box, len(view.lanes.labels))
    for lane in lanes if lanes[0].h >= px(5) else ():
        pygame.draw.rect(
            surface, theme.line, (canvas.layout.time_left, lane.y + lane.h // 2, canvas.layout.time_right - canvas.layout.time_left, 1)
        )  # fmt: skip
    _small_notes(canvas, surface, lanes, old)


def _small_notes(canvas: Canvas, surface: pygame.Surface, lanes: list[Box], these: Iterable[Mark]) -> None:
    px, page = canvas.px, canvas.page
    for mark in these:
        end_q = mark.end_q if mark.end_q is not None else page.end_q
        if end_q < page.start_q or mark.at_q >= page.end_q:
            continue
        lane = lanes[min(mark.lane, len(lanes) - 1)]
        x = max(canvas.x_of(mark.at_q), canvas.x_of(page.start_q) - px(12))
        right = min(canvas.x_of(end_q), canvas.layout.time_right)
        if mark.outside:
            height = max(5, lane.h)
            surface.blit(lozenge(canvas, max(px(18), height), height, px(2), height // 2), (x, lane.y))
        else:
            height = max(2, lane.h * 7 // 10)
            pygame.draw.rect(
                surface, canvas.theme.quiet, (x, lane.y + (lane.h - height) // 2, max(px(4), right - x), height)
            )
