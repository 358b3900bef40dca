"""What moves over the kept ground from frame to frame: the marker, the notes, the feet of what
sounds.

Only the parts of the picture that differ from the frame before are drawn again: the ground is laid
there anew, and over it everything that lies in them, in the usual order. Most of them are small: a
stripe where the line was and is, the disc, a note that has ended.

Conventions: pixels in the window.
"""

from typing import NamedTuple

import pygame

from loopdeck.window import draw_cycle, draw_lanes
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box
from loopdeck.window.note_picture import NotePlan
from loopdeck.window.target import draw as target
from loopdeck.window.target import marks
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

#: With more parts than this it is quicker to draw all lanes anew.
_MOST_PARTS = 12


class _Shown(NamedTuple):
    """What a frame shows, and where. ``signs``: whether a target is judged."""

    plan: NotePlan
    line: Box | None
    disc: Box | None
    feet: list[Box]
    signs: bool


class MovingParts:
    """Knows what the frame before showed.

    ``update`` before each frame on which things move, ``clear`` before one on which nothing does;
    then ``draw`` for each part that is drawn anew.
    """

    def __init__(self) -> None:
        self._shown: _Shown | None = None

    def clear(self, canvas: Canvas) -> list[Box]:
        """Nothing moves any more; returns where something did."""
        before, self._shown = self._shown, None
        return [moving_box(canvas)] if before is not None else []

    def update(self, canvas: Canvas, view: View, ui: UiState, now: float) -> list[Box]:
        """What moves is where it is at ``now``; returns the parts that differ from the frame
        before.
        """
        plan = draw_lanes.note_plan(canvas, view, ui, now)
        before, after = (
            self._shown,
            _Shown(
                plan,
                draw_cycle.line_box(canvas, view, now),
                draw_cycle.disc_box(canvas, view, now),
                draw_lanes.feet(canvas, plan, view, now),
                bool(marks.verdicts(view) or marks.added(view)),
            ),
        )
        self._shown = after
        if before is None or before.signs or after.signs:
            # Signs depend on more than is worth being followed.
            return [moving_box(canvas)]
        parts = [
            *_between(before.line, after.line),
            *(foot for foot in after.feet if foot not in before.feet),
            *(foot for foot in before.feet if foot not in after.feet),
            *_changed_notes(canvas, before.plan, plan),
        ]
        if len(parts) > _MOST_PARTS:
            parts = [canvas.layout.lanes]
        return parts + _between(before.disc, after.disc)

    def draw(self, canvas: Canvas, surface: pygame.Surface, part: Box, view: View, now: float) -> None:
        """Draw what lies in this part. The line lies behind the notes, so that it never crosses a
        name.
        """
        shown = self._shown
        if shown is None:
            return
        if inside := pygame.Rect(part).clip(canvas.layout.lanes):
            surface.set_clip(inside)
            if shown.line is not None:
                surface.fill(canvas.theme.now, shown.line)
            shown.plan.draw(surface, inside)
            for foot in shown.feet:
                surface.fill(canvas.theme.ink, foot)
            if shown.signs:
                target.signs(canvas, surface, view, view.shown(now)[0])
            surface.set_clip(part)
        if shown.disc is not None and part.overlaps(shown.disc):
            draw_cycle.draw_disc(canvas, surface, shown.disc)


def moving_box(canvas: Canvas) -> Box:
    """All of it: arches and lanes, and a little above, where the disc rides."""
    arches, lanes, above = canvas.layout.arches, canvas.layout.lanes, canvas.px(12)
    return Box(arches.x, arches.y - above, arches.w, lanes.bottom - arches.y + above)


def _changed_notes(canvas: Canvas, before: NotePlan, after: NotePlan) -> list[Box]:
    if before is after:
        return []
    changed = after.changes(before)
    if changed is None:
        return [canvas.layout.lanes]
    within = [rect.clip(canvas.layout.lanes) for rect in changed]
    return [Box(*rect) for rect in within if rect]


def _between(before: Box | None, now: Box | None) -> list[Box]:
    """Where something was and is; one part where both lie close together."""
    if before == now:
        return []
    there = [box for box in (before, now) if box is not None]
    if len(there) < 2:
        return there
    both = pygame.Rect(there[0]).union(there[1])
    near = both.w * both.h <= 3 * there[1].w * there[1].h
    return [Box(*both)] if near else there
