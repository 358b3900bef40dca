"""Drawing again: never the same twice in a row, held to what the shelf says of the player's taste.
The command and the window both draw through here.
"""

import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.errors import UserError
from loopdeck.practice.draw import LIKE_KEPT, LIKED, Draw, Limit, draw, same_music
from loopdeck.practice.moods import MOODS
from loopdeck.shelf.store import Shelf

#: Draws that are tried for one that differs from the last.
TRIES = 100


def draw_anew(
    mood: str | None,
    base: Brief | None,
    held: frozenset[str],
    limit: Limit | None,
    last: Mapping[str, Any] | None,
    seed: int | None = None,
) -> Draw:
    """One draw. Without a mood, one is drawn; without a seed, it is not ``last`` again (a draw as
    ``Draw.to_dict`` writes it): the music differs, or with all of it held the first step.

    Raises UserError.
    """
    before = brief_from_dict(last["brief"]) if last is not None else None
    found: Draw | None = None
    for _ in range(TRIES):
        number = seed if seed is not None else secrets.randbelow(1_000_000)
        found = draw(mood or list(MOODS)[number % len(MOODS)], number, base, held, limit)
        again = last is not None and before is not None and same_music(found.brief, before)
        if seed is not None or not again or (last is not None and found.first_step != last["first_step"]):
            break
    assert found is not None
    return found


def limit_of(kind: str, path: Path) -> Limit:
    """What the shelf at ``path`` has to say (LIKE_KEPT or UNTRIED). Raises UserError."""
    rows: list[Any] = []
    if path.exists():
        with Shelf(path) as shelf:
            rows = shelf.find(min_rating=LIKED if kind == LIKE_KEPT else 0)
    if kind == LIKE_KEPT and not rows:
        raise UserError(
            f"No take on the shelf is rated {LIKED} or more; loopdeck takes rate TAKE 4 says that you like one."
        )
    return Limit(kind, rows)
