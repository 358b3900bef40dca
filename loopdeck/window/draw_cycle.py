"""The cycle to scale: an arch for every group, highest where a bar begins, and the marker that
travels along them.

The marker lands on every beat that begins a group, as a conductor's hand does: the fall tells when
the beat comes. Counts inside a group stand as short strokes on its foot. Bars are parted by a heavy
line that runs on through the lanes.
"""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box
from loopdeck.window.practice import silent_bar
from loopdeck.window.timeline import BeatGroup, PassPosition
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

BAR_RISE, GROUP_RISE = 1.0, 0.74  # height of an arch in parts of the box


def _rise(canvas: Canvas, arch: BeatGroup) -> int:
    room = canvas.layout.arches.h - canvas.px(6)
    return round(room * (BAR_RISE if arch.opens_bar else GROUP_RISE))


def _height_at(through: float) -> float:
    """The arch's curve: 0 at both feet, 1 in the middle, round at the top and steep at the feet."""
    return float(max(0.0, 1.0 - (2 * through - 1) ** 2) ** 0.62)


def _shown(canvas: Canvas, arch: BeatGroup) -> bool:
    return canvas.page.start_q <= arch.start_q < canvas.page.end_q


def arch_picture(canvas: Canvas, width: int, rise: int, line: int, filled: bool) -> pygame.Surface:
    """An arch so wide and high, its line so thick; filled with the shade, or with the ground."""
    theme = canvas.theme

    def draw(large: pygame.Surface, fine: int) -> None:
        w, h = large.get_size()
        steps = 64
        outer = [(w * i / steps, h - h * _height_at(i / steps)) for i in range(steps + 1)]
        thick = line * fine
        inner = [
            (thick + (w - 2 * thick) * i / steps, h - (h - thick) * _height_at(i / steps)) for i in range(steps + 1)
        ]
        pygame.draw.polygon(large, theme.ink, outer)
        pygame.draw.polygon(large, theme.shade if filled else theme.ground, inner)

    return canvas.shape(("arch", line, filled), max(2, width), rise, draw)


def _piece(canvas: Canvas, arch: BeatGroup, filled: bool) -> tuple[pygame.Surface, int, int]:
    """The picture of an arch and where its top left lies."""
    left, right = canvas.x_of(arch.start_q), canvas.x_of(arch.start_q + arch.length_q)
    rise = _rise(canvas, arch)
    found = arch_picture(canvas, right - left, rise, canvas.px(4 if arch.opens_bar else 3), filled)
    return found, left, canvas.layout.arches.bottom - rise


def _label(canvas: Canvas, surface: pygame.Surface, arch: BeatGroup, silent: bool) -> None:
    """The count an arch begins with; in a silent bar beside a rest's sign of ours, a bar on the
    foot of the arch.
    """
    left, right = canvas.x_of(arch.start_q), canvas.x_of(arch.start_q + arch.length_q)
    box, px = canvas.layout.arches, canvas.px
    rise = _rise(canvas, arch)
    room = Box(left + px(6), box.bottom - rise + px(7), max(1, right - left - px(12)), max(1, rise - px(15)))
    if canvas.pen.width(arch.label, px(SMALLEST)) <= room.w:
        canvas.pen.write(surface, arch.label, room, px(TEXT), canvas.theme.ink, "centre", px(SMALLEST))
    if silent:
        # No click here: a heavy bar lies where the clicks would be.
        pygame.draw.rect(
            surface, canvas.theme.ink, (left + px(8), box.bottom - px(7), max(1, right - left - px(16)), px(7))
        )
        return
    for unit in range(1, arch.units):
        x = canvas.x_of(arch.start_q + arch.length_q * unit / arch.units)
        pygame.draw.rect(surface, canvas.theme.ink, (x - px(1), box.bottom - px(6), px(3), px(6)))


def arches(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The arches of the page; on the left which bars it shows where the cycle has more, but while
    counting in: there the disc hops.
    """
    px, theme = canvas.px, canvas.theme
    for arch in view.cycle_layout.groups:
        if _shown(canvas, arch):
            surface.blit(*_at(_piece(canvas, arch, False)))
            _label(canvas, surface, arch, silent_bar(view, arch.bar))
    page = canvas.page
    if len(view.cycle_layout.pages) > 1 and not counting_in(view, now):
        bars = f"{page.first_bar}–{page.last_bar}" if page.last_bar > page.first_bar else f"{page.first_bar}"
        top = Box(box.x, box.y + px(4), px(72), box.h // 2 - px(4))
        canvas.pen.write(surface, f"bar {bars}", top, px(QUIET), theme.ink)
        low = Box(box.x, box.y + box.h // 2, px(72), box.h // 2 - px(4))
        canvas.pen.write(surface, f"of {view.cycle_layout.bars}", low, px(QUIET), theme.ink)


def counting_in(view: View, now: float) -> bool:
    """Whether the first pass is still to begin, or a lead-in goes by."""
    place = view.place(now)
    return place.running and place.at_q < 0


def _at(piece: tuple[pygame.Surface, int, int]) -> tuple[pygame.Surface, tuple[int, int]]:
    return piece[0], (piece[1], piece[2])


def shaded_arch(view: View, place: PassPosition) -> int | None:
    """The index of the arch we are in; None while nothing runs, and while counting in."""
    return view.cycle_layout.group_at(place.at_q)[0] if place.running and place.at_q >= 0 else None


def current_arch(canvas: Canvas, surface: pygame.Surface, view: View, place: PassPosition) -> None:
    """The arch we are in, shaded."""
    index = shaded_arch(view, place)
    if index is None:
        return
    arch = view.cycle_layout.groups[index]
    if _shown(canvas, arch):
        surface.blit(*_at(_piece(canvas, arch, True)))
        _label(canvas, surface, arch, silent_bar(view, arch.bar))


def line_box(canvas: Canvas, view: View, now: float) -> Box | None:
    """Where the line through the lanes lies that tells where we are; None while nothing runs."""
    place = view.place(now)
    at_q = place.at_q if place.running else view.free_at(now)
    if at_q is None or at_q < 0:
        return None
    lanes, px = canvas.layout.lanes, canvas.px
    return Box(canvas.x_of(at_q) - px(2), lanes.y, px(4), lanes.h)


def marker_line(canvas: Canvas, surface: pygame.Surface, view: View, now: float) -> None:
    """The place where we are, as a line through the lanes."""
    if (box := line_box(canvas, view, now)) is not None:
        surface.fill(canvas.theme.now, box)


def disc_box(canvas: Canvas, view: View, now: float) -> Box | None:
    """Where the disc is that rides on the arches, hopping on the start while counting in; None
    while nothing runs.
    """
    layout, px = canvas.layout, canvas.px
    place = view.place(now)
    if not place.running:
        return None
    radius = px(11)
    if place.at_q < 0:
        x, rise, through = canvas.x_of(0), layout.arches.h * 0.7, view.cycle_layout.beat_phase(place.at_q)
    else:
        index, through = view.cycle_layout.group_at(place.at_q)
        x, rise = canvas.x_of(place.at_q), _rise(canvas, view.cycle_layout.groups[index])
    y = layout.arches.bottom - rise * _height_at(through)
    y = max(layout.arches.y + radius - px(6), min(layout.arches.bottom - radius, y))
    outer = radius + px(2)
    return Box(round(x) - outer, round(y) - outer, 2 * outer, 2 * outer)


def draw_disc(canvas: Canvas, surface: pygame.Surface, box: Box) -> None:
    """The disc, with a rim of ground."""
    outer = box.w // 2
    x, y = box.x + outer, box.y + outer
    canvas.disc(surface, x, y, outer, canvas.theme.ground)
    canvas.disc(surface, x, y, canvas.px(11), canvas.theme.now)


def marker(canvas: Canvas, surface: pygame.Surface, view: View, now: float) -> None:
    """A disc that rides on the arches; while counting in it hops on the start."""
    if (box := disc_box(canvas, view, now)) is not None:
        draw_disc(canvas, surface, box)
