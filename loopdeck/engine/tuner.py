"""Tuning by ear while a session runs: the open strings of the brief's tuning one after the other,
each held as long as wanted, with the octave above it to beat against.

Nothing of it reaches the looper or the journal; it sounds as a take that is heard does
(``audition``), on the built-in sound or MIDI, wherever that goes.
"""

from collections.abc import Callable
from typing import Any

from loopdeck.engine.audition import Audition, Row
from loopdeck.engine.command_door import EngineAct
from loopdeck.synth.events import LIVE
from loopdeck.theory.pitch import pitch_name
from loopdeck.theory.tuning import Tuning

#: A string is plucked anew so often while it is held; the octave comes in so much later; and after
#: so long nobody listens any more.
AGAIN_SEC, OCTAVE_SEC, LONGEST_SEC = 4.0, 1.0, 900.0
_GAP_SEC = 0.05
_VELOCITY, _OCTAVE_VELOCITY = 84, 60


def string_rows(pitch: int, octave: bool) -> list[Row]:
    """One open string held, and its octave, as rows of an audition."""
    rows: list[Row] = []
    for sounding, wait, velocity in ((pitch, 0.0, _VELOCITY), (pitch + 12, OCTAVE_SEC, _OCTAVE_VELOCITY)):
        if sounding > 127 or (wait and not octave):
            continue
        for turn in range(int(LONGEST_SEC / AGAIN_SEC)):
            at_sec = turn * AGAIN_SEC + wait
            rows.append((at_sec, LIVE, bytes((0x90, sounding, velocity))))
            rows.append((at_sec + AGAIN_SEC - _GAP_SEC, LIVE, bytes((0x80, sounding, 0))))
    return sorted(rows, key=lambda row: row[0])


class Tuner:
    """``tuning`` gives the brief's, ``say`` tells the player, ``now`` is the session's clock."""

    def __init__(
        self,
        audition: Callable[[Callable[[], None]], Audition],
        tuning: Callable[[], Tuning],
        say: Callable[[str], None],
        now: Callable[[], float],
    ) -> None:
        self.audition = audition(lambda: None)
        self._tuning, self._say, self._now = tuning, say, now
        #: The string that sounds, 1 the highest; 0 while none does.
        self.string = 0
        self.octave = True

    def acts(self) -> dict[str, EngineAct]:
        """What carries out which command."""
        return {"tune": self._tune, "tune-octave": self._turn_octave, "tune-off": self._off}

    def hush(self) -> None:
        """Silence the string that sounds."""
        self.string = 0
        self.audition.end(self._now())

    def _tune(self, args: dict[str, Any]) -> None:
        """The string that was asked for, or the next one: from the lowest up, then off."""
        tuning = self._tuning()
        count = len(tuning.strings)
        string = args.get("string")
        if string is None:
            # The brief may have changed to fewer strings meanwhile.
            string = min(self.string - 1, count) if self.string else count
        if string > count:
            self._say(f"{tuning} has no string {string}; its strings are 1 (the highest) to {count}.")
            return
        if not string:
            self._off({})
            return
        self.string = string
        self._sound(tuning)

    def _sound(self, tuning: Tuning) -> None:
        pitch = tuning.strings[min(self.string, len(tuning.strings)) - 1]
        # Concert pitch and equal temperament (ISO 16).
        hertz = 440.0 * 2.0 ** ((pitch - 69) / 12)
        self.audition.begin(string_rows(pitch, self.octave), LONGEST_SEC, self._now())
        above = ", with the octave above" if self.octave else ""
        self._say(f"Tune string {self.string} to {pitch_name(pitch)}, {hertz:.2f} Hz{above}.")

    def _turn_octave(self, args: dict[str, Any]) -> None:
        on = args.get("on")
        self.octave = not self.octave if on is None else bool(on)
        if self.string:
            self._sound(self._tuning())
        else:
            self._say(f"Tuning sounds {'with' if self.octave else 'without'} the octave above.")

    def _off(self, args: dict[str, Any]) -> None:
        if self.string:
            self._say("Tuning is over.")
        self.hush()
