"""What the last pass brought, as it is said: the sentence at the foot, and a few words beside the
state.

The sentence on a riff promises only what the key would do now: Space loops it while the pass that
Space would take holds all of the riff. Else it says in which passes the riff stands, and once one
of them is a layer it says nothing. Pure.
"""

from collections.abc import Sequence

from loopdeck.protocol.messages import LayerRow, PassHeard
from loopdeck.window.spelling import pretty_scale

#: As many passes as are named.
NAMED = 4


class Remarks:
    """What was heard after the last pass.

    ``riffs``: by pass, the letters of the riffs in it.
    """

    def __init__(self) -> None:
        self._heard: PassHeard | None = None
        self._holds = False
        self.riffs: dict[int, tuple[str, ...]] = {}

    def receive(self, heard: PassHeard, pass_index: int | None) -> None:
        """Take in what a pass brought. ``pass_index``: the one that runs; None while none does."""
        self._heard = heard
        self.riffs = {}
        for one in heard.riffs:
            self.riffs[one.pass_index] = (*self.riffs.get(one.pass_index, ()), one.name)
        self._holds = pass_index is None or pass_index == heard.pass_index + 1

    def another_scale(self) -> None:
        """The brief has another scale: what was said of the one before is over."""
        self._heard = self._heard.in_another_scale() if self._heard is not None else None

    def turn(self) -> None:
        """A pass begins, or time stops: what was said of the pass before is over."""
        self._holds = False

    def sentence(self, state: str, layers: Sequence[LayerRow], loops_next: int | None) -> str:
        """The sentence of this moment; "" for none. ``loops_next``: the pass Space would take."""
        if self._heard is None or not self._holds:
            return ""
        return _sentence(self._heard, state, layers, loops_next)

    def feel(self, pass_index: int) -> str:
        """``16ths at 58 %, fits E dorian``; "" while nothing is sure, and once pass ``pass_index``
        is more than ``NAMED`` passes on.
        """
        heard = self._heard
        if heard is None or pass_index > heard.pass_index + NAMED:
            return ""
        return ", ".join(one for one in (heard.feel, pretty_scale(heard.scale)) if one)


def _sentence(heard: PassHeard, state: str, layers: Sequence[LayerRow], loops_next: int | None) -> str:
    if heard.about != "riff":
        return heard.text
    if any(row.pass_index in heard.riff_passes for row in layers):
        return ""
    start = heard.text.removesuffix(".")
    if state in ("LISTENING", "STOPPED") and loops_next is not None and loops_next in heard.whole_passes:
        return f"{start}: Space loops it."
    return f"{start}: it stands in {passes_words(heard.riff_passes)}."


def passes_words(passes: Sequence[int]) -> str:
    """``pass 3``; ``passes 2, 3 and 5``, the newest ``NAMED`` of them."""
    names = [str(one + 1) for one in passes[-NAMED:]]
    if len(names) < 2:
        return f"pass {names[0]}" if names else "what was played"
    return f"passes {', '.join(names[:-1])} and {names[-1]}"
