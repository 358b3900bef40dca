"""The briefs there are: those that come with loopdeck and the player's own, which can be saved and
deleted.

Conventions: a brief is called by the name of its file without the ending. One of the player's own
hides a shipped one of the same name. Files are written whole or not at all.
"""

import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from loopdeck import configs
from loopdeck.atomic import whole_file
from loopdeck.brief.brief import Brief, brief_to_toml, load_brief
from loopdeck.errors import UserError

KIND = "briefs"
MOST_LETTERS = 60
#: What Windows keeps for its devices, whatever the ending (Microsoft, "Naming Files, Paths, and
#: Namespaces").
_DEVICES = re.compile("(con|prn|aux|nul|(com|lpt)[0-9¹²³])")


@dataclass(frozen=True)
class BriefFile:
    """One of them. ``brief`` is None where the file cannot be read, and ``wrong`` says why."""

    name: str
    path: Path
    own: bool
    brief: Brief | None
    wrong: str = ""


class BriefExistsError(UserError):
    """A brief of that name is there already. ``own``: it may be replaced."""

    def __init__(self, name: str, own: bool) -> None:
        whose = "You have" if own else "loopdeck comes with"
        super().__init__(f"{whose} a brief {name!r} already; take another name.")
        self.name, self.own = name, own


def list_briefs() -> list[BriefFile]:
    """All of them, the player's own first, each part by name. Raises UserError where the shipped
    ones are missing.
    """
    own, shipped = _names(configs.own_folder(KIND)), _names(configs.folder(KIND))
    return [_read(configs.own_folder(KIND), name, True) for name in own] + [
        _read(configs.folder(KIND), name, False) for name in shipped if name not in own
    ]


def _names(folder: Path) -> list[str]:
    try:
        return sorted(path.stem for path in folder.glob("*.toml"))
    except OSError:
        return []


def _read(folder: Path, name: str, own: bool) -> BriefFile:
    path = folder / f"{name}.toml"
    try:
        return BriefFile(name, path, own, load_brief(path))
    except UserError as error:
        return BriefFile(name, path, own, None, str(error))
    except OSError as error:
        return BriefFile(name, path, own, None, f"{path} cannot be read: {error.strerror or error}.")


def file_name(typed: str) -> str:
    """The name of the file for what a player types: ``Back stairs`` is kept in ``back-stairs``.
    Raises UserError.
    """
    plain = unicodedata.normalize("NFC", typed).strip().casefold()
    # Signs that stand on a letter, such as vowels of Hindi, belong to the name.
    kept = (
        letter if letter.isalnum() or letter == "_" or unicodedata.category(letter)[0] == "M" else "-"
        for letter in plain
    )
    name = re.sub("-+", "-", "".join(kept)).strip("-_")
    if not any(map(str.isalnum, name)):
        raise UserError("A brief needs a name with a letter or a figure in it.")
    if _DEVICES.fullmatch(name):
        raise UserError(f"A brief cannot be called {name!r}, which some systems keep for a device; take another name.")
    if len(name) > MOST_LETTERS:
        raise UserError(f"A brief's name has {MOST_LETTERS} letters at most; this one would have {len(name)}.")
    return name


def save_brief(brief: Brief, typed: str, replace: bool = False) -> BriefFile:
    """Save a brief as one of the player's own, called ``typed``.

    Raises BriefExistsError where that would hide or (without ``replace``) overwrite one, UserError
    for a name that cannot be one and for a folder that cannot be written.
    """
    name = file_name(typed)
    folder = configs.own_folder(KIND)
    target = folder / f"{name}.toml"
    if target.exists() or target.is_symlink():
        if not replace:
            raise BriefExistsError(name, True)
    elif (configs.folder(KIND) / f"{name}.toml").exists():
        raise BriefExistsError(name, False)
    brief = brief.replace(name=" ".join(typed.split()))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with whole_file(target) as file:
            file.write(brief_to_toml(brief).encode())
    except OSError as error:
        raise UserError(
            f"The brief cannot be saved as {target} ({error.strerror or error}); nothing was changed."
        ) from error
    return BriefFile(name, target, True, brief)


def delete_brief(found: BriefFile) -> BriefFile:
    """Delete one of the player's own, and return it. Raises UserError for any other, and when it
    cannot be done.
    """
    if not found.own or found.path.parent != configs.own_folder(KIND):
        raise UserError(f"The brief {found.name!r} comes with loopdeck and stays; only your own can be deleted.")
    try:
        found.path.unlink()
    except FileNotFoundError:
        raise UserError(f"The brief {found.name!r} is gone already.") from None
    except OSError as error:
        raise UserError(f"The brief {found.name!r} cannot be deleted: {error.strerror or error}.") from error
    return found
