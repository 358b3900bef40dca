"""What the clean-up of the pickup's errors took out: the newest notes with what each was taken for,
and which parts of the clean-up are on.
"""

from collections.abc import Hashable

import pygame

from loopdeck.protocol.messages import RemovedNote
from loopdeck.theory.pitch import pitch_name
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import SMALLEST, TEXT, Box, columns, rows
from loopdeck.window.panels.panel import Panel, rule
from loopdeck.window.spelling import counted, pretty_note
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

#: The parts of the clean-up as a player reads them, in the order of the switch.
PART_WORDS = {
    "ghosts": "ghosts",
    "octaves": "octave errors",
    "doubles": "double triggers",
    "chopped": "chopped notes",
    "noise": "string noise",
}
_WHY = {
    "ghost": "ghost",
    "octave": "octave error",
    "double": "double trigger",
    "chopped": "end of a bent note",
    "noise": "string noise",
}
_ROW = 33


def key(view: View, ui: UiState, now: float) -> Hashable:
    """What the panel's picture depends on."""
    return view.changed["cleaned"], view.changed["brief"]


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """A heading, then the notes in two columns, the newest first."""
    inner = rule(canvas, surface, box)
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    taken = view.played.taken_out
    lines = max(2, round(inner.h / px(_ROW)))
    places = rows(inner, lines)
    if not taken.known:
        text = "Nothing is cleaned up: start with --pickup and the name of your pickup's profile."
        pen.write(surface, text, places[0], px(TEXT), theme.quiet, smallest=px(SMALLEST))
        return
    off = [words for part, words in PART_WORDS.items() if part not in taken.parts]
    heading = f"{counted(taken.count, 'note')} taken out."
    heading += f" Not cleaned up: {', '.join(off)}." if off else ""
    heading += " Shift Page Up brings the newest back." if taken.count else ""
    pen.write(surface, heading, places[0], px(TEXT), theme.ink, smallest=px(SMALLEST))
    cells = [place for column in columns(Box(inner.x, places[1].y, inner.w, places[-1].bottom - places[1].y), 2, px(16))
             for place in rows(column, lines - 1)]  # fmt: skip
    for one, place in zip(reversed(taken.notes), cells, strict=False):
        pen.write(surface, _words(view, one), place.inset(px(8), px(1)), px(TEXT), theme.ink, smallest=px(SMALLEST))


def _words(view: View, one: RemovedNote) -> str:
    scale = view.brief.scale if view.brief is not None else None
    name = pretty_note(scale.spell(one.pitch) if scale is not None else pitch_name(one.pitch))
    where = f"pass {one.pass_index + 1}" if one.pass_index >= 0 else "before the start"
    return f"{one.id}  {name}  {_WHY.get(one.why, one.why)}, {where}"


PANEL = Panel("errors", key, draw)
