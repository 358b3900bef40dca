"""How large the window opens: never larger than the screen, and as large as helps at two metres.

Conventions: pixels. A screen with room for the design size and the frame a window manager puts
around it shows that size; a much larger one four fifths of itself; a smaller one is filled (the
window is then maximized, and whoever manages windows leaves room for its frame). Pure.
"""

from loopdeck.window.layout import DESIGN_SIZE

#: What a window manager's frame and bars may take (common practice, no source).
FRAME = (16, 72)
_LARGE, _SHARE = 1.4, 0.8


def fits(desktop: tuple[int, int]) -> bool:
    """Whether the screen has room for the design size in a frame."""
    return all(desktop[axis] >= DESIGN_SIZE[axis] + FRAME[axis] for axis in (0, 1))


def window_size(desktop: tuple[int, int]) -> tuple[int, int]:
    """The size to open with on a screen of this size."""
    if not fits(desktop):
        return min(desktop[0], DESIGN_SIZE[0]), min(desktop[1], DESIGN_SIZE[1])
    scale = min(desktop[axis] / DESIGN_SIZE[axis] for axis in (0, 1))
    if scale < _LARGE:
        return DESIGN_SIZE
    return round(DESIGN_SIZE[0] * scale * _SHARE), round(DESIGN_SIZE[1] * scale * _SHARE)
