"""The mark of a riff: its letter on a shape of its own, so that the same riff is seen to be the
same from two metres. Nothing of it is pointed: that is kept for notes out of the scale.
"""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import SMALLEST, Box
from loopdeck.window.theme import Colour

DISC, BLOCK, ARCH, RING, FRAME, GATE = SHAPES = ("disc", "block", "arch", "ring", "frame", "gate")
HOLLOW = (RING, FRAME, GATE)


def shape_of(letter: str) -> str:
    """The shape of a riff: six of them in turn, three solid and three hollow."""
    place = 0
    for one in letter:
        place = place * 26 + ord(one) - ord("A") + 1
    return SHAPES[(place - 1) % len(SHAPES)]


def riff_mark(
    canvas: Canvas, surface: pygame.Surface, x: int, row: Box, letter: str, ink: Colour, ground: Colour
) -> int:
    """Draw the mark at ``x`` in a row, as high as the row; returns where it ends."""
    px, shape = canvas.px, shape_of(letter)
    size = max(px(SMALLEST), row.h)
    width = max(size, canvas.pen.width(letter, size * 3 // 4) + px(8))
    box = Box(x, row.y + (row.h - size) // 2, width, size)
    surface.blit(_shape(canvas, shape, width, size, ink, ground), box)
    room = Box(box.x, box.y + (size // 10 if shape in (ARCH, GATE) else 0), box.w, box.h)
    colour = ink if shape in HOLLOW else ground
    canvas.pen.write(surface, letter, room, size * 3 // 4, colour, "centre")
    return box.right


def _shape(canvas: Canvas, shape: str, width: int, height: int, ink: Colour, ground: Colour) -> pygame.Surface:
    def draw(large: pygame.Surface, fine: int) -> None:
        line = canvas.px(3) * fine
        outer = pygame.Rect(0, 0, width * fine, height * fine)
        _fill(large, shape, outer, ink)
        if shape in HOLLOW:
            _fill(large, shape, outer.inflate(-2 * line, -2 * line), ground)

    return canvas.shape(("riff", shape, ink, ground), width, height, draw)


def _fill(large: pygame.Surface, shape: str, box: pygame.Rect, colour: Colour) -> None:
    radius = min(box.w, box.h) // 2
    if shape in (DISC, RING):
        pygame.draw.rect(large, colour, box, border_radius=radius)
    elif shape in (ARCH, GATE):
        pygame.draw.rect(large, colour, box, border_top_left_radius=radius, border_top_right_radius=radius)
    else:
        pygame.draw.rect(large, colour, box)
