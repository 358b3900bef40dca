"""What ``loopdeck takes import`` takes: Standard MIDI Files, MusicXML and text tab."""

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.shelf.take import Take

_TEXTS = (".txt", ".tab")


class Imported(NamedTuple):
    """A take, and which part of the file it is: "" for all of it."""

    take: "Take"
    part: str = ""
    of: int = 1

    @property
    def words(self) -> str:
        """Which part, for the player."""
        if not self.part:
            return ""
        return f" It is the part {self.part!r} of {self.of}; --part takes another, --part all every one."


def take_to_import(path: str, name: str | None, part: str | None) -> Imported:
    """The file as a take, called ``name`` or after itself. Raises UserError, OSError."""
    from loopdeck.page.musicxml_read import ENDINGS, read_musicxml
    from loopdeck.page.playing import take_of_page
    from loopdeck.shelf.take import MAX_NAME, clean

    ending = Path(path).suffix.lower()
    if ending in ENDINGS:
        page = read_musicxml(path, part)
    elif ending in _TEXTS:
        if part is not None:
            raise UserError(f"--part chooses a part of MusicXML or MIDI; {path} has one only.")
        from loopdeck.cli.tab import page_of_text

        page = page_of_text(path)
    else:
        return _midi(path, name, part)
    take = take_of_page(page, name or clean(page.title)[:MAX_NAME] or "imported")
    return Imported(take, page.extra.get("part", ""), page.extra.get("parts", 1))


def _midi(path: str, name: str | None, part: str | None) -> Imported:

    from loopdeck.capture.smf_read import read_smf
    from loopdeck.shelf.midi_parts import chosen_parts, parts_of
    from loopdeck.shelf.take import take_of_recording

    recording = read_smf(path)
    take = take_of_recording(recording, name or Path(path).stem)
    parts = parts_of(recording.events, recording.track_names)
    chosen = chosen_parts(parts, part, path)
    if len(chosen) == len(parts):
        return Imported(take)
    events = tuple(event for event in take.recording.events if any(one.has(event) for one in chosen))
    return Imported(take.changed(events=events), ", ".join(dict.fromkeys(one.name for one in chosen)), len(parts))
