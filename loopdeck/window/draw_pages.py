"""The pages over the lanes: every key there is, the brief to be changed while playing, and how
loud each part sounds.
"""

from collections.abc import Sequence

import pygame

from loopdeck.window import briefpage, keys, levels
from loopdeck.window.canvas import Canvas
from loopdeck.window.draw_foot import sentence
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, columns, rows
from loopdeck.window.pages.drawing import DRAWINGS
from loopdeck.window.spelling import pretty_note, pretty_scale
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

#: Lines of the sound page: with fewer they do not grow, with more the page moves along.
LEAST_LINES, MOST_LINES = 9, 11


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The page that is open."""
    pygame.draw.rect(surface, canvas.theme.ink, box, canvas.px(2))
    inner = box.inset(canvas.px(16), canvas.px(8))
    pages = {"help": help_page, "brief": brief_page, "sound": sound_page}
    found = pages.get(ui.page) or DRAWINGS[ui.page].draw
    found(canvas, surface, inner, view, ui)


def help_page(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """Every binding, in two columns under the names of their groups, page by page; the musical keys
    on the first.
    """
    px = canvas.px
    lists = [_lines(groups) for groups in keys.HELP[ui.cursors.help_page]]
    if ui.cursors.help_page == 0:
        lists[0] += _letter_rows(view)
    if len(lists) == 1:
        half = -(-(len(lists[0]) + 1) // 2)
        lists = [lists[0][:half], [lists[0][0], *lists[0][half:]]]
    longest = max(len(one) for one in lists)
    last = ui.cursors.help_page + 1 == keys.HELP_PAGES
    foot_h = px(28)
    body = Box(box.x, box.y, box.w, box.h - foot_h)
    for column, lines in zip(columns(body, 2, px(28)), lists, strict=True):
        for (key, words), place in zip(lines, rows(column, longest), strict=False):
            _help_line(canvas, surface, place, key, words)
    text = f"page {ui.cursors.help_page + 1} of {keys.HELP_PAGES}: F1 {'closes' if last else 'turns it'}, Esc closes"
    foot = Box(box.x, body.bottom, box.w, foot_h)
    canvas.pen.write(surface, text, foot, px(QUIET), canvas.theme.ink, "right")


def _help_line(canvas: Canvas, surface: pygame.Surface, place: Box, key: str, words: str) -> None:
    """A key and what it does; without a key the name of a group, with a line behind it."""
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    smallest = px(SMALLEST)
    if not key:
        ink = pen.write(surface, words, place, px(24), theme.ink, smallest=smallest)
        rule = ink.right + px(12)
        pygame.draw.rect(surface, theme.line, (rule, place.y + place.h // 2, place.right - rule, px(2)))
        return
    first = Box(place.x, place.y, px(188), place.h)
    pen.write(surface, key, Box(first.x, first.y, first.w - px(14), first.h), px(22), theme.ink, smallest=smallest)
    second = Box(first.right, place.y, place.w - first.w, place.h)
    pen.write(surface, words, second, px(22), theme.quiet, smallest=smallest)


def _letter_rows(view: View) -> list[tuple[str, str]]:
    """Which row of letters is which string."""
    lines = [("", "The letter rows are the strings, each key one fret")]
    if view.brief is None:
        return lines
    tuning = view.brief.tuning
    for row, words in reversed(list(enumerate(keys.ROW_WORDS))):
        if row < len(tuning.strings):
            string = len(tuning.strings) - row
            name = pretty_note(tuning.name_of(string))
            lines.append((words, f"string {string}, from the open {name}; Shift accents"))
    return lines


def _lines(groups: Sequence[str]) -> list[tuple[str, str]]:
    lines: list[tuple[str, str]] = []
    for group in groups:
        lines.append(("", group))
        lines += [(keys.label(one.key), one.words) for one in keys.BINDINGS if one.group == group]
    return lines


def brief_page(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """A line for each part of the brief; the chosen one in a frame, with what may be typed
    below.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    lines = rows(Box(box.x, box.y, box.w, box.h - px(64)), len(briefpage.LINES))
    for index, (line, place) in enumerate(zip(briefpage.LINES, lines, strict=True)):
        if index == ui.cursors.brief_line:
            pygame.draw.rect(surface, theme.shade, place)
            pygame.draw.rect(surface, theme.ink, place, px(2))
        text = briefpage.shown(line.field, view.brief_texts.get(line.field))
        if line.field == "scale":
            text = pretty_scale(text)
        inside = place.inset(px(12), 0)
        size = max(px(SMALLEST), min(px(TEXT), place.h * 86 // 100))
        pen.write(surface, line.title, Box(inside.x, inside.y, px(300), inside.h), size, theme.quiet)
        right = Box(inside.x + px(310), inside.y, inside.w - px(310), inside.h)
        pen.write(surface, f"← {text} →" if index == ui.cursors.brief_line else text, right, size, theme.ink)
    below = Box(box.x, lines[-1].bottom + px(6), box.w, box.bottom - lines[-1].bottom - px(6))
    if ui.entry is not None and ui.entry.wrong:
        # What is wrong with the value that is typed, in place of what may be.
        pygame.draw.rect(surface, theme.ink, (below.x, below.y, px(10), below.h))
        sentence(canvas, surface, Box(below.x + px(22), below.y, below.w - px(22), below.h), ui.entry.wrong)
        return
    hint, how = rows(below, 2)
    pen.write(surface, briefpage.LINES[ui.cursors.brief_line].hint, hint, px(QUIET + 2), theme.ink)
    pen.write(surface, _steps(keys.BRIEF_KEYS), how, px(QUIET), theme.quiet)


def sound_page(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    """A line for each part that can be heard, with its level as a number and on a scale; the
    chosen one in a frame.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    upper = Box(box.x, box.y, box.w, box.h - px(64))
    lines = view.gear.sound_lines(view.layers)
    if not lines:
        pen.write(surface, view.gear.levels.why, rows(upper, MOST_LINES)[0], px(TEXT), theme.ink)
    chosen = next((index for index, line in enumerate(lines) if line.part == ui.cursors.sound_part), 0)
    # With many layers the page moves along, so that the chosen line is always in sight; what is
    # above and below it is counted.
    room = MOST_LINES if len(lines) <= MOST_LINES else MOST_LINES - 2
    first = min(max(chosen - room // 2, 0), max(len(lines) - room, 0))
    places = rows(upper, max(min(len(lines), MOST_LINES), LEAST_LINES))
    if len(lines) > room:
        above, below_them = first, len(lines) - first - room
        for count, place, word in ((above, places[0], "above"), (below_them, places[-1], "below")):
            if count:
                pen.write(surface, f"and {count} more {word}", place.inset(px(12), 0), px(QUIET + 2), theme.quiet)
        places = places[1:-1]
    for index, (line, place) in enumerate(zip(lines[first : first + room], places, strict=False), first):
        if index == chosen:
            pygame.draw.rect(surface, theme.shade, place)
            pygame.draw.rect(surface, theme.ink, place, px(2))
        _level(canvas, surface, place.inset(px(12), 0), line, view, index == chosen)
    below = upper.bottom + px(6)
    caution, how = rows(Box(box.x, below, box.w, box.bottom - below), 2)
    text = levels.CAUTION if view.gear.levels.device or not lines else f"{view.gear.levels.why} {levels.CAUTION}"
    pen.write(surface, text, caution, px(QUIET + 2), theme.ink)
    pen.write(surface, _steps(keys.SOUND_KEYS), how, px(QUIET), theme.quiet)


def _level(canvas: Canvas, surface: pygame.Surface, box: Box, line: levels.Level, view: View, chosen: bool) -> None:
    """One line: title, dB, a scale with a stroke at 0 dB (hollow where it is not heard), and a
    word where one is needed.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    ink = theme.ink if line.heard else theme.quiet
    pen.write(surface, line.title, Box(box.x, box.y, px(250), box.h), px(TEXT), theme.ink if chosen else theme.quiet)
    text = levels.decibels(line.db)
    width = pen.width(text, px(TEXT))
    pen.write(surface, text, Box(box.x + px(390) - width, box.y, width, box.h), px(TEXT), ink)
    left, right = box.x + px(430), box.right - px(180)
    height = min(px(16), box.h // 2)
    top = box.y + (box.h - height) // 2
    pygame.draw.rect(surface, theme.line, (left, top + height // 2, right - left, max(1, px(2))))
    length = max(px(3), round((right - left) * view.gear.levels.share(line.db)))
    pygame.draw.rect(surface, ink, (left, top, length, height), 0 if line.heard else px(2))
    zero = left + round((right - left) * view.gear.levels.share(0.0))
    pygame.draw.rect(surface, theme.ink, (zero, top - px(4), px(2), height + px(8)))
    if line.words:
        pen.write(
            surface, line.words, Box(right + px(20), box.y, box.right - right - px(20), box.h), px(TEXT), theme.ink
        )


def _steps(pairs: tuple[tuple[str, str], ...]) -> str:
    return "    ".join(f"{key} {words}" for key, words in pairs)
