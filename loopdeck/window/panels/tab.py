"""The tab of the loop: a line a string, frets where they are played on the axis of the lanes above,
the rhythm below; what lasts now stands on a shade under a bar of the accent.

It is of the chosen layer, else of all layers that sound, else of the pass that loop-that would
take.
"""

from collections.abc import Hashable

import pygame

from loopdeck.page.form import PageNote
from loopdeck.theory.tuning import Tuning
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.loop_tab import WORKER, LoopTab, TabColumn
from loopdeck.window.panels.panel import Panel, rule
from loopdeck.window.panels.tab_marks import Marks
from loopdeck.window.panels.tab_rhythm import Rhythm
from loopdeck.window.spelling import pretty_note
from loopdeck.window.text import CAP
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

_RHYTHM = 32
#: From the line of a place to the fret that stands on it.
_AFTER = 6


def key(view: View, ui: UiState, now: float) -> Hashable:
    """What the panel's picture depends on."""
    tab = WORKER.latest(view, ui)
    at_q = _at_q(view, now)
    page = view.cycle_layout.page_at(at_q) if at_q >= 0 else None
    return WORKER.turn, tab.at(at_q), page, view.changed["brief"], view.changed["cycle_layout"]


def _at_q(view: View, now: float) -> float:
    place = view.place(now)
    return place.at_q if place.running else -1.0


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """One page of the cycle."""
    inner, tab = rule(canvas, surface, box), WORKER.latest(view, ui)
    px = canvas.px
    if tab.said and tab.columns and view.brief is not None:
        if inner.h - px(22) < _least(canvas, view.brief.tuning):
            # A small window with many strings: the frets before the sentence.
            _Tab(canvas, surface, inner, view).draw(tab, _at_q(view, now))
            return
        head = Box(inner.x, inner.y, inner.w, px(22))
        canvas.pen.write(surface, tab.said, head, px(QUIET), canvas.theme.quiet, smallest=px(SMALLEST))
        inner = Box(inner.x, head.bottom, inner.w, inner.h - head.h)
    elif tab.said or view.brief is None:
        canvas.pen.write(surface, tab.said, rows(inner, 3)[0], px(TEXT), canvas.theme.quiet, smallest=px(SMALLEST))
        return
    _Tab(canvas, surface, inner, view).draw(tab, _at_q(view, now))


def draw_tab(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, tab: LoopTab, at_q: float) -> None:
    """A tab that is worked out already, as the panel draws it; nothing where it has no column."""
    if tab.columns:
        _Tab(canvas, surface, rule(canvas, surface, box), view).draw(tab, at_q)


def _least(canvas: Canvas, tuning: Tuning) -> int:
    """The height below which frets on neighbouring strings would touch."""
    return len(tuning.strings) * (round(CAP * canvas.px(SMALLEST)) + 3)


class _Tab:
    """Where the strings lie in the box."""

    def __init__(self, canvas: Canvas, surface: pygame.Surface, box: Box, view: View) -> None:
        assert view.brief is not None
        self._canvas, self._surface, self._view = canvas, surface, view
        self._tuning = view.brief.tuning
        # Where there is no room for both, the frets matter more than the rhythm.
        low = canvas.px(_RHYTHM) if box.h - canvas.px(_RHYTHM) >= _least(canvas, self._tuning) else 0
        self._box = box
        self._strings = rows(Box(box.x, box.y, box.w, box.h - low), len(self._tuning.strings))
        self._low = Box(box.x, box.bottom - low + canvas.px(3), box.w, max(0, low - canvas.px(5)))

    def draw(self, tab: LoopTab, at_q: float) -> None:
        """Strings and bars, then what stands on them."""
        page = self._canvas.page
        shown = {i: one for i, one in enumerate(tab.columns) if page.start_q <= one.at_q < page.end_q}
        now = tab.at(at_q)
        if now in shown:
            self._shade(shown[now])
        self._lines(tab)
        size = self._size()
        for column in shown.values():
            if not column.head.from_before:
                self._frets(column, size)
        Marks(self._canvas, self._surface, self._strings, size).draw(list(shown.values()), self.x)
        if not self._low.h:
            return
        stems = {index: self.x(column) + self._half(size) for index, column in shown.items()}
        Rhythm(self._canvas, self._surface, self._low, stems).draw(tab)

    def x(self, column: TabColumn) -> int:
        """Where the frets of a column begin."""
        return self._canvas.x_of(column.at_q) + self._canvas.px(_AFTER)

    def _half(self, size: int) -> int:
        return self._canvas.pen.width("5", size) // 2

    def _size(self) -> int:
        """The height of letters that still lie between two strings."""
        room = int(self._strings[0].h / CAP)
        return max(self._canvas.px(SMALLEST), min(self._canvas.px(TEXT + 4), room))

    def _shade(self, column: TabColumn) -> None:
        canvas, px = self._canvas, self._canvas.px
        left = canvas.x_of(column.at_q)
        width = min(canvas.x_of(column.end_q), canvas.layout.time_right) - left
        pygame.draw.rect(self._surface, canvas.theme.shade, (left, self._box.y, width, self._box.h))
        pygame.draw.rect(self._surface, canvas.theme.now, (left, self._box.y, width, px(6)))

    def _lines(self, tab: LoopTab) -> None:
        canvas, px, theme = self._canvas, self._canvas.px, self._canvas.theme
        left, right = canvas.layout.time_left, canvas.layout.time_right
        middles = [row.y + row.h // 2 for row in self._strings]
        for index, (row, y) in enumerate(zip(self._strings, middles, strict=True), 1):
            pygame.draw.rect(self._surface, theme.line, (left, y - px(1), right - left, px(2)))
            name = pretty_note(self._tuning.name_of(index))
            where = Box(row.x, row.y, left - px(10) - row.x, row.h)
            size = px(TEXT) if row.h >= px(24) else px(QUIET)
            canvas.pen.write(self._surface, name, where, size, theme.ink, smallest=px(SMALLEST))
        self._bars()
        if not self._low.h:
            return
        label = Box(self._low.x, self._low.y, left - px(4) - self._low.x, self._low.h)
        canvas.pen.write(self._surface, tab.label, label, px(QUIET), theme.ink, smallest=px(SMALLEST))

    def _bars(self) -> None:
        canvas, px, theme = self._canvas, self._canvas.px, self._canvas.theme
        middles = [row.y + row.h // 2 for row in self._strings]
        top, height = middles[0], middles[-1] - middles[0]
        for start in (*self._view.cycle_layout.bar_starts, self._view.cycle_layout.quarters):
            if canvas.page.start_q <= start <= canvas.page.end_q:
                x = canvas.x_of(start) - px(2)
                pygame.draw.rect(self._surface, theme.ink, (x, top, px(4), max(px(2), height)))

    def _frets(self, column: TabColumn, size: int) -> None:
        canvas = self._canvas
        x = self.x(column)
        room = max(canvas.px(18), canvas.x_of(column.end_q) - x - canvas.px(2))
        for note in column.head.notes:
            if not 1 <= note.string <= len(self._strings):
                continue
            text, row = token(note), self._strings[note.string - 1]
            fits = canvas.pen.fit(text, size, room, canvas.px(SMALLEST))
            width = canvas.pen.width(text, fits)
            place = Box(x, row.y, width + canvas.px(2), row.h)
            # The line of the string breaks off around a fret.
            gap = (x - canvas.px(2), row.y + row.h // 2 - canvas.px(2), width + canvas.px(4), canvas.px(4))
            pygame.draw.rect(self._surface, self._surface.get_at((x, self._box.bottom - 1)), gap)
            self._write(text, place, fits)

    def _write(self, text: str, place: Box, size: int) -> None:
        pen = self._canvas.pen
        baseline = place.y + round((place.h + CAP * size) / 2)
        self._surface.blit(pen.piece(text, size, self._canvas.theme.ink), (place.x, baseline - size))
        if pen.log is not None and self._surface.get_size() == pen.log_size:
            pen.log.append((text, Box(place.x, baseline - round(CAP * size), place.w, round(CAP * size))))


def token(note: PageNote) -> str:
    """The fret, a dead note as a cross, a ghost note in brackets."""
    text = "×" if "dead" in note.marks else str(note.fret)
    return f"({text})" if "ghost" in note.marks else text


PANEL = Panel("tab", key, draw)
