"""The passes of the last minutes, small, oldest first; the one that loop-that would take stands in
a heavy frame, the chosen one has its head on solid ink. A pass in which a riff stands has the
riff's letter on a shape that is the riff's own.
"""

from collections.abc import Hashable

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, columns, rows
from loopdeck.window.note_view import NoteView
from loopdeck.window.panels.panel import Panel, rule
from loopdeck.window.panels.riff_marks import riff_mark
from loopdeck.window.played import FREE_PASS
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View, space_takes

SHOWN, ROWS = 16, 2
#: As many letters as there is room for on one pass.
_LETTERS = 2

NO_PASS = "No pass yet: what you play after Tab appears here, pass by pass, and Space loops it."
NO_NOTES = "No note in the last passes: what you play appears here, pass by pass."


def key(view: View, ui: UiState, now: float) -> Hashable:
    """What the panel's picture depends on."""
    changed = view.changed
    return (
        changed["notes"],
        changed["layers"],
        changed["clock"],
        changed["cycle_layout"],
        changed["brief"],
        changed["heard"],
        ui.passes.chosen,
        view.shown_key(now),
        space_takes(view, now),
    )


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """Eight in a row, the pass that runs last; or those from the chosen one on."""
    inner = rule(canvas, surface, box)
    shown = shown_passes(view, ui, now)
    if not shown:
        text = NO_PASS if view.played.last is None else NO_NOTES
        canvas.pen.write(surface, text, rows(inner, 3)[0], canvas.px(TEXT), canvas.theme.quiet)
        return
    across = SHOWN // ROWS
    lines = rows(inner, -(-len(shown) // across))
    places = [place for row in lines for place in columns(row.inset(0, canvas.px(2)), across, canvas.px(8))]
    for pass_index, place in zip(shown, places, strict=False):
        _pass(canvas, surface, place, pass_index, view, ui, now)


def shown_passes(view: View, ui: UiState, now: float) -> list[int]:
    """The numbers of the passes in sight: up to the one that runs, or, where the chosen one lies
    further back, from that one on.
    """
    place = view.place(now)
    newest = place.pass_index if place.running and place.at_q >= 0 else max(view.played.by_pass, default=FREE_PASS)
    known = [one for one in view.played.by_pass if one != FREE_PASS]
    if not known:
        return []
    oldest = max(newest - SHOWN + 1, min(known))
    if ui.passes.chosen is not None and min(known) <= ui.passes.chosen < oldest:
        oldest = ui.passes.chosen
    return list(range(oldest, min(newest, oldest + SHOWN - 1) + 1))


def _pass(
    canvas: Canvas, surface: pygame.Surface, box: Box, pass_index: int, view: View, ui: UiState, now: float
) -> None:
    theme, px = canvas.theme, canvas.px
    taken, chosen = space_takes(view, now) == pass_index, ui.passes.chosen == pass_index
    if taken:
        pygame.draw.rect(surface, theme.shade, box)
    heavy = px(4) if taken or chosen else px(1)
    pygame.draw.rect(surface, theme.ink if taken or chosen else theme.line, box, heavy)
    head = Box(box.x + px(7), box.y + px(3), box.w - px(14), min(px(28), box.h // 2))
    if chosen:
        pygame.draw.rect(surface, theme.ink, (box.x, box.y, box.w, head.bottom - box.y + px(1)))
    _head(canvas, surface, head, pass_index, view, ui, now)
    picture = Box(box.x + px(8), head.bottom + px(4), box.w - px(16), max(1, box.bottom - head.bottom - px(10)))
    _outline(canvas, surface, picture, view.played.by_pass.get(pass_index, []), view)


def _head(
    canvas: Canvas, surface: pygame.Surface, head: Box, pass_index: int, view: View, ui: UiState, now: float
) -> None:
    """The number of the pass, the marks of its riffs, and a word on the right."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    chosen = ui.passes.chosen == pass_index
    ink, ground = (theme.ground, theme.ink) if chosen else (theme.ink, theme.ground)
    number = pen.write(surface, str(pass_index + 1), head, px(TEXT), ink, smallest=px(SMALLEST))
    x = number.right + px(6)
    for letter in view.played.remarks.riffs.get(pass_index, ())[:_LETTERS]:
        x = riff_mark(canvas, surface, x, head, letter, ink, ground) + px(4)
    word, quiet = _word(pass_index, view, chosen, now)
    room = Box(x, head.y, max(1, head.right - x), head.h)
    # Beside a number of three digits and a riff's mark there may be no room for a word.
    if word and pen.width(word, px(SMALLEST)) <= room.w:
        colour = theme.quiet if quiet and not chosen else ink
        pen.write(surface, word, room, px(QUIET), colour, "right", smallest=px(SMALLEST))


def _word(pass_index: int, view: View, chosen: bool, now: float) -> tuple[str, bool]:
    """What would loop the pass, or what it is; and whether that is said quietly."""
    place = view.place(now)
    layered = next((row.number for row in view.layers if row.pass_index == pass_index), None)
    if layered is not None:
        return f"layer {layered}", True
    if chosen:
        return "End", False
    if place.running and place.pass_index == pass_index:
        return "now", False
    return ("Space", False) if space_takes(view, now) == pass_index else ("", True)


def _outline(canvas: Canvas, surface: pygame.Surface, box: Box, notes: list[NoteView], view: View) -> None:
    """The notes by string (or pitch) and time; hollow where one left the scale."""
    theme, px = canvas.theme, canvas.px
    lanes = rows(box, len(view.lanes.labels))
    for lane in lanes if lanes[0].h >= px(5) else ():
        pygame.draw.rect(surface, theme.line, (box.x, lane.y + lane.h // 2, box.w, 1))
    length = view.cycle_layout.quarters
    for mark in notes:
        lane = lanes[min(mark.lane, len(lanes) - 1)]
        x = box.x + round(min(max(mark.at_q / length, 0.0), 1.0) * (box.w - px(4)))
        width = max(px(4), min(round((mark.length_q or 0.1) / length * box.w), box.right - x))
        height = max(px(4), lane.h - px(2))
        rect = (x, lane.y + (lane.h - height) // 2, width, height)
        pygame.draw.rect(surface, theme.ink, rect, px(1) if mark.spelling.outside else 0)


PANEL = Panel("passes", key, draw)
