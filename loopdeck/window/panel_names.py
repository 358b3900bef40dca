"""Where a panel of the lower third stands among the others."""


def panel_turn(name: str) -> int:
    """How often the key is turned from the first panel to the one of this name."""
    # Only now: the panels draw, and who asks for one may not.
    from loopdeck.window.panels import PANELS

    return [panel.name for panel in PANELS].index(name)
