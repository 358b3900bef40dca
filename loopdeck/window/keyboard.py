"""The letter keys as an instrument: which of them play now, and the notes they hold. Pure."""

from dataclasses import dataclass, field

from loopdeck.protocol.messages import KeyPlayed
from loopdeck.window import keys
from loopdeck.window.sent import Sent
from loopdeck.window.view import View


@dataclass
class Keyboard:
    """Letter keys that play notes; each note ends when its own key goes up."""

    wanted: bool | None = None
    """True or False as the player wants it; None: while there is no instrument."""
    held: dict[int, tuple[int, int]] = field(default_factory=dict)
    """(pitch, string) of the note that a key holds, by the key's code."""

    def plays(self, view: View) -> bool:
        """True when the letter keys play notes."""
        return not view.gear.has_input() if self.wanted is None else self.wanted

    def press(self, code: int, shift: bool, view: View, now_sec: float) -> list[Sent]:
        """A key goes down: a note begins, an accented one with Shift."""
        if view.brief is None or not self.plays(view) or code in self.held:
            return []
        found = keys.pitch_of(code, view.brief.tuning.strings)
        if found is None:
            return []
        self.held[code] = found
        return [_played(found, True, keys.ACCENT if shift else keys.VELOCITY, now_sec)]

    def release(self, code: int, now_sec: float) -> list[Sent]:
        """A key goes up: the note it began ends."""
        held = self.held.pop(code, None)
        return [] if held is None else [_played(held, False, 0, now_sec)]

    def release_all(self, now_sec: float) -> list[Sent]:
        """Every note ends."""
        return [sent for code in list(self.held) for sent in self.release(code, now_sec)]


def _played(held: tuple[int, int], on: bool, velocity: int, now_sec: float) -> Sent:
    return KeyPlayed(pitch=held[0], on=on, velocity=velocity, string=held[1], played_sec=now_sec)
