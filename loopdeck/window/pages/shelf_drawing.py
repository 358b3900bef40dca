"""The page of the shelf: what is looked for, a row for each take with its cycle as a picture, and a
belt of what can be done with the chosen one.
"""

from typing import Any

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.pages import widgets
from loopdeck.window.pages.first_notes import first_notes, kept_words
from loopdeck.window.pages.shelf import ShelfPage
from loopdeck.window.pages.shelf_rows import ROOM
from loopdeck.window.spelling import counted, pretty_scale
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

KEYS = (
    ("↑ ↓", "take"),
    ("← →", "what to do"),
    ("Enter", "do it"),
    ("Shift Enter", "search"),
    ("Shift ← →", "rating"),
    ("Delete", "bin"),
    ("Esc", "close"),
)
#: A picture has room for so many semitones at least, so that one note is not a bar.
LEAST_SPAN = 7
#: A note that comes in fewer of the passes than this is drawn thin.
OFTEN = 0.6


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """Head, rows, belt, keys."""
    page = ui.pages["shelf"]
    assert isinstance(page, ShelfPage)
    px = canvas.px
    inner = widgets.key_line(canvas, surface, box, KEYS)
    head = Box(inner.x, inner.y, inner.w, px(40))
    belt = Box(inner.x, inner.bottom - px(50), inner.w, px(50))
    _head(canvas, surface, head, page)
    room = Box(inner.x, head.bottom + px(2), inner.w, belt.y - head.bottom - px(8))
    if not page.rows.found["rows"]:
        _nothing(canvas, surface, room, page)
    for place, row in zip(rows(room, ROOM), page.rows.found["rows"], strict=False):
        _row(canvas, surface, place, row, view, page)
    _belt(canvas, surface, belt, view, page)


def _head(canvas: Canvas, surface: pygame.Surface, box: Box, page: ShelfPage) -> None:
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    where = "The bin" if page.rows.binned else "The shelf"
    text = f"{where}: {page.rows.asked}" if page.rows.asked else where
    total, at = page.rows.found["total"], page.rows.found["at"]
    place = f"{at + 1:,} of {total:,} {'take' if total == 1 else 'takes'}" if total else ""
    if not page.rows.found["complete"] and not page.rows.trouble:
        place = f"{place}, reading on" if place else "reading"
    width = pen.width(place, px(QUIET + 4))
    right = Box(box.right - width - px(4), box.y, width + px(4), box.h)
    pen.write(surface, place, right, px(QUIET + 4), theme.quiet, "right", px(SMALLEST))
    pen.write(surface, text, Box(box.x, box.y, max(1, right.x - box.x - px(20)), box.h), px(TEXT + 4), theme.ink)


def _nothing(canvas: Canvas, surface: pygame.Surface, box: Box, page: ShelfPage) -> None:
    words = page.rows.trouble
    if not words and page.rows.found["complete"]:
        words = "No take has these words." if page.rows.asked else "Nothing is kept yet: F5 keeps what you played."
        words = "The bin is empty." if page.rows.binned and not page.rows.asked else words
    if words:
        widgets.paragraph(canvas, surface, box, words, canvas.px(TEXT), canvas.theme.ink, 4)


def _row(canvas: Canvas, surface: pygame.Surface, place: Box, row: dict[str, Any], view: View, page: ShelfPage) -> None:
    """Name and rating, and below them the brief in short; on the right the cycle."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    line = place.inset(0, px(2))
    if page.rows.chosen is row:
        widgets.frame(canvas, surface, line)
    if row["number"] == page.marked:
        pygame.draw.rect(surface, theme.ink, (line.x, line.y, px(8), line.h))
    picture = Box(line.right - px(336), line.y + px(5), px(324), line.h - px(10))
    text = Box(line.x + px(18), line.y, picture.x - line.x - px(30), line.h)
    upper = Box(text.x, text.y + px(2), text.w, text.h * 56 // 100)
    lower = Box(text.x, upper.bottom, text.w, text.h - upper.h - px(6))
    state = "HEARD" if row["number"] == view.shelf.heard else "MARKED" if row["number"] == page.marked else ""
    after = "  ".join(one for one in ("●" * row["rating"], state) if one)
    width = min(pen.width(after, px(QUIET + 2)) + px(4), upper.w // 2) if after else 0
    pen.write(
        surface, after, Box(upper.right - width, upper.y, max(1, width), upper.h), px(QUIET + 2), theme.ink, "right",
        px(SMALLEST),
    )  # fmt: skip
    name = pen.write(
        surface, row["name"], Box(upper.x, upper.y, max(1, upper.w - width - px(12)), upper.h), px(TEXT), theme.ink,
        smallest=px(TEXT),
    )  # fmt: skip
    _words(canvas, surface, lower, brief_words(row))
    found = page.rows.pictures.get(row["number"])
    if found is not None:
        # Takes are named after the brief they were played in: how they begin tells them apart.
        left = name.right + px(26)
        room = Box(left, upper.y, upper.right - width - px(12) - left, upper.h)
        if room.w > px(80):
            pen.write(surface, first_notes(found, row["scale"]), room, px(QUIET + 2), theme.quiet, smallest=px(QUIET))
        surface.blit(_picture(canvas, row["number"], found, picture), picture)


def brief_words(row: dict[str, Any]) -> list[str]:
    """What is said of a take in one line, piece by piece."""
    passes = counted(row["passes"], "pass", "passes") if row["passes"] else ""
    scale = pretty_scale(row["scale"]) if row["scale"] else ""
    kept = kept_words(row["kept_at"])
    words = (
        "take",
        str(row["number"]),
        kept,
        scale,
        row["cycle"],
        f"{row['qpm']:g}",
        passes,
        *row["tags"],
        row["note"],
    )
    return [word for word in words if word]


def _words(canvas: Canvas, surface: pygame.Surface, box: Box, words: list[str]) -> None:
    """Each piece by itself: most of them were written for another take already, and what is written
    once costs nothing more.
    """
    pen, px, left = canvas.pen, canvas.px, box.x
    for word in words:
        width = pen.width(word, px(QUIET))
        room = Box(left, box.y, min(width + px(2), box.right - left), box.h)
        if room.w < min(width, px(60)):
            return
        ink = pen.write(surface, word, room, px(QUIET), canvas.theme.quiet, smallest=px(QUIET))
        left = ink.right + px(7 if word == "take" else 17)


def _picture(canvas: Canvas, number: int, found: dict[str, Any], box: Box) -> pygame.Surface:
    """The cycle small: a stroke where each group begins, the notes by place and pitch; layers
    hollow, the playing solid, thin what came in few passes.
    """
    theme, px = canvas.theme, canvas.px

    def paint() -> pygame.Surface:
        surface = pygame.Surface((box.w, box.h), pygame.SRCALPHA, 32)
        notes = found["notes"]
        pitches = [note[2] for note in notes]
        low, high = (min(pitches), max(pitches)) if pitches else (0, 0)
        span = max(high - low, LEAST_SPAN)
        low -= (span - (high - low)) / 2
        height = max(px(5), min(px(9), box.h // 6))
        pygame.draw.rect(surface, theme.line, (0, box.h - px(2), box.w, px(2)))
        for group in found["groups"]:
            pygame.draw.rect(surface, theme.line, (round(group * box.w), 0, px(2), box.h))
        # Layers below the playing, and the longest first: none covers another that lies in it.
        for place, length, pitch, weight, layer in sorted(notes, key=lambda note: (not note[4], -note[1])):
            x, width = round(place * box.w), max(px(5), round(length * box.w) - px(2))
            y = px(3) + round((box.h - px(10) - height) * (1.0 - (pitch - low) / span))
            if layer:
                # Around what was played of it, where that lies at the same place. Of two that meet
                # one line is left between them.
                around = pygame.Rect(x - px(3), y - px(3), width + 2 * px(3), height + 2 * px(3))
                around = around.clip(surface.get_rect())
                surface.fill((0, 0, 0, 0), around)
                pygame.draw.rect(surface, theme.ink, around, px(2))
            elif weight >= OFTEN:
                pygame.draw.rect(surface, theme.ink, (x, y, width, height))
            else:
                pygame.draw.rect(surface, theme.quiet, (x, y + height // 3, width, max(px(2), height // 3)))
        return surface

    return canvas.picture(("shelf", theme.name, number, box.w, box.h, len(found["notes"])), paint)


def _belt(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, page: ShelfPage) -> None:
    """What can be done: the chosen act in a frame in the middle, the others to both sides."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    acts = page.acts_here(view)
    at = min(page.act_at, len(acts) - 1)
    pygame.draw.rect(surface, theme.line, (box.x, box.y, box.w, px(2)))
    width = pen.width(acts[at].word, px(TEXT)) + px(44)
    middle = Box(box.x + (box.w - width) // 2, box.y + px(6), width, box.h - px(8))
    widgets.frame(canvas, surface, middle)
    pen.write(surface, acts[at].word, middle, px(TEXT), theme.ink, "centre")
    for way in (1, -1):
        edge = middle.right + px(26) if way > 0 else middle.x - px(26)
        for step in range(1, len(acts)):
            word = acts[(at + way * step) % len(acts)].word
            long = pen.width(word, px(QUIET + 2))
            left = edge if way > 0 else edge - long
            if left < box.x or left + long > box.right:
                break
            place = Box(left, middle.y, long + px(2), middle.h)
            pen.write(surface, word, place, px(QUIET + 2), theme.quiet, smallest=px(SMALLEST))
            edge = left + long + px(26) if way > 0 else left - px(26)
