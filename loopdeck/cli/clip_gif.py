"""The pictures of a GIF: 256 colours for all of them, chosen from the first, one of them clear
(GIF89a has no other alpha).
"""

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

#: What is more than half there is there.
_THRESHOLD = 128
#: A palette is a picture of 16 by 16 colours.
_SIDE = 16


class GifPictures:
    """Turns frames with alpha into frames with a palette, in order."""

    def __init__(self, size: tuple[int, int], fps: int) -> None:
        self._size, self._fps = size, fps
        self._graph: Any = None
        self._main: Any = None

    def feed(self, frame: Any) -> Iterator[Any]:
        """What a frame gives; None ends it and gives the rest."""
        if self._graph is None:
            if frame is None:
                return
            self._begin(frame)
        self._main.push(frame)
        yield from _pulled(self._graph)

    def _begin(self, first: Any) -> None:
        import av

        graph: Any = av.filter.Graph()
        self._main = _source(graph, self._size, self._fps)
        colours = _source(graph, (_SIDE, _SIDE), self._fps)
        use = graph.add("paletteuse", f"alpha_threshold={_THRESHOLD}:dither=none:diff_mode=rectangle")
        self._main.link_to(use, 0, 0)
        colours.link_to(use, 0, 1)
        use.link_to(graph.add("buffersink"))
        graph.configure()
        colours.push(_palette(first, self._size, self._fps))
        colours.push(None)
        self._graph = graph


def _palette(frame: Any, size: tuple[int, int], fps: int) -> Any:
    """The colours of a frame, as a picture."""
    import av

    graph: Any = av.filter.Graph()
    source, palette = _source(graph, size, fps), graph.add("palettegen", "reserve_transparent=1")
    source.link_to(palette)
    palette.link_to(graph.add("buffersink"))
    graph.configure()
    source.push(frame)
    source.push(None)
    found = next(_pulled(graph))
    found.pts, found.time_base = 0, Fraction(1, fps)
    return found


def _source(graph: Any, size: tuple[int, int], fps: int) -> Any:
    words = f"video_size={size[0]}x{size[1]}:pix_fmt=bgra:time_base={Fraction(1, fps)}:pixel_aspect=1/1"
    return graph.add("buffer", words)


def _pulled(graph: Any) -> Iterator[Any]:
    import av

    while True:
        try:
            yield graph.pull()
        except (av.error.BlockingIOError, av.error.EOFError):
            return
