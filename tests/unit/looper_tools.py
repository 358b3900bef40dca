"""Helps for testing the looper: a player who works in quarters, and a receiver that checks every
note-on for its note-off.
"""

from collections import defaultdict
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.looper.machine import Looper, Out
from loopdeck.looper.news import Kept
from loopdeck.protocol.messages import Said

QPM = 120.0


def brief(**fields: Any) -> Brief:
    """A plain brief at 120, 4/4, sixteenths, no count-in, with changes."""
    base = {"tempo": "120", "cycle": "4/4", "grid": "1/16", "swing": "1:1", "strength": "100", "count_in": "0"}
    return Brief.default().replace(**{**base, **{key: str(value) for key, value in fields.items()}})


class Player:
    """Plays at places counted in quarters from the first start (second 0), at 120 quarters a
    minute.
    """

    def __init__(self, **fields: Any) -> None:
        self.looper = Looper(brief(**fields))
        self.outs: list[Out] = []
        self.kept: list[Any] = []
        self.said: list[str] = []

    def _drain(self) -> None:
        self.outs += self.looper.take_outs()
        for news in self.looper.take_news():
            if isinstance(news, Kept):
                self.kept.append(news.keep)
            if isinstance(news, Said):
                self.said.append(news.text)

    @staticmethod
    def sec(quarter: float) -> float:
        return quarter * 60.0 / QPM

    def command(self, quarter: float, name: str, /, **args: Any) -> str:
        said = self.looper.command(self.sec(quarter), name, **args)
        self._drain()
        return said

    def note(
        self, quarter: float, length: float = 0.2, pitch: int = 40, velocity: int = 90, late_sec: float = 0.0
    ) -> None:
        """A note-on and its note-off; ``late_sec`` is how much later than played they arrive."""
        self.on(quarter, pitch, velocity, late_sec)
        self.off(quarter + length, pitch, late_sec)

    def on(self, quarter: float, pitch: int = 40, velocity: int = 90, late_sec: float = 0.0) -> None:
        sec = self.sec(quarter)
        self.looper.midi(sec + late_sec, sec, 0, bytes((0x90, pitch, velocity)))
        self._drain()

    def off(self, quarter: float, pitch: int = 40, late_sec: float = 0.0) -> None:
        sec = self.sec(quarter)
        self.looper.midi(sec + late_sec, sec, 0, bytes((0x80, pitch, 0)))
        self._drain()

    def until(self, quarter: float) -> None:
        self.looper.advance(self.sec(quarter))
        self._drain()

    def sounded(self, part: str = "layer") -> list[tuple[float, int]]:
        """(quarter, pitch) of every note-on of a part so far."""
        return [
            (round(out.time_sec * QPM / 60.0, 6), out.data[1])
            for out in self.outs
            if out.part == part and out.data[0] & 0xF0 == 0x90
        ]


def check_pairs(outs: list[Out], all_ended: bool = True) -> None:
    """Note-ons and note-offs alternate for every channel and pitch, times never go back, and
    (``all_ended``) nothing hangs.
    """
    sounding: dict[tuple[int, int], bool] = defaultdict(bool)
    last = float("-inf")
    for out in outs:
        assert out.time_sec >= last, "a message goes back in time"
        last = out.time_sec
        kind, place = out.data[0] & 0xF0, (out.data[0] & 0x0F, out.data[1])
        if kind == 0x90:
            assert out.data[2] > 0
            assert not sounding[place], f"{place} was struck while it sounded"
            sounding[place] = True
        elif kind == 0x80:
            assert sounding[place], f"{place} was ended without sounding"
            sounding[place] = False
    if all_ended:
        assert not any(sounding.values()), f"these hang: {[place for place, on in sounding.items() if on]}"
