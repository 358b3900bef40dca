"""Where the shipped configuration files lie: in ``loopdeck/_configs`` of an installed wheel, in ``configs/`` of a checkout."""

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def folder(kind: str) -> Path:
    """The folder of one kind of configuration (``briefs``, ``tunings``, ``controls``).

    Raises ``FileNotFoundError`` when the installation lacks it.
    """
    for base in (_HERE / "_configs", _HERE.parent / "configs"):
        if (base / kind).is_dir():
            return base / kind
    raise FileNotFoundError(
        f"The configuration folder {kind!r} is missing from this installation; install loopdeck again."
    )


def names(kind: str) -> list[str]:
    """The names (file stems) of the configurations of one kind, sorted."""
    return sorted(path.stem for path in folder(kind).glob("*.toml"))


def find(kind: str, name: str) -> Path:
    """The file for ``name``: a path that exists, or the name of a shipped configuration.

    Raises ``FileNotFoundError`` with a sentence that lists what there is.
    """
    path = Path(name)
    if path.suffix and path.is_file():
        return path
    shipped = folder(kind) / f"{name}.toml"
    if shipped.is_file():
        return shipped
    raise FileNotFoundError(
        f"There is no file {name!r} and none of ours in {kind} is called that; ours: {', '.join(names(kind))}."
    )
