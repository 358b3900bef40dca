"""Text tab without note values, as players type it: the columns are the rhythm.

Rules (common practice, no source)
    Every column of a bar lasts the same; one or two columns before the first fret may be empty.
    Where the text states no meter, bars of 4, 8, 16 or 32 columns are bars of 4/4, and other bars
    beside those are as much shorter or longer. A line of counts (``1 & 2 &``) above or below the
    strings goes before the columns. A fret lasts until the next one, or the end of the bar. A bar
    line may be missing at the ends of a line; what cannot be told is refused.
"""

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm

from loopdeck.brief.brief import Brief
from loopdeck.brief.tunings import find_tuning, names
from loopdeck.errors import UserError
from loopdeck.page.form import PageBar, PageNote, in_order
from loopdeck.page.signs import Fret
from loopdeck.page.tab_bars import Measure, ReadBar, TabError
from loopdeck.page.tab_hand import NoFret, Typed, typed_frets
from loopdeck.page.voice import heads_of
from loopdeck.rhythm.meter import Meter, parse_meter

_NAME = r"(\s*)([A-Ga-g][b#♭♯]{0,2})\s*"
_TIMES = r"\s*(?:\(?[xX]\s?(\d{1,2})\)?)?\s*"
#: A line of a string: frets, signs and fill; behind a bar line there may be slips, too.
LINE = re.compile(_NAME + r"([|│║:\-–—‒─0-9 ][-–—‒─|│║:*0-9hpbrtsvxX/\\~()>'=_. ]{3,}?|[|│║].*?[-–—‒─]{2}.*?)" + _TIMES)
_BAR = re.compile(r"[|│║]+")
_COUNT = re.compile(r"\d{1,2}|e|&|\+|and|n|a")
_QUARTERS = {"e": Fraction(1, 4), "&": Fraction(1, 2), "+": Fraction(1, 2), "and": Fraction(1, 2), "n": Fraction(1, 2), "a": Fraction(3, 4)}  # fmt: skip
#: Columns of a bar of 4/4 that says no meter; columns a quarter.
_PLAIN_BARS = (8, 16, 32, 4)
_A_QUARTER = (1, 2, 4, 8)
#: So many columns may be empty before the first fret, and be missing in one line of a bar.
_LEAD, _MENDED = 2, 2


@dataclass(frozen=True)
class _Segment:
    """One bar of one line: its columns in that line."""

    row: int
    first: int
    last: int


@dataclass(frozen=True)
class _Bar:
    """One bar of a system: of each string what was typed, its width, and its repeat signs."""

    segments: tuple[_Segment, ...]
    typed: tuple[tuple[Typed, ...], ...]
    width: int
    opens: bool
    closes: bool
    times: int

    def places(self) -> list[int]:
        """The columns of the frets from the start of the bar."""
        rows = zip(self.segments, self.typed, strict=True)
        return [one.columns[-1] - segment.first for segment, typed in rows for one in typed]


def is_string(lines: Sequence[str], row: int) -> bool:
    """Whether a line is one of a string; without a bar line it is, beside another one."""

    def alike(other: int) -> bool:
        return 0 <= other < len(lines) and LINE.fullmatch(lines[other]) is not None

    return alike(row) and (any(bar in lines[row] for bar in "|│║") or alike(row - 1) or alike(row + 1))


def is_hand_typed(lines: Sequence[str]) -> bool:
    """Whether a text has lines of strings at all."""
    return any(is_string(lines, row) for row in range(len(lines)))


def read_columns(lines: Sequence[str], brief: Brief, told: frozenset[str]) -> tuple[list[ReadBar], Brief, str]:
    """The bars of a text, its brief with the tuning that the strings' names tell, and how the
    rhythm was read. ``told``: what the header says. Raises TabError.
    """
    systems = _systems(lines)
    if "tuning" not in told:
        brief = brief.replace(tuning=_tuning_of(lines, systems[0]))
    bars: list[list[_Bar]] = []
    for rows in systems:
        _check_names(lines, rows, brief)
        bars.append(_bars(lines, rows, brief))
    counts = [_counts_of(lines, rows) for rows in systems]
    flat = [bar for system in bars for bar in system]
    if all(counts):
        if "meter" not in told and (meter_counted := _meter_counted(bars, counts)):
            brief = brief.replace(cycle=meter_counted)
        meters = _meters(flat, brief)
        return _counted(bars, counts, meters, brief), brief, "the counts"
    lead, a_quarter = _scale(flat, brief, "meter" in told)
    found = []
    place_of = _Even(lead, a_quarter)
    for bar, known in zip(flat, _meters(flat, brief), strict=True):
        length = Fraction(bar.width - lead, a_quarter)
        meter = known if "meter" in told else _meter_of(length)
        if meter is None or meter.quarters != length:
            raise _misfit(bar, lead, meter or known)
        found.append(_read_bar(bar, meter, brief, place_of))
    if "meter" not in told:
        brief = brief.replace(cycle=str(found[0].bar.meter))
    words = f"the columns, {a_quarter} to a quarter" if a_quarter > 1 else "the columns, one a quarter"
    return found, brief, words


# ---- lines ---------------------------------------------------------------------------------------


def _systems(lines: Sequence[str]) -> list[range]:
    found, row = [], 0
    while row < len(lines):
        end = row
        while end < len(lines) and is_string(lines, end):
            end += 1
        if end > row:
            found.append(range(row, end))
        row = max(end, row + 1)
    return found


def _name(line: str) -> str:
    found = LINE.fullmatch(line)
    assert found is not None
    plain = found[2].replace("♭", "b").replace("♯", "#")
    return plain[0].upper() + plain[1:]


def _tuning_of(lines: Sequence[str], rows: range) -> str:
    """The tuning whose strings are called like the lines, from the highest; of a number of strings
    the usual one first.
    """
    said = [_name(lines[row]) for row in rows]
    name = _called(said)
    if name is not None:
        return name
    if len(said) not in (5, 6):
        # Names that are nearly the usual ones are slips, and said as such.
        return "four-string"
    raise TabError(
        rows.start + 1,
        1,
        f"no tuning of loopdeck has the strings {' '.join(said)} from the highest; write the open strings above"
        " the tab, from the lowest, such as tuning: E1 A1 D2 G2.",
    )


def _called(said: Sequence[str]) -> str | None:
    """The tuning with these names of strings from the highest, None for none."""
    wanted = [_spelled(one) for one in said]
    for name in ("four-string", "five-string", "six-string", *names()):
        tuning = find_tuning(name)
        if [_spelled(tuning.name_of(string)) for string in range(1, len(tuning.strings) + 1)] == wanted:
            return name
    return None


def tuning_called(text: str) -> str | None:
    """The tuning that players spell by its strings from the lowest, ``DADG`` or ``D A D G``; None
    where the text is no such row.
    """
    letters = re.findall(r"[A-G][b#♭♯]?", text)
    if len(letters) < 2 or "".join(letters) != text.replace(" ", "").replace("-", ""):
        return None
    return _called(list(reversed(letters)))


def _spelled(name: str) -> str:
    return {"C#": "Db", "D#": "Eb", "F#": "Gb", "G#": "Ab", "A#": "Bb"}.get(name, name)


def _check_names(lines: Sequence[str], rows: range, brief: Brief) -> None:
    count = len(brief.tuning.strings)
    if len(rows) != count:
        what = f"here {'is' if len(rows) == 1 else 'are'} {len(rows)} string line{'' if len(rows) == 1 else 's'}"
        raise TabError(rows.start + 1, 1, f"{what}; the tuning {brief.tuning} has {count}.")
    for string, row in enumerate(rows, 1):
        wanted = brief.tuning.name_of(string)
        if _spelled(_name(lines[row])) != _spelled(wanted):
            found = LINE.fullmatch(lines[row])
            assert found is not None
            raise TabError(
                row + 1,
                found.start(2) + 1,
                f"this line is called {found[2]}, and string {string} of the tuning is {wanted}.",
            )


def _bars(lines: Sequence[str], rows: range, brief: Brief) -> list[_Bar]:
    """The bars of a system."""
    cut = [_segments(lines[row], row) for row in rows]
    count = max(len(one) for one in cut)
    for one, row in zip(cut, rows, strict=True):
        if len(one) != count:
            raise TabError(
                row + 1,
                len(lines[row].rstrip()) or 1,
                f"this line has {len(one)} bar{'' if len(one) == 1 else 's'} where another has {count}.",
            )
    found = []
    for number in range(count):
        segments = tuple(one[number] for one in cut)
        found.append(_bar(lines, segments, brief))
    times = max(int(match[4] or 0) for row in rows if (match := LINE.fullmatch(lines[row])) is not None)
    if times > 1:
        first, last = found[0], found[-1]
        found[0] = _Bar(first.segments, first.typed, first.width, True, first.closes, times)
        last = found[-1]
        found[-1] = _Bar(last.segments, last.typed, last.width, last.opens, True, last.times)
    return found


def _segments(line: str, row: int) -> list[_Segment]:
    found = LINE.fullmatch(line)
    assert found is not None
    at, end = found.start(3), found.start(3) + len(found[3].rstrip())
    if line[at] == ":":
        # Behind a name, a colon is a colon.
        at += 1
    cuts = [match.span() for match in _BAR.finditer(line, at, end)]
    edges = [(at, at), *cuts] if not cuts or line[at : cuts[0][0]].strip() else list(cuts)
    if line[edges[-1][1] : end].strip():
        edges.append((end, end))
    return [_Segment(row, one[1], other[0]) for one, other in pairwise(edges)]


def _bar(lines: Sequence[str], segments: tuple[_Segment, ...], brief: Brief) -> _Bar:
    usual = Counter(one.last - one.first for one in segments).most_common(1)[0][0]
    opens = closes = False
    typed = []
    trimmed = []
    for string, one in enumerate(segments, 1):
        missing = usual - (one.last - one.first)
        if abs(missing) > _MENDED:
            raise TabError(
                one.row + 1,
                one.first + 1,
                f"this bar is {abs(missing)} columns {'shorter' if missing > 0 else 'longer'} here than on the other strings.",
            )
        first, last = one.first, one.last
        if lines[one.row][first:last].startswith((":", "*")):
            first, opens = first + 1, True
        if lines[one.row][first:last].endswith((":", "*")):
            last, closes = last - 1, True
        try:
            frets = typed_frets(lines[one.row], first, last, brief.tuning.frets)
        except NoFret as fault:
            if fault.text.isdigit():
                what = f"there is no fret {fault.text} on the tuning {brief.tuning}, which has {brief.tuning.frets}."
            else:
                what = f"{fault.text[:20]!r} is not a fret with its signs."
            raise TabError(one.row + 1, fault.column + 1, what) from None
        if any(brief.tuning.strings[string - 1] + fret.fret.fret > 127 for fret in frets):
            raise TabError(one.row + 1, one.first + 1, "a fret here sounds above MIDI note 127.")
        typed.append(tuple(frets))
        trimmed.append(_Segment(one.row, first, last))
    width = Counter(one.last - one.first for one in trimmed).most_common(1)[0][0]
    return _Bar(tuple(trimmed), tuple(typed), width, opens, closes, 0)


# ---- rhythm --------------------------------------------------------------------------------------


def _scale(bars: Sequence[_Bar], brief: Brief, meter_told: bool) -> tuple[int, int]:
    """(empty columns before the first fret, columns a quarter). Raises TabError."""
    used = min((column for bar in bars for column in bar.places()), default=0)
    for lead in range(min(used, _LEAD) + 1):
        if meter_told:
            meters = _meters(bars, brief)
            each = {Fraction(bar.width - lead) / meter.quarters for bar, meter in zip(bars, meters, strict=True)}
            if len(each) == 1 and (one := each.pop()) in _A_QUARTER:
                return lead, int(one)
            continue
        widths = Counter(bar.width - lead for bar in bars)
        plain = next((width for width in _PLAIN_BARS if width in widths), None)
        if plain is not None and 2 * widths[plain] >= len(bars):
            return lead, plain // 4
    raise _misfit(bars[0], min(used, 1), brief.cycle.meters[0] if meter_told else None)


def _misfit(bar: _Bar, lead: int, meter: Meter | None) -> TabError:
    columns = f"this bar has {bar.width - lead} columns"
    if meter is None:
        what = f"{columns}, which do not tell its meter; write it above the tab, such as meter: 7/8, or note values above the strings."
    else:
        what = (
            f"{columns}, which make no even rhythm in {meter}; write note values above the strings, such as q e e rq."
        )
    return TabError(bar.segments[0].row + 1, bar.segments[0].first + 1, what)


def _meters(bars: Sequence[_Bar], brief: Brief) -> list[Meter]:
    meters = brief.cycle.meters
    return [meters[number % len(meters)] for number in range(len(bars))]


def _meter_of(length: Fraction) -> Meter | None:
    """The usual meter of so many quarters."""
    for unit in (4, 8, 16):
        units = length * unit / 4
        if units.denominator == 1 and units >= 1:
            try:
                return parse_meter(f"{units}/{unit}")
            except UserError:
                return None
    return None


def _read_bar(bar: _Bar, meter: Meter, brief: Brief, place_of: Callable[[int], Fraction]) -> ReadBar:
    notes: dict[Fraction, list[tuple[int, Fret]]] = {}
    for string, (segment, typed) in enumerate(zip(bar.segments, bar.typed, strict=True), 1):
        before: Fraction | None = None
        for one in typed:
            # A fret may stand where it sounds, or its sign or bracket, but not where the one before
            # does.
            places = [place_of(column - segment.first) for column in one.columns]
            places = [place for place in places if before is None or place > before]
            if not places:
                raise TabError(
                    segment.row + 1, one.columns[-1] + 1, "this fret has no place of its own behind the one before it."
                )
            place = before = min(places, key=lambda at: at.denominator)
            if not 0 <= place < meter.quarters:
                raise TabError(segment.row + 1, one.columns[-1] + 1, "this fret stands outside its bar.")
            notes.setdefault(place, []).append((string, one.fret))
    order = sorted(notes)
    found = []
    for at, until in pairwise([*order, meter.quarters]):
        for string, fret in notes[at]:
            pitch = brief.tuning.strings[string - 1] + fret.fret
            found.append(PageNote(at, until - at, pitch, string, fret.fret, fret.marks, bend_semitones=fret.bend))
    page_bar = PageBar(0, meter, meter.quarters, in_order(found))
    segment = bar.segments[0]
    try:
        heads_of([page_bar])
    except UserError as error:
        raise TabError(segment.row + 1, segment.first + 1, str(error)) from None
    measure = Measure(segment.row, segment.first, [], [], [], bar.times, 0, bar.opens, bar.closes)
    return ReadBar(page_bar, measure)


# ---- counts --------------------------------------------------------------------------------------


def _counts_of(lines: Sequence[str], rows: range) -> list[tuple[int, str]]:
    """(column, word) of the counts above or below a system; empty for none."""
    above = next((row for row in range(rows.start - 1, -1, -1) if lines[row].strip()), -1)
    for row in (above if rows.start - above <= 3 else -1, rows.stop):
        if 0 <= row < len(lines):
            words = [(found.start(), found[0]) for found in re.finditer(r"\S+", lines[row].replace("|", " "))]
            if len(words) > 1 and words[0][1].isdigit() and all(_COUNT.fullmatch(word) for _, word in words):
                return words
    return []


def _counted(
    systems: Sequence[Sequence[_Bar]],
    counts: Sequence[list[tuple[int, str]]],
    meters: list[Meter],
    brief: Brief,
) -> list[ReadBar]:
    found: list[ReadBar] = []
    for bars, words in zip(systems, counts, strict=True):
        for bar in bars:
            meter = meters[len(found)]
            known = _places(bar, _over(bar, words), meter)
            found.append(_read_bar(bar, meter, brief, _Between(known, bar.width, meter.quarters)))
    return found


def _over(bar: _Bar, words: Sequence[tuple[int, str]]) -> list[tuple[int, str]]:
    """The counts of a bar."""
    first, last = bar.segments[0].first, bar.segments[0].last
    return [word for word in words if first - 1 <= word[0] <= last]


def _meter_counted(systems: Sequence[Sequence[_Bar]], counts: Sequence[list[tuple[int, str]]]) -> str | None:
    """The meter of bars that are all counted evenly to 2, or all to 3, and are at their end then;
    None for others.
    """
    found = set()
    for bars, words in zip(systems, counts, strict=True):
        for bar in bars:
            beats = [(column, int(word)) for column, word in _over(bar, words) if word.isdigit()]
            edges = [column for column, _ in beats] + [bar.segments[0].first + bar.width]
            gaps = [other - one for one, other in pairwise(edges)]
            in_turn = [number for _, number in beats] == list(range(1, len(beats) + 1))
            found.add(len(beats) if in_turn and gaps and max(gaps) - min(gaps) <= 1 else 0)
    return f"{found.pop()}/4" if found in ({2}, {3}) else None


def _places(bar: _Bar, words: Sequence[tuple[int, str]], meter: Meter) -> list[tuple[int, Fraction]]:
    """(column in the bar, place) of its counts. Raises TabError."""
    found: list[tuple[int, Fraction]] = []
    unit, number = meter.unit_quarters, 0
    segment = bar.segments[0]
    for column, word in words:
        if word.isdigit():
            number = int(word)
            part = Fraction(0)
        else:
            part = _QUARTERS[word] * unit
        place = (number - 1) * unit + part
        if number < 1 or not 0 <= place < meter.quarters or (found and place <= found[-1][1]):
            raise TabError(segment.row, column + 1, f"the count {word!r} has no place here in {meter}.")
        found.append((column - segment.first, place))
    if not found and bar.places():
        raise TabError(segment.row + 1, segment.first + 1, "this bar has no counts; the others have.")
    return found or [(0, Fraction(0))]


@dataclass(frozen=True)
class _Even:
    """The place of a column where all last the same."""

    lead: int
    a_quarter: int

    def __call__(self, column: int) -> Fraction:
        return Fraction(column - self.lead, self.a_quarter)


@dataclass(frozen=True)
class _Between:
    """The place of a column between counts."""

    known: list[tuple[int, Fraction]]
    width: int
    end: Fraction

    def __call__(self, column: int) -> Fraction:
        marks = [*self.known, (max(self.width, self.known[-1][0] + 1), self.end)]
        for (one, at), (other, until) in pairwise(marks):
            if one <= column < other:
                step = Fraction(1, lcm(4, at.denominator, until.denominator))
                return at + round((until - at) * Fraction(column - one, other - one) / step) * step
        return marks[0][1]
