"""Where the lines of engraved music end: four bars on a line, fewer where they have no room.

Method
    What stands in a bar is weighed in the room that one short note takes when the typesetter sets
    it as closely as it may (weights measured on its pages at the size used here). Four bars are
    easy to read (common practice, no source). A last bar does not stand on a line alone where the
    line before can spare one.
"""

from collections.abc import Sequence
from fractions import Fraction

from loopdeck.page.folding import folded
from loopdeck.page.form import Page, PageBar
from loopdeck.page.signature import alter_in_key, fifths_of, written
from loopdeck.page.voice import Head, heads_of

BARS_A_LINE = (4, 2, 1)
#: The room of a line, of its clef, of a sharp or flat of the signature, of a bar line, a dot, an
#: accidental, a plain meter, and of each group of an additive one.
_LINE, _CLEF, _KEY, _BAR, _DOT, _ACCIDENTAL, _METER, _GROUP = 62.0, 3.3, 0.8, 1.3, 0.3, 0.5, 2.2, 1.7


def line_ends(page: Page) -> frozenset[int]:
    """The bars (from 0, in the order of writing) behind which a line ends."""
    return frozenset(line[-1] for line in lines_of(page)[:-1])


def lines_of(page: Page) -> list[list[int]]:
    """The bars of each line: of every four bars all, or two, or one, as they have room; a pick-up
    counts for nothing.
    """
    parts = [part for section in folded(page.bars) for part in (section.bars, *section.endings)]
    bars = [bar for part in parts for bar in part]
    heads = [row for part in parts for row in heads_of(part)]
    fifths = fifths_of(page.brief.scale)
    weights = [_weight(row, page, fifths) + _BAR for row in heads]
    meters = _meter_signs(bars)
    full = [number for number, bar in enumerate(bars) if not bar.pickup]
    most = BARS_A_LINE[0]
    begin = _CLEF + _KEY * abs(fifths)

    def fits(four: list[int], size: int) -> bool:
        return all(begin + _width(row, weights, meters) <= _LINE for row in _rows(four, size))

    fours = [full[at : at + most] for at in range(0, len(full), most)]
    sizes = [next((size for size in BARS_A_LINE if fits(four, size)), 1) for four in fours]
    if 2 * sum(size < most for size in sizes) >= len(sizes):
        # Lines alike are easier to read than a full one among shorter ones.
        sizes = [min(size, BARS_A_LINE[1]) for size in sizes]
    lines = [row for four, size in zip(fours, sizes, strict=True) for row in _rows(four, size)]
    return _none_alone(lines, begin, weights, meters)


def _rows(bars: list[int], size: int) -> list[list[int]]:
    return [bars[start : start + size] for start in range(0, len(bars), size)]


def last_line_is_full(page: Page) -> bool:
    """Whether the last line is set as wide as the others: it has about as many bars, and a line
    alone four.
    """
    lines = lines_of(page)
    if len(lines) < 2:
        return bool(lines) and len(lines[0]) == BARS_A_LINE[0]
    return len(lines[-1]) >= min(max(len(lines[-2]) - 1, 2), len(lines[-2]))


def _none_alone(
    lines: list[list[int]], begin: float, weights: Sequence[float], meters: Sequence[float]
) -> list[list[int]]:
    """A last line of one bar gets one of the line before, where that has three or more."""
    if len(lines) > 1 and len(lines[-1]) == 1 and len(lines[-2]) > 2:
        last = [lines[-2][-1], *lines[-1]]
        if begin + _width(last, weights, meters) <= _LINE:
            return [*lines[:-2], lines[-2][:-1], last]
    return lines


def _width(row: Sequence[int], weights: Sequence[float], meters: Sequence[float]) -> float:
    """The room of some bars on a line; a meter that changes behind them is said at its end."""
    after = meters[row[-1] + 1] if row[-1] + 1 < len(meters) else 0.0
    return sum(weights[number] + meters[number] for number in row) + after


def _meter_signs(bars: Sequence[PageBar]) -> list[float]:
    found, before = [], ""
    for bar in bars:
        meter = bar.meter
        additive = not meter.plain and len(set(meter.groups)) > 1
        sign = _GROUP * len(meter.groups) + 0.6 if additive else _METER
        found.append(sign if str(meter) != before else 0.0)
        before = str(meter)
    return found


def _weight(heads: Sequence[Head], page: Page, fifths: int) -> float:
    """The room of the heads of a bar; long ones take a little more."""
    found, told = 0.0, set()
    for head in heads:
        found += 1.0 + (0.5 if head.value.length >= Fraction(1) else 0.0) + _DOT * head.value.dots
        for note in () if head.from_before else head.notes:
            name = written(note.pitch, page.brief.scale)
            if name.alter != alter_in_key(name.step, fifths) and (name.step, name.octave) not in told:
                found += _ACCIDENTAL
                told.add((name.step, name.octave))
    return found
