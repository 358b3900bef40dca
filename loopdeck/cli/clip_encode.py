"""The encoding of a clip: pictures and sound into a file, in a thread of its own beside the drawing
(PyAV lets go of the interpreter while it encodes).
"""

import queue
import threading
from collections.abc import Sequence
from fractions import Fraction
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, cast

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RATE = 48_000
#: Pictures that may wait for the encoder.
_WAITING = 8


class ClipEncoder:
    """Writes one file. A context manager: leaving it writes what is left; an error of the encoder
    comes out of the next call, or of leaving.
    """

    def __init__(self, name: str, ending: str, size: tuple[int, int], fps: int, clear: bool) -> None:
        import av

        from loopdeck.cli.clip_gif import GifPictures

        codec, self.pixels, options = _video(ending, clear)
        self._size, self._fps = size, fps
        self._out = cast(Any, av.open(name, "w"))
        self._video = self._out.add_stream(codec, rate=fps, options=options)
        self._video.width, self._video.height = size
        self._video.pix_fmt = self.pixels
        self._video.time_base = Fraction(1, fps)
        self._gif = GifPictures(size, fps) if ending == ".gif" else None
        self._sound: Any = None
        if self._gif is None:
            self._sound = self._out.add_stream("aac" if ending == ".mp4" else "libopus", rate=RATE, layout="stereo")
        self._index = self._heard = 0
        self._error: BaseException | None = None
        self._queue: queue.Queue[tuple[Any, Any] | None] = queue.Queue(_WAITING)
        self._thread = threading.Thread(target=self._work, name="encoder", daemon=True)
        self._thread.start()

    # ---- what is to be written -------------------------------------------------------------------

    def picture(self, pixels: "NDArray[np.uint8]") -> None:
        """The next picture: (height, width, 4), blue first, with alpha."""
        import av

        self._put_picture(av.VideoFrame.from_ndarray(pixels, format="bgra"))

    def planes(self, planes: "Sequence[NDArray[np.uint8]]") -> None:
        """The next picture as planes, in the order of ``pixels``."""
        import av
        import numpy as np

        frame: Any = av.VideoFrame(*self._size, self.pixels)
        for plane, rows in zip(frame.planes, planes, strict=True):
            height, width = rows.shape
            np.frombuffer(plane, np.uint8).reshape(height, plane.line_size)[:, :width] = rows
        self._put_picture(frame)

    def _put_picture(self, frame: Any) -> None:
        frame.pts, frame.time_base = self._index, Fraction(1, self._fps)
        self._index += 1
        self._put((self._video, frame))

    def sound(self, block: "NDArray[np.float32]") -> None:
        """The next samples, shape (n, 2)."""
        import av
        import numpy as np

        frame: Any = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), format="fltp", layout="stereo")
        frame.sample_rate, frame.pts, frame.time_base = RATE, self._heard, Fraction(1, RATE)
        self._heard += len(block)
        self._put((self._sound, frame))

    def _put(self, one: tuple[Any, Any] | None) -> None:
        while self._error is None:
            try:
                return self._queue.put(one, timeout=0.5)
            except queue.Full:
                continue
        raise self._error

    # ---- the thread ------------------------------------------------------------------------------

    def _work(self) -> None:
        try:
            while (one := self._queue.get()) is not None:
                stream, frame = one
                for picture in self._gif.feed(frame) if self._gif is not None else (frame,):
                    self._out.mux(stream.encode(picture))
            for picture in self._gif.feed(None) if self._gif is not None else ():
                self._out.mux(self._video.encode(picture))
            for stream in (self._video, self._sound):
                if stream is not None:
                    self._out.mux(stream.encode(None))
            self._out.close()
        except Exception as error:
            self._error = error

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if error is None:
            self._put(None)
        elif self._error is None:
            # Whatever it has is thrown away with the file.
            while not self._queue.empty():
                self._queue.get_nowait()
            self._queue.put(None)
        self._thread.join()
        if error is None and self._error is not None:
            raise self._error


def _video(ending: str, clear: bool) -> tuple[str, str, dict[str, str]]:
    """Codec, pixel format, options: the quick ones, since most of a picture stands still."""
    if ending == ".mp4":
        return "libx264", "yuv420p", {"preset": "superfast", "crf": "19"}
    if ending == ".webm":
        speed = {"deadline": "realtime", "cpu-used": "8", "crf": "30", "b": "0", "row-mt": "1", "static-thresh": "500"}
        return "libvpx-vp9", "yuva420p" if clear else "yuv420p", {**speed, **({"auto-alt-ref": "0"} if clear else {})}
    return "gif", "pal8", {}
