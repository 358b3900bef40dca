"""How the pages of ``pages`` are drawn, by name."""

from collections.abc import Callable
from typing import NamedTuple

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box
from loopdeck.window.pages import (
    briefs_drawing,
    devices_drawing,
    harvest_drawing,
    mood_drawing,
    pedals_drawing,
    shelf_drawing,
)
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View


class PageDrawing(NamedTuple):
    """A page is drawn anew after each key, and when one of ``parts`` of ``View.changed`` moves."""

    draw: Callable[[Canvas, pygame.Surface, Box, View, UiState], None]
    parts: tuple[str, ...] = ("brief",)


DRAWINGS: dict[str, PageDrawing] = {
    "briefs": PageDrawing(briefs_drawing.draw),
    "mood": PageDrawing(mood_drawing.draw),
    "shelf": PageDrawing(shelf_drawing.draw, ("shelf",)),
    "harvest": PageDrawing(harvest_drawing.draw),
    "devices": PageDrawing(devices_drawing.draw, ("devices", "levels")),
    "pedals": PageDrawing(pedals_drawing.draw, ()),
}
