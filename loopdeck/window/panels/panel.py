"""What a panel is: a name, what its picture depends on, and how it is drawn.

A panel is one module with one ``PANEL``; ``panels/__init__`` lists them in the order the key turns
them. It gets its box, and draws all of it.
"""

from collections.abc import Callable, Hashable
from typing import NamedTuple

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View


class Panel(NamedTuple):
    """One panel of the lower third. ``key(view, ui, now)`` changes whenever the picture does."""

    name: str
    key: Callable[[View, UiState, float], Hashable]
    draw: Callable[[Canvas, pygame.Surface, Box, View, UiState, float], None]


def rule(canvas: Canvas, surface: pygame.Surface, box: Box) -> Box:
    """A thin line along the top of a panel; returns what is left below it."""
    thick = canvas.px(2)
    pygame.draw.rect(surface, canvas.theme.line, (box.x, box.y, box.w, thick))
    return Box(box.x, box.y + thick + canvas.px(2), box.w, max(1, box.h - thick - canvas.px(2)))
