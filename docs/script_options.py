"""The command line of the scripts in this folder: ``--help``, and where the pictures go."""

import argparse
from pathlib import Path

PICTURES = Path(__file__).resolve().parent / "pictures"


def folder_for(about: str | None) -> Path:
    """The folder to write into, docs/pictures if none is given; made if it does not exist."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("folder", nargs="?", type=Path, default=PICTURES, help="default: docs/pictures")
    folder: Path = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def file_for(about: str | None, name: str) -> Path:
    """The file to write, the one of this name in docs/pictures if none is given."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("file", nargs="?", type=Path, default=PICTURES / name, help=f"default: docs/pictures/{name}")
    file: Path = parser.parse_args().file
    return file
