"""The notes of a pass as they are drawn: where each lies, what is drawn of it, and all of them
together.

A picture is made once for everything it depends on and then kept, so that two plans that follow
each other share the pictures of the notes that stayed as they were: what differs between them is
what has to be drawn anew.

Conventions: pixels in the window; a note's state is a tuple that changes whenever its picture does.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from operator import attrgetter
from typing import NamedTuple

import pygame

from loopdeck.window.layout import Box
from loopdeck.window.note_view import NoteView
from loopdeck.window.theme import Colour

#: Everything of a note that its picture or its place depends on.
state_of = attrgetter("id", "lane", "at_q", "length_q", "fret", "spelling", "heard", "offset_ms", "bend")
_NOWHERE = Box(0, 0, 0, 0)


class NoteBox(NamedTuple):
    """A note on the page: where it begins, the room it has, and the part of its lane: whole, upper
    or lower half.
    """

    mark: NoteView
    x: int
    end: int | None
    room: int
    free: int
    """The room on its left, up to where the note before began."""
    half: int
    """0 for the whole height of the lane, 1 for its upper half, 2 for its lower half."""


@dataclass(eq=False)
class NotePicture:
    """What is drawn of one note: pictures with their places, rectangles (feet) with their colours,
    and the feet that still grow, as (x, y, height). ``block``: where its words stand.
    """

    heads: list[tuple[pygame.Surface, tuple[int, int]]] = field(default_factory=list)
    rects: list[tuple[Colour, tuple[int, int, int, int]]] = field(default_factory=list)
    sounding: list[tuple[int, int, int]] = field(default_factory=list)
    block: Box = _NOWHERE

    @cached_property
    def bounds(self) -> pygame.Rect:
        """What it covers, but for the feet that grow; asked for when the picture is whole."""
        covered = [surface.get_rect(topleft=place) for surface, place in self.heads]
        covered += [pygame.Rect(rect) for _, rect in self.rects]
        return covered[0].unionall(covered[1:]) if covered else pygame.Rect(_NOWHERE)


@dataclass(eq=False)
class NotePlan:
    """All pictures, from the lowest to the uppermost, with what each covers. ``key`` changes
    whenever the plan does.
    """

    key: Hashable
    pictures: list[NotePicture] = field(default_factory=list)
    bounds: list[pygame.Rect] = field(default_factory=list)
    sounding: list[tuple[int, int, int]] = field(default_factory=list)

    def add(self, picture: NotePicture) -> None:
        """Lay a picture over the others."""
        self.pictures.append(picture)
        self.bounds.append(picture.bounds)
        self.sounding += picture.sounding

    def draw(self, surface: pygame.Surface, within: pygame.Rect) -> None:
        """Draw what lies in this part of the surface; whole pictures, if no clip is set."""
        shown = [self.pictures[index] for index in within.collidelistall(self.bounds)]
        for picture in shown:
            for colour, rect in picture.rects:
                surface.fill(colour, rect)
        surface.blits([head for picture in shown for head in picture.heads], False)

    def changes(self, before: "NotePlan") -> list[pygame.Rect] | None:
        """What has to be drawn anew where ``before`` was drawn; None for everything."""
        stayed = set(map(id, self.pictures)) & set(map(id, before.pictures))
        if _order(self.pictures, stayed) != _order(before.pictures, stayed):
            return None
        return [
            rect
            for plan in (before, self)
            for picture, rect in zip(plan.pictures, plan.bounds, strict=True)
            if id(picture) not in stayed
        ]


def _order(pictures: Sequence[NotePicture], among: set[int]) -> list[int]:
    """Which of these lies over which."""
    return [number for number in map(id, pictures) if number in among]
