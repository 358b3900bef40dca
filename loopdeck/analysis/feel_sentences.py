"""What a good teacher would say of a feel: only what can be heard and is not an accident, the worst
first.

Thresholds
    A displaced tone is just noticed at 6 ms where tones follow each other faster than every 240 ms,
    and at 2.5 % of the interval above that: Friberg & Sundberg, "Time discrimination in a
    monotonic, isochronous sequence", JASA 98, 1995. A place is spoken of when its median lies
    beyond that and beyond its error, at 5 % for all places together (Bonferroni's correction).
    People tap before the click: Repp, "Sensorimotor synchronization: a review of the tapping
    literature", Psychonomic Bulletin & Review 12(6), 2005; so a constant early part is called
    human.
"""

from collections.abc import Sequence
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from loopdeck.analysis.feel import FeelFound, SlotFeel
from loopdeck.analysis.feel_accents import accents
from loopdeck.analysis.feel_places import Family, as_list, backbeats, by_bar, families
from loopdeck.analysis.swing_estimate import NOTICED_MS, Swung, Turns, noticed_ms, quantile
from loopdeck.analysis.swing_places import UNITS, Unit

_SIGMAS = 2.5
_FALSE_ALARMS = 0.05
#: So many second notes of pairs tell where one of them belongs.
_SECONDS = 3
#: More than so many sentences nobody takes in; and so many places of one sentence.
MOST_SAID, _MOST_PLACES = 5, 3
#: From so many strokes on, playing whose phases agree less than this has no click.
_FREE_FROM, _FREE = 16, 0.3
#: Beyond so many times what is just noticed a drift makes every constant part one of its own.
_FAR_DRIFT = 8.0
#: With so many points of the pair of doubt, straight is not a finding.
_VAGUE = 5.0
#: So many points of the pair from straight are nearly straight.
_NEARLY = 5.0
#: Notes further apart than this are to be as steady as these; and up to this share of what counts
#: as loose is steady.
_STEADY_SEC, _STEADY = 0.6, 0.75
#: Fewer notes that came back tell nothing of steadiness.
_CAME_BACK = 8
#: A drift that adds up to less is not heard, as it comes bit by bit; and in a take of less than so
#: many minutes it is not counted by the minute. Our own figures.
_DRIFTED_MS, _MINUTES = 12.0, 0.5
#: How a sentence begins that is said of off-beats alone.
_ONLY_OFF = "Only off-beats"
#: How much of a family has to agree for it to be spoken of as one.
_AGREE = 0.75
#: Triplets that are fewer than this share of the strokes are not spoken of; from the other on they
#: are all there is.
_FEW, _MOSTLY = 0.01, 0.5
#: Nobody swings harder than 3:1; beyond this share of the pair it is another rhythm.
_DOTTED = 0.775
_OFF = {"1/8": "off-eighths", "1/16": "off-sixteenths"}
_NAMES = {"1/8": "eighths", "1/16": "sixteenths"}


class _Remark(NamedTuple):
    """A sentence, and how many times as large as what is just noticed the thing is."""

    weight: float
    sentence: str


def says(found: FeelFound, apart: str = "") -> list[str]:
    """At most five full sentences: the swing, what is wrong (the worst first), and what else there
    is. Straight playing that should be straight comes after what is wrong. ``apart``: what is said
    of the swing where playing and layers are swung each in their own way (``swung_apart``).
    """
    if not found.slots:
        return [_triplets(found) or "There are no notes."]
    if len(found.fit.slot) < 2:
        what = "One note alone" if np.isfinite(found.offset_ms).sum() == 1 else "What is struck at once"
        return [f"{what} says nothing about timing."]
    if is_free(found):
        return ["Your notes do not keep to this click: were they played at another tempo, or without one?"]
    # Two swings measured as one put the places halfway between.
    faults = [*([] if apart else _places(found)), *_drift(found), *_constant(found), *_loose(found)]
    faults.sort(key=lambda one: -one.weight)
    swings = [apart] if apart else _swings(found)
    told = [one.sentence for one in faults[: MOST_SAID - len(swings)]]
    told = told + swings if _is_plain(found) and not apart else swings + told
    rest = [one for one in (_triplets(found), accents(found), _steady(found)) if one]
    told += rest or ([] if faults else ["Nothing else stands out that could be heard."])
    return told[:MOST_SAID]


def is_free(found: FeelFound) -> bool:
    """True for playing that has nothing to do with the click: nothing can be said against it."""
    return len(found.fit.slot) >= _FREE_FROM and found.fit.clicking < _FREE


# ---- the swing -----------------------------------------------------------------------------------


def _told(found: FeelFound) -> list[tuple[Unit, Swung]]:
    """The subdivisions to speak of: the one the brief swings, and the one that is swung, or else
    the one with more pairs.
    """
    asked, main = _asked_unit(found), found.fit.main
    units: list[Unit] = [] if asked is None else [asked]
    known = {unit: one for unit in units if (one := found.fit.found[unit]) is not None}
    one = None if main is None else found.fit.found[main]
    if main is not None and one is not None and (not known or one.is_uneven):
        known[main] = one
    return list(known.items())


def _asked_unit(found: FeelFound) -> Unit | None:
    """The subdivision that the brief swings."""
    swing = found.brief_swing
    return None if swing.straight else next((unit for unit, length in UNITS.items() if length == swing.unit), None)


def _ratio(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") + ":1"


def _is_plain(found: FeelFound) -> bool:
    """True of straight playing that should be straight."""
    return not any(one.is_uneven or _asked(found, unit, one) for unit, one in _told(found))


def _swings(found: FeelFound) -> list[str]:
    if (turns := found.fit.turns) is not None:
        return [_in_turn(turns)]
    told = [_swing(found, unit, one) for unit, one in _told(found)]
    return told or ["Too few pairs of eighths or sixteenths to tell a swing."]


def _in_turn(turns: Turns) -> str:
    """Some bars swung, the others straight."""
    swung, straight = (_some(bars) for bars in (turns.swung, turns.straight))
    bars = "1 bar" if len(turns.swung) == 1 else f"{len(turns.swung)} bars"
    return (
        f"Your {_NAMES[turns.unit]} swing at {_ratio(turns.share / (1 - turns.share))} in {bars}"
        f" ({swung}) and are straight in {len(turns.straight)} ({straight})."
    )


def _some(bars: Sequence[int]) -> str:
    return ", ".join(str(bar) for bar in bars[:_MOST_PLACES]) + (", ..." if len(bars) > _MOST_PLACES else "")


def _swing(found: FeelFound, unit: Unit, one: Swung) -> str:
    if one.is_uneven and one.share > _DOTTED:
        return f"Your {_OFF[unit]} sit at {100 * one.share:.0f} % of the pair: that is a dotted figure, not a swing."
    if one.is_swung and one.is_uneven:
        low, high = _ratio(max(one.low, 1.0)), _ratio(one.high)
        sentence = f"Your {_OFF[unit]} sit at {100 * one.share:.0f} % of the pair: {_ratio(one.ratio)}"
        sentence += f", between {low} and {high}" if low != high else ""
    elif one.is_uneven:
        sentence = f"Your {_OFF[unit]} come early, at {100 * one.share:.0f} % of the pair: short before long"
    elif one.by_places and abs(100 * one.share - 50) < _NEARLY:
        sentence = f"Your {_NAMES[unit]} are nearly straight ({100 * one.share:.0f} %)"
    elif one.by_places:
        how = "late" if one.share > 0.5 else "early"
        sentence = (
            f"Your {_OFF[unit]} sit at {100 * one.share:.0f} % of the pair on average: some come {how}, others do not"
        )
    else:
        points = 50 * (one.share_high - one.share_low)
        how = "may be straight or not" if points > _VAGUE and one.is_heard_from(0.5) else "are straight"
        sentence = f"Your {_NAMES[unit]} {how} ({100 * one.share:.1f} %, give or take {points:.1f})"
    return sentence + _asked(found, unit, one) + "."


def _asked(found: FeelFound, unit: Unit, one: Swung) -> str:
    """What the brief asked for, where the playing is clearly something else."""
    swung, asked = _asked_unit(found), float(found.brief_swing.ratio)
    if swung is None:
        return ""
    if swung != unit:
        return f"; the brief swings the {_NAMES[swung]}" if one.is_uneven else ""
    if one.low <= asked <= one.high or not one.is_heard_from(asked / (1 + asked)):
        return ", as the brief asks" if one.is_uneven and 50 * (one.share_high - one.share_low) < _VAGUE else ""
    return f"; the brief asks for {_ratio(asked)}" + (", so swing harder" if asked > one.ratio else ", so swing less")


def swung_apart(played: FeelFound, layers: FeelFound) -> str:
    """A sentence where the playing is swung and the layers are not, or otherwise; else empty."""
    if is_free(played) or is_free(layers):
        return ""
    for unit in UNITS:
        mine, theirs = played.fit.found[unit], layers.fit.found[unit]
        if mine is None or theirs is None or not (mine.is_uneven or theirs.is_uneven):
            continue
        if (mine.low > theirs.high or theirs.low > mine.high) and mine.is_heard_from(theirs.share):
            how = f"you play your {_NAMES[unit]} {_how(mine)}, the layers have them {_how(theirs)}"
            return f"{how[0].upper()}{how[1:]}; --played and --layers measure each."
    return ""


def _how(one: Swung) -> str:
    straight = one.low <= 1.0 <= one.high or not one.is_heard_from(0.5)
    return "straight" if straight else f"at {_ratio(one.ratio)}"


def swing_missed(found: FeelFound) -> str:
    """The swing, where it is clearly not the brief's; else empty."""
    return next((_swing(found, unit, one) for unit, one in _told(found) if _asked(found, unit, one)[:1] == ";"), "")


# ---- early and late places -----------------------------------------------------------------------


def slots_said(found: FeelFound) -> list[str]:
    """Places that can be heard to be early or late, the worst first; those of a swing that the
    brief does not have are the swing's, not theirs.
    """
    return [one.sentence for one in _places(found)]


def _places(found: FeelFound) -> list[_Remark]:
    own = [one for one in found.slots if not _by_swing(found, one)]
    sigmas = max(_SIGMAS, NormalDist().inv_cdf(1 - _FALSE_ALARMS / (2 * max(len(own), 1))))
    together = [] if not _told(found) and _only_off(found) else _as_families(found, own, sigmas)
    done = {one.slot for family, _ in together for one in family.members}
    said = [remark for _, remark in together] or _off_beats_alone(found, sigmas)
    if not done and said:
        return said
    alone = [one for one in own if one.slot not in done and _size(one, sigmas) > 1]
    for some in ([one for one in alone if one.median_ms < 0], [one for one in alone if one.median_ms > 0]):
        said += [_alone(some, found)] if some else []
    said += _beside_the_swing(found)
    return sorted(said, key=lambda one: -one.weight)


def _beside_the_swing(found: FeelFound) -> list[_Remark]:
    """Second notes of swung pairs that do not lie where the others do, early and late ones apart;
    one of two alone could be either.
    """
    told = []
    for unit in UNITS:
        seconds = [one for one in found.slots if _is_second(found, one, float(UNITS[unit])) and _by_swing(found, one)]
        if len(seconds) < _SECONDS or found.fit.turns is not None:
            continue
        sigmas = max(_SIGMAS, NormalDist().inv_cdf(1 - _FALSE_ALARMS / (2 * len(seconds))))
        usual = float(np.median([one.median_ms for one in seconds]))
        apart = [one._replace(median_ms=one.median_ms - usual) for one in seconds]
        far = [one for one in apart if _size(one, sigmas) > 1]
        if 2 * len(far) >= len(seconds):
            continue
        told += [
            _than_the_others(some, found, unit)
            for some in ([one for one in far if one.median_ms < 0], [one for one in far if one.median_ms > 0])
            if some
        ]
    return told


def _than_the_others(places: Sequence[SlotFeel], found: FeelFound, unit: Unit) -> _Remark:
    worst = max(places, key=_heard)
    how = "earlier" if worst.median_ms < 0 else "later"
    sentence = f"{_names(places, found)} {'comes' if len(places) == 1 else 'come'}"
    return _Remark(
        _heard(worst),
        f"{sentence[0].upper()}{sentence[1:]} {_sizes(places)} ms {how} than your other {_OFF[unit]}.",
    )


def _alone(places: Sequence[SlotFeel], found: FeelFound) -> _Remark:
    """Places that are all early, or all late: the worst by name, in the order of the cycle."""
    names, by, early = _names(places, found), _sizes(places), places[0].median_ms < 0
    return _Remark(
        max(_heard(one) for one in places),
        f"You rush into {names} by {by} ms." if early else f"You are {by} ms late on {names}.",
    )


def _worst(places: Sequence[SlotFeel]) -> list[SlotFeel]:
    return sorted(places, key=lambda one: -_heard(one))[:_MOST_PLACES]


def _names(places: Sequence[SlotFeel], found: FeelFound) -> str:
    """The worst of the places by name, in the order of the cycle, and how many more there are."""
    worst = _worst(places)
    told = by_bar(sorted(worst))
    if len(found.cycle.meters) == 1:
        names = told[0][1]
    else:
        names = as_list([f"{where} in bar {bar}" for bar, where in told])
    if more := len(places) - len(worst):
        names += f", and {more} more place{'' if more == 1 else 's'}"
    return names


def _sizes(places: Sequence[SlotFeel]) -> str:
    """How far the worst of them lie off, in ms: ``12``, ``9 to 14``."""
    sizes = sorted(abs(one.median_ms) for one in _worst(places))
    low, high = round(sizes[0]), round(sizes[-1])
    return f"{high}" if low == high else f"{low} to {high}"


def _heard(one: SlotFeel) -> float:
    """How many times what is just noticed."""
    return abs(one.median_ms) / noticed_ms(min(one.interval_sec, 1.0))


def _size(one: SlotFeel, sigmas: float) -> float:
    """Above 1: it can be heard, and is not an accident."""
    return min(_heard(one), abs(one.median_ms) / max(sigmas * one.error_ms, 1e-9))


def _moved(where: str, ms: float) -> str:
    return f"You rush into {where} by {-ms:.0f} ms." if ms < 0 else f"You are {ms:.0f} ms late on {where}."


def _as_families(found: FeelFound, own: Sequence[SlotFeel], sigmas: float) -> list[tuple[Family, _Remark]]:
    """Families whose places agree, as one remark each; no place in two of them."""
    told = _backbeats_apart(found, own, sigmas)
    done = {one.slot for family, _ in told for one in family.members}
    for family in families(own, found.cycle):
        early = float(np.median([one.median_ms for one in family.members]))
        whole = _pooled(family.members, early)
        agree = [one for one in family.members if one.median_ms * early > 0 and abs(one.median_ms) > abs(early) / 2]
        if done & {one.slot for one in family.members} or _size(whole, sigmas) <= 1:
            continue
        if len(agree) >= _AGREE * len(family.members) and len(family.members) < len(own):
            told.append((family, _Remark(_heard(whole), _moved(family.name, early))))
            done |= {one.slot for one in family.members}
    return told


def _backbeats_apart(found: FeelFound, own: Sequence[SlotFeel], sigmas: float) -> list[tuple[Family, _Remark]]:
    """2 and 4 on one side and 1 and 3 on the other: one habit, whichever of them is the click."""
    ones, twos = backbeats(own, found.cycle)
    middles = [float(np.median([one.median_ms for one in beats])) for beats in (ones, twos) if len(beats) > 1]
    if len(middles) < 2 or middles[0] * middles[1] >= 0:
        return []
    apart = middles[1] - middles[0]
    if any(one.median_ms * middle <= 0 for beats, middle in ((ones, middles[0]), (twos, middles[1])) for one in beats):
        return []
    if not all(_on_its_side(beats, sum(middles) / 2, apart * side) for beats, side in ((ones, -1), (twos, 1))):
        return []
    whole = _pooled([*ones, *twos], apart / 2)
    if _size(whole._replace(median_ms=apart), 2 * sigmas) <= 1:
        return []
    how = f"lay back on 2 and 4: {apart:.0f} ms behind" if apart > 0 else f"push 2 and 4: {-apart:.0f} ms ahead of"
    return [(Family("", (*ones, *twos)), _Remark(2 * _heard(whole), f"You {how} 1 and 3."))]


def _on_its_side(beats: Sequence[SlotFeel], border_ms: float, apart: float) -> bool:
    """Most beats lie well beyond the border, towards the sign of ``apart``: none of them alone
    makes the habit.
    """
    beyond = sum((one.median_ms - border_ms) * np.sign(apart) > abs(apart) / 4 for one in beats)
    return bool(beyond >= _AGREE * len(beats))


def _pooled(members: Sequence[SlotFeel], median_ms: float) -> SlotFeel:
    """The family as if it were one place."""
    errors = np.array([one.error_ms for one in members])
    error = float(np.sqrt((errors**2).sum())) / len(members)
    apart = float(np.median([one.interval_sec for one in members]))
    return members[0]._replace(median_ms=median_ms, error_ms=error, interval_sec=apart)


def _only_off(found: FeelFound) -> bool:
    """True where only the ands were played."""
    return all(one.counted.endswith(" and") for one in found.slots)


def _off_beats_alone(found: FeelFound, sigmas: float) -> list[_Remark]:
    """Off-beats without a beat between them, all late alike: they may be swung or late."""
    if _told(found) or not _only_off(found):
        return []
    late_ms = found.constant_ms + float(np.median([one.median_ms for one in found.slots]))
    whole = _pooled(found.slots, late_ms)
    if _size(whole, sigmas) <= 1:
        return []
    return [_Remark(_heard(whole), _only_off_beats(whole.median_ms))]


def _only_off_beats(ms: float) -> str:
    how = "late: swing, or laid back? The beats would tell." if ms > 0 else "early."
    return f"{_ONLY_OFF}, {abs(ms):.0f} ms {how}"


def _by_swing(found: FeelFound, one: SlotFeel) -> bool:
    """True for the off-places of a swing that was played or asked for: they share a sentence."""
    if (turns := found.fit.turns) is not None and _is_off(found, one, float(UNITS[turns.unit])):
        return True
    return any(
        _is_off(found, one, float(UNITS[unit]))
        for unit, swung in _told(found)
        if swung.is_uneven or unit == _asked_unit(found)
    )


def _is_second(found: FeelFound, one: SlotFeel, step: float) -> bool:
    """Whether the place is the second of a group's pairs of ``step`` quarters each."""
    for group in found.cycle.groups:
        if group.start <= one.written < group.start + group.length:
            inside = float(one.written - group.start) / step
            return abs(inside - round(inside)) < 1e-9 and round(inside) % 2 == 1
    return False


def _is_off(found: FeelFound, one: SlotFeel, step: float) -> bool:
    """Whether no pair of places ``step`` quarters apart, counted from its group, begins on it."""
    for group in found.cycle.groups:
        if group.start <= one.written < group.start + group.length:
            inside = float(one.written - group.start) / step
            return abs(inside - round(inside)) > 1e-9 or round(inside) % 2 == 1
    return False


# ---- all of it -----------------------------------------------------------------------------------


def _constant(found: FeelFound) -> list[_Remark]:
    ms, notes = abs(found.constant_ms), int(np.isfinite(found.offset_ms).sum())
    # Half the middle half's width is 0.67 standard deviations where errors are Gaussian.
    if ms <= max(NOTICED_MS, _SIGMAS * found.spread_ms / 0.67 / max(notes, 1) ** 0.5):
        return []
    if found.constant_ms > 0 and not _told(found) and _only_off(found):
        said = any(one.sentence.startswith(_ONLY_OFF) for one in _places(found))
        return [] if said else [_Remark(0.01, _only_off_beats(found.constant_ms))]
    if drift := _drift(found):
        # Of a drift the middle is its half: it is not a habit of its own.
        half_ms = (found.drift_ms_per_min or 0.0) * found.minutes / 2
        if abs(found.constant_ms - half_ms) < max(abs(half_ms) / 2, NOTICED_MS) or drift[0].weight > _FAR_DRIFT:
            return []
    how = (
        "ahead of the click, as most people do" if found.constant_ms < 0 else "behind the click, by habit or by latency"
    )
    # It is taken off all else: it weighs least.
    return [_Remark(0.01, f"Overall you play {ms:.0f} ms {how}; everything else is measured from there.")]


def drift_said(found: FeelFound) -> str:
    """A drift that is not an accident and adds up to something; else empty."""
    return next((one.sentence for one in _drift(found)), "")


def _drift(found: FeelFound) -> list[_Remark]:
    drift = found.drift_ms_per_min
    if drift is None:
        return []
    heard, total = int(np.isfinite(found.offset_ms).sum()), abs(drift) * found.minutes
    # Of a few notes a slope is known less well than its error says (Student's t).
    if heard < 8 or abs(drift) <= _SIGMAS * found.drift_error * quantile(heard - 6) / quantile(10_000):
        return []
    if total < _DRIFTED_MS or abs(drift) < NOTICED_MS:
        return []
    how = f"You get {'later' if drift > 0 else 'earlier'} against the click"
    a_minute = f"{abs(drift):.0f} ms a minute: " if found.minutes >= _MINUTES else ""
    sentence = f"{how}, by {a_minute}{total:.0f} ms in all."
    return [_Remark(total / NOTICED_MS / 2, sentence)]


def _loose_ms(found: FeelFound) -> float:
    """The spread from which on repeats are loose."""
    return 2 * noticed_ms(float(np.median([min(one.interval_sec, _STEADY_SEC) for one in found.slots])))


def _loose(found: FeelFound) -> list[_Remark]:
    again = found.repeats
    if again is None or again.notes < _CAME_BACK or again.spread_ms <= _loose_ms(found):
        return []
    weight = again.spread_ms / _loose_ms(found)
    moved = f"over {again.passes} passes the same note moves by about {again.spread_ms:.0f} ms"
    return [_Remark(weight, f"Your timing is loose: {moved}.")]


def _steady(found: FeelFound) -> str:
    again = found.repeats
    if again is None or again.notes < _CAME_BACK or _loose(found):
        return ""
    told = f"over {again.passes} passes the same note moves by about {again.spread_ms:.0f} ms."
    return (
        f"You are steady: {told}" if again.spread_ms <= _STEADY * _loose_ms(found) else f"{told[0].upper()}{told[1:]}"
    )


def _triplets(found: FeelFound) -> str:
    """How many triplets the slots leave out; a few in a long take are chance."""
    count, strokes = int(found.fit.thirds.sum()) // 2, len(found.fit.thirds)
    if not count or count < _FEW * strokes:
        return ""
    if 2 * count >= _MOSTLY * strokes:
        return "You play triplets nearly throughout; --grid 1/8T measures them."
    told = "1 triplet stands" if count == 1 else f"{count} triplets stand"
    return f"{told} apart from the grid; --grid 1/8T measures {'it' if count == 1 else 'them'}."
