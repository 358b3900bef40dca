"""The shapes of notes. In the scale: a solid block; root: a double left edge; out of the scale: the one pointed thing on the screen."""

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import TEXT, Box
from loopdeck.window.marks import Mark
from loopdeck.window.text import CAP, HIGH

POINT = 13  # the length of a lozenge's points
SMALLEST = 13  # below this a label is left away; the readout still says it


def lozenge(canvas: Canvas, width: int, height: int, outline: int, reach: int) -> pygame.Surface:
    """A hollow block with pointed ends (``reach`` pixels long) and a heavy outline, its inside the colour of the ground."""
    theme = canvas.theme

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

        pygame.draw.polygon(large, theme.ink, corners(0))
        pygame.draw.polygon(large, theme.ground, corners(line))

    return canvas.shape(("lozenge", outline, reach), width, height, draw)


def note_head(canvas: Canvas, mark: Mark, height: int, room: int) -> pygame.Surface:
    """The block of a note, ``height`` pixels high, with its name and degree, as wide as they need and at most about ``room``."""
    key = (mark.name, mark.degree, mark.root, mark.outside, height, min(room, canvas.px(200)))
    return canvas.picture(key, lambda: _draw_head(canvas, mark, height, room))


def _draw_head(canvas: Canvas, mark: Mark, height: int, room: int) -> pygame.Surface:
    theme, pen, px = canvas.theme, canvas.pen, canvas.px
    edge = px(11) if mark.root else 0
    pad = px(POINT + 1) if mark.outside else px(4)
    inner_h = height - (2 * px(4) if mark.outside else 0)
    in_line = f"{mark.name} {mark.degree}".strip()
    # A lozenge has little room for a second line: it takes one only where the first does not fit.
    wide = mark.outside and pen.width(in_line, px(TEXT)) + 2 * pad <= room
    stacked = bool(mark.degree) and not wide and height >= 1.6 * px(TEXT)
    texts = [mark.name, mark.degree] if stacked else [in_line]
    largest = size = min(px(TEXT), int(inner_h / (1.65 if stacked else 0.78)))

    def width_at(one: int) -> int:
        return max(pen.width(text, one) for text in texts) + 2 * pad + edge

    while size > px(SMALLEST) and width_at(size) > room:
        size -= 1
    fits = width_at(size) <= max(room, px(16))
    if not fits and mark.degree:
        texts, stacked, size = (["?"] if mark.outside else [mark.name]), False, min(largest, px(SMALLEST + 3))
        fits = width_at(size) <= max(room, px(16))
    width = width_at(size) if fits else max(px(5), min(room - px(2), px(16)))
    if mark.outside:
        head = lozenge(canvas, width, height, px(4), px(POINT)).copy()
        colour = theme.ink
    else:
        # A thin rim of ground on the right keeps neighbours apart.
        head = pygame.Surface((width + 1, height), 0, 32)
        head.fill(theme.ground)
        head.fill(theme.ink, (0, 0, width, height))
        if mark.root:
            head.fill(theme.ground, (px(5), 0, px(3), height))
        colour = theme.ground
    if fits:
        inner = Box(pad + edge, 0, width - 2 * pad - edge, height)
        if stacked:
            # Two lines with the same space above, between and below.
            cap = round(size * CAP)
            space = (inner_h - 2 * cap) // 3
            top = (height - inner_h) // 2 + max(0, space - 1)
            for line, text in enumerate(texts):
                where = Box(inner.x, top + line * (cap + space), inner.w, round(size * HIGH) + 1)
                pen.write(head, text, where, size, colour, "centre")
        else:
            pen.write(head, texts[0], inner, size, colour, "centre")
    return head
