"""The draws of before, so that no draw comes twice in a row and every one can be taken back: a
small file in the player's data folder.
"""

import json
from pathlib import Path
from typing import Any

from loopdeck.atomic import whole_file

MOST = 50


def default_draws() -> Path:
    """Where they are."""
    from platformdirs import user_data_path

    return user_data_path("loopdeck", appauthor=False) / "draws.json"


def read_draws(path: Path) -> list[dict[str, Any]]:
    """The draws, the newest last, as ``Draw.to_dict`` wrote them.

    A file of any other kind counts as empty.
    """
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    if not isinstance(found, list):
        return []
    return [one for one in found if isinstance(one, dict) and isinstance(one.get("brief"), dict)][-MOST:]


def write_draws(path: Path, draws: list[dict[str, Any]]) -> None:
    """Remember the newest draws. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as file:
        file.write(json.dumps(draws[-MOST:]).encode())
