"""The two looks: ink on paper, and chalk on slate for dark stages.

Colours are (red, green, blue), 0 to 255. No colour means anything by itself: ``now`` differs from
``ink`` in grey as well, and everything it marks is also marked by place or shape. Text on its
ground keeps a contrast of at least 4.5:1 (WCAG 2.1, success criterion 1.4.3), ``ink`` at least 12:1
since it is read from two metres.
"""

from typing import NamedTuple

Colour = tuple[int, int, int]


class Theme(NamedTuple):
    """Colours by task."""

    name: str
    ground: Colour
    """What everything lies on."""
    shade: Colour
    """A quiet surface: the arch of the group we are in, the chosen row."""
    line: Colour
    """Thin lines that carry no text: lanes, slots."""
    layer: Colour
    """The bars of layers behind the one in front; at least 3:1 on the ground (WCAG 2.1, 1.4.11)."""
    quiet: Colour
    """What is older or of second rank; readable."""
    ink: Colour
    """What matters."""
    now: Colour
    """The one accent: the place where we are."""


PAPER = Theme(
    "paper",
    (244, 239, 227),
    (228, 220, 201),
    (196, 187, 167),
    (145, 136, 117),
    (99, 92, 80),
    (27, 24, 20),
    (176, 58, 28),
)
SLATE = Theme(
    "slate",
    (33, 38, 41),
    (53, 60, 64),
    (92, 101, 106),
    (103, 113, 118),
    (170, 176, 176),
    (248, 245, 236),
    (247, 178, 103),
)

THEMES = {theme.name: theme for theme in (PAPER, SLATE)}


def theme_named(name: str) -> Theme:
    """The theme called ``name``; ``ValueError`` with a sentence otherwise."""
    try:
        return THEMES[name]
    except KeyError:
        raise ValueError(f"There is no theme {name!r}; there are {' and '.join(THEMES)}.") from None


def contrast(one: Colour, other: Colour) -> float:
    """The contrast ratio of two colours, 1 to 21, as WCAG 2.1 defines it (relative luminance of
    sRGB).
    """

    def luminance(colour: Colour) -> float:
        linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)
