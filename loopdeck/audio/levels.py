"""How loud each part of the built-in sound is set: what the commands ``level`` and ``sound-mute``
say, with or without a device.

Conventions: parts are those of the mixer (``MIXER_PARTS``), levels in dB. A *mix* is what a take
keeps of it: (level, muted) for every part but ``master`` that is not at 0 dB and heard. Pure.
"""

from collections.abc import Iterable
from contextlib import suppress
from typing import Any

from loopdeck.audio.routes import Routes
from loopdeck.capture.journal import MarkRecord
from loopdeck.errors import UserError
from loopdeck.looper.commands import SOUND, names_of
from loopdeck.looper.mixer_parts import MIXER_PARTS, part_of_words, words_of_part
from loopdeck.protocol.messages import PartRow
from loopdeck.synth.events import HIGHEST, LOWEST, MASTER, layer_number
from loopdeck.synth.mixer import MASTER_START

#: The kind of mark by which a journal notes them.
MARK = "sound"
Mix = dict[str, tuple[float, bool]]


def asked_layer(name: str, args: dict[str, Any]) -> int | None:
    """The layer that a ``sound-mute`` is for, None for anything else: a layer has one mute only,
    the looper's, which holds for MIDI as well.
    """
    if name != "sound-mute":
        return None
    words = str(args.get("part", "")).lower().replace(":", " ").split()
    number = words[-1] if words[:1] == ["layer"] or len(words) == 1 else ""
    return int(number) if number.isdecimal() and 0 < int(number) < 1_000_000 else None


def _who(part: str, asked: object) -> str:
    """A part to begin a sentence with; a layer by its own number, which may share its place with
    another one.
    """
    number = asked_layer("sound-mute", {"part": asked})
    own = layer_number(part) if part != MASTER else None
    if own is None or number is None or number == own:
        return words_of_part(part)
    return f"Layer {number}, with layer {own} in one place,"


class Levels:
    """Levels and mutes as they stand: quiet at first."""

    def __init__(self) -> None:
        self.db: dict[str, float] = {MASTER: MASTER_START}
        self.muted: set[str] = set()

    def apply(self, name: str, args: dict[str, Any]) -> tuple[str, str]:
        """Do ``level`` or ``sound-mute``; returns the part it was for and a sentence that says what
        is so now. Raises UserError.
        """
        part = part_of_words(args.get("part", MASTER))
        return part, (self._level if name == "level" else self._mute)(part, args)

    def _level(self, part: str, args: dict[str, Any]) -> str:
        """``db``, or ``by`` so many dB."""
        value = args.get("db")
        if value is None and isinstance(args.get("by"), int | float):
            value = min(max(self.db.get(part, 0.0) + args["by"], LOWEST), HIGHEST)
        if isinstance(value, bool) or not isinstance(value, int | float) or not LOWEST <= value <= HIGHEST:
            raise UserError(
                f"A level of {str(value)[:20]} cannot be set; {LOWEST:g} to {HIGHEST:g} dB would be right, as db or by."
            )
        self.db[part] = float(value)
        state = f"is set to {value:+g} dB and muted" if part in self.muted else f"sounds at {value:+g} dB"
        return f"{_who(part, args.get('part'))} {state}."

    def _mute(self, part: str, args: dict[str, Any]) -> str:
        """``on``, or the other way round from now."""
        on = bool(args["on"]) if isinstance(args.get("on"), bool | int) else part not in self.muted
        (self.muted.add if on else self.muted.discard)(part)
        return f"{words_of_part(part)} is {'muted' if on else 'heard'} in the built-in sound."

    def of(self, part: str) -> tuple[float, bool]:
        """Level and mute of a part."""
        return self.db.get(part, 0.0), part in self.muted

    def mix(self) -> Mix:
        """What a take keeps."""
        return {part: self.of(part) for part in MIXER_PARTS if part != MASTER and self.of(part) != (0.0, False)}

    def state(self, routes: Routes) -> tuple[PartRow, ...]:
        """What the window is to know: level, mute and way of every part."""
        return tuple(
            PartRow(part=part, db=self.of(part)[0], muted=self.of(part)[1], way=routes.way_of(part))
            for part in MIXER_PARTS
        )


def levels_of_marks(marks: Iterable[MarkRecord], levels: Levels | None = None) -> Levels:
    """The levels after a journal's marks, from ``levels`` on; what cannot be applied was refused
    then, too.
    """
    levels = levels or Levels()
    for mark in marks:
        name, args = mark.data.get("name"), mark.data.get("args")
        if mark.kind == MARK and name in names_of(SOUND) and isinstance(args, dict):
            with suppress(UserError):
                levels.apply(name, args)
    return levels
