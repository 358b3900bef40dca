"""The draws of before, so that no draw comes twice in a row and every one can be taken back: a
small file in the player's data folder.
"""

import json
from pathlib import Path
from typing import Any

from loopdeck.atomic import whole_file
from loopdeck.brief.brief import brief_from_dict
from loopdeck.errors import UserError
from loopdeck.practice.draw import DRAWN

MOST = 50


def default_draws() -> Path:
    """Where they are."""
    from platformdirs import user_data_path

    return user_data_path("loopdeck", appauthor=False) / "draws.json"


def read_draws(path: Path) -> list[dict[str, Any]]:
    """The draws, the newest last, as ``Draw.to_dict`` wrote them.

    A file of any other kind counts as empty; a draw that is damaged is left out.
    """
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return []
    return [one for one in found if _is_draw(one)][-MOST:] if isinstance(found, list) else []


def _is_draw(one: Any) -> bool:
    """True for what every reader of a draw can use."""
    try:
        brief_from_dict(one["brief"])
        words = (one["mood"], one["first_step"], *(one["why"][name] for name in (*DRAWN, "first_step")))
        named = type(one["seed"]) is int and all(isinstance(word, str) for word in words)
        return named and set(DRAWN) <= set(one["brief"])
    except (UserError, ValueError, TypeError, LookupError, AttributeError):
        return False


def write_draws(path: Path, draws: list[dict[str, Any]]) -> None:
    """Remember the newest draws. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(path) as file:
        file.write(json.dumps(draws[-MOST:]).encode())
