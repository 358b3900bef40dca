"""The page of briefs: the list on the left, and beside it what the chosen one says."""

import pygame

from loopdeck.brief.brief import Brief
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box
from loopdeck.window.pages import widgets
from loopdeck.window.pages.briefs import BACK, FILE, SAVE, BriefsPage, Row
from loopdeck.window.spelling import pretty_degree, pretty_note, pretty_scale, pretty_tempo
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

KEYS = (
    ("↑ ↓", "choose a line"),
    ("Enter", "take the brief, or save"),
    ("Delete", "delete one of yours"),
    ("Esc", "close"),
)


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """The list, the preview, the keys."""
    page = ui.pages["briefs"]
    assert isinstance(page, BriefsPage)
    inner = widgets.key_line(canvas, surface, box, KEYS)
    width = inner.w * 42 // 100
    _list(canvas, surface, Box(inner.x, inner.y, width, inner.h), view, page)
    gap = canvas.px(22)
    preview(
        canvas, surface, Box(inner.x + width + gap, inner.y, inner.w - width - gap, inner.h), page.row(view)
    )  # fmt: skip


def _list(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, page: BriefsPage) -> None:
    lines = page.rows(view)
    at = max(0, min(page.at, len(lines) - 1))
    places = widgets.list_places(canvas, box, len(lines), 40)
    if len(lines) > len(places):
        rest, places = places[-1], places[:-1]
        first = widgets.first_shown(len(lines), at, len(places))
        widgets.more(canvas, surface, rest.inset(canvas.px(14), 0), first, len(lines) - first - len(places))
    else:
        first = 0
    for index, (row, place) in enumerate(zip(lines[first:], places, strict=False), first):
        _line(canvas, surface, place.inset(0, canvas.px(1)), row, view, page, index == at)


def _line(
    canvas: Canvas, surface: pygame.Surface, box: Box, row: Row, view: View, page: BriefsPage, chosen: bool
) -> None:
    """A name, and at the right whose it is; a heavy bar before the one in force."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    if chosen:
        widgets.frame(canvas, surface, box)
    force = page.in_force(row, view)
    if force:
        pygame.draw.rect(surface, theme.ink, (box.x, box.y, px(8), box.h))
    inside = Box(box.x + px(18), box.y, max(1, box.w - px(28)), box.h)
    word = "in force" if force else "yours" if row.kind == FILE and row.file is not None and row.file.own else ""
    if row.kind == FILE and row.brief is None:
        word = "cannot be read"
    width = pen.width(word, px(QUIET)) if word else 0
    pen.write(surface, word, inside, px(QUIET), theme.quiet, "right", px(SMALLEST))
    room = Box(inside.x, inside.y, max(1, inside.w - width - px(14)), inside.h)
    ink = theme.ink if row.kind != SAVE else theme.quiet
    pen.write(surface, row.title, room, px(TEXT), ink if not chosen else theme.ink, smallest=px(QUIET))


def preview(canvas: Canvas, surface: pygame.Surface, box: Box, row: Row) -> None:
    """What a brief says: name, scale with its notes, tempo and feel, the cycle to scale, mood and
    technique.
    """
    theme, px = canvas.theme, canvas.px
    if row.brief is None:
        text = row.file.wrong if row.file is not None else "No brief yet: waiting for the engine."
        widgets.paragraph(canvas, surface, box, text, px(QUIET + 4), theme.ink, 8)
        return
    brief = row.brief
    title = {SAVE: f"In force: {brief.name}", BACK: f"Before: {brief.name}"}.get(row.kind, brief.name)
    room = widgets.paragraph(canvas, surface, box, title, px(34), theme.ink, 1)
    for name, text in brief_lines(brief):
        place = Box(room.x, room.y, room.w, px(36))
        widgets.pair(canvas, surface, place, name, text, 128)
        room = Box(room.x, room.y + px(37), room.w, max(0, room.h - px(37)))
    picture = Box(room.x, room.y + px(6), room.w, px(104))
    widgets.cycle_picture(canvas, surface, picture, str(brief.cycle))
    room = Box(room.x, picture.bottom + px(8), room.w, max(0, box.bottom - picture.bottom - px(8)))
    for text in (brief.mood, brief.technique):
        if text and room.h >= px(30):
            room = widgets.paragraph(canvas, surface, room, f"{text[0].upper()}{text[1:]}.", px(26), theme.ink, 2)


def brief_lines(brief: Brief) -> list[tuple[str, str]]:
    """Titles and texts of what matters most."""
    scale = brief.scale
    lines = [("scale", pretty_scale(str(scale)) if scale is not None else "none")]
    if scale is not None:
        notes = [
            f"{pretty_note(note)} {pretty_degree(degree)}"
            for note, degree in zip(scale.notes, scale.degrees, strict=True)
        ]
        lines.append(("its notes", "   ".join(notes)))
    swing = str(brief.swing)
    feel = swing if swing.startswith("straight") else f"swing {swing}"
    texts = brief.to_dict()
    extra = [f"{texts['groove']} groove" if texts["groove"] != "off" else ""]
    extra.append(f"ramp {texts['ramp']}" if texts["ramp"] != "off" else "")
    lines.append(("tempo", f"{pretty_tempo(str(brief.tempo))}   grid {brief.grid}   {feel}"))
    lines.append(("tuning", "   ".join(filter(None, [str(texts["tuning"]), *extra]))))
    return lines
