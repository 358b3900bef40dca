"""What every drawer needs: pen, theme, layout and the page of time; and shapes drawn fine and smoothed, kept for the next time.

Conventions: pixels; ``x_of`` turns quarters into x for arches, lanes and the pass before alike, so a place in time is one straight
line from top to bottom.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

import pygame

from loopdeck.display.layout import Layout
from loopdeck.display.place import Page
from loopdeck.display.text import Pen
from loopdeck.display.theme import Colour, Theme

FINE = 4  # shapes are drawn this many times larger and smoothed down
_KEPT = 600


@dataclass
class Canvas:
    """The drawers' common ground."""

    pen: Pen
    theme: Theme
    layout: Layout
    page: Page
    _shapes: OrderedDict[Hashable, pygame.Surface] = field(default_factory=OrderedDict)

    def px(self, length: float) -> int:
        """A length given at 1280 x 720, in pixels here."""
        return self.layout.px(length)

    @property
    def quarter_px(self) -> float:
        """The width of a quarter on this page, in pixels."""
        return (self.layout.time_right - self.layout.time_left) / (self.page.end_q - self.page.start_q)

    def x_of(self, at_q: float) -> int:
        """The x of a place in the pass."""
        return round(self.layout.time_left + (at_q - self.page.start_q) * self.quarter_px)

    def forget(self) -> None:
        """Drop the shapes kept for another size."""
        self._shapes.clear()

    def shape(
        self, key: Hashable, width: int, height: int, draw: Callable[[pygame.Surface, int], None]
    ) -> pygame.Surface:
        """A smoothed shape of ``width`` x ``height`` pixels. ``draw(surface, fine)`` paints it ``fine`` times larger, on
        nothing; it is called once for a ``key`` (which needs not repeat size and theme)."""
        full = (key, width, height, self.theme.name)
        found = self._shapes.get(full)
        if found is not None:
            self._shapes.move_to_end(full)
            return found
        large = pygame.Surface((max(1, width) * FINE, max(1, height) * FINE), pygame.SRCALPHA, 32)
        # Smoothing mixes neighbours: transparent ink at the edges keeps them from turning black.
        large.fill((*self.theme.ink, 0))
        draw(large, FINE)
        found = pygame.transform.smoothscale(large, (max(1, width), max(1, height)))
        self._shapes[full] = found
        if len(self._shapes) > _KEPT:
            self._shapes.popitem(last=False)
        return found

    def disc(self, surface: pygame.Surface, x: float, y: float, radius: int, colour: Colour) -> None:
        """A smooth filled disc with its centre at (x, y)."""

        def draw(large: pygame.Surface, fine: int) -> None:
            pygame.draw.circle(large, colour, (radius * fine, radius * fine), radius * fine)

        piece = self.shape(("disc", colour), 2 * radius, 2 * radius, draw)
        surface.blit(piece, (round(x) - radius, round(y) - radius))
