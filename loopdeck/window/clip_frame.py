"""The frames of a clip: what the window shows of a riff, at any moment, drawn by the window's own
parts.

Theory of operation
    A view is told what an engine would tell it: the brief, the clock, and each note when it begins
    and ends. The riff of the pass stands on the lanes as a layer does, and what has been reached is
    inked over it. What stands still is drawn once and kept (as ``paint`` does), what moves is drawn
    onto a copy. Where the ground is clear, what has the colour of the ground lets the picture below
    through: wholly around the parts, and a little behind them, so that letters can be read on any
    picture.

Conventions
    Quarters count from the start of the first pass; lengths are given at 1280x720 and scaled. A
    frame is an array (height, width, 4) of uint8: blue, green, red, alpha.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck import pygame_lean  # noqa: F401 - before pygame  # isort: skip
import pygame

from loopdeck.brief.brief import Brief
from loopdeck.window import draw_cycle, draw_head, draw_lanes
from loopdeck.window.canvas import Canvas
from loopdeck.window.clip_layout import COUNT, LANES, NECK, SHOWN, TAB, TITLE, clip_layout
from loopdeck.window.clip_planes import Planes
from loopdeck.window.clip_play import ClipNote, ClipPlay
from loopdeck.window.clip_title import draw_title
from loopdeck.window.layout import Box
from loopdeck.window.note_picture import NotePlan
from loopdeck.window.panels import neck
from loopdeck.window.panels.tab import draw_tab
from loopdeck.window.text import Pen
from loopdeck.window.theme import PAPER, THEMES
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

__all__ = ["CLEAR", "SHOWN", "ClipPainter"]

CLEAR = "clear"
#: The green that is keyed out where a file has no alpha: nothing that is drawn has it.
_KEY = np.uint32(0x00FF00)
#: How much of the ground stays behind the parts where it is clear: two thirds.
_GLASS = 170
#: So many frets of the neck are shown at least.
_FRETS = 12
#: Half the width of what moves with the marker, at 1280x720: its disc, the rim and a little more.
_MARKER = 18


class ClipPainter:
    """Draws frames of ``size`` pixels.

    ``ground``: paper, slate or clear. ``shown``: some of SHOWN. ``qpm``: quarters a minute, by
    which early and late are told. ``name``: what the riff is called. ``keyed``: what would be
    clear is one pure green, for files without alpha.
    """

    def __init__(
        self,
        brief: Brief,
        notes: Sequence[ClipNote],
        size: tuple[int, int],
        ground: str,
        shown: Sequence[str],
        qpm: float,
        name: str = "",
        keyed: bool = False,
    ) -> None:
        self.size, self.clear, self.keyed, self.name = size, ground == CLEAR, keyed, name
        theme = PAPER if self.clear else THEMES[ground]
        found = clip_layout(*size, shown)
        self.play = ClipPlay(brief, notes, qpm, TAB in found.sections)
        self.ui = UiState()
        self.canvas = Canvas(Pen(), theme, found, self.view.cycle_layout.pages[0])
        self._neck = self._neck_of(brief, notes)
        self._ground = pygame.Surface(size, 0, 32)
        self._ground.fill(theme.ground)
        self._frame = pygame.Surface(size, 0, 32)
        self._keys: dict[str, Hashable] = {}
        red, green, blue = theme.ground
        self._ground_colour = np.uint32(red << 16 | green << 8 | blue)
        self._glass = _glass(size, found.sections.values())
        #: What differs from the frame before.
        self.changed: list[Box] = []
        #: Where the marker stood, the arch it was in, and the notes that were drawn.
        self._before: tuple[int, int, NotePlan | None] | None = None

    def _neck_of(self, brief: Brief, notes: Sequence[ClipNote]) -> tuple[Canvas, set[tuple[int, int]]]:
        """A canvas on which the neck is small enough to show every fret of the riff, and the
        riff's places: strings from 0, frets.
        """
        strings = brief.tuning.strings
        shape = {(one.string - 1, one.pitch - strings[one.string - 1]) for one in notes if one.string}
        layout = self.canvas.layout
        if NECK not in layout.sections:
            return self.canvas, shape
        frets = max([_FRETS, *(fret + 1 for _, fret in shape)])
        unit = min(layout.unit, layout.sections[NECK].w / neck.width_of(frets))
        return replace(self.canvas, layout=replace(layout, unit=unit, _pixels={})), shape

    @property
    def view(self) -> View:
        """What the parts draw."""
        return self.play.view

    # ---- a moment --------------------------------------------------------------------------------

    def pixels(self, at_q: float) -> NDArray[np.uint8]:
        """The frame at a moment, in quarters."""
        self.surface(at_q)
        return self._piece(Box(0, 0, *self.size))

    def planes(self, at_q: float, planes: Planes) -> None:
        """The same into planes that have the frame before: only what has changed."""
        self.surface(at_q)
        for box in self.changed:
            inside = planes.even(box)
            if inside.w and inside.h:
                planes.take(self._piece(inside), inside)

    def _piece(self, box: Box) -> NDArray[np.uint8]:
        """Part of the frame, with its alpha."""
        # A pixel of 32 bits is 0xAARRGGBB; the surface leaves the uppermost byte alone.
        bytes_of: Any = self._frame.get_view("0")
        whole = np.frombuffer(bytes_of, np.uint32).reshape(self.size[1], self.size[0])
        inside = (slice(box.y, box.bottom), slice(box.x, box.right))
        colours = whole[inside] & np.uint32(0xFFFFFF)
        if self.clear and self.keyed:
            colours = np.where((colours == self._ground_colour) & (self._glass[inside] == 0), _KEY, colours)
            colours |= np.uint32(0xFF000000)
        elif self.clear:
            colours |= np.where(colours == self._ground_colour, self._glass[inside], np.uint32(0xFF000000))
        else:
            colours |= np.uint32(0xFF000000)
        return colours.astype("<u4", copy=False).view(np.uint8).reshape(box.h, box.w, 4)

    def surface(self, at_q: float) -> pygame.Surface:
        """The same as a surface, without its alpha; the next frame is drawn onto it anew.
        ``changed`` has the parts of it that differ from the frame before.
        """
        here = self.play.reach(at_q)
        self.canvas.page = self.view.cycle_layout.page_at(here)
        self.changed = self._draw_ground(here)
        self._frame.blit(self._ground, (0, 0))
        self._draw_moving(here)
        self.changed += self._moved(here)
        return self._frame

    def _moved(self, here: float) -> list[Box]:
        """Where what moves was and is: the marker, the arch it is in, and the lanes when a note has
        begun or ended.
        """
        canvas, before = self.canvas, self._before
        x, plan = canvas.x_of(here), canvas.plan
        self._before = x, self.view.cycle_layout.group_at(here)[0], plan
        if before is None:
            return [Box(0, 0, *self.size)]
        sections, margin = canvas.layout.sections, canvas.px(_MARKER)
        left, right = min(x, before[0]) - margin, max(x, before[0]) + margin
        found = [Box(left, 0, right - left, max(box.bottom for box in sections.values()) + margin)]
        if COUNT in sections and self._before[1] != before[1]:
            found.append(sections["arches"])
        if LANES in sections and plan is not before[2]:
            found.append(sections[LANES])
        return found

    # ---- what is drawn ---------------------------------------------------------------------------

    def _draw_ground(self, here: float) -> list[Box]:
        """Draw what stands still where it has changed, and say where."""
        canvas, view, ui, now = self.canvas, self.view, self.ui, self.play.sec(here)
        drawers: dict[str, tuple[Hashable, Callable[[Box], object]]] = {
            "count": (
                draw_head.count_text(view, now),
                lambda box: draw_head.count(canvas, self._ground, box, view, ui, now),
            ),
            TITLE: (self.name, lambda box: draw_title(canvas, self._ground, box, view, self.name)),
            "arches": (canvas.page, lambda box: draw_cycle.arches(canvas, self._ground, box, view, ui, now)),
            LANES: (
                (self.play.turn, canvas.page),
                lambda box: draw_lanes.grid(canvas, self._ground, box, view, ui, now),
            ),
            TAB: (
                (self.play.turn, canvas.page, self.play.tab.at(here)),
                lambda box: draw_tab(canvas, self._ground, box, view, self.play.tab, here),
            ),
            NECK: (
                (self.play.turn, view.changed["notes"]),
                lambda box: neck.draw_neck(self._neck[0], self._ground, box, view, self._neck[1]),
            ),
        }
        changed = []
        for name, box in canvas.layout.sections.items():
            key, draw = drawers[name]
            if name in self._keys and self._keys[name] == key:
                continue
            self._keys[name] = key
            self._ground.fill(canvas.theme.ground, box)
            self._ground.set_clip(box)
            draw(box)
            self._ground.set_clip(None)
            changed.append(box)
        return changed

    def _draw_moving(self, here: float) -> None:
        canvas, view, now = self.canvas, self.view, self.play.sec(here)
        place = view.place(now)
        if COUNT in canvas.layout.sections:
            draw_cycle.current_arch(canvas, self._frame, view, place)
        if LANES in canvas.layout.sections:
            draw_cycle.marker_line(canvas, self._frame, view, now)
            draw_lanes.notes(canvas, self._frame, view, self.ui, now)
        if TAB in canvas.layout.sections:
            box = canvas.layout.sections[TAB]
            self._frame.fill(canvas.theme.now, (canvas.x_of(here) - canvas.px(1), box.y, canvas.px(3), box.h))
        if COUNT in canvas.layout.sections:
            draw_cycle.marker(canvas, self._frame, view, now)


def _glass(size: tuple[int, int], boxes: Iterable[Box]) -> NDArray[np.uint32]:
    """The alpha of the ground in its place in a pixel: some of it behind the parts, none elsewhere;
    (height, width).
    """
    glass = np.zeros((size[1], size[0]), np.uint32)
    for box in boxes:
        glass[max(box.y, 0) : box.bottom, max(box.x, 0) : box.right] = np.uint32(_GLASS << 24)
    return glass
