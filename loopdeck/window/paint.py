"""One frame of the window: what changes seldom is drawn once and kept, what moves is drawn on top.

Conventions: every section has a drawer ``draw(canvas, surface, box, view, ui, now)`` and a key;
the section is drawn anew onto the kept ground only when its key changes (``sections``). What moves
with each frame (notes of this pass, the marker) is drawn onto the frame (``moving``). A frame is
then a copy of those parts of the ground in which something has moved, and a few small blits.
"""

from collections.abc import Hashable

import pygame

from loopdeck.window import draw_pages
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box, layout
from loopdeck.window.moving import MovingParts
from loopdeck.window.pages.drawing import DRAWINGS
from loopdeck.window.sections import drawer, picture_key
from loopdeck.window.text import Pen
from loopdeck.window.theme import Theme
from loopdeck.window.timeline import LanePage
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

_UNDER_PAGE = ("arches", "lanes", "before", "waiting", "panel")


class Painter:
    """Draws a view in one theme onto surfaces of any size."""

    def __init__(self, theme: Theme, pen: Pen | None = None) -> None:
        self.canvas = Canvas(pen or Pen(), theme, layout(1280, 720), LanePage(0.0, 4.0, 1, 1))
        self._ground: pygame.Surface | None = None
        self._surface: pygame.Surface | None = None
        self._keys: dict[str, Hashable] = {}
        self._fresh: list[Box] = []
        self._moving = MovingParts()

    def set_theme(self, theme: Theme) -> None:
        """Change the look; everything is drawn anew."""
        self.canvas.theme = theme
        self.canvas.forget()
        self._ground = None

    def refresh(self) -> None:
        """The next frame is drawn as a whole: what the surface shows may be lost."""
        self._surface = None

    def draw(self, surface: pygame.Surface, view: View, ui: UiState, now: float) -> list[Box]:
        """Draw one frame at ``now`` (seconds); returns the parts of ``surface`` that were drawn
        anew.

        The surface must still hold the frame drawn before; another one is drawn as a whole.
        """
        canvas = self.canvas
        size = surface.get_size()
        whole = surface is not self._surface
        found = layout(*size, waiting=view.waiting() is not None)
        if self._ground is None or self._ground.get_size() != size or canvas.layout is not found:
            if canvas.layout.window != found.window:
                canvas.forget()
            canvas.layout = found
            canvas.plan = None
            self._ground = pygame.Surface(size, 0, surface)
            self._ground.fill(canvas.theme.ground)
            self._keys.clear()
            whole = True
        self._surface = surface
        place = view.place(now)
        at_q = place.at_q if place.running else (view.free_at(now) or 0.0)
        canvas.page = view.cycle_layout.page_at(at_q)
        self._fresh = []
        self._draw_ground(self._ground, view, ui, now)
        self._fresh += self._moving.clear(canvas) if ui.page else self._moving.update(canvas, view, ui, now)
        if whole:
            self._fresh = [canvas.layout.window]
        for part in self._fresh:
            surface.set_clip(part)
            surface.blit(self._ground, part, part)
            self._moving.draw(canvas, surface, part, view, now)
        surface.set_clip(None)
        return self._fresh

    def _draw_ground(self, ground: pygame.Surface, view: View, ui: UiState, now: float) -> None:
        canvas = self.canvas
        for name, box in canvas.layout.sections.items():
            if ui.page and name in _UNDER_PAGE:
                self._keys.pop(name, None)
                continue
            key = picture_key(name, canvas, view, ui, now)
            if self._keys.get(name) == key:
                continue
            self._keys[name] = key
            self._fresh.append(box)
            ground.fill(canvas.theme.ground, box)
            ground.set_clip(box)
            drawer(name, ui)(canvas, ground, box, view, ui, now)
            ground.set_clip(None)
        if not ui.page:
            if self._keys.pop("page", None) is not None:
                # Sections redraw their own boxes, not the gaps between them.
                self._clear_page(ground, view, ui, now)
            return
        shown: dict[str, tuple[str, ...]] = {"brief": ("brief", "clock"), "sound": ("levels", "layers")}
        parts = DRAWINGS[ui.page].parts if ui.page in DRAWINGS else shown.get(ui.page, ("brief",))
        key = (ui.page, ui.changed, *(view.changed[part] for part in parts))
        if self._keys.get("page") != key:
            self._keys["page"] = key
            box = canvas.layout.page
            self._fresh.append(box)
            ground.fill(canvas.theme.ground, box)
            ground.set_clip(box)
            draw_pages.draw(canvas, ground, box, view, ui, now)
            ground.set_clip(None)

    def _clear_page(self, ground: pygame.Surface, view: View, ui: UiState, now: float) -> None:
        ground.fill(self.canvas.theme.ground, self.canvas.layout.page)
        self._fresh.append(self.canvas.layout.page)
        for name in _UNDER_PAGE:
            self._keys.pop(name, None)
        self._draw_ground(ground, view, ui, now)
