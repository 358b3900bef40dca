"""What a clip says of its riff beside the count: its name, and below it what it is played in."""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.draw_head import header_parts
from loopdeck.window.layout import SMALLEST, TEXT, Box
from loopdeck.window.view import View

_NAME = 44
_SPACE = "   "


def draw_title(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, name: str) -> None:
    """Two lines that lie in the middle of the box; of the second, what matters least goes first."""
    px, pen, theme = canvas.px, canvas.pen, canvas.theme
    half = box.h // 2
    pen.write(surface, name, Box(box.x, box.y, box.w, half + px(6)), px(_NAME), theme.ink, smallest=px(SMALLEST))
    # The riff's own name stands above: that of the brief comes last.
    parts = [part for part in header_parts(view) if part[0] != view.brief_texts.get("name")]
    while len(parts) > 2 and pen.width(_SPACE.join(text for text, _ in parts), px(TEXT)) > box.w:
        parts.remove(max(parts, key=lambda part: part[1]))
    below = Box(box.x, box.y + half + px(6), box.w, half - px(12))
    pen.write(surface, _SPACE.join(text for text, _ in parts), below, px(TEXT), theme.ink, smallest=px(SMALLEST))
