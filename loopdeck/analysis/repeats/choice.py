"""The riffs of a text: the stretches chosen by description length, the parts of those that go
round, and of written music only what is worth listing.
"""

from collections.abc import Callable, Sequence

import numpy as np

from loopdeck.analysis.repeats.grammar import MOST_RIFFS, Chooser, Pattern, same
from loopdeck.analysis.repeats.occurrences import FURTHEST, Occurrences, Searcher
from loopdeck.analysis.repeats.opening import first_section, opening_phrase
from loopdeck.analysis.repeats.parts import beside_sections, is_held, of_a_round, other_halves, worth_listing
from loopdeck.analysis.repeats.seeds import figures
from loopdeck.analysis.repeats.text import FEWEST_NOTES, Floats, Text

#: Longer takes are not searched for what moved inside of its scale, which takes as long again.
STEPS_UP_TO = 4_000
STEPS_IN_TWO_OCTAVES = 14
#: Parts are looked for in the first so many.
MOST_WHOLES = 12


def patterns(text: Text) -> list[Pattern]:
    """The stretches worth a name, in the order in which they were chosen: the one that saves most
    first, then those that are parts of others."""
    if len(text) < 2 * FEWEST_NOTES:
        return []
    chooser = Chooser(text, searchers_of(text))
    chosen = chooser.chosen()
    chosen += parts(chooser, chosen)
    if not text.exact:
        return chosen
    return _of_a_piece(chooser, _kept(text, chosen, worth_listing))


def _of_a_piece(chooser: Chooser, listed: list[Pattern]) -> list[Pattern]:
    """The same; of a piece made of sections without brief figures, and with its opening phrase."""
    if first_section(chooser.text, [one.found for one in listed]) is None:
        return listed
    listed = _kept(chooser.text, listed, beside_sections)
    phrase = opening_phrase(chooser.text, [one.found for one in listed], chooser.search)
    return listed if phrase is None else [*listed, Pattern(phrase, chooser.saves_now(phrase))]


def _kept(
    text: Text,
    chosen: list[Pattern],
    which: Callable[[Sequence[Occurrences], Sequence[float], Floats], list[int]],
) -> list[Pattern]:
    numbers = which([one.found for one in chosen], [one.saved for one in chosen], text.bits)
    return [chosen[number] for number in numbers]


def searchers_of(text: Text) -> list[Searcher]:
    """By semitones, and in a text that is not too long by steps of the scale."""
    heights = [(text.pitch, FURTHEST)]
    if len(text) <= STEPS_UP_TO:
        heights.append((text.step, STEPS_IN_TWO_OCTAVES))
    return [Searcher(text, height, figures(text, height), most) for height, most in heights]


def parts(chooser: Chooser, chosen: list[Pattern]) -> list[Pattern]:
    """The riffs of which those chosen are made, where they are riffs of their own."""
    named = [pattern.found for pattern in chosen]
    new: list[Pattern] = []
    for whole in chosen[:MOST_WHOLES]:
        if chooser.goes_round(whole.found, 1):
            _add(chooser, of_a_round(chooser.text, whole.found, chooser.search), named, new)
    for whole in chosen[:MOST_WHOLES]:
        others = [one for one in named if one is not whole.found]
        found = other_halves(chooser.text, whole.found, others, chooser.search)
        named += _add(chooser, found, others, new)
    return new


def _add(chooser: Chooser, found: list[Occurrences], named: list[Occurrences], new: list[Pattern]) -> list[Occurrences]:
    """Add to ``named`` and ``new`` those that save enough, told as if nothing had a name, best
    first; none that one of those with a name holds. Returns those added."""
    added = []
    for value, one in sorted(((_alone(chooser, one), one) for one in found), key=lambda pair: -pair[0]):
        returns = max(len(one) - 1, 1)
        if value < chooser.least_saved or value / returns < chooser.least_each or len(new) >= MOST_RIFFS:
            continue
        real = chooser.beyond_chance(one)
        if len(real) > 1 and not any(same(real, other) or is_held(real, other) for other in named):
            named.append(real)
            added.append(real)
            new.append(Pattern(real, value))
    return added


def _alone(chooser: Chooser, found: Occurrences) -> float:
    """What a stretch saves if no other has a name."""
    cost = chooser.told[found.last + 1] - chooser.told[found.first]
    saved = np.maximum(cost - chooser.told_anew(found), 0.0)
    return float(saved.sum() - saved.max())
