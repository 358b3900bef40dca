"""Where everything in the window lies: rectangles from the window's size, and nothing else.

Conventions: pixels, origin at the top left, x to the right, y downwards. ``unit`` is the scale: 1.0 at 1280 x 720, and every
length below is written in pixels at that size. A wider window gives its width to time, a taller one its height to the
lanes first and to the layers second. Pure: no pygame, so it can be tested for thousands of sizes.

From top to bottom: the brief; where we are (count, state, what was just played); the cycle's arches; the lanes of this pass;
the pass before; layers beside keeps; one message; the devices. A page (help, brief) lies over arches to keeps, so the brief
in force, the count and the message are seen whatever is open.
"""

from dataclasses import dataclass
from typing import NamedTuple

MIN_SIZE = (800, 450)
DESIGN_SIZE = (1280, 720)
# The smallest text that matters while playing, in pixels at the design size (em height), and the quiet text beside it.
TEXT = 28
QUIET = 20


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
        """The box with a margin of ``dx`` (and ``dy``) pixels taken off each side, never smaller than nothing."""
        dy = dx if dy is None else dy
        return Box(self.x + dx, self.y + dy, max(0, self.w - 2 * dx), max(0, self.h - 2 * dy))

    def overlaps(self, other: "Box") -> bool:
        return self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom

    def holds(self, other: "Box") -> bool:
        return self.x <= other.x and self.y <= other.y and other.right <= self.right and other.bottom <= self.bottom


@dataclass(frozen=True)
class Layout:
    """Rectangles for one window size; see the module's text for the order."""

    unit: float
    window: Box
    header: Box
    count: Box
    state: Box
    readout: Box
    arches: Box
    lanes: Box
    before: Box
    layers: Box
    kepts: Box
    message: Box
    devices: Box
    page: Box
    time_left: int
    """x of the first slot of a page of time, in arches, lanes and the pass before alike."""
    time_right: int
    """x of the end of a page of time."""

    def px(self, length: float) -> int:
        """A length given at the design size, in pixels here, at least one."""
        return max(1, round(length * self.unit))

    @property
    def sections(self) -> dict[str, Box]:
        """The rectangles that share the window without overlapping."""
        names = (
            "header", "count", "state", "readout", "arches", "lanes", "before", "layers", "kepts", "message", "devices",
        )  # fmt: skip
        return {name: getattr(self, name) for name in names}


def layout(width: int, height: int) -> Layout:
    """The layout of a window of ``width`` x ``height`` pixels (800 x 450 and up; smaller ones are laid out as if 800 x 450
    were shrunk evenly)."""
    unit = min(width / DESIGN_SIZE[0], height / DESIGN_SIZE[1])

    def px(length: float) -> int:
        return max(1, round(length * unit))

    margin = px(14)
    gap = px(7)
    left, inner = margin, width - 2 * margin
    # Heights at the design size; what a taller window has to spare goes to the lanes and the layers.
    fixed = {"header": 36, "where": 114, "arches": 50, "message": 40, "devices": 24}
    used = sum(px(value) for value in fixed.values()) + px(8) + px(4) + 6 * gap
    rest = max(3, height - used)
    lanes_h = rest * 260 // 406
    before_h = rest * 32 // 406
    layers_h = rest - lanes_h - before_h

    y = px(8)
    header = Box(left, y, inner, px(fixed["header"]))
    y = header.bottom + gap
    where_h = px(fixed["where"])
    count_w, readout_w = px(330), px(420)
    count = Box(left, y, count_w, where_h)
    state = Box(count.right + gap, y, inner - count_w - readout_w - 2 * gap, where_h)
    readout = Box(state.right + gap, y, readout_w, where_h)
    y += where_h + gap
    arches = Box(left, y, inner, px(fixed["arches"]))
    y = arches.bottom
    lanes = Box(left, y, inner, lanes_h)
    y = lanes.bottom + gap
    before = Box(left, y, inner, before_h)
    y = before.bottom + gap
    layers_w = (inner - gap) * 2 // 3
    layers = Box(left, y, layers_w, layers_h)
    kepts = Box(layers.right + gap, y, inner - gap - layers_w, layers_h)
    y = layers.bottom + gap
    message = Box(left, y, inner, px(fixed["message"]))
    y = message.bottom + gap
    devices = Box(left, y, inner, px(fixed["devices"]))
    return Layout(
        unit=unit,
        window=Box(0, 0, width, height),
        header=header,
        count=count,
        state=state,
        readout=readout,
        arches=arches,
        lanes=lanes,
        before=before,
        layers=layers,
        kepts=kepts,
        message=message,
        devices=devices,
        page=Box(left, arches.y, inner, layers.bottom - arches.y),
        time_left=left + px(96),
        time_right=left + inner - px(22),
    )


def rows(box: Box, count: int) -> list[Box]:
    """``count`` rows filling ``box`` from top to bottom, to the pixel: no row overlaps the next and none is left over."""
    edges = [box.y + box.h * index // count for index in range(count + 1)]
    return [Box(box.x, edges[i], box.w, edges[i + 1] - edges[i]) for i in range(count)]


def columns(box: Box, count: int, gap: int) -> list[Box]:
    """``count`` columns filling ``box`` with ``gap`` pixels between them."""
    inner = box.w - gap * (count - 1)
    edges = [inner * index // count for index in range(count + 1)]
    return [Box(box.x + edges[i] + gap * i, box.y, edges[i + 1] - edges[i], box.h) for i in range(count)]
