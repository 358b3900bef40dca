"""The neck: the scale on the strings as far as there is room, the shape of the riff, and what is
played now.

A note of the scale is a ring with its degree, as wide as that needs, the root a heavy one; what is
held now is solid, with its name; a held note outside the scale is the pointed lozenge. The notes of
the layer in front stand in frames: the riff's shape. It is drawn as the player sees it, the lowest
string nearest; for the left hand with the nut on the right. Frets with inlays (3, 5, 7, 9, 12 and
so on, common practice, no source) carry their number.
"""

from collections.abc import Collection, Hashable

import pygame

from loopdeck.theory.programs import is_guitar
from loopdeck.theory.tuning import FRETS, Tuning
from loopdeck.window.canvas import Canvas
from loopdeck.window.draw_lanes import front_layer
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.note_view import NoteView
from loopdeck.window.panels.panel import Panel, rule
from loopdeck.window.shapes import lozenge
from loopdeck.window.spelling import pretty_degree, pretty_note
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

INLAYS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)
#: A fret is at least this wide, so that ring and number can be read; the frets that do not fit are
#: left out.
_LEAST_FRET = 62
#: From the left to the nut: the string's name, and the open string's ring.
_NUT = 96
#: The size of a degree or a name.
_WORD = 24


def key(view: View, ui: UiState, now: float) -> Hashable:
    """What the panel's picture depends on."""
    return view.changed["brief"], view.changed["notes"], view.changed["layers"], ui.chosen, ui.turns["left"] % 2


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The whole neck."""
    shape = _shape(view, ui) if view.brief is not None else set()
    heading = draw_neck(canvas, surface, box, view, shape, ui.turns["left"] % 2 == 1)
    if view.brief is not None and view.brief.scale is None:
        held_only = "No scale: F2 chooses one."
        canvas.pen.write(surface, held_only, heading, canvas.px(SMALLEST), canvas.theme.quiet, "right")


def draw_neck(
    canvas: Canvas,
    surface: pygame.Surface,
    box: Box,
    view: View,
    shape: Collection[tuple[int, int]] = (),
    left: bool = False,
) -> Box:
    """The neck without a word about it, with the ``shape`` of a riff (strings from 0, frets); for
    the ``left`` hand or the right. Returns the line above the strings.
    """
    inner = rule(canvas, surface, box)
    if view.brief is None:
        return inner
    neck = _Neck(canvas, surface, inner, view.brief.tuning, left)
    neck.wood()
    held = _held(view)
    for string, open_pitch in enumerate(view.brief.tuning.strings):
        for fret in range(neck.frets + 1):
            scale = view.brief.scale
            if scale is not None and (string, fret) not in held and (open_pitch + fret) % 12 in scale.pitch_classes:
                pitch = open_pitch + fret
                neck.ring(string, fret, pretty_degree(scale.degree(pitch)), pitch % 12 == scale.root.pitch_class)
    for string, fret in set(shape) - set(held):
        if fret <= neck.frets:
            neck.frame(string, fret)
    for (string, fret), mark in held.items():
        if fret <= neck.frets:
            neck.held(string, fret, mark)
    return neck.heading


def width_of(frets: int) -> int:
    """How wide a neck with so many frets is at least, in pixels at 1280x720."""
    return _NUT + frets * _LEAST_FRET + 4


def _shape(view: View, ui: UiState) -> set[tuple[int, int]]:
    """The places of the notes of the layer in front, by string (from 0, the highest) and fret; a
    guitar's are not on this neck.
    """
    assert view.brief is not None
    front, strings = front_layer(view, ui), view.lanes.kind == "strings"
    on_it = front is not None and not is_guitar(front.program)
    notes = view.layer_notes_of.get(front.number, ()) if front is not None and on_it else ()
    return {
        (mark.lane if strings else _string_of(mark, view.brief.tuning), mark.fret)
        for mark in notes
        if mark.fret is not None
    }


def _held(view: View) -> dict[tuple[int, int], NoteView]:
    """The notes that are held now, by string (from 0, the highest) and fret."""
    assert view.brief is not None
    strings = view.lanes.kind == "strings"
    return {
        (mark.lane if strings else _string_of(mark, view.brief.tuning), mark.fret): mark
        for mark in view.played.sounding()
        if mark.fret is not None
    }


def _string_of(mark: NoteView, tuning: Tuning) -> int:
    return next((lane for lane, one in enumerate(tuning.strings) if mark.pitch - one == mark.fret), 0)


class _Neck:
    """Where strings and frets lie in the box."""

    def __init__(self, canvas: Canvas, surface: pygame.Surface, box: Box, tuning: Tuning, left: bool) -> None:
        px = canvas.px
        self.left = left
        self.canvas, self.surface, self.tuning = canvas, surface, tuning
        self.heading = Box(box.x, box.y, box.w, px(20))
        self.box = Box(box.x, box.y + px(20), box.w, box.h - px(20))
        self.strings = rows(self.box, len(tuning.strings))
        self.nut = box.x + px(_NUT)
        self.frets = min(tuning.frets, max(5, min(FRETS, (box.right - self.nut) // px(_LEAST_FRET))))
        self.step = (box.right - px(4) - self.nut) / self.frets
        self.radius = max(4, min(self.strings[0].h // 2 - 1, px(17)))

    def x(self, fret: int) -> int:
        """The middle of a fret; an open string lies before the nut."""
        return self._seen(self.nut - self.canvas.px(26) if not fret else round(self.nut + (fret - 0.5) * self.step))

    def _seen(self, x: int, width: int = 0) -> int:
        """Where something ``width`` wide that begins at ``x`` is seen: on the other side for the
        left hand.
        """
        return self.box.x + self.box.right - x - width if self.left else x

    def y(self, string: int) -> int:
        row = self.strings[string]
        return row.y + row.h // 2

    def wood(self) -> None:
        """Strings, frets, nut and the numbers of the inlays."""
        canvas, px, theme = self.canvas, self.canvas.px, self.canvas.theme
        top, bottom = self.strings[0].y, self.strings[-1].bottom
        for fret in range(self.frets + 1):
            wide = px(2) if fret else px(7)
            x = self._seen(round(self.nut + fret * self.step) - wide, wide)
            if not (fret and self.tuning.fretless):
                pygame.draw.rect(self.surface, theme.ink if not fret else theme.line, (x, top, wide, bottom - top))
            if fret in INLAYS:
                where = Box(self.x(fret) - px(30), self.heading.y, px(60), self.heading.h)
                canvas.pen.write(self.surface, str(fret), where, px(QUIET), theme.quiet, "centre")
        for index, row in enumerate(self.strings):
            thick = px(1) + index * px(4) // max(len(self.strings), 1)
            long = self.box.right - self.nut + px(44)
            y = self.y(index) - thick // 2
            pygame.draw.rect(self.surface, theme.quiet, (self._seen(self.nut - px(44), long), y, long, thick))
            name = pretty_note(self.tuning.name_of(index + 1))
            size = px(TEXT) if row.h >= px(24) else px(QUIET)
            canvas.pen.write(
                self.surface,
                name,
                Box(self._seen(self.box.x, px(40)), row.y, px(40), row.h),
                size,
                theme.ink,
                "right" if self.left else "left",
                px(SMALLEST),
            )

    def ring(self, string: int, fret: int, degree: str, root: bool) -> None:
        """A note of the scale."""
        canvas, theme = self.canvas, self.canvas.theme
        x, y, r = self.x(fret), self.y(string), self.radius
        if r < canvas.px(12):
            # With many strings there is no room for rings: the words alone, the root between two
            # edges.
            pygame.draw.rect(self.surface, theme.ground, (x - canvas.px(13), y - r, canvas.px(26), 2 * r))
            for edge in (x - canvas.px(14), x + canvas.px(12)) if root else ():
                pygame.draw.rect(self.surface, theme.ink, (edge, y - r, canvas.px(3), 2 * r))
        else:
            # As wide as its word, so that a flat does not cut through the edge.
            half = max(r, (canvas.pen.width(degree, canvas.px(_WORD)) + canvas.px(18)) // 2)
            edge = canvas.px(3 if root else 2)
            for colour, by in ((theme.quiet if not root else theme.ink, 0), (theme.ground, edge)):
                _pill(canvas, self.surface, (x, y), half - by, r - by, colour)
            self._word(degree, x, y, theme.ink, 2 * half)
            return
        self._word(degree, x, y, theme.ink, 2 * r - canvas.px(6))

    def frame(self, string: int, fret: int) -> None:
        """A note of the riff: a heavy frame round its place."""
        px = self.canvas.px
        half, high = self.radius + px(6), min(self.radius + px(3), self.strings[string].h // 2)
        rect = (self.x(fret) - half, self.y(string) - high, 2 * half, 2 * high)
        pygame.draw.rect(self.surface, self.canvas.theme.ink, rect, px(4), border_radius=px(3))

    def held(self, string: int, fret: int, mark: NoteView) -> None:
        """A note that is held now: solid, with its name."""
        canvas, theme = self.canvas, self.canvas.theme
        x, y, r = self.x(fret), self.y(string), self.radius + canvas.px(2)
        if mark.spelling.outside:
            shape = lozenge(canvas, round(r * 3.4), 2 * r, canvas.px(4), canvas.px(12))
            self.surface.blit(shape, (x - shape.get_width() // 2, y - r))
            self._word(mark.spelling.name, x, y, theme.ink, 2 * r)
            return
        width = round(r * 2.8)
        rect = Box(x - width // 2, y - r, width, 2 * r)
        pygame.draw.rect(self.surface, theme.ink, rect, border_radius=r)
        self._word(mark.spelling.name, x, y, theme.ground, width - canvas.px(8))

    def _word(self, text: str, x: int, y: int, colour: tuple[int, int, int], room: int) -> None:
        canvas = self.canvas
        size = canvas.pen.fit(text, canvas.px(_WORD), max(room, canvas.px(14)), canvas.px(SMALLEST))
        width = canvas.pen.width(text, size)
        where = Box(x - width // 2, y - self.radius, width, 2 * self.radius)
        canvas.pen.write(self.surface, text, where, size, colour, "centre", canvas.px(SMALLEST))


def _pill(
    canvas: Canvas, surface: pygame.Surface, centre: tuple[int, int], half: int, r: int, colour: tuple[int, int, int]
) -> None:
    """A smooth filled shape with round ends, 2 ``half`` wide and 2 ``r`` high."""

    def draw(large: pygame.Surface, fine: int) -> None:
        pygame.draw.rect(large, colour, large.get_rect(), border_radius=r * fine)

    piece = canvas.shape(("pill", colour), 2 * half, 2 * r, draw)
    surface.blit(piece, (centre[0] - half, centre[1] - r))


PANEL = Panel("neck", key, draw)
