"""Text tab read back: bars, places, lengths, strings, frets and marks, from what ``tab_text``
writes or somebody typed.

Faults are said with line and column, and nothing is guessed but one thing: where a line of a bar
lacks a fill character or two, what stands behind is taken to belong to the nearest column of the
line of values.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from loopdeck.brief.brief import Brief
from loopdeck.brief.tunings import find_tuning
from loopdeck.errors import UserError
from loopdeck.page.form import Page, PageBar, PageNote, in_order
from loopdeck.page.signs import Fret, read
from loopdeck.page.tab_bars import Measure, ReadBar, TabError, Token, numbered, unfolded
from loopdeck.page.tab_columns import LINE, is_hand_typed, is_string, read_columns, tuning_called
from loopdeck.page.tab_text import SET_IN
from loopdeck.page.values import PLAIN, TUPLETS, Value
from loopdeck.rhythm.meter import Meter, parse_meter

_STRING = re.compile(r"\s*([A-Ga-g][b#♭♯]{0,2})\s*([|│║].*)")
_HEADER = re.compile(r"\s*(tuning|tempo|meter|swing|scale|mood|technique|note)\s*:\s*(.*?)\s*", re.I)
_VALUE = re.compile(r"(r?)([whqestx])(\.{0,2})(\d{0,2})(~?)")
_SIGN = re.compile(r"\[(?:play (\d{1,3}) times|(\d)\.|(pick-up)|([0-9+()]+/[0-9]+))\]")
_NO_BAR = "behind the name of this string a bar line is missing, as in G |--5--7--|."
_FILL = "-─ "
_BARS = "|│║"
MOST_CHARACTERS = 2_000_000
#: Fill characters that may be missing in one line of a bar.
_MENDED = 2
_LETTERS = {letter: plain for plain, (letter, _) in PLAIN.items()}


def read_tab(text: str, brief: Brief | None = None) -> Page:
    """The page that a text holds; ``brief`` is for what its header leaves out. Raises UserError
    with line and column.
    """
    if len(text) > MOST_CHARACTERS:
        raise UserError(f"The text has {len(text):,} characters; a tab has {MOST_CHARACTERS:,} at most.")
    lines = text.expandtabs(8).splitlines()
    title, brief, words, told = _header(lines, brief or Brief.default())
    if not _has_values(lines) and is_hand_typed(lines):
        bars, brief, how = read_columns(lines, brief, told)
        return Page(title, brief, numbered(unfolded(bars)), words=words, extra={"rhythm": how})
    measures = [measure for system in _systems(lines, brief) for measure in _measures(lines, system, brief)]
    if not measures:
        raise TabError(max(len(lines), 1), 1, "there is no tab here; a string line reads like G |--5--7--|.")
    bars = _with_lengths(measures, brief)
    return Page(title, brief, numbered(unfolded(bars)), words=words)


# ---- header and systems --------------------------------------------------------------------------


def _has_values(lines: Sequence[str]) -> bool:
    """Whether note values stand above any of the strings: more of its words are values than not,
    and it counts no beats.
    """
    for row, line in enumerate(lines[1:], 1):
        above = _above(lines, row)
        if above < 0 or not _STRING.fullmatch(line) or _STRING.fullmatch(lines[above]) or LINE.fullmatch(lines[above]):
            continue
        words = lines[above].split()
        values = [word for word in words if _VALUE.fullmatch(word.lower())]
        if values and 2 * len(values) >= len(words) and not any(word.isdigit() or word in "&+" for word in words):
            return True
    return False


def _above(lines: Sequence[str], row: int) -> int:
    """The nearest line above that has something in it, at most two empty ones between; -1 for
    none.
    """
    return next((one for one in range(row - 1, max(row - 4, -1), -1) if lines[one].strip()), -1)


def _header(lines: Sequence[str], brief: Brief) -> tuple[str, Brief, str, frozenset[str]]:
    """The title, the brief, the player's note, and which keys were there."""
    title, note, told = "", "", set()
    rows = list(_header_lines(lines))
    for number, line in rows:
        found = _HEADER.fullmatch(line)
        if found is None:
            if number == 1 and line.strip():
                title = line.strip()
            continue
        key, value = found[1].lower(), found[2]
        told.add(key)
        try:
            if key == "note":
                note = value
            elif key == "tuning":
                brief = brief.replace(tuning=_tuning(value))
            else:
                brief = brief.replace(**{"cycle" if key == "meter" else key: value})
        except UserError as error:
            raise TabError(number, found.start(2) + 1, str(error)) from error
    return title, brief, note, frozenset(told)


def _header_lines(lines: Sequence[str]) -> Iterator[tuple[int, str]]:
    """(number, line) up to the first string, lines that are set in added to what they go on."""
    begun, whole = 0, ""
    for number, line in enumerate(lines, 1):
        if _STRING.fullmatch(line) or is_string(lines, number - 1):
            break
        if whole.strip() and line.startswith(SET_IN) and _goes_on(line):
            whole += " " + line.strip()
            continue
        if begun:
            yield begun, whole
        begun, whole = number, line
    if begun:
        yield begun, whole


def _goes_on(line: str) -> bool:
    """Whether a line that is set in is text, and not counts, values or signs."""
    words = line.split()
    plain = [word for word in words if not (_VALUE.fullmatch(word.lower()) or word in "&+" or word.isdigit())]
    return bool(plain) and _SIGN.search(line) is None and _HEADER.fullmatch(line) is None


def _tuning(text: str) -> str:
    """The tuning of a header: its name in brackets where that has the same strings, else the
    strings. Raises UserError.
    """
    words, _, name = text.partition("(")
    if (called := tuning_called(words.strip())) is not None:
        return called
    strings = find_tuning(words.strip()).strings
    try:
        named = find_tuning(name.strip(" )"))
    except UserError:
        return words.strip()
    return name.strip(" )") if named.strings == strings else words.strip()


def _systems(lines: Sequence[str], brief: Brief) -> list[range]:
    """The rows (from 0) of the string lines of each system."""
    count = len(brief.tuning.strings)
    found: list[range] = []
    row = 0
    while row < len(lines):
        if not _STRING.fullmatch(lines[row]):
            row += 1
            continue
        end = row
        while end < len(lines) and _STRING.fullmatch(lines[end]):
            end += 1
        if end - row != count:
            broken = next((one for one in (row - 1, end) if is_string(lines, one) and one not in range(row, end)), None)
            if broken is not None:
                raise TabError(broken + 1, len(lines[broken]) - len(lines[broken].lstrip()) + 2, _NO_BAR)
            are = "is 1 string line" if end - row == 1 else f"are {end - row} string lines"
            raise TabError(row + 1, 1, f"here {are}; the tuning {brief.tuning} has {count}.")
        found.append(range(row, end))
        row = end
    return found


def _measures(lines: Sequence[str], rows: range, brief: Brief) -> list[Measure]:
    for row, string in zip(rows, range(1, len(rows) + 1), strict=True):
        name = _STRING.fullmatch(lines[row])
        assert name is not None
        wanted = brief.tuning.name_of(string)
        if find_name(name[1]) != find_name(wanted):
            raise TabError(
                row + 1,
                name.start(1) + 1,
                f"this line is called {name[1]}, and string {string} of the tuning is {wanted}.",
            )
    cuts = [_cuts(lines[row]) for row in rows]
    count = max(len(one) for one in cuts)
    for row, one in zip(rows, cuts, strict=True):
        if len(one) != count or len(one) < 2:
            raise TabError(
                row + 1,
                len(lines[row].rstrip()) or 1,
                f"this line has {len(one)} bar line{'' if len(one) == 1 else 's'} where {max(count, 2)} are wanted.",
            )
    above = _above(lines, rows.start)
    if above < 0 or not _VALUE.search(lines[above].lower()):
        raise TabError(rows.start + 1, 1, "above the strings a line of note values is missing, such as q e e rq.")
    guide = _guide(cuts)
    return [_measure(lines, rows, cuts, guide, bar) for bar in range(count - 1)]


def _cuts(line: str) -> list[int]:
    """The columns of the bar lines; the one at the end of a line may be missing."""
    found = [at for at, sign in enumerate(line) if sign in _BARS]
    end = len(line.rstrip())
    return [*found, end] if found and found[-1] < end - 1 else found


def find_name(name: str) -> str:
    """A string's name for comparing."""
    plain = name.replace("♭", "b").replace("♯", "#")
    return plain[:1].upper() + plain[1:]


def _guide(cuts: list[list[int]]) -> int:
    """The string line by whose bar lines the others are judged: one like most."""
    shapes = [tuple(one) for one in cuts]
    best = max(set(shapes), key=lambda shape: (shapes.count(shape), shape))
    return shapes.index(best)


def _measure(lines: Sequence[str], rows: range, cuts: list[list[int]], guide: int, bar: int) -> Measure:
    first, last = cuts[guide][bar], cuts[guide][bar + 1]
    last_bar = bar + 2 == len(cuts[guide])
    above = _above(lines, rows.start)
    values = _tokens(lines[above].lower(), first, len(lines[above]) if last_bar else last)
    measure = Measure(rows.start, first + 1, values, [], [])
    for place, row in enumerate(rows):
        begin, end = cuts[place][bar], cuts[place][bar + 1]
        body = lines[row][begin + 1 : end]
        measure.opens |= body.startswith(":")
        measure.closes |= body.endswith(":")
        slack = (last - first) - (end - begin)
        if not 0 <= slack <= _MENDED:
            raise TabError(
                row + 1,
                begin + 2,
                f"this bar is {abs(slack)} column{'' if abs(slack) == 1 else 's'} {'shorter' if slack > 0 else 'longer'} here than on the "
                "other strings.",
            )
        measure.strings.append(_frets(lines[row], row, begin, end))
        measure.slack.append(slack)
    _add_signs(measure, lines, _above(lines, above), first, last if not last_bar else 10**9)
    return measure


def _tokens(line: str, first: int, last: int) -> list[Token]:
    """Words of a line between two columns, by their distance from the first."""
    return [
        Token(found.start() - first, found[0]) for found in re.finditer(r"\S+", line) if first < found.start() < last
    ]


def _frets(line: str, row: int, begin: int, end: int) -> list[Token]:
    found = []
    at = begin + 1
    while at < end:
        if line[at] in _FILL or (line[at] == ":" and at in (begin + 1, end - 1)):
            at += 1
            continue
        until = at
        while until < end and line[until] not in _FILL and not (line[until] == ":" and until == end - 1):
            until += 1
        if read(line[at:until]) is None:
            raise TabError(row + 1, at + 1, f"{line[at:until][:20]!r} is not a fret with its signs.")
        found.append(Token(at - begin, line[at:until]))
        at = until
    return found


def _add_signs(measure: Measure, lines: Sequence[str], row: int, first: int, last: int) -> None:
    """The signs above a bar, in the two lines above the line of values."""
    for line in (row, _above(lines, row)):
        if line < 0 or _STRING.fullmatch(lines[line]) or _HEADER.fullmatch(lines[line]):
            return
        for found in _SIGN.finditer(lines[line]):
            if first <= found.start() < last:
                times, ending, pickup, meter = found.groups()
                measure.times = int(times) if times else measure.times
                measure.ending = int(ending) if ending else measure.ending
                measure.pickup |= pickup is not None
                if meter:
                    measure.meter = _meter(meter, line, found.start(4))


def _meter(text: str, row: int, column: int) -> Meter:
    try:
        return parse_meter(text)
    except UserError as error:
        raise TabError(row + 1, column + 1, str(error)) from error


# ---- lengths -------------------------------------------------------------------------------------


class _Head(NamedTuple):
    """A word of the line of values: its place in the bar, length, whether it rests, whether it is
    tied on.
    """

    column: int
    at: Fraction
    length: Fraction
    rest: bool
    tied: bool


def _with_lengths(measures: list[Measure], brief: Brief) -> list[ReadBar]:
    read_bars: list[ReadBar] = []
    meters = brief.cycle.meters
    meter, place = meters[0], 0
    # Where bars say their meter it holds until another one; else the bars go through the cycle.
    said = any(measure.meter is not None for measure in measures)
    tied_into = False
    for measure in measures:
        if measure.meter is not None:
            meter = measure.meter
        elif not measure.pickup and not said:
            meter = meters[place % len(meters)]
        heads = _heads(measure)
        length = sum((head.length for head in heads), Fraction(0))
        if length != meter.quarters and not measure.pickup:
            raise TabError(
                measure.line,
                measure.column,
                f"the note values of this bar add up to {length} quarters; {meter} has {meter.quarters}.",
            )
        notes, tied_into = _notes(measure, heads, brief, tied_into, read_bars)
        read_bars.append(ReadBar(PageBar(0, meter, length, in_order(notes), measure.pickup), measure))
        place += not measure.pickup
    if tied_into:
        last = measures[-1]
        raise TabError(last.line, last.column, "the last note is tied to a next one, which is missing.")
    return read_bars


def _heads(measure: Measure) -> list[_Head]:
    heads, at = [], Fraction(0)
    for token in measure.values:
        found = _VALUE.fullmatch(token.text)
        if found is None:
            raise TabError(
                measure.line,
                measure.column + token.column,
                f"{token.text[:20]!r} is not a note value; write q, e., s3 or rq.",
            )
        rest, letter, dots, tuplet, tie = found.groups()
        if tuplet and int(tuplet) not in TUPLETS:
            raise TabError(
                measure.line,
                measure.column + token.column,
                f"there is no tuplet of {tuplet}; there are {', '.join(map(str, TUPLETS))}.",
            )
        actual, normal = TUPLETS[int(tuplet)] if tuplet else (0, 0)
        length = Value(_LETTERS[letter], len(dots), actual, normal).length
        heads.append(_Head(token.column, at, length, bool(rest), bool(tie)))
        at += length
    return heads


def _notes(
    measure: Measure, heads: list[_Head], brief: Brief, tied: bool, before: list[ReadBar]
) -> tuple[list[PageNote], bool]:
    """The notes of a bar; heads that a tie leads into lengthen the notes before."""
    notes: list[PageNote] = []
    frets = _by_head(measure, heads)
    for number, head in enumerate(heads):
        here = frets.get(number, [])
        if tied:
            if head.rest or here:
                raise TabError(measure.line, measure.column + head.column, "a note is tied to this, which begins anew.")
            _lengthen(notes, before, head.length)
        elif head.rest != (not here):
            what = "a rest has a fret below it" if head.rest else "a note value has no fret below it"
            raise TabError(measure.line, measure.column + head.column, f"{what}.")
        for string, fret in here:
            try:
                notes.append(_note(head, string, fret, brief))
            except UserError as error:
                raise TabError(measure.line + string, measure.column + head.column, str(error)) from None
        tied = head.tied
    return notes, tied


def _by_head(measure: Measure, heads: list[_Head]) -> dict[int, list[tuple[int, Fret]]]:
    """For each head the (string, fret) below it."""
    columns = [head.column for head in heads]
    found: dict[int, list[tuple[int, Fret]]] = {}
    for string, (tokens, slack) in enumerate(zip(measure.strings, measure.slack, strict=True), 1):
        for token in tokens:
            fits = [place for place, column in enumerate(columns) if 0 <= column - token.column <= slack]
            if len(fits) != 1:
                raise TabError(
                    measure.line + string,
                    measure.column + token.column,
                    f"{token.text[:20]!r} stands below no note value.",
                )
            fret = read(token.text)
            assert fret is not None
            found.setdefault(fits[0], []).append((string, fret))
    return found


def _lengthen(notes: list[PageNote], before: list[ReadBar], by: Fraction) -> None:
    if notes:
        last = notes[-1].at
        notes[:] = [replace(note, duration=note.duration + by) if note.at == last else note for note in notes]
        return
    one = next(one for one in reversed(before) if one.bar.notes)
    last = one.bar.notes[-1].at
    longer = tuple(replace(note, duration=note.duration + by) if note.at == last else note for note in one.bar.notes)
    one.bar = replace(one.bar, notes=longer)


def _note(head: _Head, string: int, fret: Fret, brief: Brief) -> PageNote:
    pitch = brief.tuning.strings[string - 1] + fret.fret
    if fret.fret > brief.tuning.frets or pitch > 127:
        raise UserError(f"there is no fret {fret.fret} on the tuning {brief.tuning}, which has {brief.tuning.frets}.")
    return PageNote(head.at, head.length, pitch, string, fret.fret, fret.marks, bend_semitones=fret.bend)
