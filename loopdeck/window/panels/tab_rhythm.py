"""The rhythm below the tab: a stem for each head with its beams or flags, dots, tuplets, ties and
rests, as players read them.
"""

from fractions import Fraction

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import SMALLEST, Box
from loopdeck.window.loop_tab import LoopTab, TabColumn

_BEAMS = {Fraction(1, 2): 1, Fraction(1, 4): 2, Fraction(1, 8): 3, Fraction(1, 16): 4}
#: A beam, and how far the next one lies below it.
_THICK, _APART = 4, 7


class Rhythm:
    """Draws into ``box``; ``stems`` has the x of every column on this page."""

    def __init__(self, canvas: Canvas, surface: pygame.Surface, box: Box, stems: dict[int, int]) -> None:
        self._canvas, self._surface, self._box, self._stems = canvas, surface, box, stems
        self._ink = canvas.theme.ink

    def draw(self, tab: LoopTab) -> None:
        """All of it."""
        beamed = {index for group in tab.beams for index in group}
        for index in self._stems:
            column = tab.columns[index]
            if not column.head.notes:
                self._rest(index, column)
                continue
            self._stem(index, column)
            if index not in beamed:
                self._flags(index, column)
            if column.head.from_before:
                self._tie(index)
        for group in tab.beams:
            self._beam([index for index in group if index in self._stems], tab)
        self._tuplets(tab)

    def _stem(self, index: int, column: TabColumn) -> None:
        px, box, value = self._canvas.px, self._box, column.head.value
        x, top = self._stems[index], box.y
        if value.plain < 4:
            # A half is a stem of half the height: what is long has little ink.
            height = box.h if value.plain <= 1 else box.h // 2
            self._rect(x - px(1), top, px(3), height)
        if value.plain >= 4:
            pygame.draw.ellipse(self._surface, self._ink, (x - px(8), top + px(3), px(16), px(11)), px(3))
        for dot in range(value.dots):
            self._canvas.disc(self._surface, x + px(8 + 8 * dot), box.y + px(7), px(3), self._ink)

    def _flags(self, index: int, column: TabColumn) -> None:
        px, x = self._canvas.px, self._stems[index]
        for level in range(_BEAMS.get(column.head.value.plain, 0)):
            y = self._box.bottom - px(_THICK) - level * px(_APART)
            points = [(x, y + px(_THICK)), (x, y), (x + px(11), y - px(5)), (x + px(11), y - px(2))]
            pygame.draw.polygon(self._surface, self._ink, points)

    def _beam(self, group: list[int], tab: LoopTab) -> None:
        px = self._canvas.px
        counts = [_BEAMS.get(tab.columns[index].head.value.plain, 0) for index in group]
        for place, (index, count) in enumerate(zip(group, counts, strict=True)):
            left = counts[place - 1] if place else 0
            right = counts[place + 1] if place + 1 < len(group) else 0
            for level in range(count):
                y = self._box.bottom - px(_THICK) - level * px(_APART)
                x = self._stems[index]
                if right > level:
                    self._rect(x, y, self._stems[group[place + 1]] - x + px(2), px(_THICK))
                elif left <= level:
                    # A hook, towards its neighbour.
                    self._rect(x if not place else x - px(9), y, px(10), px(_THICK))

    def _tuplets(self, tab: LoopTab) -> None:
        """The number of a tuplet over its beam, or its stems."""
        canvas, px = self._canvas, self._canvas.px
        last = -1
        for run in _runs([(index, tab.columns[index]) for index in self._stems]):
            if run[0] <= last:
                continue
            last = run[-1]
            middle = (self._stems[run[0]] + self._stems[run[-1]]) // 2
            text, size = str(tab.columns[run[0]].head.value.actual), px(SMALLEST)
            width = canvas.pen.width(text, size)
            place = Box(middle - width // 2, self._box.y - px(2), width + 1, px(20))
            pygame.draw.rect(self._surface, canvas.theme.ground, place)
            canvas.pen.write(self._surface, text, place, size, self._ink, "centre", size)

    def _tie(self, index: int) -> None:
        """An arc from the stem before, or from the edge of the page."""
        px, x = self._canvas.px, self._stems[index]
        before = self._stems.get(index - 1, self._canvas.layout.time_left - px(8))
        width = max(px(8), x - before - px(6))
        arc = self._canvas.shape(("tab tie", self._ink), width, px(8), _arc(self._ink, px(3)))
        self._surface.blit(arc, (x - width - px(3), self._box.y))

    def _rest(self, index: int, column: TabColumn) -> None:
        """A quarter and longer as a block on a line, shorter ones as a slanted stroke with a dot
        for
        each flag.
        """
        px, x, box, plain = self._canvas.px, self._stems[index], self._box, column.head.value.plain
        y = box.y + box.h // 2
        if plain >= 2:
            self._rect(x - px(10), y, px(24), px(2))
            self._rect(x - px(5), y if plain >= 4 else y - px(7), px(14), px(8))
        elif plain == 1:
            zigzag = [(-4, -11), (3, -4), (-2, 1), (4, 7), (-2, 5), (0, 11), (-6, 4), (0, 2), (-5, -3), (-1, -6)]
            pygame.draw.polygon(
                self._surface, self._ink, [(x + px(5) + dx * px(4) // 4, y + dy * px(4) // 4) for dx, dy in zigzag]
            )
        else:
            pygame.draw.line(self._surface, self._ink, (x + px(7), y - px(9)), (x, y + px(11)), px(3))
            for level in range(_BEAMS[plain]):
                self._canvas.disc(self._surface, x - px(2) - level * px(2), y - px(6) + level * px(7), px(3), self._ink)
        for dot in range(column.head.value.dots):
            self._canvas.disc(self._surface, x + px(15 + 8 * dot), y, px(3), self._ink)

    def _rect(self, x: int, y: int, w: int, h: int) -> None:
        pygame.draw.rect(self._surface, self._ink, (x, y, w, h))


def _runs(columns: list[tuple[int, TabColumn]]) -> list[list[int]]:
    """The tuplets: heads of one kind up to a plain length together."""
    found: list[list[int]] = []
    run: list[int] = []
    length = Fraction(0)
    for index, column in columns:
        value = column.head.value
        if not value.actual:
            run, length = [], Fraction(0)
            continue
        run.append(index)
        length += value.length
        if length.denominator & (length.denominator - 1) == 0:
            found.append(run)
            run, length = [], Fraction(0)
    return found


def _arc(colour: tuple[int, int, int], thick: int):  # type: ignore[no-untyped-def]
    def draw(large: pygame.Surface, fine: int) -> None:
        w, h = large.get_size()
        pygame.draw.ellipse(large, (*colour, 255), (0, -h, w, 2 * h))
        pygame.draw.ellipse(
            large, (*colour, 0), (thick * fine // 3, -h, w - 2 * thick * fine // 3, 2 * h - thick * fine)
        )

    return draw
