"""Pictures of the window without a window: no screen, no display driver.

``picture(view, now, size, theme)`` draws one frame as the window would and returns it as a surface;
``save_picture`` writes it to a file (PNG by its ending).
"""

from pathlib import Path

from loopdeck import pygame_lean  # noqa: F401 - before pygame

import pygame  # isort: skip

from loopdeck.window.loop_tab import WORKER
from loopdeck.window.paint import Painter
from loopdeck.window.panels import panel_at, tab
from loopdeck.window.text import Pen
from loopdeck.window.theme import theme_named
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View


def picture(
    view: View,
    now: float,
    size: tuple[int, int] = (1280, 720),
    theme: str = "paper",
    ui: UiState | None = None,
    pen: Pen | None = None,
) -> pygame.Surface:
    """One frame at ``now`` (seconds on the clock of the view's messages), ``size`` in pixels."""
    surface, ui = pygame.Surface(size, 0, 32), ui or UiState()
    if panel_at(ui.panel) is tab.PANEL:
        # A picture waits for what the window works out beside the drawing.
        WORKER.finish(view, ui)
    Painter(theme_named(theme), pen).draw(surface, view, ui, now)
    return surface


def save_picture(
    path: str | Path,
    view: View,
    now: float,
    size: tuple[int, int] = (1280, 720),
    theme: str = "paper",
    ui: UiState | None = None,
) -> None:
    """Write ``picture(...)`` to ``path``. ``OSError`` when the file cannot be written."""
    try:
        pygame.image.save(picture(view, now, size, theme, ui), str(path))
    except pygame.error as error:
        raise OSError(f"The picture {path} cannot be written: {error}.") from error
