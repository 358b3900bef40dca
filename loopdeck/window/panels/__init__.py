"""The panels of the lower third, in the order the key turns them. The player turns them, never the
program.
"""

from loopdeck.window.panels import layers, neck, passes, removed, tab, target, timing
from loopdeck.window.panels.panel import Panel

PANELS: tuple[Panel, ...] = (
    layers.PANEL,
    neck.PANEL,
    passes.PANEL,
    timing.PANEL,
    tab.PANEL,
    target.PANEL,
    removed.PANEL,
)


def panel_at(turn: int) -> Panel:
    """The panel after so many turns of the key, round and round."""
    return PANELS[turn % len(PANELS)]
