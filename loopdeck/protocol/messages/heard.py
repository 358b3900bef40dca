"""What the process that listens makes of the playing."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, NamedTuple

from loopdeck.protocol.fields import AtMost, Between, Count, Word
from loopdeck.protocol.messages.message import Message, PassIndex


class PassRiff(NamedTuple):
    """A riff, by its letter, stands in a pass."""

    pass_index: PassIndex
    name: Word


@dataclass(frozen=True, slots=True, kw_only=True)
class PassHeard(Message):
    """What the pass ``pass_index``, which has ended, brought: from the process that listens to the
    engine, and on to the windows.

    ``text``: a sentence on it, or ""; ``about``: whether it speaks of the ``riff`` or of the
    ``feel``. ``riff_passes``: the passes in which the riff of this one stands, oldest first;
    ``whole_passes``: those that hold all of it, so that looping one loops the riff. ``feel`` and
    ``scale``: a few words on the last passes ("16ths at 58 %", "fits E dorian"), "" for
    nothing sure. ``riffs``: all that is known of the last passes, ordered by pass.
    """

    pass_index: PassIndex
    text: str = ""
    about: Word = ""
    riff_passes: Annotated[tuple[PassIndex, ...], AtMost(10_000)] = ()
    whole_passes: Annotated[tuple[PassIndex, ...], AtMost(10_000)] = ()
    feel: Word = ""
    scale: Word = ""
    riffs: Annotated[tuple[PassRiff, ...], AtMost(10_000)] = ()

    def in_another_scale(self) -> "PassHeard":
        """What still holds of it once the brief has another scale."""
        if self.about == "feel":
            return replace(self, scale="", text="", about="")
        return replace(self, scale="")


@dataclass(frozen=True, slots=True, kw_only=True)
class TempoGuessed(Message):
    """What playing without a click sounds like, from the process that listens: ``fields`` of the
    brief that would hold, and the stretch that would be looped: it begins ``after_sec`` after the
    onset of ``note``, and was played at ``qpm``. ``phrase``: the first note of the phrase that was
    listened to; ``text``: the guess in words ("♩ = 96 in 4/4, two bars long").
    """

    fields: Mapping[str, int | float | str]
    note: Count
    after_sec: Annotated[float, Between(-600.0, 600.0)]
    qpm: Annotated[float, Between(0.001, 100_000.0)]
    phrase: Count
    text: Annotated[str, AtMost(400)]
