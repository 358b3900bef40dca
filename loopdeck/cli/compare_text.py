"""What a comparison is in a few sentences: what is there, what went wrong (the most of it first),
and what to work on.
"""

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from loopdeck.analysis.comparison.comparing import Comparison, Row
    from loopdeck.shelf.material import Material

#: A constant part of the timing that a player would hear, in ms, and a spread that is loose (a
#: published threshold for one tone is 6 ms or 2.5 % of the interval: Friberg & Sundberg, JASA 98,
#: 1995; a whole take is judged more kindly, our own choice).
_HEARD_MS, _LOOSE_MS = 12.0, 25.0
#: More than so many sentences nobody takes in.
_MOST_SAID = 5
#: Per cent by which two tempi may differ and be called one.
_SAME_TEMPO = 1.0
#: How many early or late notes are a habit, and how much of them one kind of place.
_HABIT, _MOST = 4, 0.75
_KINDS = {"": "on the beats", "and": "on the off-beats", "e": "on second sixteenths", "a": "on last sixteenths"}


def says(made: "Comparison", take: "Material", target: "Material") -> list[str]:
    """The comparison in at most five sentences, the worst of what went wrong among them."""
    if not made.targets:
        return ["The target has no notes."]
    if not made.notes:
        return ["There are no notes to compare."]
    right = made.targets - len(made.missed)
    first = _there(right, made.targets)
    if made.transposed:
        return [first, *_at_another_height(made, take, target)]
    faults = sorted(_notes_off(made, take, target) + _times_off(made, target), key=lambda one: -one[0])
    start = [first, *_by_order(made)]
    return [*start, *(sentence for _, sentence in faults[: _MOST_SAID - 1 - len(start)]), _work_on(made, target)]


def _there(right: int, every: int) -> str:
    if every == 1:
        return f"The one note is {'' if right else 'not '}there."
    if right in (0, every):
        return f"All {every} notes are there." if right else f"None of the {every} notes is there."
    return f"{right} of {every} notes {'is' if right == 1 else 'are'} there."


def _at_another_height(made: "Comparison", take: "Material", target: "Material") -> list[str]:
    """How far it lies from the target, what is there all the same, and what is not."""
    from loopdeck.analysis.comparison.transposed import height_words

    moved = dict(made.moved)
    right = "all its notes are" if len(moved) == made.targets else f"{len(moved)} of its notes are"
    told = [f"It was played {height_words(made.transposed)} than the target; at that height {right} there."]
    missed = [other for other in made.missed if other not in set(moved.values())]
    added = [one for one in made.added if one not in moved]
    if missed:
        told.append(
            f"{count(len(missed), 'other note')} {'is' if len(missed) == 1 else 'are'} not, {_where(target, missed)}."
        )
    if added:
        told.append(f"{count(len(added), 'note')} too many, {_where(take, added)}.")
    return [*told, f"Play it {height_words(-made.transposed)}."]


def _by_order(made: "Comparison") -> list[str]:
    if made.by != "order":
        return []
    percent = 100.0 / made.ratio
    same = abs(percent - 100.0) < _SAME_TEMPO
    why = "the two do not begin together" if same else f"the take runs at {percent:.0f} % of the target's tempo"
    return [f"Compared by order: {why}."]


def _notes_off(made: "Comparison", take: "Material", target: "Material") -> list[tuple[int, str]]:
    """How many notes are wrong, missed and added, with a sentence each."""
    wrong = {one: other for one, other, _ in made.wrong}
    missed = [other for other in made.missed if other not in set(wrong.values())]
    added = [one for one in made.added if one not in wrong]
    told = []
    if wrong:
        names = {other: both_names(take, one, target, other) for one, other in wrong.items()}
        ((mine, theirs), times), *others = Counter(names.values()).most_common()
        at = next(other for other, both in names.items() if both == (mine, theirs))
        again = {1: "", 2: ", twice"}.get(times, f", {times} times")
        more = sum(count for _, count in others)
        rest = f"; {more} more wrong note{'' if more == 1 else 's'}" if more else ""
        where = f"Bar {int(target.bars[at])}, beat {target.count_of(at)}"
        told.append((len(wrong), f"{where}: {mine} where {theirs} belongs{again}{rest}."))
    if missed:
        told.append((len(missed), f"{count(len(missed), 'note')} missed, {_where(target, missed)}."))
    if added:
        told.append((len(added), f"{count(len(added), 'note')} too many, {_where(take, added)}."))
    return told


def _times_off(made: "Comparison", target: "Material") -> list[tuple[int, str]]:
    """What the timing of the notes that are there was, each with how many notes it concerns."""
    offsets = made.offsets_ms
    told = []
    # Those too far off to be matched count as well.
    every = np.array(list({one: offset for one, _, offset in (*made.matched, *made.early, *made.late)}.values()))
    median = float(np.median(every)) if len(every) else 0.0
    same = float((every * median > 0).mean()) if len(every) else 0.0
    throughout = made.by == "time" and abs(median) >= _HEARD_MS and same >= _MOST
    if throughout:
        how = "late" if median > 0 else "early"
        told.append((len(every), f"You are {abs(median):.0f} ms {how} throughout."))
    for rows, how in ((made.late, "late"), (made.early, "early")):
        if len(rows) >= _HABIT and not (throughout and (median > 0) == (how == "late")):
            ms = abs(float(np.median([offset for _, _, offset in rows])))
            told.append((len(rows), f"{len(rows)} notes come {how}, by {ms:.0f} ms or so, {_kind(target, rows)}."))
    if len(offsets):
        lower, upper = np.percentile(offsets, [25, 75])
        if (spread := float(upper - lower) / 2) > _LOOSE_MS:
            told.append((0, f"The timing is loose: half of the notes lie more than {spread:.0f} ms from the middle."))
    return told


def _kind(target: "Material", rows: "list[Row]") -> str:
    """Where most early or late notes are: on one kind of place, or in one bar."""
    kinds = Counter(target.count_of(other).partition(" ")[2] for _, other, _ in rows)
    kind, most = kinds.most_common(1)[0]
    if kind in _KINDS and most >= _MOST * len(rows):
        return ("all " if most == len(rows) else "most ") + _KINDS[kind]
    return _where(target, [other for _, other, _ in rows])


def _where(material: "Material", indices: list[int]) -> str:
    """In which bar they are, or most of them."""
    (bar, most), *rest = Counter(material.bars[indices].tolist()).most_common()
    if not rest:
        return {1: f"in bar {bar}", 2: f"both in bar {bar}"}.get(len(indices), f"all in bar {bar}")
    if most == rest[0][1]:
        return f"the first in bar {min(material.bars[indices].tolist())}"
    return f"{'most' if 2 * most > len(indices) else 'the most'} in bar {bar}"


def _work_on(made: "Comparison", target: "Material") -> str:
    """The bar of the target with the most that went wrong in it."""
    places = list(made.missed) + [other for _, other, _ in made.early + made.late]
    if not places:
        return "Nothing is left to work on at this tempo." if not made.added else "Leave out what is not in it."
    bar, number = Counter(target.bars[places].tolist()).most_common(1)[0]
    return f"Work on bar {bar}: {count(number, 'note')} there {'is' if number == 1 else 'are'} not as written."


def count(number: int, what: str) -> str:
    """``1 note``, ``3 notes``."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def name(material: "Material", index: int) -> str:
    """A note's name without its octave."""
    return _full_name(material, index).rstrip("-0123456789")


def both_names(take: "Material", one: int, target: "Material", other: int) -> tuple[str, str]:
    """What was played and what belongs there; with octaves where the names alone would be the
    same.
    """
    names = name(take, one), name(target, other)
    return names if names[0] != names[1] else (_full_name(take, one), _full_name(target, other))


def _full_name(material: "Material", index: int) -> str:
    """A note's name with its octave."""
    from loopdeck.theory.pitch import pitch_name

    pitch = int(material.notes.array["pitch"][index])
    scale = material.brief.scale
    return scale.spell(pitch) if scale is not None else pitch_name(pitch)
