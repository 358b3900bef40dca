"""How a note was played, drawn at its block: a tie to a hammered or pulled note, a sloping line to
the goal of a slide, a cross for a dead note, brackets round a ghost note, a roof over an accent.

Vibrato, bends and slides of one note's own are curves of their own (``shapes.curve_line``).
"""

from collections.abc import Mapping
from functools import partial

import pygame

from loopdeck.bass.technique.reading import HAMMER, PULL, SLIDE
from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box
from loopdeck.window.note_picture import NotePicture, NotePlan
from loopdeck.window.shapes import Look
from loopdeck.window.technique import HowPlayed

_CLEAR = (0, 0, 0, 0)


def _clear(width: int, height: int) -> pygame.Surface:
    found = pygame.Surface((max(1, width), max(1, height)), pygame.SRCALPHA)
    found.fill(_CLEAR)
    return found


def links(
    canvas: Canvas, plan: NotePlan, where: Mapping[int, tuple[Box, int]], how: Mapping[int, HowPlayed], look: Look
) -> None:
    """Ties and sloping lines between notes; ``where``: the block of each note by its id, with its
    pitch.
    """
    for note_id, (block, pitch) in where.items():
        one = how.get(note_id)
        if one is None or one.source is None or one.source not in where:
            continue
        source, from_pitch = where[one.source]
        if one.reached in (HAMMER, PULL):
            plan.add(canvas.notes.get(("tie", source, block, look), partial(_tied, canvas, source, block, look)))
        elif one.reached == SLIDE or "slide-from" in one.marks:
            up = pitch > from_pitch
            key = ("slope", source, block, up, look)
            plan.add(canvas.notes.get(key, partial(_slope, canvas, source, block, up, look)))


def _tied(canvas: Canvas, source: Box, block: Box, look: Look) -> NotePicture:
    picture = NotePicture()
    _tie(canvas, picture, source, block, look)
    return picture


def _tie(canvas: Canvas, picture: NotePicture, source: Box, block: Box, look: Look) -> None:
    """An arc from the one block to the other, over their tops."""
    px = canvas.px
    left, right = source.x + source.w // 2, block.x + px(14)
    width, height = max(right - left, px(12)), px(12)
    arc = _clear(width, height)
    for thick in range(px(4)):
        rect = pygame.Rect(0, thick, width, 2 * height)
        pygame.draw.arc(arc, look.ink, rect, 0.0, 3.1416, max(1, px(2)))
    picture.heads.append((arc, (left, block.y - px(7))))


def _slope(canvas: Canvas, source: Box, block: Box, up: bool, look: Look) -> NotePicture:
    """A heavy line between the blocks, rising or falling as the pitch does."""
    px = canvas.px
    left, right = source.right, block.x
    if right - left < px(8):
        left = right - px(8)
    # On one lane from its one edge to the other, else from block to block.
    edges = (block.bottom - px(4), block.y + px(4)) if up else (block.y + px(4), block.bottom - px(4))
    if abs(source.y - block.y) > px(2):
        edges = (source.y + source.h // 2, block.y + block.h // 2)
    top = min(edges) - px(3)
    line = _clear(right - left, max(edges) - top + px(4))
    pygame.draw.line(line, look.ink, (0, edges[0] - top), (right - left - 1, edges[1] - top), px(5))
    return NotePicture([(line, (left, top))])


def sign(canvas: Canvas, picture: NotePicture, block: Box, one: HowPlayed, look: Look) -> None:
    """What stands at the block itself."""
    if "ghost" in one.marks and not is_dead(one):
        _brackets(canvas, picture, block, look)
    if "accent" in one.marks:
        _roof(canvas, picture, block, look)
    if {HAMMER, PULL} & set(one.then):
        after = Box(block.right + canvas.px(8), block.y, canvas.px(24), block.h)
        _tie(canvas, picture, block, after, look)


def is_dead(one: HowPlayed | None) -> bool:
    """Whether the note was a dead one."""
    return one is not None and "dead" in one.marks


def cross(canvas: Canvas, height: int, room: int, look: Look) -> pygame.Surface:
    """What stands in place of a block with words: a dead note has no pitch."""
    px = canvas.px
    side = max(px(12), min(height, room))
    found = pygame.Surface((side, height))
    found.fill(canvas.theme.ground)
    middle, half = side // 2, side // 2 - px(3)
    for lean in (-1, 1):
        a, b = (middle - half, height // 2 - lean * half), (middle + half, height // 2 + lean * half)
        pygame.draw.line(found, look.ink, a, b, px(6))
    return found


def _brackets(canvas: Canvas, picture: NotePicture, block: Box, look: Look) -> None:
    """Round brackets at both ends of the block."""
    px = canvas.px
    width = px(10)
    for x, left in ((block.x - width + px(2), True), (block.right - px(2), False)):
        bracket = _clear(width, block.h)
        rect = pygame.Rect(0 if left else -width, 0, 2 * width, block.h)
        start, stop = (1.5708, 4.7124) if left else (-1.5708, 1.5708)
        pygame.draw.arc(bracket, look.ink, rect, start, stop, max(2, px(4)))
        picture.heads.append((bracket, (x, block.y)))


def _roof(canvas: Canvas, picture: NotePicture, block: Box, look: Look) -> None:
    """A little roof over the block."""
    px = canvas.px
    width, height = px(18), px(7)
    roof = _clear(width, height)
    pygame.draw.lines(roof, look.ink, False, [(0, height - 1), (width // 2, 1), (width - 1, height - 1)], px(3))
    picture.heads.append((roof, (block.x + px(2), block.y - px(4))))
