"""The lanes: what sounds in this pass. The layers lie on them in quieter ink, muted ones hollow,
the chosen one (or the newest) with its words and over the others; over all of them what is
played now. Below, smaller, the pass before.
"""

from collections.abc import Hashable, Iterable, Sequence

import pygame

from loopdeck.protocol.messages import LayerRow
from loopdeck.theory.programs import is_guitar
from loopdeck.window.canvas import Canvas
from loopdeck.window.draw_lanes_rows import lane_rows, roomy
from loopdeck.window.draw_notes import put, spots
from loopdeck.window.layer_notes import chords_of
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.note_picture import NotePicture, NotePlan
from loopdeck.window.note_view import NoteView
from loopdeck.window.shapes import Look, lozenge
from loopdeck.window.spelling import is_silent, pretty_note
from loopdeck.window.target import draw as target
from loopdeck.window.technique import is_on_the_way
from loopdeck.window.text import CAP
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View


def grid(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """Lanes with their names, slots (at their played places, so swing is seen), groups and bars;
    and the layers.
    """
    theme, px, page, cycle_layout = canvas.theme, canvas.px, canvas.page, view.cycle_layout
    lanes = view.lanes
    left, right = canvas.layout.time_left, canvas.layout.time_right
    if view.brief is not None and view.brief.cycle is not None:
        for slot in view.brief.slots.played_q:
            if page.start_q <= slot < page.end_q:
                pygame.draw.rect(surface, theme.line, (canvas.x_of(float(slot)), box.y, max(1, px(1)), box.h))
    for arch in cycle_layout.groups:
        if page.start_q <= arch.start_q < page.end_q:
            width = px(4) if arch.opens_bar else px(2)
            colour = theme.ink if arch.opens_bar else theme.quiet
            pygame.draw.rect(surface, colour, (canvas.x_of(arch.start_q) - width // 2, box.y, width, box.h))
    pygame.draw.rect(surface, theme.ink, (right - px(2), box.y, px(4), box.h))
    for row, name in zip(lane_rows(canvas, view), lanes.labels, strict=True):
        y = row.y + row.h // 2
        thick = px(2) if lanes.kind == "strings" or name else 1
        pygame.draw.rect(surface, theme.quiet if name else theme.line, (left - px(14), y, right - left + px(14), thick))
        if name:
            where = Box(box.x, row.y, left - px(20) - box.x, row.h)
            canvas.pen.write(surface, name, where, px(TEXT) if row.h >= px(24) else px(20), theme.ink, "left")
    if view.played.practising.run is not None:
        # The layers are muted meanwhile: what one plays against is the target.
        target.trays(canvas, surface, view)
    else:
        _layers(canvas, surface, view, ui)
    if is_fresh(view):
        _first_words(canvas, surface, view, ui)


def is_fresh(view: View) -> bool:
    """True until something was played, looped or started: the player may not know yet how this
    works.
    """
    return view.clock.state == "STOPPED" and not view.played.by_pass and not view.layers


def first_words(view: View, ui: UiState) -> list[str]:
    """What to do in the first ten seconds."""
    if not ui.plays(view):
        how = "Play: whatever you play is shown and remembered."
    elif view.brief is not None and len(view.brief.tuning.strings) >= 2:
        count = len(view.brief.tuning.strings)
        low, next_up = (pretty_note(view.brief.tuning.name_of(count - up)) for up in (0, 1))
        how = f"Play the letter keys: Z X C V ... are frets of the {low} string, A S D F ... of the {next_up} string."
    else:
        how = "Play the letter keys: Z X C V ... are frets of the lowest string."
    return [how, "Tab starts the click.  Space loops what you just played.  F5 keeps it.", "F1 shows every key."]


def _first_words(canvas: Canvas, surface: pygame.Surface, view: View, ui: UiState) -> None:
    px, lanes = canvas.px, canvas.layout.lanes
    words = first_words(view, ui)
    size = canvas.pen.fit(words[0], px(TEXT), canvas.layout.time_right - canvas.layout.time_left - px(80), px(SMALLEST))
    width = max(canvas.pen.width(text, size) for text in words) + px(48)
    middle = (canvas.layout.time_left + canvas.layout.time_right) // 2
    card = Box(middle - width // 2, lanes.y + lanes.h // 2 - px(72), width, px(144))
    pygame.draw.rect(surface, canvas.theme.ground, card)
    pygame.draw.rect(surface, canvas.theme.ink, card, px(3))
    for text, line in zip(words, rows(card.inset(px(24), px(10)), len(words)), strict=True):
        canvas.pen.write(surface, text, line, size, canvas.theme.ink)


# ---- layers --------------------------------------------------------------------------------------


def _layers(canvas: Canvas, surface: pygame.Surface, view: View, ui: UiState) -> None:
    """Every layer; the one in front last."""
    front = front_layer(view, ui)
    if front is None:
        return
    lanes = [roomy(canvas, row) for row in lane_rows(canvas, view)]
    others = [row for row in view.layers if row.number != front.number]
    shares = _shares(view, others, len(lanes))
    for row in others:
        _bars(canvas, surface, lanes, view, row, shares)
    look = Look(canvas.theme.quiet, is_silent(front, view.layers))
    plan = NotePlan("front")
    how = view.played.how_in_layers.get(front.number, {})
    notes = [mark for mark in _marks(view, front) if not is_on_the_way(how.get(mark.id))]
    put(canvas, plan, lanes, spots(canvas, notes, 0.0, ui.biggest, lanes[0].h), ui.biggest, look, how)
    plan.draw(surface, pygame.Rect(canvas.layout.window))


def _marks(view: View, row: LayerRow) -> Sequence[NoteView]:
    """The notes of a layer as they are drawn."""
    marks = view.layer_notes_of.get(row.number, ())
    return chords_of(marks, view.brief, view.lanes) if is_guitar(row.program) else marks


def front_layer(view: View, ui: UiState) -> LayerRow | None:
    """The layer that lies in front: the chosen one, else the newest that sounds, else the newest; a
    guitar's only when it is chosen or there is no other.
    """
    chosen = [row for row in view.layers if row.number == ui.chosen]
    heard = [row for row in view.layers if not is_silent(row, view.layers)]
    found = chosen or [row for row in heard if not is_guitar(row.program)] or heard or list(view.layers)
    return found[-1] if found else None


def _shares(view: View, others: Sequence[LayerRow], lanes: int) -> dict[int, list[int]]:
    """The layers that have notes on each lane, by their numbers: those that share its height."""
    found: dict[int, list[int]] = {}
    for row in others:
        for lane in {min(mark.lane, lanes - 1) for mark in _marks(view, row)}:
            found.setdefault(lane, []).append(row.number)
    return found


def _bars(
    canvas: Canvas, surface: pygame.Surface, lanes: list[Box], view: View, row: LayerRow, shares: dict[int, list[int]]
) -> None:
    """A layer behind the front one: bars as long as its notes, each layer at a height of its own
    within the lane.
    """
    px, theme = canvas.px, canvas.theme
    size, silent = px(SMALLEST), is_silent(row, view.layers)
    colour, inside = (theme.quiet, theme.ground) if silent else (theme.layer, theme.layer)
    for mark in _marks(view, row):
        if mark.at_q >= canvas.page.end_q or (mark.end_q or 0.0) <= canvas.page.start_q:
            continue
        at = min(mark.lane, len(lanes) - 1)
        lane, index, count = lanes[at], shares[at].index(row.number), len(shares[at])
        height = max(px(7), min(px(24), lane.h // count - px(3)))
        y = lane.y + (lane.h * (2 * index + 1) // count - height) // 2
        x = max(canvas.x_of(mark.at_q), canvas.layout.time_left - px(10))
        width = max(px(6), min(canvas.x_of(mark.end_q or mark.at_q), canvas.layout.time_right) - x - px(1))
        pygame.draw.rect(surface, colour, (x, y, width, height))
        pygame.draw.rect(surface, inside, Box(x, y, width, height).inset(px(2)))
        word = mark.spelling.name if mark.fret is None else str(mark.fret)
        if height >= size * CAP + px(3) and canvas.pen.width(word, size) + px(6) <= width:
            canvas.pen.write(surface, word, Box(x + px(3), y, width, height), size, theme.ink)


# ---- what is played ------------------------------------------------------------------------------


def notes(canvas: Canvas, surface: pygame.Surface, view: View, ui: UiState, now: float) -> None:
    """The notes of this pass, and the early downbeat of the next one where it was played."""
    plan = note_plan(canvas, view, ui, now)
    surface.set_clip(canvas.layout.lanes)
    plan.draw(surface, pygame.Rect(canvas.layout.lanes))
    for foot in feet(canvas, plan, view, now):
        surface.fill(canvas.theme.ink, foot)
    surface.set_clip(None)


def note_plan(canvas: Canvas, view: View, ui: UiState, now: float) -> NotePlan:
    """Where these notes lie, worked out only when a note was played, ended, or passed out of
    sight.
    """
    changed = view.changed
    key = (
        changed["notes"], changed["brief"], changed["cycle_layout"], canvas.page, canvas.layout.sections["lanes"],
        view.shown_key(now), ui.biggest, view.played.practising.run is None,
    )  # fmt: skip
    if canvas.plan is None or canvas.plan.key != key:
        canvas.plan = _plan(canvas, view, ui, now, key)
    return canvas.plan


def feet(canvas: Canvas, plan: NotePlan, view: View, now: float) -> list[Box]:
    """The feet of what still sounds: they have come as far as time has."""
    if not plan.sounding:
        return []
    place = view.place(now)
    at_q = place.at_q if place.running else view.free_at(now)
    if at_q is None:
        return []
    end, least = canvas.x_of(at_q), canvas.px(3)
    return [Box(x, y, max(least, end - x), height) for x, y, height in plan.sounding]


def _plan(canvas: Canvas, view: View, ui: UiState, now: float, key: Hashable) -> NotePlan:
    """Where the notes' heads, feet and bulges lie."""
    plan = NotePlan(key)
    this, before_this = view.shown(now)
    # The frets on the way of a slide are in its line.
    this = [mark for mark in this if not is_on_the_way(view.played.how.get(mark.id))]
    lanes = [roomy(canvas, row) for row in lane_rows(canvas, view)]
    if view.played.practising.run is not None:
        lanes = [target.above_signs(canvas, lane) for lane in lanes]
    end_q = view.cycle_layout.quarters
    look = Look(canvas.theme.ink)
    if canvas.page.start_q == 0:
        for mark in before_this:
            if mark.end_q is None or mark.end_q > end_q:
                plan.add(_tied(canvas, lanes[min(mark.lane, len(lanes) - 1)], mark, end_q))
    height = lanes[0].h
    put(canvas, plan, lanes, spots(canvas, this, 0.0, ui.biggest, height), ui.biggest, look, view.played.how)
    early = [mark for mark in view.early_next(now) if mark.at_q < 0]
    put(canvas, plan, lanes, spots(canvas, early, end_q, ui.biggest, height), ui.biggest, look)
    return plan


def _tied(canvas: Canvas, lane: Box, mark: NoteView, cycle_q: float) -> NotePicture:
    """The rest of a note held across the end of the cycle: its foot goes on."""
    px = canvas.px
    left, y, height = canvas.layout.time_left, lane.bottom - px(8), px(5)
    if mark.end_q is None:
        return NotePicture(sounding=[(left, y, height)])
    end = min(canvas.x_of(mark.end_q - cycle_q), canvas.layout.time_right)
    return NotePicture(rects=[(canvas.theme.ink, (left, y, max(px(3), end - left), height))])


def before(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The pass before: quieter and smaller, bars as long as the notes, lozenges where one left the
    scale.
    """
    theme, px = canvas.theme, canvas.px
    where = Box(box.x, box.y, canvas.layout.time_left - px(6) - box.x, box.h)
    canvas.pen.write(surface, "before", where, px(QUIET), theme.quiet)
    _, old = view.shown(now)
    lanes = rows(box, len(view.lanes.labels))
    left, right = canvas.layout.time_left, canvas.layout.time_right
    for lane in lanes if lanes[0].h >= px(5) else ():
        pygame.draw.rect(surface, theme.line, (left, lane.y + lane.h // 2, right - left, 1))
    _small_notes(canvas, surface, lanes, old)


def _small_notes(canvas: Canvas, surface: pygame.Surface, lanes: list[Box], these: Iterable[NoteView]) -> None:
    px, page = canvas.px, canvas.page
    for mark in these:
        end_q = mark.end_q if mark.end_q is not None else page.end_q
        if end_q < page.start_q or mark.at_q >= page.end_q:
            continue
        lane = lanes[min(mark.lane, len(lanes) - 1)]
        x = max(canvas.x_of(mark.at_q), canvas.x_of(page.start_q) - px(12))
        right = min(canvas.x_of(end_q), canvas.layout.time_right)
        if mark.spelling.outside:
            height = max(5, lane.h)
            surface.blit(lozenge(canvas, max(px(18), height), height, px(2), height // 2), (x, lane.y))
        else:
            height = max(2, lane.h * 7 // 10)
            rect = (x, lane.y + (lane.h - height) // 2, max(px(4), right - x), height)
            pygame.draw.rect(surface, canvas.theme.quiet, rect)
