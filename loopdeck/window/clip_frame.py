"""The frames of a clip: a riff on its lanes, with tab, neck and count, in the window's letters and
colours, at any moment.

Conventions
    Lengths are given at a height of 720 and scaled. Quarters count from the start of the first
    pass. A page of time is a cycle; what stands still on a page is drawn once. Where the ground is
    clear, letters and lines keep a rim of their own so that they can be read on any picture.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import loopdeck.window.pygame_lean  # noqa: F401 - before pygame  # isort: skip
import pygame

from loopdeck.brief.brief import Brief
from loopdeck.theory.pitch import pitch_name
from loopdeck.window.layout import Box
from loopdeck.window.text import Pen
from loopdeck.window.theme import PAPER, THEMES, Colour

LANES, TAB, NECK, COUNT = "lanes", "tab", "neck", "count"
SHOWN = (LANES, TAB, NECK, COUNT)
CLEAR = "clear"
#: Frets that carry a dot on most necks (common practice, no source).
_DOTS = (3, 5, 7, 9, 12, 15)


class ClipNote(NamedTuple):
    """One note: where it lies in quarters, and on the neck (string 1 the highest, 0 nowhere)."""

    onset_q: float
    duration_q: float
    pitch: int
    string: int
    fret: int


class ClipPainter:
    """Draws frames of ``size`` pixels.

    ``ground``: paper, slate or clear. ``shown``: some of SHOWN.
    """

    def __init__(
        self, brief: Brief, notes: Sequence[ClipNote], size: tuple[int, int], ground: str, shown: Sequence[str]
    ) -> None:
        self.brief, self.notes, self.size = brief, sorted(notes), size
        self.clear = ground == CLEAR
        self.theme = PAPER if self.clear else THEMES[ground]
        self.shown = frozenset(shown)
        self.pen = Pen()
        self.cycle_q = float(brief.cycle.quarters)
        self._beats = [float(click.position) for click in brief.cycle.clicks]
        self._pages: dict[int, pygame.Surface] = {}
        top = self.px(150) if COUNT in self.shown else self.px(24)
        bottom = size[1] - (self.px(230) if NECK in self.shown else self.px(24))
        if not self.shown & {LANES, TAB}:
            bottom = top
        self.lanes = Box(self.px(90), top, size[0] - self.px(130), max(bottom - top, 1))
        self.neck = Box(self.px(90), bottom + self.px(30), size[0] - self.px(130), size[1] - bottom - self.px(60))

    def px(self, length: float) -> int:
        """A length given at a height of 720."""
        return max(round(length * self.size[1] / 720), 1)

    def frame(self, at_q: float) -> pygame.Surface:
        """The frame at a moment, in quarters."""
        turn = max(math.floor(at_q / self.cycle_q + 1e-9), 0)
        surface = self._page(turn).copy()
        if self.shown & {LANES, TAB}:
            for note in self._on(turn):
                if note.onset_q <= at_q < note.onset_q + note.duration_q:
                    self._note(surface, note, turn, True)
            x = self.lanes.x + round((at_q - turn * self.cycle_q) / self.cycle_q * self.lanes.w)
            pygame.draw.rect(surface, self.theme.now, (x - self.px(2), self.lanes.y, self.px(5), self.lanes.h))
        if COUNT in self.shown:
            self._count(surface, at_q - turn * self.cycle_q)
        if NECK in self.shown:
            for note in self.notes:
                if note.string and note.onset_q <= at_q < note.onset_q + note.duration_q:
                    self._on_neck(surface, note)
        return surface

    # ---- what stands still ----------------------------------------------------------------------------------------------

    def _page(self, turn: int) -> pygame.Surface:
        if turn not in self._pages:
            # Of a long take only the page that is shown is kept.
            self._pages.clear()
            surface = pygame.Surface(self.size, pygame.SRCALPHA, 32)
            surface.fill((0, 0, 0, 0) if self.clear else (*self.theme.ground, 255))
            if self.clear:
                for box in (self.lanes, self.neck):
                    pygame.draw.rect(surface, (*self.theme.ground, 170), box.inset(-self.px(30), -self.px(14)))
            if self.shown & {LANES, TAB}:
                self._draw_lanes(surface)
                for note in self._on(turn):
                    self._note(surface, note, turn, False)
            if NECK in self.shown:
                self._draw_neck(surface)
            self._pages[turn] = surface
        return self._pages[turn]

    def _on(self, turn: int) -> list[ClipNote]:
        """The notes of a page."""
        start = turn * self.cycle_q
        return [note for note in self.notes if start - 1e-6 <= note.onset_q < start + self.cycle_q - 1e-6]

    def _draw_lanes(self, surface: pygame.Surface) -> None:
        box, theme = self.lanes, self.theme
        bars = {float(start) for start in self.brief.cycle.bar_starts}
        for place in self._beats:
            x = box.x + round(place / self.cycle_q * box.w)
            bar = place in bars
            pygame.draw.rect(surface, theme.ink if bar else theme.line, (x, box.y, self.px(4 if bar else 2), box.h))
        for string in range(1, len(self.brief.tuning.strings) + 1):
            y = self._lane_y(string)
            pygame.draw.rect(surface, theme.quiet, (box.x, y, box.w, self.px(2)))
            where = Box(box.x - self.px(70), y - self.px(20), self.px(54), self.px(40))
            self.pen.write(surface, self.brief.tuning.name_of(string), where, self.px(26), theme.ink)

    def _lane_y(self, string: int) -> int:
        """The highest string lies on top."""
        count = len(self.brief.tuning.strings)
        return round(self.lanes.y + (string - 0.5) * self.lanes.h / count)

    def _note(self, surface: pygame.Surface, note: ClipNote, turn: int, sounds: bool) -> None:
        box, theme = self.lanes, self.theme
        x = box.x + round((note.onset_q - turn * self.cycle_q) / self.cycle_q * box.w)
        w = max(round(note.duration_q / self.cycle_q * box.w), self.px(34))
        h = min(round(self.lanes.h / len(self.brief.tuning.strings) * 0.7), self.px(54))
        y = self._lane_y(note.string or 1) - h // 2
        colour: Colour = theme.now if sounds else theme.ink
        if LANES in self.shown:
            pygame.draw.rect(surface, colour, (x, y, w, h), border_radius=self.px(8))
        else:
            pygame.draw.rect(surface, theme.ground, (x, y, self.px(34), h))
        text = str(note.fret) if TAB in self.shown and note.string else pitch_name(note.pitch).rstrip("-0123456789")
        where = Box(x + self.px(6), y, max(w - self.px(8), self.px(28)), h)
        self.pen.write(surface, text, where, self.px(28), theme.ground if LANES in self.shown else colour, "left")

    def _draw_neck(self, surface: pygame.Surface) -> None:
        theme, box = self.theme, self.neck
        for fret in range(self._frets + 1):
            x = self._fret_x(fret)
            pygame.draw.rect(
                surface, theme.ink if fret == 0 else theme.line, (x, box.y, self.px(6 if fret == 0 else 3), box.h)
            )
            if fret in _DOTS:
                where = Box(self._fret_x(fret - 1), box.bottom, x - self._fret_x(fret - 1), self.px(26))
                self.pen.write(surface, str(fret), where, self.px(18), theme.quiet, "centre")
        for string in range(1, len(self.brief.tuning.strings) + 1):
            y = self._string_y(string)
            pygame.draw.rect(
                surface, theme.quiet, (self._fret_x(0), y, box.right - self._fret_x(0), self.px(1 + string / 2))
            )

    @property
    def _frets(self) -> int:
        return max([12, *(note.fret for note in self.notes)])

    def _fret_x(self, fret: int) -> int:
        """The x of a fret; what is open lies before the nut."""
        step = self.neck.w / (self._frets + 1)
        return round(self.neck.x + (fret + 1) * step) - self.px(3)

    def _string_y(self, string: int) -> int:
        count = len(self.brief.tuning.strings)
        return round(self.neck.y + (string - 0.5) * self.neck.h / count)

    # ---- what moves -----------------------------------------------------------------------------------------------------

    def _count(self, surface: pygame.Surface, at_q: float) -> None:
        """A disc for every click of the cycle; the one we are at is filled, larger, and has its
        number.
        """
        theme = self.theme
        now = max((index for index, beat in enumerate(self._beats) if beat <= at_q + 1e-9), default=0)
        for index, click in enumerate(self.brief.cycle.clicks):
            x = self.lanes.x + round((index + 0.5) * self.lanes.w / len(self._beats))
            here = index == now
            radius = min(self.px(46 if here else 26), max(self.lanes.w // (2 * len(self._beats)) - 1, 3))
            centre = (x, self.px(74))
            pygame.draw.circle(surface, theme.now if here else theme.ground, centre, radius)
            pygame.draw.circle(surface, theme.ink, centre, radius, self.px(5 if click.kind == "bar" else 2))
            where = Box(x - radius, centre[1] - radius, 2 * radius, 2 * radius)
            colour = theme.ground if here else theme.quiet
            self.pen.write(surface, str(click.beat), where, min(round(radius * 1.1), self.px(48)), colour, "centre")

    def _on_neck(self, surface: pygame.Surface, note: ClipNote) -> None:
        x = (self._fret_x(note.fret - 1) + self._fret_x(note.fret)) // 2
        centre = (x, self._string_y(note.string))
        radius = self.px(17)
        pygame.draw.circle(surface, self.theme.now, centre, radius)
        pygame.draw.circle(surface, self.theme.ink, centre, radius, self.px(3))
        scale = self.brief.scale
        text = scale.degree(note.pitch) if scale is not None else str(note.fret)
        where = Box(centre[0] - radius, centre[1] - radius, 2 * radius, 2 * radius)
        self.pen.write(
            surface, text.replace("b", "♭").replace("#", "♯"), where, self.px(20), self.theme.ground, "centre"
        )
