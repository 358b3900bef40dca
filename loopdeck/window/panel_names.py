"""The names of the panels of the lower third, in the order the key turns them. Pure."""

PANEL_NAMES = ("layers", "neck", "passes", "timing", "tab", "target")


def panel_turn(name: str) -> int:
    """How often the key is turned from the first panel to this one."""
    return PANEL_NAMES.index(name)
