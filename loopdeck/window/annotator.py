"""How notes are shown: on lanes of strings or of pitches, with their names, frets and timing.
Pure.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from loopdeck.brief.brief import Brief
from loopdeck.protocol.messages import NoteStarted
from loopdeck.window import note_view
from loopdeck.window.note_view import Lanes, NoteView
from loopdeck.window.position import ChannelStrings
from loopdeck.window.timeline import CycleLayout

#: So many notes before a note decide which strings are free for it.
NEAR = 9


@dataclass
class NoteAnnotator:
    """``lanes_kind`` is "strings" or "pitches"."""

    lanes_kind: str = "strings"
    _strings: ChannelStrings = field(default_factory=ChannelStrings)

    def forget_channels(self) -> None:
        """Another instrument may send its strings in another order."""
        self._strings = ChannelStrings()

    def string_of(self, message: NoteStarted, brief: Brief | None) -> int:
        """The string of a note (from 1): as the engine says, or else by its channel; 0: unknown."""
        if message.string or brief is None:
            return message.string
        return self._strings.string(message.channel, message.pitch, brief.tuning.strings)

    def lanes(self, brief: Brief | None) -> Lanes:
        """The lanes in force."""
        return note_view.lanes_of(brief, self.lanes_kind)

    def annotate(
        self,
        mark: NoteView,
        before: Sequence[NoteView],
        brief: Brief | None,
        cycle_layout: CycleLayout,
        qpm: float,
        string: int = 0,
    ) -> None:
        """Set name, lane, fret and timing of a note by the brief of the moment. ``before`` are the
        notes that came before it; a note of a layer, whose id is below 0, has no timing.
        ``string``: where a hand would play it; 0: unknown.
        """
        mark.spelling = note_view.spelled(mark.pitch, brief)
        first = cycle_layout.groups[0]
        if mark.id >= 0:
            earlier = [other for other in before if other is not mark and other.id < mark.id]
            note_view.time(mark, earlier, qpm, first.length_q / first.units)
        tuning = brief.tuning if brief is not None else None
        near = [other for other in before[-NEAR:] if other is not mark]
        note_view.lay(mark, near, self.lanes(brief), tuning, string)
