"""Where the parts of a clip lie. Lengths in pixels at 1280x720, scaled; pure."""

from collections.abc import Sequence

from loopdeck.window.layout import DESIGN_SIZE, Box, Layout

LANES, TAB, NECK, COUNT = "lanes", "tab", "neck", "count"
SHOWN = (LANES, TAB, NECK, COUNT)
#: Heights of the parts: those of the window for count and arches, shares of the rest for others.
_COUNT, _ARCHES, _GAP, _MARGIN = 112, 44, 10, 14
_SHARES = {LANES: 262, TAB: 150, NECK: 150}


def clip_layout(width: int, height: int, shown: Sequence[str]) -> Layout:
    """The parts that are shown, from the top: the count with its arches, the lanes, the tab, the
    neck. What is not shown leaves its room to the others.
    """
    unit = min(width / DESIGN_SIZE[0], height / DESIGN_SIZE[1])

    def px(length: float) -> int:
        return max(1, round(length * unit))

    left, inner = px(_MARGIN), width - 2 * px(_MARGIN)
    others = [name for name in (LANES, TAB, NECK) if name in shown]
    y = px(_GAP)
    sections: dict[str, Box] = {}
    if COUNT in shown:
        alone = not others
        top = height // 3 if alone else y
        sections[COUNT] = Box(left, top, px(330), px(_COUNT))
        sections["arches"] = Box(left, top + px(_COUNT) + px(4), inner, px(_ARCHES))
        y = sections["arches"].bottom
    rest = max(height - px(_GAP) - y - px(_GAP) * max(len(others) - 1, 0), len(others))
    whole = sum(_SHARES[name] for name in others)
    for name in others:
        high = max(1, rest * _SHARES[name] // whole)
        sections[name] = Box(left, y, inner, high)
        y += high + px(_GAP)
    return Layout(
        unit=unit,
        window=Box(0, 0, width, height),
        sections=sections,
        page=Box(0, 0, width, height),
        time_left=left + px(76),
        time_right=left + inner - px(16),
    )
