"""The lanes: what was played in this pass, each note with name and degree, and smaller the pass before.

A note is a block from its true onset with its name and degree reversed out, and a foot below it as long as it sounded. Root: a
double left edge. Out of the scale: a hollow lozenge with pointed ends and ``?`` behind the degree. Early or late, beyond what is
heard: a whisker from the block's upper edge, to the left for early and to the right for late, one pixel a millisecond (at
1280 x 720; the true distance would be too small to see) and heavier with the distance.
"""

from collections.abc import Hashable, Iterable

import pygame

from loopdeck.window.canvas import Canvas, Plan
from loopdeck.window.desk import Desk
from loopdeck.window.layout import TEXT, Box, rows
from loopdeck.window.marks import Mark
from loopdeck.window.shapes import lozenge, note_head
from loopdeck.window.view import View

WHISKER_MS = 60.0  # longer ones are drawn as this long


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
    """The notes of this pass, and the early downbeat of the next one where it was played.

    Where everything lies is worked out only when a note was played, ended, or passed out of sight; a frame then
    blits what was worked out and lengthens the feet of what still sounds.
    """
    key = (view.changed["notes"], view.changed["brief"], view.changed["course"], canvas.page, view.shown_key(now))
    if canvas.plan is None or canvas.plan.key != key:
        canvas.plan = _plan(canvas, view, now, key)
    plan = canvas.plan
    ink = canvas.theme.ink
    surface.set_clip(canvas.layout.lanes)
    surface.blits(plan.heads, False)
    for rect in plan.rects:
        surface.fill(ink, rect)
    if plan.sounding:
        place = view.place(now)
        at_q = place.at_q if place.running else view.free_at(now)
        if at_q is not None:
            end = canvas.x_of(at_q)
            least = canvas.px(3)
            for x, y, height in plan.sounding:
                surface.fill(ink, (x, y, max(least, end - x), height))
    surface.set_clip(None)


def _plan(canvas: Canvas, view: View, now: float, key: Hashable) -> Plan:
    """Where the notes' heads, feet and whiskers lie."""
    plan = Plan(key)
    this, before_this = view.shown(now)
    lanes = [_roomy(canvas, row) for row in lane_rows(canvas, view)]
    end_q = view.course.quarters
    if canvas.page.start_q == 0:
        for mark in before_this:
            _tied(canvas, plan, lanes[min(mark.lane, len(lanes) - 1)], mark, end_q)
    _place_notes(canvas, plan, lanes, this, 0.0)
    _place_notes(canvas, plan, lanes, [mark for mark in view.early_next(now) if mark.at_q < 0], end_q)
    return plan


def _place_notes(canvas: Canvas, plan: Plan, lanes: list[Box], these: list[Mark], shift_q: float) -> None:
    """Notes from left to right; on one lane each has the room up to the next."""
    following: dict[int, int] = {}
    page = canvas.page
    # Half a slot before the page is in sight on the first one only: there an early downbeat lies.
    first = page.start_q - 0.5 if page.start_q == 0 else page.start_q
    placed = []
    for mark in sorted(these, key=lambda one: one.at_q, reverse=True):
        at_q = mark.at_q + shift_q
        x = canvas.x_of(at_q)
        if first <= at_q < page.end_q:
            placed.append((mark, at_q, x, following.get(mark.lane, canvas.layout.lanes.right) - x))
        following[mark.lane] = x
    for mark, at_q, x, room in reversed(placed):
        _place_note(canvas, plan, lanes[min(mark.lane, len(lanes) - 1)], mark, at_q, x, room)


def _place_note(canvas: Canvas, plan: Plan, lane: Box, mark: Mark, at_q: float, x: int, room: int) -> None:
    px = canvas.px
    foot, top = px(5), px(9)
    height = max(4, lane.h - top - foot - px(3))
    head = Box(x, lane.y + top, 0, height)
    plan.heads.append((note_head(canvas, mark, height, room), (x, head.y)))
    y = head.bottom + px(2)
    if mark.length_q is None:
        plan.sounding.append((x, y, foot))
    else:
        end = min(canvas.x_of(at_q + mark.length_q), canvas.layout.time_right)
        plan.rects.append((x, y, max(px(3), end - x), foot))
    if mark.heard:
        late = abs(mark.offset_ms)
        length = px(max(10.0, min(late, WHISKER_MS)))
        thick = px(3 if late < 20 else 4 if late < 40 else 6)
        plan.rects.append((x - length if mark.offset_ms < 0 else x, head.y - px(3) - thick, length, thick))
        # A short upright stroke stands where the whisker begins.
        plan.rects.append((x - px(1), lane.y, px(3), top - px(3)))


def _tied(canvas: Canvas, plan: Plan, lane: Box, mark: Mark, cycle_q: float) -> None:
    """The rest of a note held across the end of the cycle: its foot goes on."""
    px = canvas.px
    left, y, height = canvas.layout.time_left, lane.bottom - px(8), px(5)
    if mark.end_q is None:
        plan.sounding.append((left, y, height))
    elif mark.end_q > cycle_q:
        end = min(canvas.x_of(mark.end_q - cycle_q), canvas.layout.time_right)
        plan.rects.append((left, y, max(px(3), end - left), height))


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
