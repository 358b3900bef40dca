"""Where the parts of a clip lie. Lengths in pixels at 1280x720, scaled; pure."""

from collections.abc import Sequence

from loopdeck.window.layout import DESIGN_SIZE, Box, Layout

LANES, TAB, NECK, COUNT = "lanes", "tab", "neck", "count"
SHOWN = (LANES, TAB, NECK, COUNT)
TITLE = "title"
#: Heights of the parts: those of the window for count and arches, shares of the rest for others.
_COUNT, _ARCHES, _GAP, _MARGIN = 112, 44, 10, 14
_SHARES = {LANES: 262, TAB: 150, NECK: 150}
#: No part grows higher than this; what is left over lies between the parts.
_MOST = {LANES: 470, TAB: 280, NECK: 280}
#: How much larger everything is where so many parts share the picture, and in a picture that is
#: higher than wide.
_LARGER, _UPRIGHT = {0: 1.5, 1: 1.5, 2: 1.2}, 1.4


def clip_layout(width: int, height: int, shown: Sequence[str]) -> Layout:
    """The parts that are shown, from the top: the count with the riff's name and its arches, the
    lanes, the tab, the neck. What is not shown leaves its room to the others.
    """
    others = [name for name in (LANES, TAB, NECK) if name in shown]
    unit = min(width / DESIGN_SIZE[0] * (_UPRIGHT if height > width else 1.0), height / DESIGN_SIZE[1])
    unit *= _LARGER.get(len(others), 1.0)

    def px(length: float) -> int:
        return max(1, round(length * unit))

    left, inner, gap = px(_MARGIN), width - 2 * px(_MARGIN), px(_GAP)
    top = px(_COUNT) + px(4) + px(_ARCHES) if COUNT in shown else 0
    rest = max(height - 2 * gap - top - gap * max(len(others) - 1, 0), len(others))
    whole = sum(_SHARES[name] for name in others)
    high = {name: max(1, min(rest * _SHARES[name] // whole, px(_MOST[name]))) for name in others}
    # Lanes hang on their arches; whatever else there is has some of the spare room above it.
    spare = max(rest - sum(high.values()), 0) // (sum(name != LANES for name in others) + 2)
    y = gap + spare
    sections: dict[str, Box] = {}
    if COUNT in shown:
        sections[COUNT] = Box(left, y, min(px(330), inner), px(_COUNT))
        beside = sections[COUNT].right
        if width - left - beside > px(200):
            sections[TITLE] = Box(beside, y, width - left - beside, px(_COUNT))
        sections["arches"] = Box(left, y + px(_COUNT) + px(4), inner, px(_ARCHES))
        y = sections["arches"].bottom
    for index, name in enumerate(others):
        y += spare if name != LANES and (index or COUNT in shown) else 0
        sections[name] = Box(left, y, inner, high[name])
        y += high[name] + gap
    return Layout(
        unit=unit,
        window=Box(0, 0, width, height),
        sections=sections,
        page=Box(0, 0, width, height),
        time_left=left + px(76),
        time_right=left + inner - px(16),
    )
