"""Where everything in the window lies: rectangles from the window's size, and nothing else.

Conventions: pixels, origin at the top left, x to the right, y downwards. ``unit`` is the scale: 1.0
at 1280 x 720, and every length below is written in pixels at that size. A wider window gives its
width to time, a taller one its height to the lanes first and to the layers second. Pure: no pygame,
so it can be tested for thousands of sizes.

From top to bottom: the brief; where we are (count, state, what was just played); the cycle's
arches; the lanes of this pass; the pass before (or, while something does, what waits for an
answer); one of the panels; one message; the devices. A page (help, brief, sound) lies over arches
to panel, so the brief in force, the count and the message are seen whatever is open.
"""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

DESIGN_SIZE = (1280, 720)
# The smallest text that matters while playing, in pixels at the design size (em height), and the
# quiet text beside it.
TEXT = 28
QUIET = 20
SMALLEST = 18


class Box(NamedTuple):
    """A rectangle in pixels; a pygame surface takes it as it is."""

    x: int
    y: int
    w: int
    h: int

    @property
    def right(self) -> int:
        return self.x + self.w

    @property
    def bottom(self) -> int:
        return self.y + self.h

    def inset(self, dx: int, dy: int | None = None) -> "Box":
        """The box with a margin of ``dx`` (and ``dy``) pixels taken off each side, never smaller
        than nothing.
        """
        dy = dx if dy is None else dy
        return Box(self.x + dx, self.y + dy, max(0, self.w - 2 * dx), max(0, self.h - 2 * dy))

    def overlaps(self, other: "Box") -> bool:
        return self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom

    def holds(self, other: "Box") -> bool:
        return self.x <= other.x and self.y <= other.y and other.right <= self.right and other.bottom <= self.bottom


#: Heights at the design size; what a taller window has to spare goes to the lanes and the panel.
_FIXED = {"header": 38, "where": 112, "arches": 44, "message": 38, "devices": 24}
_WAITING = 46
_GAP, _TOP, _FOOT = 6, 6, 6
_LANES, _BEFORE, _PANEL = 262, 22, 138


@dataclass(frozen=True)
class Layout:
    """Rectangles for one window size; see the module's text for the order. ``waiting`` is empty
    while nothing waits.
    """

    unit: float
    window: Box
    sections: dict[str, Box]
    """The rectangles that share the window without overlapping, by name, from the top."""
    page: Box
    time_left: int
    """x of the first slot of a page of time, in arches, lanes and the pass before alike."""
    time_right: int
    """x of the end of a page of time."""
    _pixels: dict[float, int] = field(default_factory=dict, compare=False, repr=False)

    def px(self, length: float) -> int:
        """A length given at the design size, in pixels here, at least one."""
        found = self._pixels.get(length)
        if found is None:
            found = self._pixels[length] = max(1, round(length * self.unit))
        return found

    @property
    def lanes(self) -> Box:
        return self.sections["lanes"]

    @property
    def arches(self) -> Box:
        return self.sections["arches"]

    @property
    def panel(self) -> Box:
        return self.sections["panel"]


@lru_cache(maxsize=8)
def layout(width: int, height: int, waiting: bool = False) -> Layout:
    """The layout of a window of ``width`` x ``height`` pixels (800 x 450 and up; smaller ones are
    laid out as if 800 x 450 were shrunk evenly). ``waiting``: with a place for what waits for
    an answer.
    """
    unit = min(width / DESIGN_SIZE[0], height / DESIGN_SIZE[1])

    def px(length: float) -> int:
        return max(1, round(length * unit))

    margin, gap = px(14), px(_GAP)
    left, inner = margin, width - 2 * margin
    used = sum(px(value) for value in _FIXED.values()) + px(_TOP) + px(_FOOT) + 6 * gap
    rest = max(3, height - used)
    whole = _LANES + _BEFORE + _PANEL
    lanes_h, before_h = rest * _LANES // whole, rest * _BEFORE // whole
    panel_h = rest - lanes_h - before_h
    waiting_h = px(_WAITING) if waiting else 0
    y = px(_TOP)
    found: dict[str, Box] = {}

    def place(name: str, height: int, gap_below: int) -> None:
        nonlocal y
        found[name] = Box(left, y, inner, height)
        y += height + gap_below

    place("header", px(_FIXED["header"]), gap)
    where = Box(left, y, inner, px(_FIXED["where"]))
    count_w, readout_w = px(330), px(440)
    found["count"] = Box(left, y, count_w, where.h)
    found["state"] = Box(left + count_w + gap, y, inner - count_w - readout_w - 2 * gap, where.h)
    found["readout"] = Box(where.right - readout_w, y, readout_w, where.h)
    y = where.bottom + gap
    place("arches", px(_FIXED["arches"]), 0)
    place("lanes", lanes_h, gap)
    # What waits takes the place of the pass before, and a little of the panel.
    place("waiting" if waiting else "before", waiting_h if waiting else before_h, gap)
    place("panel", panel_h - (waiting_h - before_h if waiting else 0), gap)
    place("message", px(_FIXED["message"]), gap)
    place("devices", px(_FIXED["devices"]), 0)
    return Layout(
        unit=unit,
        window=Box(0, 0, width, height),
        sections=found,
        page=Box(left, found["arches"].y, inner, found["panel"].bottom - found["arches"].y),
        time_left=left + px(76),
        time_right=left + inner - px(16),
    )


def rows(box: Box, count: int) -> list[Box]:
    """``count`` rows filling ``box`` from top to bottom, to the pixel: no row overlaps the next
    and none is left over.
    """
    edges = [box.y + box.h * index // count for index in range(count + 1)]
    return [Box(box.x, edges[i], box.w, edges[i + 1] - edges[i]) for i in range(count)]


def columns(box: Box, count: int, gap: int) -> list[Box]:
    """``count`` columns filling ``box`` with ``gap`` pixels between them."""
    inner = box.w - gap * (count - 1)
    edges = [inner * index // count for index in range(count + 1)]
    return [Box(box.x + edges[i] + gap * i, box.y, edges[i + 1] - edges[i], box.h) for i in range(count)]
