"""The passes of the last minutes, small, oldest first; the one that loop-that would take stands in
a heavy frame, and those in which a riff came back have its name and a bar of ink below.
"""

from collections.abc import Hashable

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, columns, rows
from loopdeck.window.note_view import NoteView
from loopdeck.window.panels.panel import Panel, rule
from loopdeck.window.played import FREE_PASS
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

SHOWN, ROWS = 16, 2


def key(view: View, ui: UiState, now: float) -> Hashable:
    """What the panel's picture depends on."""
    changed = view.changed
    return (
        changed["notes"],
        changed["layers"],
        changed["clock"],
        changed["course"],
        changed["brief"],
        changed["heard"],
        view.shown_key(now),
    )


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """Eight in a row, the pass that runs last."""
    inner = rule(canvas, surface, box)
    shown = _shown(view, now)
    if not shown:
        text = "No pass yet: what you play after Tab stands here, pass by pass, and Space loops it."
        canvas.pen.write(surface, text, rows(inner, 3)[0], canvas.px(TEXT), canvas.theme.quiet)
        return
    across = SHOWN // ROWS
    lines = rows(inner, -(-len(shown) // across))
    places = [place for row in lines for place in columns(row.inset(0, canvas.px(2)), across, canvas.px(8))]
    for pass_index, place in zip(shown, places, strict=False):
        _pass(canvas, surface, place, pass_index, view, now)


def _shown(view: View, now: float) -> list[int]:
    """The numbers of the passes, up to the one that runs."""
    place = view.place(now)
    newest = place.pass_index if place.running and place.at_q >= 0 else max(view.played.by_pass, default=FREE_PASS)
    oldest = max(0, newest - SHOWN + 1)
    known = [one for one in view.played.by_pass if one != FREE_PASS]
    return list(range(max(oldest, min(known)), newest + 1)) if known else []


def _pass(canvas: Canvas, surface: pygame.Surface, box: Box, pass_index: int, view: View, now: float) -> None:
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    taken = view.loop_pass(now) == pass_index
    layered = next((row.number for row in view.layers if row.pass_index == pass_index), None)
    if taken:
        pygame.draw.rect(surface, theme.shade, box)
    pygame.draw.rect(surface, theme.ink if taken else theme.line, box, px(4) if taken else px(1))
    head = Box(box.x + px(8), box.y + px(4), box.w - px(16), px(20))
    place = view.place(now)
    runs = place.running and place.pass_index == pass_index
    riff = pass_index in view.played.remarks.riff_passes
    number = f"{pass_index + 1} riff" if riff else str(pass_index + 1)
    if riff:
        pygame.draw.rect(surface, theme.ink, (box.x, box.bottom - px(7), box.w, px(7)))
    word = "now" if runs else "Space" if taken else f"layer {layered}" if layered is not None else ""
    ink = pen.write(surface, word, head, px(QUIET), theme.ink if taken or runs else theme.quiet, "right")
    room = Box(head.x, head.y, max(1, ink.x - head.x - px(6)) if word else head.w, head.h)
    pen.write(surface, number, room, px(QUIET), theme.ink, smallest=px(SMALLEST))
    below = px(14) if riff else px(9)
    picture = Box(box.x + px(8), head.bottom + px(3), box.w - px(16), max(1, box.bottom - head.bottom - below))
    _outline(canvas, surface, picture, view.played.by_pass.get(pass_index, []), view)


def _outline(canvas: Canvas, surface: pygame.Surface, box: Box, notes: list[NoteView], view: View) -> None:
    """The notes by string (or pitch) and time; hollow where one left the scale."""
    theme, px = canvas.theme, canvas.px
    lanes = rows(box, len(view.lanes.labels))
    for lane in lanes if lanes[0].h >= px(5) else ():
        pygame.draw.rect(surface, theme.line, (box.x, lane.y + lane.h // 2, box.w, 1))
    length = view.course.quarters
    for mark in notes:
        lane = lanes[min(mark.lane, len(lanes) - 1)]
        x = box.x + round(min(max(mark.at_q / length, 0.0), 1.0) * (box.w - px(4)))
        width = max(px(4), min(round((mark.length_q or 0.1) / length * box.w), box.right - x))
        height = max(px(4), lane.h - px(2))
        rect = (x, lane.y + (lane.h - height) // 2, width, height)
        pygame.draw.rect(surface, theme.ink, rect, px(1) if mark.outside else 0)


PANEL = Panel("passes", key, draw)
