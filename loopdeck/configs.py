"""Briefs, tunings and control maps: those that come with loopdeck, and the player's own.

Conventions
    Shipped ones lie in ``loopdeck/_configs`` of an installed wheel, in ``configs/`` of a checkout;
    the player's own in the folder ``own_folder`` names. Each is a TOML file, and its name is the
    name of the file without the ending. One of the player's own goes before a shipped one of the
    same name.
"""

from pathlib import Path

from loopdeck.errors import UserError, instead

_HERE = Path(__file__).resolve().parent
#: One of each kind, as sentences say it.
KINDS = {"briefs": "brief", "tunings": "tuning", "controls": "control map", "pickups": "pickup profile"}


def folder(kind: str) -> Path:
    """The folder of the shipped configurations of one kind (``briefs``, ``tunings``, ``controls``).

    Raises UserError if it is missing.
    """
    for base in (_HERE / "_configs", _HERE.parent / "configs"):
        if (base / kind).is_dir():
            return base / kind
    raise UserError(f"The configuration folder {kind!r} is missing from this installation; install loopdeck again.")


def own_folder(kind: str) -> Path:
    """Where the player's own configurations of one kind lie, whether or not there are any."""
    from platformdirs import user_config_path

    return user_config_path("loopdeck", appauthor=False) / kind


def names(kind: str) -> list[str]:
    """The names of the configurations of one kind, shipped and own, sorted; those that can be
    printed on one line.
    """
    found = {path.stem for base in (folder(kind), own_folder(kind)) for path in base.glob("*.toml")}
    return sorted(name for name in found if name.isprintable())


def find(kind: str, name: str) -> Path:
    """The file for ``name``: a path that exists, or the name of a configuration. Raises UserError
    with what there is.
    """
    path = Path(name)
    if path.suffix and path.is_file():
        return path
    found = find_named(kind, name)
    if found is None:
        raise UserError(
            f"There is no file {name!r} and no {KINDS.get(kind, kind)} of that name{instead(name, names(kind))}"
        )
    return found


def find_named(kind: str, name: str) -> Path | None:
    """The file of the configuration of that name, as its file is called or as it is shown ("Copper
    kettle" is in copper-kettle.toml); None if no file has it.
    """
    if not 0 < len(name) <= 100 or Path(name).name != name or "\0" in name:
        return None
    for stem in dict.fromkeys((name, "-".join(name.lower().split()))):
        for base in (own_folder(kind), folder(kind)):
            if (base / f"{stem}.toml").is_file():
                return base / f"{stem}.toml"
    return None
