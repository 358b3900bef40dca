"""The brief in force, and where musical time is."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from loopdeck.protocol.fields import AtMost, Between, Count, Quarters, Seconds, Word
from loopdeck.protocol.messages.message import Message, Name, PassIndex
from loopdeck.rhythm.anchor import Anchor


@dataclass(frozen=True, slots=True, kw_only=True)
class BriefChanged(Message):
    """The brief in force: its fields as ``Brief.to_dict`` gives them; ``brief_from_dict`` reads
    them.
    """

    fields: Mapping[str, int | float | str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockChanged(Message):
    """Where musical time is. ``anchor`` gives the position at any moment, in quarters from the
    start of the run.

    ``pass_index`` is -1 while counting in and while stopped; ``pass_start_q`` is where the pass
    began (or will, after the count-in). ``coming``: what will change by itself, in words; "" for
    nothing. ``run_pass`` and ``first_bar``: how many passes and bars of this run came before the
    pass, on which silent bars and ramps depend.
    """

    state: Word
    coming: Name = ""
    running: bool
    pass_index: PassIndex
    anchor_sec: Seconds
    anchor_q: Quarters
    qpm: Annotated[float, Between(0.001, 100_000.0)]
    pass_start_q: Quarters
    cycle: Annotated[str, AtMost(2000)]
    cycle_q: Annotated[float, Between(0.0, 1e9)]

    run_pass: Count = 0
    first_bar: Count = 0

    @property
    def anchor(self) -> Anchor:
        """Where time is, to be asked for any moment."""
        return Anchor(self.anchor_sec, self.anchor_q, self.qpm)
