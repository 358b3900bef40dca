"""One frame of the window: what changes seldom is drawn once and kept, what moves is drawn on top.

Conventions: every section has a drawer ``draw(canvas, surface, box, view, ui, now)`` and a key;
the section is drawn anew onto the kept ground only when its key changes. What moves with each frame
(notes of this pass, the marker) is drawn onto the frame. A frame is then one copy of that part of
the ground in which something moves, and a few dozen small blits.
"""

from collections.abc import Callable, Hashable
from typing import Any

import pygame

from loopdeck.window import draw_cycle, draw_foot, draw_head, draw_lanes, draw_pages
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box, layout
from loopdeck.window.pages.drawing import DRAWINGS
from loopdeck.window.panels import panel_at
from loopdeck.window.place import LanePage
from loopdeck.window.practice import practice_hint
from loopdeck.window.target import draw as target
from loopdeck.window.text import Pen
from loopdeck.window.theme import Theme
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

_Drawer = Callable[[Canvas, pygame.Surface, Box, View, UiState, float], None]
_STATIC: dict[str, _Drawer] = {
    "header": draw_head.header,
    "count": draw_head.count,
    "state": draw_head.state,
    "readout": draw_head.readout,
    "arches": draw_cycle.arches,
    "lanes": draw_lanes.grid,
    "before": draw_lanes.before,
    "waiting": draw_foot.waiting,
    "message": draw_foot.message,
    "devices": draw_foot.devices,
}
_UNDER_PAGE = ("arches", "lanes", "before", "waiting", "panel")


class Painter:
    """Draws a view in one theme onto surfaces of any size."""

    def __init__(self, theme: Theme, pen: Pen | None = None) -> None:
        self.canvas = Canvas(pen or Pen(), theme, layout(1280, 720), LanePage(0.0, 4.0, 1, 1))
        self._ground: pygame.Surface | None = None
        self._surface: pygame.Surface | None = None
        self._keys: dict[str, Hashable] = {}
        self._fresh: list[Box] = []
        self._moved = False

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
        if self._ground is None or self._ground.get_size() != size or canvas.layout.sections != found.sections:
            if canvas.layout.window != found.window:
                canvas.forget()
            canvas.layout = found
            canvas.plan = None
            self._ground = pygame.Surface(size, 0, surface)
            self._ground.fill(canvas.theme.ground)
            self._keys.clear()
            whole = True
        self._surface = surface
        self._fresh = []
        place = view.place(now)
        at_q = place.at_q if place.running else (view.free_at(now) or 0.0)
        canvas.page = view.course.page_at(at_q)
        self._draw_ground(self._ground, view, ui, now)
        if self._moved or not ui.page:
            self._fresh.append(_moving(canvas))
        self._moved = not ui.page
        if whole:
            self._fresh = [canvas.layout.window]
        for box in self._fresh:
            surface.blit(self._ground, box, box)
        if not ui.page:
            draw_cycle.current_arch(canvas, surface, view, place)
            # The marker's line lies behind the notes, so that it never crosses a name.
            draw_cycle.marker_line(canvas, surface, view, now)
            draw_lanes.notes(canvas, surface, view, ui, now)
            target.signs(canvas, surface, view, view.shown(now)[0])
            draw_cycle.marker(canvas, surface, view, now)
        return self._fresh

    def _draw_ground(self, ground: pygame.Surface, view: View, ui: UiState, now: float) -> None:
        canvas = self.canvas
        for name, box in canvas.layout.sections.items():
            if ui.page and name in _UNDER_PAGE:
                self._keys.pop(name, None)
                continue
            key = self._key(name, view, ui, now)
            if self._keys.get(name) == key:
                continue
            self._keys[name] = key
            self._fresh.append(box)
            ground.fill(canvas.theme.ground, box)
            ground.set_clip(box)
            draw = panel_at(ui.panel).draw if name == "panel" else _STATIC[name]
            draw(canvas, ground, box, view, ui, now)
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

    def _key(self, name: str, view: View, ui: UiState, now: float) -> Hashable:
        """What the picture of a section depends on."""
        changed, clock, page = view.changed, view.clock, self.canvas.page
        keys: dict[str, Callable[[], Any]] = {
            "header": lambda: changed["brief"],
            "count": lambda: draw_head.count_text(view, now),
            "state": lambda: (
                clock.state,
                clock.next,
                view.shown_key(now),
                draw_head.state_hint(view, ui),
                practice_hint(view, now),
                changed["heard"],
            ),
            "readout": lambda: (
                changed["notes"],
                changed["brief"],
                ui.biggest,
                draw_head.note_of_the_readout(view, now) is None,
            ),
            "arches": lambda: (changed["course"], changed["brief"], page, clock.running, clock.first_bar),
            "lanes": lambda: (
                changed["course"],
                changed["brief"],
                changed["layers"],
                page,
                ui.chosen,
                ui.biggest,
                draw_lanes.is_fresh(view) and ui.plays(view),
                draw_lanes.is_fresh(view),
                view.played.practising.run,
            ),
            "before": lambda: (changed["before"], changed["brief"], page, view.shown_key(now)),
            "waiting": lambda: changed["waiting"],
            "panel": lambda: (ui.panel, panel_at(ui.panel).key(view, ui, now)),
            "message": lambda: (
                view.message(now) or draw_foot.what_now(view, now, ui.page),
                ui.entry and (ui.entry.field, ui.entry.text, ui.entry.wrong, ui.entry.offered),
            ),
            "devices": lambda: (
                changed["devices"],
                view.gear.levels.device,
                bool(view.gear.levels.parts),
                ui.plays(view),
                ui.panel,
                bool(view.engine_lost),
            ),
        }
        return keys[name]()


def _moving(canvas: Canvas) -> Box:
    """Where things move from frame to frame: arches and lanes, and a little above, where the disc
    rides.
    """
    arches, lanes, above = canvas.layout.arches, canvas.layout.lanes, canvas.px(12)
    return Box(arches.x, arches.y - above, arches.w, lanes.bottom - arches.y + above)
