"""One part of a take whose parts have no room together on the strings: the playing first."""

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from loopdeck.shelf.take import Take


class OnePart(NamedTuple):
    """A take with the events of one part alone, and what it is called."""

    take: "Take"
    words: str


def one_part(take: "Take", source: str) -> OnePart | None:
    """The playing without the layers; without layers the bass among the tracks or inputs, else the
    first of them. None where there is one part only.

    ``source`` is what the take was opened by: a file tells the names of its tracks. Raises
    UserError, OSError.
    """
    from loopdeck.shelf.midi_parts import DRUMS, parts_of

    recording = take.recording
    parts = parts_of(recording.events, _names(source))
    if recording.layers and parts:
        return OnePart(take.changed(layers=()), "what was played")
    if len(parts) < 2:
        return None
    pitched = [part for part in parts if part.channels != {DRUMS}] or parts
    part = next((one for one in pitched if one.bass), pitched[0])
    events = tuple(event for event in recording.events if part.has(event))
    return OnePart(take.changed(events=events), f"the part {part.name!r}")


def _names(source: str) -> tuple[str, ...]:
    from loopdeck.shelf.source import MIDI_ENDINGS

    if Path(source).suffix.lower() not in MIDI_ENDINGS or not Path(source).is_file():
        return ()
    from loopdeck.capture.smf_read import read_smf

    return tuple(read_smf(source).track_names)
