"""The passes the player means: the chosen one, which can be looped, and how many are kept.

Conventions: passes count from 0, and from 1 in sentences. ``None``: none is chosen. Pure.
"""

from dataclasses import dataclass

from loopdeck.protocol.messages import Command
from loopdeck.window.played import FREE_PASS
from loopdeck.window.view import View, space_takes

NOTHING = "No pass has been played yet."
CHOOSE = "Choose a pass with Page Up first, then End loops it."

#: More passes than that are not kept at once.
MOST_KEPT = 16


@dataclass
class PassPicker:
    """``chosen`` is the pass under the cursor; keep takes the last ``kept`` passes."""

    chosen: int | None = None
    kept: int = 1

    @property
    def kept_words(self) -> str:
        """``pass`` or ``3 passes``, to stand behind "the last"."""
        return "pass" if self.kept == 1 else f"{self.kept} passes"

    def keep_more(self, step: int) -> None:
        """Keep takes more passes, or fewer."""
        self.kept = max(1, min(MOST_KEPT, self.kept + step))

    def step(self, view: View, now_sec: float, step: int) -> None:
        """The first press chooses the pass that loop-that would take, or else the newest; then from
        one pass in which something was played to the next.
        """
        there = played_passes(view)
        if not there:
            self.chosen = None
            view.tell(NOTHING, True, now_sec)
            return
        if self.chosen in there:
            at = there.index(self.chosen) + step
            self.chosen = there[min(max(at, 0), len(there) - 1)]
        else:
            taken = space_takes(view, now_sec)
            self.chosen = taken if taken in there else _newest(there, view)
        view.tell(self._words(view), False, now_sec)

    def _words(self, view: View) -> str:
        """``Pass 7, riff B: End loops it.``"""
        index = self.chosen
        assert index is not None
        riffs = view.played.remarks.riffs.get(index, ())
        which = f"Pass {index + 1}" + "".join(f", riff {one}" for one in riffs)
        layer = next((row.number for row in view.layers if row.pass_index == index), None)
        return f"{which}: End loops it." if layer is None else f"{which}: it is layer {layer}."

    def loop(self, view: View, now_sec: float) -> list[Command]:
        """Loop the chosen pass."""
        if self.chosen is None or self.chosen not in played_passes(view):
            view.tell(CHOOSE if played_passes(view) else NOTHING, True, now_sec)
            return []
        return [Command(name="loop-pass", args={"number": self.chosen + 1})]


def last_pass(view: View, now_sec: float) -> int | None:
    """The last pass (from 1) that a keep means now: the one that has ended, in its last half beat
    the one that runs. None before there is one, and while nothing runs.
    """
    place = view.place(now_sec)
    if not place.running or place.at_q < 0:
        return None
    return place.pass_index + view.cycle_layout.is_ending(place.at_q) or None


def played_passes(view: View) -> list[int]:
    """The passes in which something was played, oldest first."""
    return sorted(index for index, notes in view.played.by_pass.items() if index != FREE_PASS and notes)


def _newest(there: list[int], view: View) -> int:
    """The newest pass that has ended, or else the one that runs."""
    clock = view.clock
    ended = [index for index in there if not clock.running or index < clock.pass_index]
    return ended[-1] if ended else there[-1]
