"""``TAKE`` on the command line: a path to a Standard MIDI File, a lesson or a pupil's answer (a ZIP
file, or a folder with its riff), or a take's number or name on the shelf.
"""

from pathlib import Path
from typing import TYPE_CHECKING

from loopdeck.errors import UserError
from loopdeck.shelf.packed import ENDING, inside_zip, is_packed, packed_take

if TYPE_CHECKING:
    from loopdeck.shelf.take import Take


MIDI_ENDINGS = (".mid", ".midi", ".smf")


def looks_like_file(text: str) -> bool:
    """True for what is meant as a file rather than as a take's name, whether or not it is there."""
    path = Path(text)
    return path.suffix.lower() in (*MIDI_ENDINGS, ENDING) or len(path.parts) > 1


def open_take(text: str, shelf_path: str | Path | None = None) -> "Take":
    """The take meant by ``text``. An existing file comes first; then the shelf is opened, and not
    before.

    Raises UserError for a file that is not a Standard MIDI File, or when there is no such take.
    """
    path = Path(text)
    if text and (path.exists() or inside_zip(path)) and is_packed(path):
        return packed_take(path)
    # A folder of that name is not a take; one that was meant as a path is refused as what it is.
    if looks_like_file(text) or (path.exists() and not path.is_dir()):
        from loopdeck.shelf.take import take_of_file

        return take_of_file(path)
    from loopdeck.shelf.paths import default_shelf
    from loopdeck.shelf.store import Shelf

    where = Path(shelf_path) if shelf_path is not None else default_shelf()
    if not where.exists():
        raise UserError(f"There is no file and no take {text!r}: the shelf {where} does not exist yet.")
    with Shelf(where) as shelf:
        try:
            return shelf.get(text)
        except UserError:
            if not text or not path.is_dir():
                raise
            raise UserError(f"{text} is a folder; a take or a Standard MIDI File was expected.") from None
