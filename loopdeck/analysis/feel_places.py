"""Places of a cycle as a teacher calls them: "beat 4", "the and of 2", "the backbeat, 2 and 4".

Conventions
    A *family* is a group of places that players name together: the backbeat, the off-beats, the
    second sixteenths ("e") and the last ones ("a"), the downbeats, the beats. Trade terms, common
    practice.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from loopdeck.analysis.feel import SlotFeel
from loopdeck.rhythm.meter import Cycle

_WHICH = {"and": "the and of", "e": "the e of", "a": "the a of"}
_THIRDS = {"triplet 2": "the second triplet of", "triplet 3": "the last triplet of"}


class Family(NamedTuple):
    """What a group of places is called, and those of them that were played."""

    name: str
    members: tuple[SlotFeel, ...]


def _parts(counted: str) -> tuple[str, str]:
    """The count and what follows it: ``2 and`` is ``2`` and ``and``."""
    count, _, rest = counted.partition(" ")
    return count, rest


def named(counted: str) -> str:
    """A place inside its bar, ``2 and``, by its name: ``beat 3``, ``the and of 2``, ``the last
    triplet of 4``.
    """
    count, rest = _parts(counted)
    if not rest:
        return f"beat {count}"
    which = _WHICH.get(rest) or _THIRDS.get(rest)
    return f"{which} {count}" if which else f"beat {counted}"


def families(slots: Sequence[SlotFeel], cycle: Cycle) -> list[Family]:
    """The families of at least two played places, those of the fewest first."""
    on = [one for one in slots if not _parts(one.counted)[1]]
    found = [
        Family(_backbeat(cycle), tuple(backbeats(slots, cycle)[1])),
        Family("the downbeats", tuple(one for one in on if one.counted == "1")),
        Family("the beats", tuple(on)),
    ]
    for rest, name in (
        ("and", "the off-beats"),
        ("e", "the second sixteenth of every beat"),
        ("a", "the last sixteenth of every beat"),
        ("triplet 2", "the second triplet of every beat"),
        ("triplet 3", "the last triplet of every beat"),
    ):
        found.append(Family(name, tuple(one for one in slots if _parts(one.counted)[1] == rest)))
    return [one for one in found if len(one.members) >= 2]


def backbeats(slots: Sequence[SlotFeel], cycle: Cycle) -> tuple[list[SlotFeel], list[SlotFeel]]:
    """The beats 1 and 3 of all bars of four, and the beats 2 and 4."""
    four = [one for one in slots if str(cycle.meters[one.bar_in_cycle]) == "4/4"]
    return [one for one in four if one.counted in ("1", "3")], [one for one in four if one.counted in ("2", "4")]


def _backbeat(cycle: Cycle) -> str:
    return "the backbeat, 2 and 4" if len(cycle.meters) == 1 else "the backbeats"


def as_list(words: Iterable[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def by_bar(places: Sequence[SlotFeel]) -> list[tuple[int, str]]:
    """Some places in the order of the cycle, bar by bar (counted from 1): ``beats 1 and 3``, ``beat
    1 and the e of 2``.
    """
    bars = sorted({one.bar_in_cycle for one in places})
    return [(bar + 1, _in_one_bar([one for one in places if one.bar_in_cycle == bar])) for bar in bars]


def _in_one_bar(places: Sequence[SlotFeel]) -> str:
    on = [one.counted for one in places if not _parts(one.counted)[1]]
    off = [named(one.counted) for one in places if _parts(one.counted)[1]]
    beats = [f"beat{'' if len(on) == 1 else 's'} {as_list(on)}"] if on else []
    return as_list(beats + off)
