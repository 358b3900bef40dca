"""A lesson, or a pupil's answer, as a take: a folder or a ZIP file with ``riff.mid`` or
``answer.mid`` in it. In a lesson of several riffs each has a folder, which is named behind the
lesson's own path: ``week.zip/02-stairs``, whether it is packed or not.
"""

import contextlib
import lzma
import zipfile
import zlib
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from loopdeck.errors import UserError
from loopdeck.rhythm.errors import quoted

if TYPE_CHECKING:
    from loopdeck.brief.brief import Brief
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
    """Whether a path is meant as a lesson or an answer: a ZIP file or a folder in one, or a folder
    with a riff.
    """
    return path.suffix.lower() == ENDING or inside_zip(path) is not None or (path / RIFF).is_file()


def inside_zip(path: Path) -> tuple[Path, str] | None:
    """The ZIP file that a path leads into and the folder in it; None for another path."""
    for parent in path.parents:
        if parent.suffix.lower() == ENDING and parent.is_file():
            return parent, path.relative_to(parent).as_posix()
    return None


def read_member(path: Path, name: str) -> bytes | None:
    """A file of a lesson or answer; None where it has none of that name. Raises UserError for what
    is not a ZIP file, or is damaged or too large.
    """
    if path.is_dir():
        found = path / name
        if not found.is_file():
            return None
        if found.stat().st_size > _MOST_BYTES:
            raise UserError(f"{found} is too large for a file of a lesson.")
        return found.read_bytes()
    inside = inside_zip(path)
    archive_path, member = (inside[0], f"{inside[1]}/{name}") if inside is not None else (path, name)
    try:
        with zipfile.ZipFile(archive_path) as archive, archive.open(member) as file:
            data = file.read(_MOST_BYTES + 1)
    except KeyError:
        return None
    except FileNotFoundError:
        raise UserError(f"There is no file {path}.") from None
    except _DAMAGED as error:
        raise UserError(f"{path} is not a lesson: it is not a ZIP file, or it is damaged.") from error
    if len(data) > _MOST_BYTES:
        raise UserError(f"{name} in {path} is too large for a file of a lesson.")
    return data


def packed_take(path: Path) -> "Take":
    """The riff of a lesson, in the brief that lies beside it, or what a pupil played. Raises
    UserError.
    """
    from loopdeck.capture.smf_read import parse_smf
    from loopdeck.shelf.take import take_of_recording

    folders = _folders(path)
    if folders:
        count = "1 riff" if len(folders) == 1 else f"{len(folders)} riffs"
        raise UserError(
            f"{path} is a lesson of {count}; name one of them, such as {quoted(f'{path}/{folders[0]}', 200)}."
        )
    for name in (RIFF, ANSWER):
        data = read_member(path, name)
        if data is not None:
            recording = parse_smf(data, f"{name} in {path}")
            # A riff's file has its name: that of the first track is the sequence's (SMF 1.0).
            called = recording.track_names[0] if name == RIFF and recording.track_names else ""
            take = take_of_recording(recording, called or (path.stem if path.suffix else path.name))
            return _in_its_brief(take, path)
    raise UserError(f"{path} is not a lesson: it has no {RIFF} that can be read.")


def _in_its_brief(take: "Take", path: Path) -> "Take":
    """The riff with what its MIDI file cannot tell: scale, tuning, feel. Without its brief it is as
    it is.
    """
    from loopdeck.brief.brief import brief_from_toml
    from loopdeck.shelf.excerpt import in_a_brief

    data = read_member(path, BRIEF)
    if data is None:
        return take
    try:
        text = data.decode()
    except UnicodeDecodeError:
        raise UserError(f"{BRIEF} in {path} is not text.") from None
    brief = brief_from_toml(text, f"{BRIEF} in {path}")
    riff = in_a_brief(take)
    return riff.changed(brief=brief.replace(cycle=_cycle(riff.brief, brief), tempo=_tempo(riff.brief, brief)))


def _cycle(riff: "Brief", brief: "Brief") -> str:
    """The bars of the riff; grouped as in the lesson's brief where they are bars of its cycle, for
    a MIDI file has no groups.
    """
    own, told = riff.cycle.meters, brief.cycle.meters
    grouped = [told[index % len(told)] for index in range(len(own))]
    same = all(
        (one.numerator, one.unit) == (other.numerator, other.unit) for one, other in zip(own, grouped, strict=True)
    )
    return " ".join(str(meter) for meter in (grouped if same else own))


def _tempo(riff: "Brief", brief: "Brief") -> str:
    """The tempo of the riff; as the brief writes it where that is the same but for the rounding of
    a MIDI file.
    """
    ratio = riff.tempo.quarters_per_minute / brief.tempo.quarters_per_minute
    return str(brief.tempo if abs(ratio - 1) < 1e-4 else riff.tempo)


def _folders(path: Path) -> list[str]:
    """The folders of the riffs of a lesson of several, in order."""
    if path.is_dir():
        return sorted(one.parent.name for one in path.glob(f"*/{RIFF}"))
    if inside_zip(path) is not None:
        return []
    with contextlib.suppress(*_DAMAGED), zipfile.ZipFile(path) as archive:
        found = sorted(name.removesuffix(f"/{RIFF}") for name in archive.namelist() if name.endswith(f"/{RIFF}"))
        # Of a lesson that was packed with its folder around it, not that folder but those in it.
        around = {str(parent) for name in found for parent in PurePosixPath(name).parents}
        return [name for name in found if name not in around]
    return []
