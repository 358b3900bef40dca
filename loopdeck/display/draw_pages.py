"""The pages over the lanes: every key there is, and the brief to be changed while playing."""

import pygame

from loopdeck.display import briefpage, keys
from loopdeck.display.canvas import Canvas
from loopdeck.display.desk import Desk
from loopdeck.display.layout import QUIET, TEXT, Box, columns, rows
from loopdeck.display.view import View
from loopdeck.display.words import pretty_note, pretty_scale


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk, now: float) -> None:
    """The page that is open."""
    pygame.draw.rect(surface, canvas.theme.ink, box, canvas.px(2))
    inner = box.inset(canvas.px(16), canvas.px(8))
    (help_page if desk.page == "help" else brief_page)(canvas, surface, inner, view, desk)


def help_page(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk) -> None:
    """Every binding, in two columns under the names of their groups, and the musical keys below."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    left = [keys.PLAY, keys.LAYERS, keys.KEEP]
    lists = [
        _lines([group for group in keys.GROUPS if group in left]),
        _lines([g for g in keys.GROUPS if g not in left]),
    ]
    strings = view.brief.tuning.strings if view.brief is not None else ()
    lists[1].append(("", "The letter rows are the strings, each key one fret"))
    for row, words in reversed(list(enumerate(keys.ROW_WORDS))):
        if row < len(strings):
            string = len(strings) - row
            name = pretty_note(view.brief.tuning.name_of(string)) if view.brief is not None else ""
            lists[1].append((words, f"string {string}, from the open {name}; Shift is an accent"))
    longest = max(len(one) for one in lists)
    for column, lines in zip(columns(box, 2, px(28)), lists, strict=True):
        for (key, words), place in zip(lines, rows(column, longest), strict=False):
            if not key:
                ink = pen.write(surface, words, place, px(22), theme.ink)
                rule = ink.right + px(12)
                pygame.draw.rect(surface, theme.line, (rule, place.y + place.h // 2, place.right - rule, px(2)))
                continue
            first = Box(place.x, place.y, px(168), place.h)
            pen.write(surface, key, first, px(QUIET), theme.ink)
            pen.write(surface, words, Box(first.right, place.y, place.w - first.w, place.h), px(QUIET), theme.quiet)


def _lines(groups: list[str]) -> list[tuple[str, str]]:
    lines: list[tuple[str, str]] = []
    for group in groups:
        lines.append(("", group))
        lines += [(keys.label(one.key), one.words) for one in keys.BINDINGS if one.group == group]
    return lines


def brief_page(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, desk: Desk) -> None:
    """A line for each part of the brief; the chosen one in a frame, with what may be typed below."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    lines = rows(Box(box.x, box.y, box.w, box.h - px(64)), len(briefpage.LINES))
    for index, (line, place) in enumerate(zip(briefpage.LINES, lines, strict=True)):
        if index == desk.brief_line:
            pygame.draw.rect(surface, theme.shade, place)
            pygame.draw.rect(surface, theme.ink, place, px(2))
        value = view.brief_texts.get(line.field)
        text = "none" if value in (None, "") else str(value)
        if line.field == "scale":
            text = pretty_scale(text)
        inside = place.inset(px(12), 0)
        pen.write(surface, line.title, Box(inside.x, inside.y, px(300), inside.h), px(TEXT), theme.quiet)
        right = Box(inside.x + px(310), inside.y, inside.w - px(310), inside.h)
        pen.write(surface, f"← {text} →" if index == desk.brief_line else text, right, px(TEXT), theme.ink)
    hint, how = rows(Box(box.x, lines[-1].bottom + px(6), box.w, box.bottom - lines[-1].bottom - px(6)), 2)
    pen.write(surface, briefpage.LINES[desk.brief_line].hint, hint, px(QUIET + 2), theme.ink)
    steps = "    ".join(f"{key} {words}" for key, words in keys.BRIEF_KEYS)
    pen.write(surface, steps, how, px(QUIET), theme.quiet)
