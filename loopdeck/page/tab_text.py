"""Text tab: a line a string, counts and note values above, as players write it by hand.

Layout of a system
    A line of signs where there are any (``[play 4 times]``, ``[1.]``, a meter that changes,
    ``[pick-up]``), a line of counts, a line of note values, then the strings from the highest.
    Every chord, rest and tied head has a column of its own in the line of values: ``q`` quarter,
    ``e`` eighth, ``s`` sixteenth, ``t`` thirty-second, ``h`` half, ``w`` whole, dots and tuplets
    behind (``q.``, ``e3``), ``r`` before a rest, ``~`` where it is tied to the next. So places and
    lengths can be read back exactly, whatever the width of a column.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from textwrap import wrap

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.page.folding import Section, folded
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.hands import Hands
from loopdeck.page.signs import Fret, legend, written
from loopdeck.page.voice import Head, heads_of
from loopdeck.theory.pitch import pitch_name
from loopdeck.theory.tuning import FRETS, tuning_text

#: Narrower pages hold no bar of sixteenths; wider ones nobody reads.
LEAST_WIDTH, MOST_WIDTH = 40, 400
_STROKES = {"down": "n", "up": "v"}
_HANDS = {
    "down": "n down, v up", "up": "n down, v up", "pluck": "p i m a thumb, index, middle, ring", "finger": "1 to 4 fretting fingers",
}  # fmt: skip
_LINE, _BAR = ("─", "│"), ("-", "|")
#: Columns that a head gets for its length: so many for the shortest in its bar, at most so many for
#: any; less in a bar that is too wide for a line.
_UNIT, _CLOSER = 2, (10, 7, 5, 3, 2)
#: What stands before the later lines of a long line of the header.
SET_IN = "    "


@dataclass
class _Cell:
    """One bar as columns: what stands where in each line, the width, and how it begins and ends."""

    width: int
    values: list[tuple[int, str]] = field(default_factory=list)
    counts: list[tuple[int, str]] = field(default_factory=list)
    strings: dict[int, list[tuple[int, str]]] = field(default_factory=dict)
    hands: list[tuple[int, tuple[str, str]]] = field(default_factory=list)
    sign: str = ""
    opens: bool = False
    closes: bool = False


def tab_text(page: Page, width: int = 80, ascii_only: bool = False, hands: Hands | None = None) -> str:
    """The page as text, at most ``width`` columns wide where a bar is no wider than that; below the
    strings ``hands``, where they are wanted.

    Raises UserError for notes that the tuning does not have.
    """
    if not LEAST_WIDTH <= width <= MOST_WIDTH:
        raise UserError(
            f"A width of {width} is out of range; it must lie between {LEAST_WIDTH} and {MOST_WIDTH} columns."
        )
    check_playable(page)
    names = _names(page)
    cells = list(_cells(page, hands, width - len(names[0]) - 2))
    fill, bar = _BAR if ascii_only else _LINE
    lines = [row for line in _header(page) for row in wrapped(line, width)]
    for system in _systems(cells, width - len(names[0]) - 2):
        lines += ["", *_system(system, names, fill, bar)]
    used = {mark for one in page.bars for note in one.notes for mark in note.marks}
    if said := legend(used):
        lines += ["", *wrap(f"signs: {said}", width, subsequent_indent=" " * 7)]
    if hands is not None and (said := _hands_legend(page, hands)):
        lines += [] if legend(used) else [""]
        lines += wrap(f"hands: {said}", width, subsequent_indent=" " * 7)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _hands_legend(page: Page, hands: Hands) -> str:
    found = [hands.as_dict(note) for bar in page.bars for note in bar.notes]
    keys = {key for one in found for key in ("finger", "pluck") if one.get(key)} | {one.get("stroke") for one in found}
    return ", ".join(dict.fromkeys(words for key, words in reversed(_HANDS.items()) if key in keys))


def check_playable(page: Page) -> None:
    """Raises UserError where a note has no string, or two at once the same one."""
    for bar in page.bars:
        taken: set[tuple[Fraction, int]] = set()
        for note in bar.notes:
            if note.string and (note.at, note.string) in taken:
                raise UserError(_crowded(bar, note))
            taken.add((note.at, note.string))
            if not note.string:
                strings = page.brief.tuning.strings
                if min(strings) <= note.pitch <= max(strings) + page.brief.tuning.frets:
                    raise UserError(_crowded(bar, note))
                raise UserError(
                    f"{pitch_name(note.pitch)} in bar {bar.number} has no place on the tuning "
                    f"{page.brief.tuning}; choose another with"
                    " --tuning, or other bars with --bars."
                )


def _crowded(bar: PageBar, note: PageNote) -> str:
    return (
        f"Bar {bar.number} has more notes at once than the strings and the hand have room for"
        f" ({pitch_name(note.pitch)} is left over); choose a finer --grid, other bars with --bars,"
        " or one part of a file with takes import --part; loopdeck sheet --parts staff needs no strings."
    )


def _names(page: Page) -> list[str]:
    tuning = page.brief.tuning
    names = [tuning.name_of(string) for string in range(1, len(tuning.strings) + 1)]
    wide = max(len(name) for name in names)
    return [name.rjust(wide) for name in names]


def _header(page: Page) -> list[str]:
    brief = page.brief
    rows = [
        ("tuning", _tuning(page)),
        ("tempo", str(brief.tempo)),
        ("meter", str(brief.cycle)),
    ]
    if not brief.swing.straight:
        # A tab does not say its grid, by which a swing without a unit goes.
        told = brief.swing.unit_for(brief.grid)
        swing = brief.swing if told == brief.swing.unit_for(Brief.default().grid) else replace(brief.swing, unit=told)
        rows.append(("swing", str(swing)))
    if brief.scale is not None:
        rows.append(("scale", str(brief.scale)))
    said = (("mood", brief.mood), ("technique", brief.technique), ("note", page.words))
    rows += [(name, " ".join(text.split())) for name, text in said if text.strip()]
    title = " ".join(page.title.split()) or "untitled"
    return [title, *(f"{name}: {text}" for name, text in rows)]


def _tuning(page: Page) -> str:
    """The open strings from the lowest, with the name that the tuning goes by."""
    tuning = page.brief.tuning
    strings, name = " ".join(pitch_name(pitch) for pitch in reversed(tuning.strings)), str(tuning)
    if tuning != replace(tuning, frets=FRETS, fretless=False):
        return tuning_text(tuning)
    return strings if name == strings else f"{strings} ({name})"


def wrapped(line: str, width: int) -> list[str]:
    """A line of the header in lines of at most ``width`` columns, the later ones set in."""
    return wrap(line, width, subsequent_indent=SET_IN, break_long_words=False, break_on_hyphens=False) or [line]


def _cells(page: Page, hands: Hands | None, room: int) -> Iterator[_Cell]:
    """The bars as columns, repeats folded; a bar that is wider than ``room`` is set closer."""
    meter = ""
    for section in folded(page.bars):
        parts: list[tuple[Sequence[PageBar], str]] = [(section.bars, _sign(section))]
        parts += [(ending, f"[{number}.]") for number, ending in enumerate(section.endings, 1)]
        for place, (bars, sign) in enumerate(parts):
            for number, (bar, heads) in enumerate(zip(bars, heads_of(bars), strict=True)):
                cell = next(
                    (one for most in _CLOSER if (one := _cell(bar, heads, hands, most)).width + 3 <= room),
                    _cell(bar, heads, hands, _CLOSER[-1]),
                )
                words = [sign] if number == 0 and sign else []
                words += [f"[{bar.meter}]"] if str(bar.meter) != meter else []
                words += ["[pick-up]"] if bar.pickup else []
                meter = str(bar.meter)
                cell.sign = " ".join(words)
                cell.opens = section.times > 1 and place == 0 and number == 0
                last = number + 1 == len(bars)
                cell.closes = (
                    last and section.times > 1 and (place == len(parts) - 1 if not section.endings else place == 1)
                )
                cell.width = max(cell.width, len(cell.sign) + 1)
                yield cell


def _sign(section: Section) -> str:
    return f"[play {section.times} times]" if section.times > 1 and not section.endings else ""


def _cell(bar: PageBar, heads: list[Head], hands: Hands | None, most: int) -> _Cell:
    cell = _Cell(1)
    unit = min(head.value.length for head in heads)
    for head in heads:
        tokens = {} if head.from_before else {note.string: _token(note) for note in head.notes}
        value = _value(head)
        wide = min(int(head.value.length / unit * _UNIT), most)
        signs = ("", "") if hands is None or head.from_before else hands_signs(hands, head.notes)
        texts = (value, *tokens.values(), *signs)
        wide = max(wide, *(len(text) + 1 for text in texts))
        cell.values.append((cell.width, value))
        cell.counts.append((cell.width, _count(bar, head.at)))
        cell.hands.append((cell.width, signs))
        for string, token in tokens.items():
            cell.strings.setdefault(string, []).append((cell.width, token))
        cell.width += wide
    return cell


def hands_signs(hands: Hands, notes: Sequence[PageNote]) -> tuple[str, str]:
    """The fretting fingers of a chord from its lowest note, and below them the stroke, or the
    plucking fingers.
    """
    found = [hands.as_dict(note) for note in notes]
    fingers = "".join(str(one["finger"]) for one in found if one.get("finger"))
    stroke = "".join(_STROKES.get(one.get("stroke", ""), "") + one.get("pluck", "") for one in found)
    return fingers, stroke


def _token(note: PageNote) -> str:
    return written(Fret(note.fret, note.marks, note.bend_semitones))


def _value(head: Head) -> str:
    return f"{'' if head.notes else 'r'}{head.value}{'~' if head.to_next else ''}"


def _count(bar: PageBar, at: Fraction) -> str:
    """What a player counts at a place: the number of the unit, ``e & a`` between quarters, ``&``
    between eighths; nothing elsewhere.
    """
    if bar.pickup:
        at += bar.meter.quarters - bar.length
    unit = bar.meter.unit_quarters
    number, rest = divmod(at, unit)
    part = rest / unit
    if part == 0:
        return str(number + 1)
    between = {Fraction(1, 2): "&"} if unit < 1 else {Fraction(1, 4): "e", Fraction(1, 2): "&", Fraction(3, 4): "a"}
    return between.get(part, "")


def _systems(cells: list[_Cell], room: int) -> Iterator[list[_Cell]]:
    """As many bars a line as fit; one at least."""
    system: list[_Cell] = []
    used = 0
    for cell in cells:
        wide = cell.width + 1 + cell.opens + cell.closes
        if system and used + wide > room:
            yield system
            system, used = [], 0
        system.append(cell)
        used += wide
    if system:
        yield system


def _system(cells: list[_Cell], names: list[str], fill: str, bar: str) -> list[str]:
    left = len(names[0]) + 2
    signs, counts, values = " " * left, " " * left, " " * left
    below = [" " * left, " " * left]
    strings = [f"{name} {bar}" for name in names]
    for cell in cells:
        at = len(strings[0])
        opens = ":" if cell.opens else ""
        for row in range(len(strings)):
            body = _filled(cell.strings.get(row + 1, []), cell.width, fill)
            strings[row] += opens + body + (":" if cell.closes else "") + bar
        at += len(opens)
        signs = _put(signs, at, cell.sign)
        for column, text in cell.counts:
            counts = _put(counts, at + column, text)
        for column, text in cell.values:
            values = _put(values, at + column, text)
        for column, pair in cell.hands:
            below = [_put(line, at + column, text) for line, text in zip(below, pair, strict=True)]
    return [*([signs] if signs.strip() else []), counts, values, *strings, *(line for line in below if line.strip())]


def _put(line: str, column: int, text: str) -> str:
    return line.ljust(column) + text if text else line


def _filled(tokens: list[tuple[int, str]], width: int, fill: str) -> str:
    body = ""
    for column, token in tokens:
        body = body.ljust(column, fill) + token
    return body.ljust(width, fill)
