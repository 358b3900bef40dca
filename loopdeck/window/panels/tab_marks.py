"""Technique on the tab of the loop: an arc for a hammer-on or pull-off, a sloping line for a slide,
a rising curve for a bend, a wave for vibrato, a wedge for an accent, a dot for a short note.
"""

from collections.abc import Callable

import pygame

from loopdeck.page.form import PageNote
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box
from loopdeck.window.loop_tab import TabColumn


class Marks:
    """Draws onto the strings ``strings``; ``size`` is that of the frets."""

    def __init__(self, canvas: Canvas, surface: pygame.Surface, strings: list[Box], size: int) -> None:
        self._canvas, self._surface, self._strings, self._size = canvas, surface, strings, size

    def draw(self, columns: list[TabColumn], x_of: Callable[[TabColumn], int]) -> None:
        """The marks of these columns; ``x_of`` is where the frets of one begin."""
        before: dict[int, tuple[int, PageNote]] = {}
        for column in columns:
            if column.head.from_before:
                continue
            x = x_of(column)
            for note in column.head.notes:
                if not 1 <= note.string <= len(self._strings):
                    continue
                end = x + self._canvas.pen.width(str(note.fret), self._size)
                room = max(self._canvas.px(6), self._canvas.x_of(column.end_q) - end - self._canvas.px(6))
                self._note(note, before.get(note.string), x, end, room)
                before[note.string] = (end, note)

    def _note(self, note: PageNote, before: tuple[int, PageNote] | None, x: int, end: int, room: int) -> None:
        row, px = self._strings[note.string - 1], self._canvas.px
        middle = row.y + row.h // 2
        if "slide" in note.marks:
            left = before[0] + px(3) if before else x - px(16)
            rises = before is None or before[1].fret < note.fret
            self._line(left, middle + (px(7) if rises else -px(7)), x - px(3), middle - (px(7) if rises else -px(7)))
        elif {"hammer-on", "pull-off"} & set(note.marks):
            left = before[0] - px(8) if before else x - px(14)
            self._arc(left, row.y - px(1), x + px(8) - left)
        elif "slide-from" in note.marks:
            self._line(x - px(14), middle + px(8), x - px(3), middle - px(4))
        if "slide-to" in note.marks:
            self._line(end + px(3), middle - px(4), end + px(14), middle + px(8))
        if "bend" in note.marks:
            self._bend(end + px(2), middle, min(room, px(20)))
        elif {"vibrato", "trill"} & set(note.marks):
            self._wave(end + px(3), middle, min(room, px(36)))
        elif "accent" in note.marks and room >= px(12):
            self._line(end + px(3), middle - px(6), end + px(12), middle)
            self._line(end + px(3), middle + px(6), end + px(12), middle)
        if "staccato" in note.marks:
            self._canvas.disc(self._surface, end + px(5), row.y + px(5), px(3), self._canvas.theme.ink)

    def _line(self, x: int, y: int, to_x: int, to_y: int) -> None:
        pygame.draw.line(self._surface, self._canvas.theme.ink, (x, y), (max(to_x, x + 2), to_y), self._canvas.px(3))

    def _arc(self, x: int, y: int, width: int) -> None:
        ink, thick = self._canvas.theme.ink, self._canvas.px(3)

        def draw(large: pygame.Surface, fine: int) -> None:
            w, h = large.get_size()
            pygame.draw.ellipse(large, (*ink, 255), (0, 0, w, 2 * h))
            inner = (thick * fine // 2, thick * fine, w - thick * fine, 2 * h - thick * fine)
            pygame.draw.ellipse(large, (*ink, 0), inner)

        self._surface.blit(self._canvas.shape(("tab arc", ink), max(width, 8), self._canvas.px(8), draw), (x, y))

    def _bend(self, x: int, y: int, width: int) -> None:
        px = self._canvas.px
        points = [(x, y), (x + width * 2 // 3, y - px(2)), (x + width, y - px(12))]
        pygame.draw.lines(self._surface, self._canvas.theme.ink, False, points, px(3))
        tip = (x + width, y - px(16))
        head = [tip, (tip[0] - px(6), tip[1] + px(8)), (tip[0] + px(6), tip[1] + px(8))]
        pygame.draw.polygon(self._surface, self._canvas.theme.ink, head)

    def _wave(self, x: int, y: int, width: int) -> None:
        px, step = self._canvas.px, self._canvas.px(5)
        points = [(x + k * step, y + (px(4) if k % 2 else -px(4))) for k in range(max(2, width // step + 1))]
        pygame.draw.lines(self._surface, self._canvas.theme.ink, False, points, px(3))
