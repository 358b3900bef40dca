"""The target on the lanes: an open tray for every note, as long as it sounds, with its fret; what
is played fills it. A sign at its foot says what became of it.

A tray is told apart by its shape: two posts and a floor, never a block. The signs differ in shape
as well: a full disc in time, a disc with a point to the left early, to the right late, a ring
missed, a ring with a stroke wrong, a cross too many; with a word where there is room.
"""

from collections.abc import Collection, Sequence

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.draw_lanes_rows import lane_rows, roomy
from loopdeck.window.gesture import gesture
from loopdeck.window.layout import SMALLEST, Box
from loopdeck.window.note_view import NoteView
from loopdeck.window.target.marks import added, otherwise, target_marks, verdicts
from loopdeck.window.view import View

IN_TIME, EARLY, LATE, WRONG, MISSED = "in time", "early", "late", "wrong", "missed"
#: The height at the foot of a lane that belongs to the signs.
_SIGNS = 17
_WORDED = (EARLY, LATE, WRONG, MISSED)


def trays(canvas: Canvas, surface: pygame.Surface, view: View) -> None:
    """A tray for every note of the target on this page."""
    px, theme, page = canvas.px, canvas.theme, canvas.page
    lanes = [roomy(canvas, row) for row in lane_rows(canvas, view)]
    marks = target_marks(view)
    for index, mark in enumerate(marks):
        if mark.at_q >= page.end_q or (mark.end_q or 0.0) <= page.start_q:
            continue
        lane = lanes[min(mark.lane, len(lanes) - 1)]
        tray = _tray(canvas, lane, mark)
        thick = px(3)
        pygame.draw.rect(surface, theme.ground, tray)
        pygame.draw.rect(surface, theme.quiet, (tray.x, tray.y, thick, tray.h))
        pygame.draw.rect(surface, theme.quiet, (tray.right - thick, tray.y + tray.h // 2, thick, tray.h // 2))
        pygame.draw.rect(surface, theme.quiet, (tray.x, tray.bottom - thick, tray.w, thick))
        after = _next_x(canvas, marks, index)
        word = _word(mark)
        where = Box(tray.x + px(6), tray.y, max(px(10), after - tray.x - px(8)), tray.h - thick)
        canvas.pen.write(surface, word, where, px(24), theme.quiet, smallest=px(SMALLEST))


def _word(mark: NoteView) -> str:
    """Its fret; of a slide both frets."""
    if mark.fret is None:
        return mark.spelling.name
    if gesture(mark.bend) == "slide":
        return f"{mark.fret}–{mark.fret + round(mark.bend[-1][1])}"
    return str(mark.fret)


def above_signs(canvas: Canvas, lane: Box) -> Box:
    """The part of a lane in which what is played lies: the signs have their place below it."""
    return Box(lane.x, lane.y, lane.w, max(lane.h // 2, lane.h - canvas.px(_SIGNS)))


def _tray(canvas: Canvas, lane: Box, mark: NoteView) -> Box:
    px = canvas.px
    x = max(canvas.x_of(mark.at_q), canvas.layout.time_left - px(10))
    end = min(canvas.x_of(mark.end_q or mark.at_q), canvas.layout.time_right)
    return Box(x, lane.y + px(3), max(px(16), end - x - px(2)), lane.h - px(6))


def _next_x(canvas: Canvas, marks: Sequence[NoteView], index: int) -> int:
    """Where the next tray of the lane begins."""
    mark = marks[index]
    later = [one.at_q for one in marks[index + 1 :] if one.lane == mark.lane and one.at_q > mark.at_q]
    return canvas.x_of(min(later)) if later else canvas.layout.time_right


def _next_extra(canvas: Canvas, mark: NoteView, this: Sequence[NoteView], extra: Collection[int]) -> int:
    """Where the sign of the next note too many stands on the lane of a tray."""
    later = [one.at_q for one in this if one.id in extra and one.lane == mark.lane and one.at_q > mark.at_q]
    return canvas.x_of(min(later)) if later else canvas.layout.time_right


def signs(canvas: Canvas, surface: pygame.Surface, view: View, this: Sequence[NoteView]) -> None:
    """What became of the notes so far, over everything; the surface is clipped to the lanes.
    ``this``: the notes of the pass.
    """
    found = verdicts(view)
    extra, hands = added(view), otherwise(view)
    if not found and not extra:
        return
    lanes = [roomy(canvas, row) for row in lane_rows(canvas, view)]
    page = canvas.page
    marks = target_marks(view)
    for index, (mark, word) in enumerate(zip(marks, found, strict=True)):
        if word and page.start_q - 0.5 <= mark.at_q < page.end_q:
            lane = lanes[min(mark.lane, len(lanes) - 1)]
            room = min(_next_x(canvas, marks, index), _next_extra(canvas, mark, this, extra)) - canvas.x_of(mark.at_q)
            _sign(canvas, surface, canvas.x_of(mark.at_q), lane, word, room, hands.get(index, ""))
    for mark in this:
        if mark.id in extra and page.start_q <= mark.at_q < page.end_q:
            _sign(canvas, surface, canvas.x_of(mark.at_q), lanes[min(mark.lane, len(lanes) - 1)], "", 0)


def _sign(canvas: Canvas, surface: pygame.Surface, x: int, lane: Box, word: str, room: int, hand: str = "") -> None:
    """The sign of a verdict at the foot of a tray; "" is a note too many. ``hand``: how the note
    was reached instead of how it should be, with a gap across its disc.
    """
    px, theme, pen = canvas.px, canvas.theme, canvas.pen
    r = px(8)
    centre = (x + r + px(4), lane.bottom - r - px(1))
    size = px(SMALLEST)
    shape, word = word, hand or word
    written = (hand or word in _WORDED) and pen.width(word, size) + 2 * r + px(21) <= room
    wide = pen.width(word, size) + px(11) if written else 0
    plate = Box(centre[0] - r - px(1), centre[1] - r, 2 * r + px(2) + wide, 2 * r + px(2))
    pygame.draw.rect(surface, theme.ground, plate)
    _shape(canvas, surface, centre, r, shape)
    if hand:
        pygame.draw.rect(surface, theme.ground, (centre[0] - r, centre[1] - px(1), 2 * r, px(3)))
    if written:
        # Clear of the point to the right, and of the edge below, which would cut the y of early.
        where = Box(centre[0] + r + px(7), plate.y - px(4), wide, plate.h)
        pen.write(surface, word, where, size, theme.ink, smallest=size)


def _shape(canvas: Canvas, surface: pygame.Surface, centre: tuple[int, int], r: int, word: str) -> None:
    px, theme = canvas.px, canvas.theme
    x, y = centre
    if word in (MISSED, WRONG):
        canvas.disc(surface, x, y, r, theme.now)
        canvas.disc(surface, x, y, r - px(3), theme.ground)
        if word == WRONG:
            pygame.draw.line(surface, theme.now, (x - r + px(2), y + r - px(2)), (x + r - px(2), y - r + px(2)), px(3))
        return
    if not word:
        pygame.draw.rect(surface, theme.now, (x - px(2), y - r, px(4), 2 * r))
        pygame.draw.rect(surface, theme.now, (x - r, y - px(2), 2 * r, px(4)))
        return
    canvas.disc(surface, x, y, r, theme.ink)
    if word in (EARLY, LATE):
        way = -1 if word == EARLY else 1
        tip = x + way * (r + px(4))
        pygame.draw.polygon(surface, theme.ink, [(x, y - r), (tip, y), (x, y + r)])
        pygame.draw.rect(surface, theme.ground, (x - px(2), y - px(2), px(4), px(4)))
