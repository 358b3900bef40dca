"""Where the notes of a pass lie on the lanes: blocks with their words, feet as long as they
sounded, bulges for early and late.

The same plan serves what is played now (ink, over everything) and the layers (quieter, under it).
In dense passages the notes of a lane take turns above and below its string, so that each has room
for its first word.
"""

from collections.abc import Mapping, Sequence
from functools import partial

from loopdeck.window import draw_technique
from loopdeck.window.canvas import Canvas
from loopdeck.window.gesture import gesture
from loopdeck.window.labels import needed, words_of
from loopdeck.window.layout import TEXT, Box
from loopdeck.window.note_picture import NoteBox, NotePicture, NotePlan, state_of
from loopdeck.window.note_view import NoteView
from loopdeck.window.shapes import ROOT_EDGE, Look, bulge, curve_line, note_head
from loopdeck.window.technique import HowPlayed
from loopdeck.window.text import CAP

FOOT, TOP = 5, 3
#: A bulge is as many pixels wide as the note is milliseconds off, between these two (at 1280 x
#: 720).
LEAST_BULGE, MOST_BULGE = 10, 32


def spots(canvas: Canvas, these: Sequence[NoteView], shift_q: float, biggest: str, lane_h: int) -> list[NoteBox]:
    """The notes that begin on the page, from left to right."""
    page = canvas.page
    # Half a slot before the page is in sight on the first one only: there an early downbeat lies.
    first = page.start_q - 0.5 if page.start_q == 0 else page.start_q
    by_lane: dict[int, list[NoteView]] = {}
    for mark in sorted(these, key=lambda one: one.at_q):
        if first <= mark.at_q + shift_q < page.end_q:
            by_lane.setdefault(mark.lane, []).append(mark)
    found: list[NoteBox] = []
    for notes in by_lane.values():
        key = (page, shift_q, biggest, lane_h, tuple(map(state_of, notes)))
        boxes = canvas.rows.get(key, partial(_along, canvas, notes, shift_q, biggest, lane_h))
        # The marks of what is kept may have been spelled anew since: only the places are kept.
        pairs = zip(boxes, notes, strict=True)
        found += [box if box.mark is mark else box._replace(mark=mark) for box, mark in pairs]
    return sorted(found, key=lambda one: one.x)


def _along(canvas: Canvas, notes: list[NoteView], shift_q: float, biggest: str, lane_h: int) -> list[NoteBox]:
    """The spots of one lane."""
    xs = [canvas.x_of(mark.at_q + shift_q) for mark in notes]
    right = canvas.layout.lanes.right
    ends = [*xs[1:], right]
    wanted = [
        needed(canvas, words_of(mark, biggest)) + canvas.px(_beside_word(mark, after))
        for mark, after in zip(notes, [*notes[1:], None], strict=True)
    ]
    can_halve = lane_h >= 2 * (round(CAP * canvas.px(TEXT)) + canvas.px(5))
    halves = [0] * len(notes)
    for index in range(len(notes) - 1):
        if can_halve and ends[index] - xs[index] < wanted[index]:
            halves[index] = halves[index] or 1
            halves[index + 1] = 3 - halves[index]
    found = []
    for index, mark in enumerate(notes):
        beside = halves[index + 1] if index + 1 < len(notes) else 0
        after = index + 2 if halves[index] and beside == 3 - halves[index] else index + 1
        room = (xs[after] if after < len(xs) else right) - xs[index]
        if after < len(notes) and notes[after].heard == "early":
            room -= _side(canvas, notes[after], room)
        end_q = mark.end_q
        end = None if end_q is None else min(canvas.x_of(end_q + shift_q), canvas.layout.time_right)
        free = xs[index] - (xs[index - 1] if index else canvas.layout.time_left - canvas.px(60))
        found.append(NoteBox(mark, xs[index], end, room, free, halves[index]))
    return found


def _beside_word(mark: NoteView, after: NoteView | None) -> int:
    """Pixels at 1280 x 720 that a note needs beside its first word: rims, a root's edge, and what
    bulges between it and the next note.
    """
    width = 12 + (ROOT_EDGE if mark.spelling.root else 0)
    if mark.heard == "late":
        width += LEAST_BULGE
    if after is not None and after.heard == "early":
        width += LEAST_BULGE
    return width


def put(
    canvas: Canvas,
    plan: NotePlan,
    lanes: list[Box],
    these: Sequence[NoteBox],
    biggest: str,
    look: Look,
    how: Mapping[int, HowPlayed] | None = None,
) -> None:
    """Lay blocks, feet, bulges and curves of these notes into the plan, and how they were
    played.
    """
    where: dict[int, tuple[Box, int]] = {}
    for spot in these:
        mark = spot.mark
        lane = _part(lanes[min(mark.lane, len(lanes) - 1)], spot.half)
        played = how.get(mark.id) if how is not None else None
        key = (state_of(mark), spot[1:], lane, biggest, look, played)
        picture = canvas.notes.get(key, partial(_picture, canvas, lane, spot, biggest, look, played))
        plan.add(picture)
        where[mark.id] = (picture.block, mark.pitch)
    if how is not None:
        draw_technique.links(canvas, plan, where, how, look)


def _picture(
    canvas: Canvas, lane: Box, spot: NoteBox, biggest: str, look: Look, played: HowPlayed | None
) -> NotePicture:
    """One note, and how it was played."""
    picture = NotePicture()
    picture.block = _put(canvas, picture, lane, spot, biggest, look, draw_technique.is_dead(played))
    if played is not None:
        draw_technique.sign(canvas, picture, picture.block, played, look)
    return picture


def _part(lane: Box, half: int) -> Box:
    if not half:
        return lane
    upper = lane.h // 2
    return Box(lane.x, lane.y, lane.w, upper) if half == 1 else Box(lane.x, lane.y + upper, lane.w, lane.h - upper)


def _put(
    canvas: Canvas, picture: NotePicture, lane: Box, spot: NoteBox, biggest: str, look: Look, dead: bool = False
) -> Box:
    """Draw block, foot, bulge and curve of a note; returns its block."""
    px, mark = canvas.px, spot.mark
    foot = px(FOOT) if not spot.half else px(3)
    top = px(TOP) if not spot.half else px(1)
    height = max(4, lane.h - top - foot - px(3 if not spot.half else 1))
    moves = gesture(mark.bend)
    room = spot.room
    if mark.heard == "late":
        room -= _bulge_width(canvas, spot)
    if moves:
        room = max(room * 3 // 5, room - px(60))
    room = max(room, px(8))
    if dead:
        head = draw_technique.cross(canvas, height, room, look)
    else:
        head = note_head(canvas, mark, height, room, biggest, look)
    x, y = spot.x, lane.y + top
    picture.heads.append((head, (x, y)))
    right = x + head.get_width()
    if mark.heard and not look.hollow:
        right = max(right, _put_bulge(canvas, picture, spot, Box(x, y, head.get_width() - px(2), height)))
    below = y + height + px(1)
    if spot.end is None:
        picture.sounding.append((x, below, foot))
    else:
        picture.rects.append((look.ink, (x, below, max(px(4), spot.end - x), foot)))
    if moves:
        _put_curve(canvas, picture, spot, Box(right, y, 0, height), moves, look)
    return Box(x, y, head.get_width(), height)


def _bulge_width(canvas: Canvas, spot: NoteBox) -> int:
    """The width of its bulge, within the room on its side."""
    return _side(canvas, spot.mark, spot.free if spot.mark.offset_ms < 0 else spot.room)


def _side(canvas: Canvas, mark: NoteView, room: int) -> int:
    """A bulge is wider with the distance, but never over more than a part of the room for it."""
    wanted = min(max(abs(mark.offset_ms), LEAST_BULGE), MOST_BULGE)
    return max(canvas.px(LEAST_BULGE), min(canvas.px(wanted), room // 3))


def _put_bulge(canvas: Canvas, picture: NotePicture, spot: NoteBox, head: Box) -> int:
    """The half ellipse beside the block; returns the right end of it."""
    mark = spot.mark
    width, early = _bulge_width(canvas, spot), mark.offset_ms < 0
    height = head.h * (3 if mark.spelling.outside else 4) // 4
    x = head.x - width + canvas.px(1) if early else head.right
    picture.heads.append((bulge(canvas, width, height, early), (x, head.y + (head.h - height) // 2)))
    return x + width if not early else head.right


def _put_curve(canvas: Canvas, picture: NotePicture, spot: NoteBox, after: Box, moves: str, look: Look) -> None:
    """The line of a moving pitch, right of the block; a slide has the fret it arrives at behind
    it.
    """
    px, mark = canvas.px, spot.mark
    last = spot.x + spot.room - px(3)
    end = min(max(spot.end if spot.end is not None else 0, after.x + px(44)), last)
    if end - after.x < px(14):
        return
    arrives = ""
    if moves == "slide" and mark.fret is not None:
        arrives = str(mark.fret + round(mark.bend[-1][1]))
    size = px(TEXT)
    width = canvas.pen.width(arrives, size) if arrives else 0
    if width and after.x + px(24) + width > last:
        arrives, width = "", 0
    line_w = max(px(14), end - after.x - width - (px(4) if width else 0))
    picture.heads.append((curve_line(canvas, mark, line_w, after.h, look.ink), (after.x, after.y)))
    if arrives:
        y = after.y + px(2) if mark.bend[-1][1] > 0 else after.y + after.h - round(CAP * size) - px(2)
        picture.heads.append(
            (canvas.pen.piece(arrives, size, look.ink), (after.x + line_w + px(4), y + round(CAP * size) - size))
        )
