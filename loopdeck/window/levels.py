"""The sound page: a line for everything that can be heard, and what one step on it means.

Conventions: levels in dB, as the engine tells them in its message ``levels``; parts are called as
its commands call them. Nothing is changed here: a step makes a command, and the engine answers with
the levels in force. Pure.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from loopdeck.protocol.messages import MixerChanged

MASTER = "master"
TITLES = {MASTER: "everything", "click": "click", "drums": "drums", "live": "your playing"}
#: dB of a small step and of a big one.
STEP, BIG_STEP = 1.0, 6.0
CAUTION = "Start soft and take breaks: loud sound for a long time harms your hearing."


class Level(NamedTuple):
    """One line: the part as commands call it, its title, and how it stands. ``way`` is sound,
    midi, both, or "" for everything.
    """

    part: str
    title: str
    db: float
    muted: bool
    way: str
    shares: str = ""
    """Where two layers share a channel strip: the other one."""

    @property
    def heard(self) -> bool:
        """Whether it can be heard built in."""
        return not self.muted and self.way != "midi"

    @property
    def words(self) -> str:
        """What is to be read beside the scale."""
        if self.part.startswith("layer") and self.muted:
            # A layer's mute is the looper's own, and holds for MIDI as well.
            return "MUTED"
        if self.way == "midi" or (self.muted and self.way == "both"):
            return "MIDI only"
        return "MUTED" if self.muted else self.shares or ("and MIDI" if self.way == "both" else "")


@dataclass(frozen=True)
class SoundLevels:
    """What the engine told last. ``device`` is "" where nothing sounds built in, and ``why`` says
    why not.
    """

    device: str = ""
    why: str = "The engine has not reported its sound yet."
    parts: tuple[Level, ...] = ()
    lowest: float = -60.0
    highest: float = 12.0

    @classmethod
    def of(cls, message: MixerChanged) -> "SoundLevels":
        """From the engine's message."""
        parts = tuple(Level(one.part, one.part, one.db, one.muted, one.way) for one in message.parts)
        return cls(message.device, message.why, parts, message.lowest, message.highest)

    def share(self, db: float) -> float:
        """How far along the scale a level stands, 0 to 1."""
        return min(max((db - self.lowest) / (self.highest - self.lowest), 0.0), 1.0)

    def lines(self, layers: Iterable[tuple[int, bool]]) -> list[Level]:
        """The lines of the page: everything, click, drums, the player, and the layers that stand,
        as (number, muted); empty without sound.
        """
        known = {level.part: level for level in self.parts}
        lines = [known[part]._replace(title=title) for part, title in TITLES.items() if part in known]
        strips = [level for level in self.parts if level.part not in TITLES]
        taken: dict[int, int] = {}
        for number, muted in layers if strips else ():
            # There may be more layers than channel strips: they take them in turn, and layers on
            # one strip share its level.
            name, strip = f"layer {number}", (number - 1) % len(strips)
            shares = f"with layer {taken[strip]}" if strip in taken else ""
            taken.setdefault(strip, number)
            lines.append(strips[strip]._replace(part=name, title=name, muted=muted, shares=shares))
        return lines


def step(by: int, big: bool) -> float:
    """The dB of one step up (``by`` = 1) or down (-1)."""
    return by * (BIG_STEP if big else STEP)


def decibels(value: float) -> str:
    """A level as it is read: ``-18 dB``, with a real minus sign."""
    return f"{'−' if value < 0 else '+' if value > 0 else ''}{abs(value):g} dB"
