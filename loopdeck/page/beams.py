"""Beams and tuplets: which heads hang together.

Rule
    Heads shorter than a quarter are beamed inside a group of the meter (``4+3/8``), inside a
    quarter where the meter counts quarters or longer; a rest, or a head of a quarter, ends a beam
    (common practice, no source; compared with music21 for additive meters). A tuplet goes on until
    it fills a plain length.
"""

from collections.abc import Sequence
from fractions import Fraction

from loopdeck.page.voice import Head
from loopdeck.rhythm.meter import Meter

_LEVELS = {Fraction(1, 2): 1, Fraction(1, 4): 2, Fraction(1, 8): 3, Fraction(1, 16): 4}


def beam_count(head: Head) -> int:
    """How many beams (or flags) a head has."""
    return _LEVELS.get(head.value.plain, 0) if head.notes else 0


def beam_groups(heads: Sequence[Head], meter: Meter, shift: Fraction = Fraction(0)) -> list[list[int]]:
    """Indices of heads that share a beam, two or more each; ``shift`` is where the bar begins in
    its meter (a pick-up's).
    """
    groups: list[list[int]] = []
    run: list[int] = []
    home: object = None
    for index, head in enumerate(heads):
        here = _group_of(head.at + shift, meter)
        if beam_count(head) and here == home:
            run.append(index)
            continue
        groups.append(run)
        run, home = ([index], here) if beam_count(head) else ([], None)
    groups.append(run)
    return [group for group in groups if len(group) > 1]


def _group_of(at: Fraction, meter: Meter) -> Fraction:
    if meter.unit_quarters >= 1:
        return Fraction(at // 1)
    return max(start for start in meter.group_starts if start <= at)


def beams_of(heads: Sequence[Head], meter: Meter, shift: Fraction = Fraction(0)) -> list[list[str]]:
    """For each head its beams from the first level on: ``begin``, ``continue``, ``end``, ``forward
    hook``, ``backward hook``.
    """
    found: list[list[str]] = [[] for _ in heads]
    for group in beam_groups(heads, meter, shift):
        counts = [beam_count(heads[index]) for index in group]
        for place, index in enumerate(group):
            before = counts[place - 1] if place else 0
            after = counts[place + 1] if place + 1 < len(group) else 0
            for level in range(1, counts[place] + 1):
                left, right = before >= level, after >= level
                word = "continue" if left and right else "begin" if right else "end" if left else ""
                found[index].append(word or ("forward hook" if place == 0 else "backward hook"))
    return found


def tuplets_of(heads: Sequence[Head]) -> list[tuple[bool, bool]]:
    """For each head whether a tuplet begins and whether one ends with it."""
    found = [(False, False)] * len(heads)
    at = 0
    while at < len(heads):
        value = heads[at].value
        if not value.actual:
            at += 1
            continue
        length, end = value.length, at
        while not _plain(length) and end + 1 < len(heads) and heads[end + 1].value.actual == value.actual:
            end += 1
            length += heads[end].value.length
        for index in range(at, end + 1):
            found[index] = (index == at, index == end)
        at = end + 1
    return found


def _plain(length: Fraction) -> bool:
    return length.denominator & (length.denominator - 1) == 0
