"""What a comparison is in a few sentences: what is there, what went wrong (the most of it first),
and what to work on.
"""

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from loopdeck.analysis.feel_places import as_list
from loopdeck.cli.compare_breaks import bars_of_breaks, breaks_said

if TYPE_CHECKING:
    from loopdeck.analysis.comparison.comparing import Comparison, Row
    from loopdeck.shelf.material import Material

#: A constant part of the timing that a player would hear, in ms (a published threshold for one tone
#: is 6 ms or 2.5 % of the interval: Friberg & Sundberg, JASA 98, 1995; a whole take is judged more
#: kindly, our own choice).
_HEARD_MS = 12.0
#: A take has little in common with its target if fewer than this share of so many notes are there.
_LITTLE, _ENOUGH = 0.5, 8
#: More than so many sentences nobody takes in.
_MOST_SAID = 5
#: Per cent by which two tempi may differ and be called one.
_SAME_TEMPO = 1.0
#: A take that lies elsewhere does so with most of its notes; these are no farther apart.
_TOGETHER_SEC = 0.15
#: How many early or late notes are a habit, and how much of them one kind of place.
_HABIT, _MOST = 4, 0.75
#: What share of the notes has to be nearly as late as the middle one to be late throughout.
_ALIKE = 0.5
#: A tempo that is a little off carries the last note so far, and so many times as far as the notes
#: lie from the line.
_CARRIED_MS, _CARRIED = 50.0, 7.0
#: Notes are early or late from here on; so late a note is as good as missing; where so many are
#: late for each that is early, or the other way round, it is one thing; and what share of the notes
#: makes a timing loose.
_OFF_MS, _MISSING_MS, _BOTH, _LOOSE = 25.0, 100.0, 0.4, 0.25
#: Losing one's place is as bad as so many notes.
_LOST = 3
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
    fewer = min(made.notes, made.targets)
    if fewer >= _ENOUGH and right < _LITTLE * fewer and len(made.matched) < _LITTLE * fewer / 2:
        return [first, "The take has little in common with this target: is it the right one?"]
    faults = sorted(_notes_off(made, take, target) + _times_off(made, target), key=lambda one: -one[0])
    start = [first, *_by_order(made, take, target), *_rounds(made)]
    return [*start, *(sentence for _, sentence in faults[: _MOST_SAID - 1 - len(start)]), _work_on(made, target)]


def _there(right: int, every: int) -> str:
    if every == 1:
        return f"The one note is {'' if right else 'not '}there."
    if every == right == 2:
        return "Both notes are there."
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


def _by_order(made: "Comparison", take: "Material", target: "Material") -> list[str]:
    lost = breaks_said(made, take, target)
    if made.by != "order":
        return [f"{lost[:1].upper()}{lost[1:]}."] if lost else []
    if lost:
        return [f"Compared by order: {lost}."]
    percent = 100.0 / made.ratio
    same = abs(percent - 100.0) < _SAME_TEMPO
    why = _elsewhere(made, take, target) if same else f"the take runs at {percent:.0f} % of the target's tempo"
    return [f"Compared by order: {why}."]


def _elsewhere(made: "Comparison", take: "Material", target: "Material") -> str:
    """How far a take of the same tempo lies from the target."""
    pairs = np.array([row[:2] for row in made.matched], np.int64).reshape(-1, 2)
    apart = take.notes.array["onset_sec"][pairs[:, 0]] - target.notes.array["onset_sec"][pairs[:, 1]]
    if not len(apart) or np.ptp(np.percentile(apart, [10, 90])) > _TOGETHER_SEC:
        return "the two do not stay together"
    behind = float(np.median(apart))
    size = f"{abs(behind):.1f} s" if abs(behind) >= 1.0 else f"{1000 * abs(behind):.0f} ms"
    return f"the take lies {size} {'behind' if behind > 0 else 'ahead of'} the target"


def _rounds(made: "Comparison") -> list[str]:
    if made.rounds == 1:
        return []
    times = {2: "twice"}.get(made.rounds, f"{made.rounds} times")
    return [f"You played it {times}; one of them is compared, the others count as added."]


def _notes_off(made: "Comparison", take: "Material", target: "Material") -> list[tuple[float, str]]:
    """How many notes are wrong, missed and added, with a sentence each."""
    wrong = {one: other for one, other, _ in made.wrong}
    missed = [other for other in made.missed if other not in set(wrong.values())]
    added = [] if made.rounds > 1 else [one for one in made.added if one not in wrong]
    told: list[tuple[float, str]] = []
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
    # A round that was begun or that has a few notes too many is a round all the same.
    apart = len(made.added) - (made.rounds - 1) * made.targets
    if made.rounds > 1 and apart >= made.targets:
        told.append((apart, f"About {apart} notes belong to no round of it."))
    return told


def _times_off(made: "Comparison", target: "Material") -> list[tuple[float, str]]:
    """What the timing of the notes that are there was, each with how many notes it is as bad as:
    one that is so late that it is hardly the same is as bad as one that is missing.
    """
    if carried := _carried_ms(made, target):
        how = "fall behind" if carried > 0 else "run ahead"
        sentence = f"You {how}, by {abs(carried):.0f} ms from the first note to the last."
        return [(_as_bad(list(_every(made).values())), sentence)]
    told: list[tuple[float, str]] = []
    late_ms = throughout(made, target)
    if late_ms:
        how = "late" if late_ms > 0 else "early"
        words = f"You are {abs(late_ms):.0f} ms {how}{' throughout' if made.targets > 1 else ''}."
        told.append((_as_bad([late_ms] * len(_every(made))), words))
    late, early = _apart(made.late, late_ms), _apart(made.early, late_ms)
    few, many = sorted((len(late), len(early)))
    if few >= _HABIT and few >= _BOTH * many:
        by = float(np.median([abs(offset) for _, _, offset in late + early]))
        words = f"{many + few} notes lie {by:.0f} ms or so off, {len(late)} late and {len(early)} early"
        loose = "The timing is loose: " if many + few >= _LOOSE * len(_every(made)) else ""
        return [*told, (_as_bad([by] * (many + few)), f"{loose}{words}.")]
    for rows, how in ((late, "late"), (early, "early")):
        if len(rows) >= _HABIT:
            ms = abs(float(np.median([offset for _, _, offset in rows])))
            told.append(
                (
                    _as_bad([ms] * len(rows)),
                    f"{len(rows)} notes come {how}, by {ms:.0f} ms or so, {_kind(target, rows)}.",
                )
            )
    return told


def _every(made: "Comparison") -> dict[int, float]:
    """How far each note that is there lies from its place, in ms; those too far off to be matched
    count as well.
    """
    return {one: offset for one, _, offset in (*made.matched, *made.early, *made.late)}


def throughout(made: "Comparison", target: "Material") -> float:
    """By how many ms nearly all the notes are late (or early: below 0); 0 where they are not."""
    every = np.array(list(_every(made).values()))
    if made.by != "time" or len(every) < min(_HABIT, made.targets) or _carried_ms(made, target):
        return 0.0
    median = float(np.median(every))
    alike = (every * median > 0).mean() >= _MOST and (np.abs(every - median) <= _OFF_MS).mean() >= _ALIKE
    return median if abs(median) >= _HEARD_MS and alike else 0.0


def _carried_ms(made: "Comparison", target: "Material") -> float:
    """How much later the last note is than the first because the tempo is another one (earlier:
    below 0); 0 where that does not account for the timing.
    """
    rows = {one: (other, offset) for one, other, offset in (*made.matched, *made.early, *made.late)}
    others = np.array([other for other, _ in rows.values()], np.int64)
    sec, off = target.notes.array["onset_sec"][others], np.array([offset for _, offset in rows.values()])
    if made.by != "time" or len(rows) < _ENOUGH or np.ptp(sec) <= 0:
        return 0.0
    slope, start = np.polyfit(sec, off, 1)
    carried, left = float(slope * np.ptp(sec)), float(np.std(off - slope * sec - start))
    return carried if abs(carried) >= max(_CARRIED_MS, _CARRIED * left) else 0.0


def _apart(rows: "list[Row]", late_ms: float) -> "list[Row]":
    """Those early or late notes that are so even after what all are late by is taken off."""
    if not late_ms:
        return rows
    return [row for row in rows if abs(row[2] - late_ms) > _OFF_MS and (row[2] > late_ms) == (row[2] > 0)]


def _as_bad(offsets_ms: list[float]) -> float:
    return sum(min(abs(one) / _MISSING_MS, 1.0) for one in offsets_ms)


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
    late_ms = throughout(made, target)
    wrong = {other for _, other, _ in made.wrong}
    kinds = {
        "wrong": [other for other in made.missed if other in wrong],
        "missed": [other for other in made.missed if other not in wrong],
        "early": [other for _, other, _ in _apart(made.early, late_ms)],
        "late": [other for _, other, _ in _apart(made.late, late_ms)],
    }
    bars = Counter(bar for places in kinds.values() for bar in target.bars[places].tolist())
    lost = bars_of_breaks(made, target)
    bars.update(lost * _LOST)
    if not bars and late_ms:
        how = "earlier, or have the latency taken off" if late_ms > 0 else "later"
        return f"Play it {'all ' if made.targets > 1 else ''}{abs(late_ms):.0f} ms {how}."
    if not bars and _carried_ms(made, target):
        return "Keep to the tempo."
    if not bars:
        more = made.added and made.rounds == 1
        return "Leave out what is not in it." if more else "Nothing is left to work on at this tempo."
    bar = bars.most_common(1)[0][0]
    here = [(int((target.bars[places] == bar).sum()), kind) for kind, places in kinds.items()]
    told = [
        f"{count(number, 'note') if place == 0 else number} {kind}"
        for place, (number, kind) in enumerate(one for one in here if one[0])
    ]
    place = "keep your place there" if bar in lost else ""
    return f"Work on bar {bar}: {', and '.join(one for one in (as_list(told) if told else '', place) if one)}."


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
