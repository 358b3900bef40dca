"""What every drawer needs: pen, theme, layout and the page of time; and shapes drawn fine and
smoothed, kept for the next time.

Conventions: pixels; ``x_of`` turns quarters into x for arches, lanes and the pass before alike, so
a place in time is one straight line from top to bottom.
"""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

import pygame

from loopdeck.window.cache import RecentCache
from loopdeck.window.layout import Layout
from loopdeck.window.note_picture import NoteBox, NotePicture, NotePlan
from loopdeck.window.text import Pen
from loopdeck.window.theme import Colour, Theme
from loopdeck.window.timeline import LanePage

FINE = 4  # shapes are drawn this many times larger and smoothed down
#: More than a full pass and a full layer need, few enough for a large screen: a picture of a note
#: takes 150 kB at 3840 x 2160.
_KEPT = 600


@dataclass
class Canvas:
    """The drawers' common ground."""

    pen: Pen
    theme: Theme
    layout: Layout
    page: LanePage
    plan: NotePlan | None = None
    notes: RecentCache[NotePicture] = field(default_factory=lambda: RecentCache(_KEPT))
    """What is drawn of a note, by everything it depends on."""
    rows: RecentCache[list[NoteBox]] = field(default_factory=lambda: RecentCache(_KEPT))
    """Where the notes of a lane lie."""
    _shapes: RecentCache[pygame.Surface] = field(default_factory=lambda: RecentCache(_KEPT))

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
        """Drop what was kept for another size or theme."""
        for cache in (self.notes, self.rows, self._shapes):
            cache.clear()
        self.plan = None

    def picture(self, key: Hashable, draw: Callable[[], pygame.Surface]) -> pygame.Surface:
        """Any picture, drawn once for a ``key``."""
        return self._shapes.get(key, draw)

    def shape(
        self, key: Hashable, width: int, height: int, draw: Callable[[pygame.Surface, int], None]
    ) -> pygame.Surface:
        """A smoothed shape of ``width`` x ``height`` pixels. ``draw(surface, fine)`` paints it
        ``fine`` times larger, on nothing; it is called once for a ``key`` (which needs not
        repeat the size).
        """

        def smooth() -> pygame.Surface:
            large = pygame.Surface((max(1, width) * FINE, max(1, height) * FINE), pygame.SRCALPHA, 32)
            # Smoothing mixes neighbours: transparent ink at the edges keeps them from turning
            # black.
            large.fill((*self.theme.ink, 0))
            draw(large, FINE)
            return pygame.transform.smoothscale(large, (max(1, width), max(1, height)))

        return self.picture((key, width, height), smooth)

    def disc(self, surface: pygame.Surface, x: float, y: float, radius: int, colour: Colour) -> None:
        """A smooth filled disc with its centre at (x, y)."""

        def draw(large: pygame.Surface, fine: int) -> None:
            pygame.draw.circle(large, colour, (radius * fine, radius * fine), radius * fine)

        piece = self.shape(("disc", colour), 2 * radius, 2 * radius, draw)
        surface.blit(piece, (round(x) - radius, round(y) - radius))
