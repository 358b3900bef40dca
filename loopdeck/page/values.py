"""Note values: how a length is written with heads, dots, ties and tuplets.

Conventions
    Lengths are quarters. A ``Value`` is one head: a plain length of 4 to 1/16 quarters (whole to
    sixty-fourth), up to two dots, and a tuplet (``actual`` in the time of ``normal``). What has no
    single value is several heads tied, split where the groups and beats of the meter are, so that a
    reader sees the beats (common practice, no source).
"""

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from loopdeck.errors import UserError
from loopdeck.rhythm.meter import Meter

#: Plain lengths with the letter that tab text has for each, and MusicXML's name.
PLAIN: dict[Fraction, tuple[str, str]] = {
    Fraction(4): ("w", "whole"),
    Fraction(2): ("h", "half"),
    Fraction(1): ("q", "quarter"),
    Fraction(1, 2): ("e", "eighth"),
    Fraction(1, 4): ("s", "16th"),
    Fraction(1, 8): ("t", "32nd"),
    Fraction(1, 16): ("x", "64th"),
}
#: Tuplets by the odd part of their denominator: how many stand in the time of how many.
TUPLETS = {3: (3, 2), 5: (5, 4), 7: (7, 4), 9: (9, 8), 11: (11, 8), 13: (13, 8)}


class Value(NamedTuple):
    """One head: its plain length, dots, and the tuplet (0, 0 for none)."""

    plain: Fraction
    dots: int = 0
    actual: int = 0
    normal: int = 0

    @property
    def length(self) -> Fraction:
        """How long it is, in quarters."""
        return _length(self.plain, self.dots, self.actual, self.normal)

    def __str__(self) -> str:
        return PLAIN[self.plain][0] + "." * self.dots + (str(self.actual) if self.actual else "")


@lru_cache(maxsize=1024)
def _length(plain: Fraction, dots: int, actual: int, normal: int) -> Fraction:
    dotted = plain * (2 - Fraction(1, 2**dots))
    return dotted * Fraction(normal, actual) if actual else dotted


def _odd(length: Fraction) -> int:
    """The odd part of a length's denominator: 1 for plain lengths, 3 for triplets."""
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    return odd


@lru_cache(maxsize=4096)
def single(length: Fraction) -> Value | None:
    """The single head for a length; None if no single head is that long."""
    odd = _odd(length)
    actual, normal = (0, 0) if odd == 1 else TUPLETS.get(odd, (-1, 0))
    if actual < 0:
        return None
    written = length * Fraction(actual, normal) if actual else length
    for dots in (0, 1, 2):
        plain = written / (2 - Fraction(1, 2**dots))
        if plain in PLAIN:
            return Value(plain, dots, actual, normal)
    return None


def split(start: Fraction, length: Fraction, meter: Meter) -> list[Value]:
    """The heads, tied, for what begins ``start`` quarters into a bar and lasts ``length`` within
    it. Raises UserError where that cannot be written.
    """
    return list(_split(start, length, meter))


@lru_cache(maxsize=8192)
def _split(start: Fraction, length: Fraction, meter: Meter) -> tuple[Value, ...]:
    pieces: list[Value] = []
    at, end = start, start + length
    while at < end:
        piece = _piece(at, end, meter)
        value = single(piece)
        if value is None:
            raise UserError(
                f"A length of {piece} quarters has no note value; write on a plainer grid, such as --grid 1/16."
            )
        pieces.append(value)
        at += piece
    return tuple(pieces)


def _piece(at: Fraction, end: Fraction, meter: Meter) -> Fraction:
    """The longest first head that shows the beats."""
    whole = end - at
    if _one_head(whole) and _shows_beats(at, end, meter):
        return whole
    cuts = [cut for cut in _cuts(meter) if at < cut < end]
    # The furthest cut to which one head can go, then shorter heads inside the beat.
    for cut in sorted(cuts, reverse=True):
        if _one_head(cut - at) and _shows_beats(at, cut, meter):
            return cut - at
    limit = min([*cuts, end]) - at
    if _odd(limit) not in (1, *TUPLETS):
        # From one tuplet into another: out of the first one before anything else.
        for unit in (Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 8)):
            to_plain = (at // unit + 1) * unit - at
            if to_plain < limit and _one_head(to_plain):
                return to_plain
    candidates = _lengths_up_to(limit)
    return candidates[0] if candidates else limit


def _one_head(length: Fraction) -> bool:
    """Whether there is a head for it; two dots are only read, not written."""
    value = single(length)
    return value is not None and value.dots < 2


def _lengths_up_to(limit: Fraction) -> list[Fraction]:
    """Plain lengths that leave a rest which can be written, the longest first."""
    if _one_head(limit):
        return [limit]
    odd = _odd(limit)
    unit = Fraction(TUPLETS[odd][1], odd) if odd in TUPLETS else Fraction(1)
    found = [plain * unit for plain in PLAIN if plain * unit < limit]
    found += [plain * unit * Fraction(3, 2) for plain in PLAIN if plain * unit * Fraction(3, 2) < limit]
    good = [length for length in sorted(found, reverse=True) if single(limit - length) is not None]
    return good or sorted(found, reverse=True)


@lru_cache(maxsize=256)
def _cuts(meter: Meter) -> tuple[Fraction, ...]:
    """The places of a bar that a head should show: the groups, and the units inside groups of
    quarters and longer.
    """
    places = set(meter.group_starts)
    unit = meter.unit_quarters
    if unit >= 1:
        places |= {index * unit for index in range(meter.numerator)}
        if unit > 1:
            places |= {Fraction(index) for index in range(int(meter.quarters))}
    else:
        for start, size in zip(meter.group_starts, meter.groups, strict=True):
            places |= {start + 2 * unit * index for index in range(size // 2)} if size % 2 == 0 else set()
    return tuple(sorted(place for place in places if place < meter.quarters))


def _shows_beats(at: Fraction, end: Fraction, meter: Meter) -> bool:
    """Whether one head from ``at`` to ``end`` lets the beats be seen: it lies inside one, or goes
    from beat to beat, or is a syncopation.
    """
    cuts = _cuts(meter)
    inside = [cut for cut in cuts if at < cut < end]
    if not inside or _wide_triplet(at, end, meter):
        return True
    on_beats = at in cuts and (end in cuts or end == meter.quarters)
    if meter.unit_quarters < 1:
        crossed = any(at < start < end for start in meter.group_starts)
        edges = (*meter.group_starts, meter.quarters)
        even = len(set(meter.groups)) == 1 and at in edges and end in edges
        return (on_beats and not crossed) or even or _syncopated(at, end, cuts, crossed)
    middle = meter.quarters / 2
    halves = meter.numerator % 2 == 0 and meter.numerator > 2
    crosses = halves and at < middle < end and at != 0
    if at in cuts:
        # From a beat on: over whole beats, or a dotted head that ends in the middle of one.
        return not crosses and (on_beats or (end - at) * 2 % 3 == 0)
    return _syncopated(at, end, cuts, crosses)


def _wide_triplet(at: Fraction, end: Fraction, meter: Meter) -> bool:
    """A quarter, or two, of a triplet over two quarters: of a half bar, or of a group of four
    eighths; in a bar of odd beats of any two. A half, or two, of one over four quarters from the
    start of the bar.
    """
    if meter.unit_quarters == 1:
        step = 2 if meter.numerator % 2 == 0 else 1
        begins = [Fraction(beat) for beat in range(0, meter.numerator - 1, step)]
    else:
        groups = zip(meter.group_starts, meter.groups, strict=True)
        begins = [start for start, size in groups if size * meter.unit_quarters == 2]
    if any(_of_triplet(at - begin, end - begin, Fraction(2, 3)) for begin in begins):
        return True
    return meter.unit_quarters == 1 and meter.numerator >= 4 and _of_triplet(at, end, Fraction(4, 3))


def _of_triplet(at: Fraction, end: Fraction, third: Fraction) -> bool:
    """Whether a head is one or two thirds of a triplet that begins at 0."""
    return end - at in (third, 2 * third) and at in (0, third, 2 * third) and end <= 3 * third


def _syncopated(at: Fraction, end: Fraction, cuts: tuple[Fraction, ...], crosses: bool) -> bool:
    """A head as long as a beat, from the middle of one to the middle of the next: every player
    reads that.
    """
    inside = [cut for cut in cuts if at < cut < end]
    return not crosses and len(inside) == 1 and inside[0] - at == end - inside[0] and end - at in PLAIN
