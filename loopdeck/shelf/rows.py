"""A take from the columns of its row, believing nothing: a shelf may be damaged, or made by somebody who wishes us ill.

Conventions
    Whatever is no take raises ``DamagedTake``, so that one bad take stays one bad take. Sizes are bounded before anything is unpacked, numbers
    before anything counts up to them. What only decorates a take (how loud it was, a letter no terminal should be sent) is mended instead.
"""

import json
import math
from typing import Any

from loopdeck.brief.brief import brief_from_dict
from loopdeck.shelf import codec
from loopdeck.shelf.errors import DamagedTake
from loopdeck.shelf.take import IMPORTED, MAX_NAME, MAX_RATING, PLAYED, RECOVERED, Take, clean

#: More passes, or seconds, than anybody plays in one go: six weeks.
MAX_PASSES = 10_000_000
MAX_SEC = 4e6
#: Letters of a column of text; a note has 100,000 at most, the meters of a long file somewhat more.
MAX_TEXT = 16_000_000
MAX_NUMBER = 2**62

#: What can go wrong while untrusted values are read.
WRONG = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError)


def take_of_row(row: dict[str, Any], tags: tuple[str, ...]) -> Take:
    """A take from the columns of its row. Raises DamagedTake."""
    try:
        for name in ("name", "kept_at", "note", "brief", "tempo_map", "meters", "late", "signature", "mix"):
            _checked_text(row[name])
        layers, muted = codec.unpack_layers(row["layers"])
        key = json.loads(row["signature"])
        if row["origin"] not in (PLAYED, IMPORTED, RECOVERED):
            raise ValueError("no such origin")
        return Take(
            name=clean(row["name"])[:MAX_NAME],
            kept_at=row["kept_at"],
            brief=brief_from_dict(json.loads(row["brief"])),
            events=codec.unpack_events(row["events"]),
            layers=layers,
            muted=muted,
            tempo_map=codec.load_tempo(row["tempo_map"]),
            passes=_whole(row["passes"], MAX_PASSES),
            end_sec=_seconds(row["end_sec"]),
            origin=row["origin"],
            rating=_whole(row["rating"], MAX_RATING),
            tags=tags,
            note=row["note"],
            meters=codec.load_meters(row["meters"]),
            key=None if key is None else (int(key[0]), bool(key[1])),
            late=codec.load_late(row["late"]),
            mix=codec.load_mix(row["mix"]),
            run_pass=_whole(row["run_pass"], MAX_NUMBER),
            first_bar=_whole(row["first_bar"], MAX_NUMBER),
            number=_whole(row["number"], MAX_NUMBER),
        )
    except WRONG as error:
        raise DamagedTake(f"Take {str(row.get('number'))[:20]} on the shelf is damaged.") from error


def listed(row: dict[str, Any]) -> dict[str, Any]:
    """A row of a list, as it may be sorted and printed. Raises DamagedTake."""
    try:
        for name in ("name", "kept_at", "origin", "scale", "cycle", "note"):
            _checked_text(row[name])
        _whole(row["passes"], MAX_PASSES)
        _whole(row["rating"], MAX_RATING)
        _whole(row["number"], MAX_NUMBER)
        _seconds(row["end_sec"])
        qpm = row["qpm"]
        if isinstance(qpm, bool) or not isinstance(qpm, int | float) or not math.isfinite(qpm):
            raise TypeError("no tempo")
        return {**row, "name": clean(row["name"])}
    except WRONG as error:
        raise DamagedTake(f"Take {str(row.get('number'))[:20]} on the shelf is damaged.") from error


def _checked_text(value: Any) -> None:
    if not isinstance(value, str) or len(value) > MAX_TEXT:
        raise TypeError("no text")


def _whole(value: Any, most: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most:
        raise TypeError("no number that can be")
    return value


def _seconds(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= MAX_SEC:
        raise TypeError("no time that can be")
    return float(value)
