"""The sections of the window that stand still between two changes: how each is drawn, and what its
picture depends on.

Conventions: a key changes whenever the picture does; it is asked for before every frame and must be
cheap.
"""

from collections.abc import Callable, Hashable

import pygame

from loopdeck.window import draw_cycle, draw_foot, draw_head, draw_lanes
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box
from loopdeck.window.panels import panel_at
from loopdeck.window.practice import practice_hint
from loopdeck.window.timeline import ENDED
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

Drawer = Callable[[Canvas, pygame.Surface, Box, View, UiState, float], None]
Key = Callable[[Canvas, View, UiState, float], Hashable]


def drawer(name: str, ui: UiState) -> Drawer:
    """What draws a section of the layout."""
    return panel_at(ui.panel).draw if name == "panel" else _DRAWERS[name]


def picture_key(name: str, canvas: Canvas, view: View, ui: UiState, now: float) -> Hashable:
    """What the picture of a section depends on."""
    return _KEYS[name](canvas, view, ui, now)


def _arches(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """All arches, and over them the shaded one in which we are."""
    draw_cycle.arches(canvas, surface, box, view, ui, now)
    draw_cycle.current_arch(canvas, surface, view, view.place(now))


_DRAWERS: dict[str, Drawer] = {
    "header": draw_head.header,
    "count": draw_head.count,
    "state": draw_head.state,
    "readout": draw_head.readout,
    "arches": _arches,
    "lanes": draw_lanes.grid,
    "before": draw_lanes.before,
    "waiting": draw_foot.waiting,
    "message": draw_foot.message,
    "devices": draw_foot.devices,
}


def _state_key(canvas: Canvas, view: View, ui: UiState, now: float) -> Hashable:
    clock = view.clock
    hints = draw_head.state_hint(view, ui), practice_hint(view, now)
    return clock.state, clock.next, view.shown_key(now), *hints, view.changed["heard"]


def _readout_key(canvas: Canvas, view: View, ui: UiState, now: float) -> Hashable:
    nothing = draw_head.note_of_the_readout(view, now) is None
    return view.changed["notes"], view.changed["brief"], ui.biggest, nothing


def _arches_key(canvas: Canvas, view: View, ui: UiState, now: float) -> Hashable:
    changed, clock, shaded = view.changed, view.clock, draw_cycle.shaded_arch(view, view.place(now))
    return changed["cycle_layout"], changed["brief"], canvas.page, clock.running, clock.first_bar, shaded


def _lanes_key(canvas: Canvas, view: View, ui: UiState, now: float) -> Hashable:
    changed, fresh = view.changed, draw_lanes.is_fresh(view)
    counts = changed["cycle_layout"], changed["brief"], changed["layers"]
    return *counts, canvas.page, ui.chosen, ui.biggest, fresh and ui.plays(view), fresh, view.played.practising.run


def _message_key(canvas: Canvas, view: View, ui: UiState, now: float) -> Hashable:
    entry = ui.entry and (ui.entry.field, ui.entry.text, ui.entry.wrong, ui.entry.offered, ui.page)
    return view.message(now) or draw_foot.what_now(view, now, ui.page), entry


def _devices_key(canvas: Canvas, view: View, ui: UiState, now: float) -> Hashable:
    levels, gone = view.gear.levels, (bool(view.engine_lost), view.clock.state == ENDED)
    return view.changed["devices"], levels.device, bool(levels.parts), ui.plays(view), ui.panel, gone


_KEYS: dict[str, Key] = {
    "header": lambda canvas, view, ui, now: view.changed["brief"],
    "count": lambda canvas, view, ui, now: draw_head.count_text(view, now),
    "state": _state_key,
    "readout": _readout_key,
    "arches": _arches_key,
    "lanes": _lanes_key,
    "before": lambda canvas, view, ui, now: (
        view.changed["before"],
        view.changed["brief"],
        canvas.page,
        view.shown_key(now),
    ),
    "waiting": lambda canvas, view, ui, now: view.changed["waiting"],
    "panel": lambda canvas, view, ui, now: (ui.panel, panel_at(ui.panel).key(view, ui, now)),
    "message": _message_key,
    "devices": _devices_key,
}
