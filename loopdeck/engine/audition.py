"""A take of the shelf played, beside the looper: while time runs or stands.

Conventions
    Rows are (second, part, data) from second 0, as ``export.heard`` lays them out. Click and drums
    go where those of the loop go. The rest the built-in sound plays as what is played live, since a
    layer of the loop may have the part that one of the take had. By MIDI the playing goes out on
    channel 15, layers on 14, click and drums on 10, so that no note of the loop is ended by one of
    the take (before the loop needs twelve channels). Nothing of it reaches the looper or the
    journal.
"""

from collections import Counter
from collections.abc import Callable, Sequence

from loopdeck.capture.bend import bend_data
from loopdeck.capture.bend_wheel import DEFAULT_BEND_RANGE
from loopdeck.looper.voices import Out
from loopdeck.synth.events import CLICK, DRUMS, LIVE

Row = tuple[float, str, bytes]
PART = "heard"
_PLAYING, _LAYERS, _DRUMS = 14, 13, 9
#: From the command to the first note.
LEAD_SEC = 0.05


class Audition:
    """A timer of the engine. ``put`` takes messages at most ``ahead_sec`` before their time;
    ``ended`` is called when the take is over or was ended.
    """

    def __init__(self, put: Callable[[Out], None], ahead_sec: float, ended: Callable[[], None]) -> None:
        self._put, self._ahead_sec, self._ended = put, ahead_sec, ended
        self._rows: list[Row] = []
        self._next = 0
        self._start_sec = self._end_sec = self._last_sec = 0.0
        #: By part, channel and pitch: how many strokes are to end.
        self._sounding: Counter[tuple[str, int, int]] = Counter()
        self.hearing = False

    def begin(self, rows: Sequence[Row], length_sec: float, now: float) -> None:
        """Hear this from now on, in place of what is heard."""
        self._let_go(now)
        self._rows, self._next = list(rows), 0
        self._start_sec = max(now + self._ahead_sec + LEAD_SEC, self._last_sec)
        self._end_sec = self._start_sec + length_sec
        self.hearing = True

    def more(self, rows: Sequence[Row]) -> None:
        """Add what follows in the same take."""
        self._rows += rows

    def end(self, now: float) -> None:
        """End it; does nothing if nothing is heard."""
        if self.hearing:
            self._let_go(now)
            self.hearing, self._rows = False, []
            self._ended()

    def next_due(self) -> float | None:
        """When the next message is to be handed over."""
        if not self.hearing:
            return None
        if self._next >= len(self._rows):
            return self._end_sec
        return self._start_sec + self._rows[self._next][0] - self._ahead_sec

    def run(self, now: float) -> None:
        """Hand over what is due."""
        while self.hearing and self._next < len(self._rows):
            sec, part, data = self._rows[self._next]
            at_sec = self._start_sec + sec
            if at_sec - self._ahead_sec > now:
                return
            self._next += 1
            self._send(at_sec, part, data)
        if self.hearing and now >= self._end_sec:
            self.end(now)

    def _send(self, at_sec: float, part: str, data: bytes) -> None:
        channel = _PLAYING if part == LIVE else _LAYERS if part.startswith("layer") else _DRUMS
        part = part if part in (CLICK, DRUMS) else PART
        kind, self._last_sec = data[0] & 0xF0, at_sec
        data = bytes((kind | channel, *data[1:]))
        if kind not in (0x80, 0x90):
            self._put(Out(at_sec, data, part))
            return
        place = (part, channel, data[1])
        if kind == 0x90 and data[2]:
            # Two parts may meet on one pitch: the second stroke ends the first, and the note ends
            # with the last of them.
            if self._sounding[place]:
                self._put(Out(at_sec, bytes((0x80 | channel, data[1], 0)), part))
            self._sounding[place] += 1
            self._put(Out(at_sec, data, part))
        elif self._sounding[place] == 1:
            del self._sounding[place]
            self._put(Out(at_sec, data, part))
        elif self._sounding[place]:
            self._sounding[place] -= 1

    def _let_go(self, now: float) -> None:
        """End what sounds, after the messages that were handed over already."""
        at_sec = max(now, self._last_sec)
        for part, channel, pitch in self._sounding:
            self._put(Out(at_sec, bytes((0x80 | channel, pitch, 0)), part))
        for channel in {channel for _, channel, _ in self._sounding if channel != _DRUMS}:
            self._put(Out(at_sec, bend_data(channel, 0.0, DEFAULT_BEND_RANGE), PART))
        self._sounding.clear()
