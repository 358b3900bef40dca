"""What ``loopdeck takes import`` takes: Standard MIDI Files, MusicXML and text tab."""

from pathlib import Path
from typing import TYPE_CHECKING

from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.shelf.take import Take

_TEXTS = (".txt", ".tab")


def take_to_import(path: str, name: str | None, part: str | None) -> "Take":
    """The file as a take, called ``name`` or after itself. Raises UserError, OSError."""
    from loopdeck.page.musicxml_read import ENDINGS, read_musicxml
    from loopdeck.page.playing import take_of_page
    from loopdeck.shelf.take import MAX_NAME, clean, take_of_file

    ending = Path(path).suffix.lower()
    if ending not in ENDINGS and part is not None:
        raise UserError(f"--part chooses a part of MusicXML; {path} is none.")
    if ending in ENDINGS:
        page = read_musicxml(path, part)
    elif ending in _TEXTS:
        from loopdeck.cli.tab import page_of_text

        page = page_of_text(path)
    else:
        return take_of_file(Path(path), name)
    return take_of_page(page, name or clean(page.title)[:MAX_NAME] or "imported")
