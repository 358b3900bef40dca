"""The layers, each with its state in a word and its outline; beside them the last keeps."""

import re
from collections.abc import Hashable

import pygame

from loopdeck.protocol.messages import LayerRow, TakeKept
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, columns, rows
from loopdeck.window.panels.panel import Panel, rule
from loopdeck.window.spelling import counted, is_silent, layer_word
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

ROWS = 4
_ROW = 33
_TIME = re.compile(r"\b\d\d:\d\d\b")


def key(view: View, ui: UiState, now: float) -> Hashable:
    """What the panel's picture depends on."""
    changed = view.changed
    return changed["layers"], changed["keeps"], ui.chosen, changed["cycle_layout"], ui.passes.kept


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """Layers on the left, keeps on the right."""
    inner = rule(canvas, surface, box)
    gap = canvas.px(18)
    width = (inner.w - gap) * 64 // 100
    _layers(canvas, surface, Box(inner.x, inner.y, width, inner.h), view, ui)
    _keeps(canvas, surface, Box(inner.x + width + gap, inner.y, inner.w - width - gap, inner.h), view, ui)


def _lines(canvas: Canvas, box: Box) -> int:
    """As many rows as fit at full size; at most a few where a large window has much room."""
    return max(1, round(box.h / canvas.px(_ROW)))


# ---- layers --------------------------------------------------------------------------------------


def _layers(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """Newest first; in two columns where one is not enough; what does not fit is counted in the
    last place.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    lines = _lines(canvas, box)
    if not view.layers:
        text = "No layer yet: Space loops what you just played."
        pen.write(surface, text, rows(box, lines)[0], px(TEXT), theme.quiet)
        return
    across = 1 if len(view.layers) <= lines else 2
    places = [place for column in columns(box, across, px(16)) for place in rows(column, lines)]
    newest = list(reversed(view.layers))
    at = next((i for i, row in enumerate(newest) if row.number == ui.chosen), 0)
    if at >= len(places) - 1 and len(newest) > len(places):
        # The chosen one is always in sight.
        newest = newest[at - len(places) + 2 :] + newest[: at - len(places) + 2]
    shown = newest if len(newest) <= len(places) else newest[: len(places) - 1]
    for row, place in zip(shown, places, strict=False):
        _layer(canvas, surface, place.inset(0, px(1)), row, view, ui.chosen == row.number, across == 1)
    rest = newest[len(shown) :]
    if rest:
        counts = ((sum(row.muted for row in rest), "MUTED"), (sum(row.solo for row in rest), "SOLO"))
        text = ", ".join([f"and {len(rest)} more", *(f"{count} {word}" for count, word in counts if count)])
        pen.write(surface, text, places[-1].inset(px(8), px(1)), px(TEXT), theme.ink)


def _layer(
    canvas: Canvas, surface: pygame.Surface, box: Box, row: LayerRow, view: View, chosen: bool, wide: bool
) -> None:
    """One row: number, word, notes, outline. The chosen one is shaded, with a heavy bar before
    it.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    if chosen:
        pygame.draw.rect(surface, theme.shade, box)
        pygame.draw.rect(surface, theme.ink, (box.x, box.y, px(6), box.h))
    silent = is_silent(row, view.layers)
    line = box.inset(px(12), 0)
    number = Box(line.x, line.y, px(42), line.h)
    pen.write(surface, str(row.number), number, px(TEXT), theme.ink)
    word = Box(number.right, line.y, px(166), line.h)
    said, count = state_and_notes(row, view)
    pen.write(surface, said, word, px(TEXT), theme.quiet if silent or said == "SILENT" else theme.ink)
    notes_w = px(126) if wide else 0
    if wide:
        notes = Box(word.right, line.y, notes_w, line.h)
        pen.write(surface, count, notes, px(TEXT), theme.quiet)
    outline = Box(word.right + notes_w + px(8), line.y, max(1, line.right - word.right - notes_w - px(8)), line.h)
    _outline(canvas, surface, outline, row, view)


def state_and_notes(row: LayerRow, view: View) -> tuple[str, str]:
    """A layer's state and how many notes it has. Those beyond the end of a cycle made shorter are
    silent: ``("SOUNDING", "3 of 8")``, and ``("SILENT", "0 of 8")`` where none is left.
    """
    word, marks = layer_word(row, view.layers), view.layer_notes_of.get(row.number, ())
    beyond = sum(mark.at_q >= view.cycle_layout.quarters for mark in marks)
    if not beyond:
        return word, counted(row.notes, "note")
    left = row.notes - beyond
    return ("SILENT" if word == "SOUNDING" and left <= 0 else word), f"{max(0, left)} of {row.notes}"


def _outline(canvas: Canvas, surface: pygame.Surface, box: Box, row: LayerRow, view: View) -> None:
    """The layer's notes as a small picture: time to the right, pitch upwards; hollow while
    muted.
    """
    notes, silent = view.layer_notes_of.get(row.number, ()), is_silent(row, view.layers)
    theme, px = canvas.theme, canvas.px
    pygame.draw.rect(surface, theme.line, (box.x, box.bottom - px(2), box.w, px(1)))
    if not notes or box.w < 8:
        return
    low, high = min(mark.pitch for mark in notes), max(mark.pitch for mark in notes)
    height = max(2, box.h // 5)
    length = view.cycle_layout.quarters
    for mark in notes:
        if mark.at_q >= length:
            continue
        place = min(max(mark.at_q / length, 0.0), 1.0)
        x = box.x + round(place * (box.w - 3))
        w = max(2, min(round((mark.length_q or 0.0) / length * box.w) - 1, box.right - x))
        share = (high - mark.pitch) / (high - low) if high > low else 0.5
        y = box.y + px(2) + round(share * (box.h - height - px(6)))
        pygame.draw.rect(surface, theme.quiet if silent else theme.ink, (x, y, w, height), px(1) if silent else 0)


# ---- keeps ---------------------------------------------------------------------------------------


def _keeps(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """The last keeps, newest first: when, name, passes and rating. A long name takes a second row
    rather than being cut off.
    """
    lines = rows(box, _lines(canvas, box))
    if not view.shelf.kept:
        text = f"F5 keeps the last {ui.passes.kept_words}."
        canvas.pen.write(surface, text, lines[0], canvas.px(TEXT), canvas.theme.quiet)
        return
    at = 0
    for kept in view.shelf.kept:
        if at >= len(lines):
            break
        at += _keep(canvas, surface, lines[at:], kept)


def _keep(canvas: Canvas, surface: pygame.Surface, lines: list[Box], kept: TakeKept) -> int:
    """One keep from the first of these rows on; returns how many it took."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    after = counted(kept.passes, "pass", "passes") + (f" {'●' * kept.rating}" if kept.rating else "")
    first = lines[0]
    width = pen.width(after, px(QUIET))
    pen.write(surface, after, Box(first.right - width, first.y, width, first.h), px(QUIET), theme.quiet)
    name = kept.name or "untitled"
    # A name that says a time (of an unfinished session) does not get another one.
    text = name if _TIME.search(name) else f"{kept.when} {name}".strip()
    room = Box(first.x, first.y, first.w - width - px(12), first.h)
    for size in (px(TEXT), px(24)):
        if pen.width(text, size) <= room.w:
            pen.write(surface, text, room, size, theme.ink)
            return 1
    size = px(QUIET)
    broken = pen.lines(text, size, room.w)
    if len(broken) > 1 and len(lines) > 1:
        second = Box(lines[1].x, lines[1].y, lines[1].w, lines[1].h)
        pen.write(surface, broken[0], room, size, theme.ink)
        rest = " ".join(broken[1:])
        size = pen.fit(rest, size, second.w, px(SMALLEST))
        pen.write(surface, pen.shorten(rest, size, second.w), second, size, theme.ink)
        return 2
    size = pen.fit(text, size, room.w, px(SMALLEST))
    pen.write(surface, pen.shorten(text, size, room.w), room, size, theme.ink)
    return 1


PANEL = Panel("layers", key, draw)
