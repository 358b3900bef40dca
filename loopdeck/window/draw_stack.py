"""What stands on the loop and on the shelf: the layers, each with its state in a word and its outline, and the last keeps."""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.desk import Desk
from loopdeck.window.layout import QUIET, TEXT, Box, columns, rows
from loopdeck.window.view import LayerRow, View
from loopdeck.window.words import counted

ROWS, COLUMNS = 4, 2


def layers(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """Newest first, down the left column and then the right one; what does not fit is counted in the last place."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    pygame.draw.rect(surface, theme.line, (box.x, box.y, box.w, px(2)))
    inner = Box(box.x, box.y + px(5), box.w, box.h - px(5))
    if not view.layers:
        pen.write(
            surface,
            "No layer yet: Space makes one of what you just played.",
            rows(inner, ROWS)[0],
            px(TEXT),
            theme.quiet,
        )
        return
    lines = max(ROWS, inner.h // px(44))
    places = [place for column in columns(inner, COLUMNS, px(16)) for place in rows(column, lines)]
    newest = list(reversed(view.layers))
    if desk.chosen is not None:
        # The chosen one is always in sight.
        at = next((i for i, row in enumerate(newest) if row.number == desk.chosen), 0)
        if at >= len(places) - 1 and len(newest) > len(places):
            newest = newest[at - len(places) + 2 :] + newest[: at - len(places) + 2]
    shown = newest if len(newest) <= len(places) else newest[: len(places) - 1]
    for row, place in zip(shown, places, strict=False):
        _layer(
            canvas,
            surface,
            place.inset(0, px(1)),
            row,
            view,
            desk.chosen in (None, row.number),
            desk.chosen is not None,
        )
    rest = newest[len(shown) :]
    if rest:
        muted = sum(row.muted for row in rest)
        text = f"and {len(rest)} more" + (f", {muted} MUTED" if muted else "")
        pen.write(surface, text, places[-1].inset(px(8), px(1)), px(TEXT), theme.ink)


def _layer(
    canvas: Canvas, surface: pygame.Surface, box: Box, row: LayerRow, view: View, reached: bool, framed: bool
) -> None:
    """One row: number, word, notes, outline. A chosen one is shaded, with a heavy bar before it."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    if reached and framed:
        pygame.draw.rect(surface, theme.shade, box)
        pygame.draw.rect(surface, theme.ink, (box.x, box.y, px(6), box.h))
    line = box.inset(px(12), 0)
    number = Box(line.x, line.y, px(40), line.h)
    pen.write(surface, str(row.number), number, px(TEXT), theme.ink)
    word = Box(number.right, line.y, px(160), line.h)
    pen.write(surface, row.word, word, px(TEXT), theme.quiet if row.muted else theme.ink)
    notes = Box(word.right, line.y, px(66), line.h)
    pen.write(surface, counted(row.notes, "note"), notes, px(18), theme.quiet)
    _outline(canvas, surface, Box(notes.right + px(8), line.y, line.right - notes.right - px(8), line.h), row, view)


def _outline(canvas: Canvas, surface: pygame.Surface, box: Box, row: LayerRow, view: View) -> None:
    """The layer's notes as a small picture: time to the right, pitch upwards; hollow while muted."""
    notes = view.outlines.get(row.number, ())
    theme, px = canvas.theme, canvas.px
    pygame.draw.rect(surface, theme.line, (box.x, box.bottom - 1, box.w, 1))
    if not notes or box.w < 8:
        return
    low, high = min(pitch for _, _, pitch in notes), max(pitch for _, _, pitch in notes)
    height = max(2, box.h // 7)
    length = view.course.quarters
    for onset, duration, pitch in notes:
        place = min(max(onset / length, 0.0), 1.0)
        x = box.x + round(place * (box.w - 3))
        w = max(2, min(round(duration / length * box.w) - 1, box.right - x))
        share = (high - pitch) / (high - low) if high > low else 0.5
        y = box.y + px(2) + round(share * (box.h - height - px(5)))
        pygame.draw.rect(surface, theme.quiet if row.muted else theme.ink, (x, y, w, height), 1 if row.muted else 0)


def kepts(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """The last keeps, newest first: when, name, passes and rating."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    pygame.draw.rect(surface, theme.line, (box.x, box.y, box.w, px(2)))
    inner = Box(box.x, box.y + px(5), box.w, box.h - px(5))
    lines = rows(inner, max(ROWS, inner.h // px(44)))
    if not view.kepts:
        passes = "pass" if desk.keep_passes == 1 else f"{desk.keep_passes} passes"
        pen.write(surface, f"F5 keeps the last {passes}.", lines[0], px(TEXT), theme.quiet)
        return
    for kept, line in zip(view.kepts, lines, strict=False):
        after = counted(kept.passes, "pass", "passes") + (f" {'●' * kept.rating}" if kept.rating else "")
        width = pen.width(after, px(QUIET))
        pen.write(surface, after, Box(line.right - width, line.y, width, line.h), px(QUIET), theme.quiet)
        text = f"{kept.when} {kept.name or 'untitled'}".strip()
        room = Box(line.x, line.y, line.w - width - px(12), line.h)
        size = px(TEXT)
        pen.write(surface, pen.shorten(text, size, room.w), room, size, theme.ink)
