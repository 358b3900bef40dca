"""The cursor on the passes of the last minutes: which pass the player has chosen, and looping it.

Conventions: passes count from 0, and from 1 in sentences. ``None``: none is chosen. Pure.
"""

from dataclasses import dataclass

from loopdeck.protocol.messages import Command
from loopdeck.window.played import FREE_PASS
from loopdeck.window.view import View

NOTHING = "No pass has been played yet."
CHOOSE = "Choose a pass with Page Up first, then End loops it."


@dataclass
class PassPicker:
    """A part of the window's own state."""

    chosen_pass: int | None = None

    def _pass_step(self, view: View, now_sec: float, step: int) -> None:
        """The first press chooses the pass that loop-that would take, or else the newest; then from
        one pass in which something was played to the next.
        """
        there = played_passes(view)
        if not there:
            self.chosen_pass = None
            view.tell(NOTHING, True, now_sec)
            return
        if self.chosen_pass in there:
            at = there.index(self.chosen_pass) + step
            self.chosen_pass = there[min(max(at, 0), len(there) - 1)]
        else:
            self.chosen_pass = view.loops_next if view.loops_next in there else _newest(there, view)
        view.tell(self._words(view), False, now_sec)

    def _words(self, view: View) -> str:
        """``Pass 7, riff B: End loops it.``"""
        index = self.chosen_pass
        assert index is not None
        riffs = view.played.remarks.riffs.get(index, ())
        which = f"Pass {index + 1}" + "".join(f", riff {one}" for one in riffs)
        layer = next((row.number for row in view.layers if row.pass_index == index), None)
        return f"{which}: End loops it." if layer is None else f"{which}: it is layer {layer}."

    def _pass_loop(self, view: View, now_sec: float) -> list[Command]:
        """Loop the chosen pass."""
        if self.chosen_pass is None or self.chosen_pass not in played_passes(view):
            view.tell(CHOOSE if played_passes(view) else NOTHING, True, now_sec)
            return []
        return [Command(name="loop-pass", args={"number": self.chosen_pass + 1})]


def played_passes(view: View) -> list[int]:
    """The passes in which something was played, oldest first."""
    return sorted(index for index, notes in view.played.by_pass.items() if index != FREE_PASS and notes)


def _newest(there: list[int], view: View) -> int:
    """The newest pass that has ended, or else the one that runs."""
    clock = view.clock
    ended = [index for index in there if not clock.running or index < clock.pass_index]
    return ended[-1] if ended else there[-1]
