"""Repeats folded: bars that come again at once are written once with how often they are played, and
endings where only the last bars differ.

Method
    From the first bar on, of all stretches that repeat at once the one that saves the most bars is
    folded, then the search goes on behind it. A stretch with endings is played twice and differs in
    its last bars only; it must share at least as many bars as it does not.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from loopdeck.page.form import PageBar

#: Bars of the longest stretch that is looked for.
LONGEST = 16


@dataclass(frozen=True)
class Section:
    """``bars`` are played ``times`` times.

    With ``endings`` the n-th time goes on with ``endings[n - 1]``.
    """

    bars: tuple[PageBar, ...]
    times: int = 1
    endings: tuple[tuple[PageBar, ...], ...] = ()

    @property
    def played(self) -> tuple[PageBar, ...]:
        """The bars in playing order."""
        if not self.endings:
            return self.bars * self.times
        return tuple(bar for ending in self.endings for bar in (*self.bars, *ending))


def folded(bars: Sequence[PageBar]) -> list[Section]:
    """``bars`` as sections; their ``played`` bars, one after the other, have the content of
    ``bars``.
    """
    # Bars of one content have one number, which is faster to compare.
    numbers: dict[object, int] = {}
    keys = [numbers.setdefault(bar.content(), len(numbers)) for bar in bars]
    closed = _closed(bars)
    sections: list[Section] = []
    plain: list[PageBar] = []
    at = 0
    while at < len(bars):
        section, used = _best(bars, keys, closed, at)
        if section is None:
            plain.append(bars[at])
            at += 1
            continue
        if plain:
            sections.append(Section(tuple(plain)))
            plain = []
        sections.append(section)
        at += used
    return [*sections, Section(tuple(plain))] if plain else sections


def _closed(bars: Sequence[PageBar]) -> list[bool]:
    """For each bar whether no note lasts beyond its end; a repeat can only stand there."""
    found, over = [], Fraction(0)
    for bar in bars:
        reach = max([note.at + note.duration for note in bar.notes] + [over])
        over = max(reach - bar.length, Fraction(0))
        found.append(over == 0)
    return found


def _best(bars: Sequence[PageBar], keys: list[int], closed: list[bool], at: int) -> tuple[Section | None, int]:
    best: tuple[int, int, Section | None, int] = (0, 0, None, 0)
    if bars[at].pickup or (at and not closed[at - 1]):
        return None, 0
    for size in range(1, min(LONGEST, (len(bars) - at) // 2) + 1):
        if not closed[at + size - 1]:
            continue
        times = 1
        while keys[at + times * size : at + (times + 1) * size] == keys[at : at + size]:
            times += 1
        if times > 1 and any(bar.notes for bar in bars[at : at + size]):
            saved = (times - 1) * size
            best = max(
                best, (saved, -size, Section(tuple(bars[at : at + size]), times), times * size), key=lambda one: one[:2]
            )
        best = max(best, _with_endings(bars, keys, closed, at, size), key=lambda one: one[:2])
    return best[2], best[3]


def _with_endings(
    bars: Sequence[PageBar], keys: list[int], closed: list[bool], at: int, size: int
) -> tuple[int, int, Section | None, int]:
    """A stretch of ``size`` bars that comes twice with other last bars."""
    same = 0
    while same < size and keys[at + same] == keys[at + size + same]:
        same += 1
    if same == size or 2 * same < size or not closed[at + 2 * size - 1]:
        return (0, 0, None, 0)
    if not closed[at + same - 1] or not closed[at + size + same - 1]:
        # A note that lasts into the ending would be tied to two places.
        return (0, 0, None, 0)
    meters = [str(bar.meter) for bar in bars[at : at + 2 * size]]
    if meters[:size] != meters[size:]:
        return (0, 0, None, 0)
    if not any(bar.notes for bar in bars[at : at + same]):
        return (0, 0, None, 0)
    sounding = [any(bar.notes for bar in bars[begin : begin + size - same]) for begin in (at + same, at + size + same)]
    if not all(sounding):
        return (0, 0, None, 0)
    endings = (tuple(bars[at + same : at + size]), tuple(bars[at + size + same : at + 2 * size]))
    return (same, -size, Section(tuple(bars[at : at + same]), 2, endings), 2 * size)
