"""A lesson, or a pupil's answer, as a take: a folder or a ZIP file with ``riff.mid`` or
``answer.mid`` in it.
"""

import contextlib
import lzma
import zipfile
import zlib
from pathlib import Path
from typing import TYPE_CHECKING

from loopdeck.errors import UserError
from loopdeck.rhythm.errors import quoted

if TYPE_CHECKING:
    from loopdeck.shelf.take import Take

ENDING = ".zip"
RIFF, ANSWER, BRIEF = "riff.mid", "answer.mid", "brief.toml"
#: More than any MIDI file or brief of a lesson has.
_MOST_BYTES = 4 << 20
#: What reading a ZIP file raises where it is damaged, locked, or packed in a way that is not known.
_DAMAGED = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, RuntimeError, NotImplementedError, EOFError, OSError, ValueError,
)  # fmt: skip


def is_packed(path: Path) -> bool:
    """Whether a path is meant as a lesson or an answer: a ZIP file, or a folder with a riff."""
    return path.suffix.lower() == ENDING or (path / RIFF).is_file()


def read_member(path: Path, name: str) -> bytes | None:
    """A file of a lesson or answer; None where it has none of that name. Raises UserError for what
    is no ZIP file, or is damaged or too large.
    """
    if path.is_dir():
        found = path / name
        if not found.is_file():
            return None
        if found.stat().st_size > _MOST_BYTES:
            raise UserError(f"{found} is too large for a file of a lesson.")
        return found.read_bytes()
    try:
        with zipfile.ZipFile(path) as archive, archive.open(name) as file:
            data = file.read(_MOST_BYTES + 1)
    except KeyError:
        return None
    except FileNotFoundError:
        raise UserError(f"There is no file {path}.") from None
    except _DAMAGED as error:
        raise UserError(f"{path} is no lesson: it is no ZIP file, or is damaged.") from error
    if len(data) > _MOST_BYTES:
        raise UserError(f"{name} in {path} is too large for a file of a lesson.")
    return data


def packed_take(path: Path) -> "Take":
    """The riff of a lesson, or what a pupil played. Raises UserError."""
    from loopdeck.capture.smf_read import parse_smf
    from loopdeck.shelf.take import take_of_recording

    for name in (RIFF, ANSWER):
        data = read_member(path, name)
        if data is not None:
            return take_of_recording(parse_smf(data, f"{name} in {path}"), path.stem if path.suffix else path.name)
    raise UserError(f"{path} is no lesson: it has no {RIFF} that can be read.{_several(path)}")


def _several(path: Path) -> str:
    """Where one may look further, in a lesson of several riffs."""
    folders: list[str] = []
    if path.is_dir():
        folders = sorted(one.parent.name for one in path.glob(f"*/{RIFF}"))
    else:
        with contextlib.suppress(*_DAMAGED), zipfile.ZipFile(path) as archive:
            folders = sorted(name.split("/")[0] for name in archive.namelist() if name.endswith(f"/{RIFF}"))
    return f" It is one of several riffs: unpack it and name one, such as {quoted(folders[0], 60)}." if folders else ""
