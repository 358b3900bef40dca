"""A take from the columns of its row, believing nothing: a shelf may be damaged, or made by
somebody who wishes us ill.

Conventions
    Whatever is not a take raises ``DamagedTake``, so that one bad take stays one bad take. Sizes
    are bounded before anything is unpacked, numbers before anything counts up to them. What only
    decorates a take (how loud it was, a letter no terminal should be sent) is corrected instead.
"""

import json
import math
from collections.abc import Callable
from typing import Any, NamedTuple

from loopdeck.brief.brief import brief_from_dict
from loopdeck.looper.recording import RECORDED, Recording
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


def _text(value: Any) -> str:
    if not isinstance(value, str) or len(value) > MAX_TEXT:
        raise TypeError("no text")
    return value


def _whole(value: Any, most: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most:
        raise TypeError("no number that can be")
    return value


def _seconds(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= MAX_SEC:
        raise TypeError("no time that can be")
    return float(value)


class Column(NamedTuple):
    """A column of the table of takes: how it is made of a recording, and the fields of a recording
    that are read from it.
    """

    fields: tuple[str, ...]
    dump: Callable[[Recording], Any]
    load: Callable[[Any], dict[str, Any]]


def _one(field: str, dump: Callable[[Any], Any], load: Callable[[Any], Any]) -> Column:
    return Column((field,), lambda recording: dump(getattr(recording, field)), lambda value: {field: load(value)})


def _key(text: str) -> tuple[int, bool] | None:
    key = json.loads(text)
    return None if key is None else (int(key[0]), bool(key[1]))


#: The columns that hold recordings, by name. A field of a recording that none of them holds lies in
#: ``more``, as JSON.
COLUMNS: dict[str, Column] = {
    "brief": _one(
        "brief", lambda brief: json.dumps(brief.to_dict()), lambda text: brief_from_dict(json.loads(_text(text)))
    ),
    "events": _one("events", codec.pack_events, codec.unpack_events),
    "layers": Column(
        ("layers", "muted"),
        lambda recording: codec.pack_layers(recording.layers, recording.muted),
        lambda blob: dict(zip(("layers", "muted"), codec.unpack_layers(blob), strict=True)),
    ),
    "tempo_map": _one("tempo_map", json.dumps, lambda text: codec.load_tempo(_text(text))),
    "passes": _one("passes", int, lambda value: _whole(value, MAX_PASSES)),
    "end_sec": _one("end_sec", float, _seconds),
    "late": _one("late", codec.dump_late, lambda text: codec.load_late(_text(text))),
    "meters": _one("meters", codec.dump_meters, lambda text: codec.load_meters(_text(text))),
    "signature": _one("key", json.dumps, lambda text: _key(_text(text))),
    "mix": _one("mix", codec.dump_mix, lambda text: codec.load_mix(_text(text))),
    "run_pass": _one("run_pass", int, lambda value: _whole(value, MAX_NUMBER)),
    "first_bar": _one("first_bar", int, lambda value: _whole(value, MAX_NUMBER)),
}
#: The fields of a recording without a column of their own.
MORE = tuple(name for name in RECORDED if not any(name in column.fields for column in COLUMNS.values()))
#: The columns a take is read from.
READ = ("number", "name", "kept_at", "origin", "rating", "note", *COLUMNS, "more")


def row_of_take(take: Take, source: str) -> dict[str, Any]:
    """The columns of a take that is to be put on the shelf; its number is not among them."""
    return {
        "name": take.name,
        "kept_at": take.kept_at,
        "origin": take.origin,
        "rating": take.rating,
        "note": take.note,
        "scale": str(take.brief.scale or ""),
        "cycle": str(take.brief.cycle),
        # An imported file may have a tempo that no brief can.
        "qpm": take.recording.tempo_map[0].qpm
        if take.recording.meters and take.recording.tempo_map
        else take.brief.tempo.quarters_per_minute,
        "source": source,
        "more": more_of(take),
        **{name: column.dump(take.recording) for name, column in COLUMNS.items()},
    }


def more_of(take: Take) -> str:
    """The fields without a column of their own, as JSON."""
    return json.dumps({name: getattr(take.recording, name) for name in MORE})


def take_of_row(row: dict[str, Any], tags: tuple[str, ...]) -> Take:
    """A take from the columns of its row (``READ``). Raises DamagedTake."""
    try:
        if row["origin"] not in (PLAYED, IMPORTED, RECOVERED):
            raise ValueError("no such origin")
        fields: dict[str, Any] = _more(row["more"])
        for name, column in COLUMNS.items():
            fields.update(column.load(row[name]))
        return Take(
            recording=Recording(**fields),
            name=clean(_text(row["name"]))[:MAX_NAME],
            kept_at=_text(row["kept_at"]),
            origin=row["origin"],
            rating=_whole(row["rating"], MAX_RATING),
            # A tag whose bytes were damaged may not be text any more.
            tags=tuple(word for word in tags if isinstance(word, str)),
            note=_text(row["note"]),
            number=_whole(row["number"], MAX_NUMBER),
        )
    except WRONG as error:
        raise DamagedTake(f"Take {str(row.get('number'))[:20]} on the shelf is damaged.") from error


def _more(text: Any) -> dict[str, Any]:
    """The fields that lie in ``more``: plain values only."""
    found = json.loads(_text(text))
    values = {name: found[name] for name in MORE if name in found}
    if not all(value is None or isinstance(value, bool | int | float | str) for value in values.values()):
        raise ValueError("no plain value")
    if type(values.get("first_pass")) not in (int, type(None)):
        raise TypeError("no pass")
    _text(values.get("views", ""))
    return values


def listed(row: dict[str, Any]) -> dict[str, Any]:
    """A row of a list, as it may be sorted and printed. Raises DamagedTake."""
    try:
        for name in ("name", "kept_at", "origin", "scale", "cycle", "note"):
            _text(row[name])
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
