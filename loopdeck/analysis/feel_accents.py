"""Where the accents of a take lie, in a sentence: only what is louder than by chance."""

from collections.abc import Sequence
from statistics import NormalDist

import numpy as np

from loopdeck.analysis.feel import FeelFound, SlotFeel
from loopdeck.analysis.feel_places import by_bar, families

#: Steps of velocity above the rest that make an accent (common practice, no source), and how many
#: accents are named; an accent counts where chance would make one in at most 5 % of playings, all
#: places together (Bonferroni).
_ACCENT, _MOST_ACCENTS = 8.0, 4
_SIGMAS, _FALSE_ALARMS = 2.5, 0.05


def accents(found: FeelFound) -> str:
    """Where the accents lie, when some places are clearly louder than the rest, more than once."""
    if len(found.slots) < 3:
        return ""
    usual = float(np.percentile([one.velocity for one in found.slots], 50, method="lower"))
    sigmas = max(_SIGMAS, NormalDist().inv_cdf(1 - _FALSE_ALARMS / (2 * len(found.slots))))
    least = {one.slot: max(_ACCENT, sigmas * one.velocity_error) for one in found.slots}
    loud = [one for one in found.slots if one.velocity >= usual + least[one.slot] and one.notes > 1]
    if not loud or len(loud) > len(found.slots) / 2:
        return ""
    rest = [one.velocity for one in found.slots if one not in loud]
    louder = float(np.median([one.velocity for one in loud]) - np.median(rest))
    return f"{_accented(found, loud)}, by about {louder:.0f} steps of velocity."


def _accented(found: FeelFound, loud: Sequence[SlotFeel]) -> str:
    chosen = {one.slot for one in loud}
    for family in families(found.slots, found.cycle):
        if {one.slot for one in family.members} == chosen:
            return f"You accent {family.name}"
    most = by_bar(sorted(sorted(loud, key=lambda one: -one.velocity)[:_MOST_ACCENTS]))
    if len(found.cycle.meters) == 1:
        told = f"You accent {most[0][1]}"
    else:
        (bar, first), *rest = most
        told = ", ".join([f"In bar {bar} you accent {first}", *(f"in bar {bar} {where}" for bar, where in rest)])
    more = len(loud) - _MOST_ACCENTS
    return told + (f", and {more} more place{'' if more == 1 else 's'}" if more > 0 else "")
