"""The shapes of notes. In the scale: a solid block; root: a double left edge; out of the scale:
the one pointed thing on the screen; muted: hollow. What makes a note early or late bulges out
of its side; how its pitch moves is drawn as a line.
"""

from collections.abc import Sequence
from typing import NamedTuple

import pygame

from loopdeck.window.canvas import FINE, Canvas
from loopdeck.window.gesture import Curve, gesture, value_at
from loopdeck.window.labels import Label, label, words_of
from loopdeck.window.note_view import NoteView
from loopdeck.window.theme import Colour

POINT = 13  # the length of a lozenge's points
ROOT_EDGE = 11  # a root's double edge
_CURVE_STEPS = 48
_SMOOTHINGS = 6  # how often the corners of a curve are rounded


class Look(NamedTuple):
    """How a note is inked: its colour, and hollow where it does not sound."""

    ink: Colour
    hollow: bool = False


def lozenge(
    canvas: Canvas, width: int, height: int, outline: int, reach: int, ink: Colour | None = None
) -> pygame.Surface:
    """A hollow block with pointed ends (``reach`` pixels long) and a heavy outline, its inside the
    colour of the ground.
    """
    theme = canvas.theme
    colour = theme.ink if ink is None else ink

    def draw(large: pygame.Surface, fine: int) -> None:
        w, h, line = width * fine, height * fine, outline * fine
        point = min(reach * fine, w // 3)

        def corners(inset: float) -> list[tuple[float, float]]:
            # The outline keeps its width along the slanting sides too.
            along = inset * ((point**2 + (h / 2) ** 2) ** 0.5) / (h / 2)
            top, bottom = inset, h - inset
            inner = point * (h / 2 - inset) / (h / 2)
            return [
                (along, h / 2), (along + inner, top), (w - along - inner, top),
                (w - along, h / 2), (w - along - inner, bottom), (along + inner, bottom),
            ]  # fmt: skip

        pygame.draw.polygon(large, colour, corners(0))
        pygame.draw.polygon(large, theme.ground, corners(line))

    return canvas.shape(("lozenge", outline, reach, colour), width, height, draw)


def note_head(canvas: Canvas, mark: NoteView, height: int, room: int, biggest: str, look: Look) -> pygame.Surface:
    """The block of a note, ``height`` pixels high, with its words, as wide as they need and at
    most ``room``.
    """
    words = words_of(mark, biggest)
    key = ("head", words, mark.spelling.root, mark.spelling.outside, height, min(room, canvas.px(200)), look)
    return canvas.picture(key, lambda: _draw_head(canvas, mark, words, height, room, look))


def _draw_head(
    canvas: Canvas, mark: NoteView, words: tuple[str, ...], height: int, room: int, look: Look
) -> pygame.Surface:
    px, theme = canvas.px, canvas.theme
    root, outside = mark.spelling.root, mark.spelling.outside
    edge = px(ROOT_EDGE) if root else 0
    # In a narrow place the points are short.
    narrow = outside and room < px(3 * POINT + 24)
    point, line = (px(8), px(3)) if narrow else (px(POINT), px(4))
    pad = point if outside else px(5)
    rim = line if outside else 0
    found = label(canvas, words, height - 2 * rim, room - 2 * pad - edge - px(2))
    if not found.pieces and outside:
        found = label(canvas, ("?",), height - 2 * rim, max(room - 2 * pad, px(18)))
    width = found.width + 2 * pad + edge if found.pieces else max(px(6), min(room - px(2), px(20)))
    if outside:
        head = lozenge(canvas, max(width, 2 * point), height, line, point, look.ink).copy()
        colour = look.ink
    else:
        head, colour = _block(canvas, width, height, root, look)
    _write(canvas, head, found, pad + edge, rim, colour if colour != theme.ground or not look.hollow else look.ink)
    return head


def _block(canvas: Canvas, width: int, height: int, root: bool, look: Look) -> tuple[pygame.Surface, Colour]:
    """A solid or a hollow block; returns it and the colour of what is written on it."""
    theme, px = canvas.theme, canvas.px
    # A thin rim of ground on the right keeps neighbours apart.
    head = pygame.Surface((width + px(2), height), 0, 32)
    head.fill(theme.ground)
    line = px(3)
    head.fill(look.ink, (0, 0, width, height))
    if look.hollow:
        head.fill(theme.ground, (line, line, max(0, width - 2 * line), max(0, height - 2 * line)))
        if root:
            head.fill(look.ink, (px(7), 0, line, height))
        return head, look.ink
    if root:
        head.fill(theme.ground, (px(5), 0, px(3), height))
    return head, theme.ground


def _write(canvas: Canvas, head: pygame.Surface, found: Label, x: int, y: int, colour: Colour) -> None:
    for piece in found.pieces:
        head.blit(canvas.pen.piece(piece.text, piece.size, colour), (x + piece.x, y + piece.baseline - piece.size))


def bulge(canvas: Canvas, width: int, height: int, early: bool) -> pygame.Surface:
    """Half an ellipse with its flat side to the note: on its left for an early note, on its right
    for a late one.
    """
    theme = canvas.theme

    def draw(large: pygame.Surface, fine: int) -> None:
        w, h, rim = width * fine, height * fine, canvas.px(2) * fine
        x = 0 if early else -w
        pygame.draw.ellipse(large, theme.ground, (x, 0, 2 * w, h))
        pygame.draw.ellipse(large, theme.ink, (x + rim, rim, 2 * w - 2 * rim, h - 2 * rim))

    return canvas.shape(("bulge", early), width, height, draw)


def curve_line(canvas: Canvas, mark: NoteView, width: int, height: int, ink: Colour) -> pygame.Surface:
    """How the pitch moves while the note sounds, from left to right: a bend is an arc, vibrato a
    wave, a slide one sloping line.
    """
    curve, length = tuple(mark.bend), mark.length_q or (mark.bend[-1][0] if mark.bend else 1.0)
    values = _heights(curve, length)

    def draw(large: pygame.Surface, fine: int) -> None:
        thick = canvas.px(5) * fine
        w, h = width * fine - thick, height * fine - thick
        low, high = min(0.0, *values), max(0.0, *values)
        span = max(high - low, 0.4)
        middle = (high + low) / 2
        points = [
            (thick / 2 + w * index / (len(values) - 1), thick / 2 + h * (0.5 - (value - middle) / span))
            for index, value in enumerate(values)
        ]
        for colour, wide in ((canvas.theme.ground, thick + 4 * FINE), (ink, thick)):
            pygame.draw.lines(large, colour, False, points, round(wide))
            for x, y in points:
                pygame.draw.circle(large, colour, (x, y), wide / 2)

    return canvas.shape(("curve", curve, round(length, 3), ink), width, height, draw)


def _heights(curve: Curve, length_q: float) -> Sequence[float]:
    """Semitones along the note: a slide straight from fret to fret, anything else as it was
    played.
    """
    if gesture(curve) == "slide":
        first = curve[0][1]
        return [first, curve[-1][1]]
    steps = max(_CURVE_STEPS, 6 * len(curve))
    heights = [value_at(curve, length_q * step / steps) for step in range(steps + 1)]
    for _ in range(_SMOOTHINGS):
        middle = [(a + 2 * b + c) / 4 for a, b, c in zip(heights, heights[1:], heights[2:], strict=False)]
        heights = [heights[0], *middle, heights[-1]]
    return heights
