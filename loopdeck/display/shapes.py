"""The shapes of notes. In the scale: a solid block; root: a double left edge; out of the scale: the one pointed thing on the screen."""

import pygame

from loopdeck.display.canvas import Canvas


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
