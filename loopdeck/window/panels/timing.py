"""The timing of the last passes: a dot for every note under its slot, early below the line and late
above it, and a bar for the median of a slot that was met at least twice.

A median that can be heard is heavy, and the worst two of them have their milliseconds. Time lies
as on the lanes above, so a dot stands under its note.
"""

from collections.abc import Hashable, Iterable
from statistics import median
from typing import NamedTuple

import pygame

from loopdeck.rhythm.counting import place_of
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.note_view import NoteView
from loopdeck.window.panels.panel import Panel, rule
from loopdeck.window.played import FREE_PASS
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

#: So many passes are looked at, as many as the engine's remarks on feel and scale are made of.
LAST_PASSES = 4
#: The height of the panel in milliseconds, on each side of the line. What lies beyond is an arrow
#: at the edge.
MOST_MS = 40.0
#: So many slots have their milliseconds written.
NAMED = 2


class SlotTiming(NamedTuple):
    """Where the notes of a slot came: its place in quarters, and their median in milliseconds."""

    slot_q: float
    offset_ms: float
    heard: bool


def slot_timings(notes: Iterable[NoteView]) -> list[SlotTiming]:
    """The slots met at least twice, in order. One is heard as early or late when most of its notes
    are, on the side of its median.
    """
    by_slot: dict[float, list[NoteView]] = {}
    for mark in notes:
        by_slot.setdefault(mark.slot_q, []).append(mark)
    found = []
    for slot_q, here in sorted(by_slot.items()):
        if len(here) >= 2:
            middle = median(mark.offset_ms for mark in here)
            side = "late" if middle > 0 else "early"
            found.append(SlotTiming(slot_q, middle, 2 * sum(mark.heard == side for mark in here) > len(here)))
    return found


def key(view: View, ui: UiState, now: float) -> Hashable:
    """What the panel's picture depends on."""
    changed = view.changed
    return (
        changed["notes"],
        changed["cycle_layout"],
        changed["brief"],
        changed["heard"],
        view.shown_key(now),
        _page(view, now),
    )


def _page(view: View, now: float) -> Hashable:
    place = view.place(now)
    return view.cycle_layout.page_at(place.at_q if place.running else (view.free_at(now) or 0.0))


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The dots, the medians, and what was found in words."""
    inner = rule(canvas, surface, box)
    px, theme, pen = canvas.px, canvas.theme, canvas.pen
    notes = _notes(view)
    if not notes:
        text = "Nothing to judge yet: play to the click, and this shows how early or late each note is."
        pen.write(surface, text, rows(inner, 3)[0], px(TEXT), theme.quiet)
        return
    heading = Box(inner.x, inner.y, inner.w, px(32))
    plot = Box(inner.x, heading.bottom + px(2), inner.w, inner.bottom - heading.bottom - px(4))
    shown = [mark for mark in notes if canvas.page.start_q <= mark.slot_q < canvas.page.end_q]
    slots = [one for one in slot_timings(notes) if canvas.page.start_q <= one.slot_q < canvas.page.end_q]
    _line(canvas, surface, plot)
    marks = [_dot(canvas, surface, plot, mark) for mark in shown]
    marks += [_bar(canvas, surface, plot, one) for one in slots]
    worst = sorted((one for one in slots if one.heard), key=lambda one: -abs(one.offset_ms))[:NAMED]
    words = [spread_words([one.offset_ms for one in notes]), *(_worst(view, one) for one in worst[:1])]
    pen.write(surface, "   ".join(words), heading, px(TEXT), theme.ink, smallest=px(SMALLEST))
    _names(canvas, surface, plot, worst, marks)


def _notes(view: View) -> list[NoteView]:
    """The notes of the last passes that have any."""
    passes = sorted(one for one, notes in view.played.by_pass.items() if one != FREE_PASS and notes)
    return [mark for one in passes[-LAST_PASSES:] for mark in view.played.by_pass[one]]


def _y(plot: Box, offset_ms: float) -> int:
    share = max(-1.0, min(1.0, offset_ms / MOST_MS))
    return round(plot.y + plot.h / 2 - share * (plot.h / 2 - 1))


def _line(canvas: Canvas, surface: pygame.Surface, plot: Box) -> None:
    px, theme = canvas.px, canvas.theme
    left, right = canvas.layout.time_left, canvas.layout.time_right
    for sign in (-1, 1):
        pygame.draw.rect(surface, theme.line, (left, _y(plot, sign * MOST_MS / 2), right - left, 1))
    pygame.draw.rect(surface, theme.quiet, (left, _y(plot, 0.0), right - left, px(2)))
    upper, lower = rows(Box(plot.x, plot.y, left - px(8) - plot.x, plot.h), 2)
    canvas.pen.write(surface, "late", upper, px(QUIET), theme.quiet)
    canvas.pen.write(surface, "early", lower, px(QUIET), theme.quiet)


def _dot(canvas: Canvas, surface: pygame.Surface, plot: Box, mark: NoteView) -> Box:
    """A disc; beyond the panel's range an arrow at its edge. Returns what it covers."""
    px, theme = canvas.px, canvas.theme
    x, y = canvas.x_of(mark.slot_q), _y(plot, mark.offset_ms)
    radius = px(5)
    if abs(mark.offset_ms) <= MOST_MS:
        canvas.disc(surface, x, y, radius, theme.ink if mark.heard else theme.quiet)
        return Box(x - radius, y - radius, 2 * radius, 2 * radius)
    tip, foot = (y, y + 2 * radius) if mark.offset_ms > 0 else (y, y - 2 * radius)
    pygame.draw.polygon(surface, theme.ink, [(x, tip), (x - radius, foot), (x + radius, foot)])
    return Box(x - radius, min(tip, foot), 2 * radius, 2 * radius)


def _bar(canvas: Canvas, surface: pygame.Surface, plot: Box, one: SlotTiming) -> Box:
    """The median of a slot. Returns what it covers."""
    half = canvas.px(11)
    thick = canvas.px(6 if one.heard else 2)
    y = _y(plot, one.offset_ms) - thick // 2
    y = max(plot.y, min(plot.bottom - thick, y))
    colour = canvas.theme.ink if one.heard else canvas.theme.quiet
    bar = Box(canvas.x_of(one.slot_q) - half, y, 2 * half, thick)
    pygame.draw.rect(surface, colour, bar)
    return bar


def spread_words(offsets_ms: list[float]) -> str:
    """Where the middle of the notes lies, and how near half of them are to it."""
    middle = median(offsets_ms)
    if len(offsets_ms) == 1:
        return f"One note so far, {late_words(middle) if round(middle) else 'in its place'}."
    spread = max(1, round(median(abs(one - middle) for one in offsets_ms)))
    if not round(middle):
        return f"Half of the notes lie within {spread} ms of their places."
    return f"The middle lies {late_words(middle)}; half of the notes within {spread} ms of it."


def late_words(offset_ms: float) -> str:
    """``12 ms late``, ``7 ms early``."""
    return f"{abs(round(offset_ms))} ms {'late' if offset_ms > 0 else 'early'}"


def _worst(view: View, one: SlotTiming) -> str:
    """The slot in a teacher's words."""
    if view.brief is None or view.brief.cycle is None:
        return ""
    slots = view.brief.slots
    nearest = min(range(len(slots.played_q)), key=lambda index: abs(float(slots.played_q[index]) - one.slot_q))
    at_q, cycle = slots.written[nearest], view.brief.cycle
    bar = cycle.bar_at(at_q)
    place = place_of(bar + 1, cycle.meters[bar], at_q - cycle.bar_starts[bar])
    return f"{place[0].upper()}{place[1:]}: {late_words(one.offset_ms)}."


def name_boxes(plot: Box, x: int, y: int, width: int, size: int, edges: tuple[int, int]) -> list[Box]:
    """Where the milliseconds of a slot may stand whose bar is at (x, y), the best place first:
    beside the bar, right or left, else across the line from it. ``edges``: how far left and right
    there is room.
    """
    high = max(plot.y, min(plot.bottom - size, y - size // 2))
    gap = size * 4 // 5
    across = plot.y + plot.h * 3 // 4 if y < plot.y + plot.h // 2 else plot.y + plot.h // 4
    middle = max(edges[0], min(edges[1] - width, x - width // 2))
    found = [Box(x + gap, high, width, size), Box(x - gap - width, high, width, size)]
    return [
        *(one for one in found if edges[0] <= one.x and one.right <= edges[1]),
        Box(middle, across - size // 2, width, size),
    ]


def _names(canvas: Canvas, surface: pygame.Surface, plot: Box, worst: list[SlotTiming], marks: list[Box]) -> None:
    """The milliseconds of these slots, each where it covers none of the ``marks`` if it can."""
    edges, size = (canvas.layout.time_left, canvas.layout.time_right), canvas.px(QUIET)
    for one in worst:
        text = f"{abs(round(one.offset_ms))} {'late' if one.offset_ms > 0 else 'early'}"
        places = name_boxes(
            plot, canvas.x_of(one.slot_q), _y(plot, one.offset_ms), canvas.pen.width(text, size), size, edges
        )
        where = next((box for box in places if not any(box.overlaps(mark) for mark in marks)), places[-1])
        marks.append(where)
        pygame.draw.rect(surface, canvas.theme.ground, where.inset(-canvas.px(3), 0))
        canvas.pen.write(surface, text, where, size, canvas.theme.ink)


PANEL = Panel("timing", key, draw)
