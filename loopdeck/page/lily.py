"""The written form as input of the typesetter LilyPond: staff and tab, as one system.

Conventions
    Pitches are written as they are printed, an octave above a bass's sound; so are the strings of
    the tab staff. Names are LilyPond's Dutch ones (``fis``, ``bes``). Repeats are folded; swing is
    a sign above the first bar.
"""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from textwrap import wrap
from unicodedata import east_asian_width

from loopdeck.page.beams import beam_groups, tuplets_of
from loopdeck.page.folding import Section, folded
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.hands import PLUCKING, Hands
from loopdeck.page.in_words import brief_in_words
from loopdeck.page.joined import following, join_of
from loopdeck.page.lily_lines import last_line_is_full, line_ends
from loopdeck.page.musicxml import Instrument
from loopdeck.page.signature import NoteName, fifths_of, written
from loopdeck.page.voice import Head, heads_of
from loopdeck.rhythm.meter import Meter

VERSION = "2.24.0"
_MAJOR_KEYS = ("ces", "ges", "des", "as", "es", "bes", "f", "c", "g", "d", "a", "e", "b", "fis", "cis")
_ALTERS = {-2: "eses", -1: "es", 0: "", 1: "is", 2: "isis"}
_PLAIN = {
    Fraction(4): "1",
    Fraction(2): "2",
    Fraction(1): "4",
    Fraction(1, 2): "8",
    Fraction(1, 4): "16",
    Fraction(1, 8): "32",
    Fraction(1, 16): "64",
}


def quoted(text: str) -> str:
    """Text as a LilyPond string."""
    clean = "".join(sign if sign.isprintable() else " " for sign in text)
    return '"' + clean.replace("\\", "\\\\").replace('"', '\\"') + '"'


def with_accidentals(text: str) -> str:
    """Text as markup, the sharps and flats of note names as signs of music."""
    parts = re.split(r"(?<=\b[A-G])([b#])(?=\b|[0-9 ]|$)", text)
    if len(parts) == 1:
        return quoted(text)
    signs = {
        "b": "\\hspace #0.15 \\raise #0.4 \\fontsize #-4 \\flat",
        "#": "\\hspace #0.2 \\raise #0.65 \\fontsize #-4 \\sharp",
    }
    return "\\concat { " + " ".join(signs[part] if part in signs else quoted(part) for part in parts) + " }"


#: A picture is one page; more bars than this make it longer than anything can show.
MOST_BARS_IN_PICTURE = 160
HEAD = f'\\version "{VERSION}"\n#(ly:set-option \'relative-includes #f)\n#(set-global-staff-size 18)\n'
#: What every sheet of ours looks like.
PAPER = """\\paper {
  #(set-paper-size "a4")
  top-margin = 14\\mm bottom-margin = 14\\mm left-margin = 17\\mm right-margin = 15\\mm
  indent = 0 ragged-right = ##f ragged-last = ##t ragged-bottom = ##t ragged-last-bottom = ##t
  system-system-spacing = #'((basic-distance . 14) (minimum-distance . 14) (padding . 2.5) (stretchability . 0))
  tagline = ##f
  bookTitleMarkup = ##f scoreTitleMarkup = ##f oddHeaderMarkup = ##f evenHeaderMarkup = ##f
%s
}
"""
LAYOUT = """\\layout {
  \\context { \\Score
    \\override SpacingSpanner.base-shortest-duration = #(ly:make-moment 1/16)
    \\override BarNumber.font-size = #-4
    \\override BarNumber.self-alignment-X = #LEFT
    \\override BarNumber.extra-offset = #'(1.3 . 0)
    \\override MetronomeMark.padding = #1.5
    \\override RehearsalMark.self-alignment-X = #LEFT
    printInitialRepeatBar = ##t
    %s
  }
  \\context { \\StaffGroup
    \\override StaffGrouper.staff-staff-spacing = #'((basic-distance . 9) (minimum-distance . 9) (padding . 1) (stretchability . 0))
  }
  \\context { \\Staff \\numericTimeSignature \\override TextScript.staff-padding = #2.4 \\override TupletBracket.bracket-visibility = #'if-no-beam }
  \\context { \\TabStaff
    \\override TupletBracket.stencil = ##f
    \\override TupletNumber.stencil = ##f
  }
}
"""


def sheet(page: Page, parts: Sequence[str], instrument: Instrument, hands: Hands | None, picture: bool) -> str:
    """A whole file for the typesetter: title, staff and tab, on pages or (``picture``) on one page
    as high as it needs.

    Raises UserError for more bars than a picture can show.
    """
    from loopdeck.errors import UserError

    count = sum(len(section.bars) + sum(map(len, section.endings)) for section in folded(page.bars))
    if picture and count > MOST_BARS_IN_PICTURE:
        raise UserError(
            f"{count} bars do not fit into a picture; {MOST_BARS_IN_PICTURE} are the most. Write a PDF, or "
            "choose some with --bars."
        )
    paper = "  page-breaking = #ly:one-page-breaking" if picture else _PAGE_NUMBERS
    title = " ".join(page.title.split()) or "untitled"
    return (
        HEAD
        + PAPER % paper
        + LAYOUT % ""
        + f"\\markup \\column {{ {_title_lines(title)} \\vspace #0.3 \\fill-line {{ \\fontsize #-1 "
        + with_accidentals(brief_in_words(page))
        + " } \\vspace #0.8 }\n"
        + score(page, parts, instrument, hands)
    )


def _title_lines(title: str) -> str:
    """The title in lines of about the same length, in smaller letters where it needs several."""
    # Wide letters take the room of two.
    wide = sum(east_asian_width(letter) in "WF" for letter in title)
    most = _TITLE_LETTERS * len(title) // (len(title) + wide)
    size = 5 if len(title) <= most else 3
    lines = balanced(title, most if size == 5 else most * 5 // 4)
    return " \\vspace #0.15 ".join(f"\\fill-line {{ \\fontsize #{size} \\bold {quoted(line)} }}" for line in lines)


_TITLE_LETTERS = 54


def balanced(text: str, wide: int) -> list[str]:
    """Text in as few lines of at most ``wide`` letters as it takes, of about the same length."""
    count = len(wrap(text, wide))
    while wide > 8 and len(wrap(text, wide - 1)) == count:
        wide -= 1
    return wrap(text, wide)


_PAGE_NUMBERS = (
    "  oddFooterMarkup = \\markup \\fill-line { \\unless \\on-first-page \\fromproperty #'page:page-number-string }\n"
    "  evenFooterMarkup = \\oddFooterMarkup"
)


def score(page: Page, parts: Sequence[str], instrument: Instrument, hands: Hands | None = None, more: str = "") -> str:
    """A ``\\score`` block for the page; ``more``: further overrides of its layout."""
    staves = []
    for part in parts:
        alone = len(parts) == 1
        music = _music(page, part == "tab", alone, -instrument.octaves, hands if part != "tab" or alone else None)
        staves.append(_tab_staff(page, music, instrument, alone) if part == "tab" else _staff(page, music, instrument))
    joined = "\n".join(staves)
    group = f"\\new StaffGroup <<\n{joined}\n>>" if len(staves) > 1 else joined
    return f"\\score {{\n{group}\n\\layout {{ ragged-last = ##{'f' if last_line_is_full(page) else 't'} \\context {{ \\Score {more} }} }}\n}}\n"


def _staff(page: Page, music: str, instrument: Instrument) -> str:
    clef = "bass" if instrument.sign == "F" else "treble"
    return f"\\new Staff {{ \\clef {clef}\n{_key(page)}\n{music}\n}}"


def _tab_staff(page: Page, music: str, instrument: Instrument, alone: bool) -> str:
    strings = " ".join(
        _pitch(written(pitch - 12 * instrument.octaves, None)) for pitch in reversed(page.brief.tuning.strings)
    )
    lines = [
        "\\new TabStaff \\with {",
        f"  stringTunings = \\stringTuning <{strings}>",
        "} {",
        "\\tabFullNotation \\stemDown" if alone else "\\override TabStaff.TimeSignature.stencil = ##f",
        "\\override TextScript.stencil = #ly:text-interface::print",
        music,
        "}",
    ]
    return "\n".join(lines)


def _key(page: Page) -> str:
    return f"\\key {_MAJOR_KEYS[fifths_of(page.brief.scale) + 7]} \\major"


def _music(page: Page, tab: bool, alone: bool, octaves: int, hands: Hands | None) -> str:
    lines: list[str] = []
    first = alone or not tab
    if first:
        lines.append(_tempo(page))
    writer = _Writer(page, tab, first, octaves, hands)
    bars_before = 0
    sections = folded(page.bars)
    for section in sections:
        lines += _section(section, writer, bars_before)
        bars_before += len(section.bars) + sum(len(ending) for ending in section.endings)
    repeated = sections[-1].times > 1 and not sections[-1].endings
    return "\n".join([*lines, *([] if repeated else ['\\bar "|."'])])


def _section(section: Section, writer: "_Writer", before: int) -> list[str]:
    body = list(writer.bars(section.bars, before))
    if section.times == 1:
        return body
    lines = [f"\\repeat volta {section.times} {{"]
    if section.times > 2 and writer.first:
        body[-1] += f' \\tweak direction #UP \\textEndMark \\markup \\italic "play {section.times} times"'
    lines += body
    lines.append("}")
    if section.endings:
        lines.append("\\alternative {")
        place = before + len(section.bars)
        for ending in section.endings:
            lines.append("{ " + " ".join(writer.bars(ending, place)) + " }")
            place += len(ending)
        lines.append("}")
    return lines


_TEMPO_UNITS = {
    "quarter": "4", "8th": "8", "half": "2", "16th": "16", "dotted-quarter": "4.", "dotted-8th": "8.", "dotted-half": "2.", "whole": "1",
}  # fmt: skip


def tempo_sign(page: Page) -> tuple[str, str]:
    """The unit of the tempo as a length, and how many a minute."""
    tempo = page.brief.tempo
    unit = _TEMPO_UNITS.get(tempo.unit)
    return unit or "4", str(round(float(tempo.count) if unit is not None else tempo.quarters_per_minute))


def _tempo(page: Page) -> str:
    unit, count = tempo_sign(page)
    swing = page.brief.swing
    if swing.straight:
        return f"\\tempo {unit} = {count}"
    sign = _swing_sign(swing.unit_for(page.brief.grid) == Fraction(1, 2), swing.ratio)
    return f"\\tempo \\markup \\normal-text {{ {sign} }} {unit} = {count}"


def _swing_sign(eighths: bool, ratio: Fraction) -> str:
    """Two even notes are played as the long and the short one of a triplet; of another ratio the
    share of the first is said.
    """
    even, long, short = ("8[ 8]", "4", "8") if eighths else ("16[ 16]", "8", "16")
    if ratio == 2:
        return f"\\rhythm {{ {even} }} = \\rhythm {{ \\tuplet 3/2 {{ {long} {short} }} }}"
    return f'\\italic "swing" \\rhythm {{ {even} }} {quoted(f"{float(ratio / (ratio + 1) * 100):.0f} %")}'


class _Writer:
    """Writes bars; what was said last (the meter, the bars on this line) is said again only where
    it changes.
    """

    def __init__(self, page: Page, tab: bool, first: bool, octaves: int, hands: Hands | None) -> None:
        self.tab, self.first = tab, first
        self._scale, self._octaves, self._hands = page.brief.scale, octaves, hands
        self._meter, self._number, self._strings = "", 1, len(page.brief.tuning.strings)
        self._following = following(page)
        self._reached = {id(note) for note in self._following.values()}
        self._breaks = line_ends(page)

    def bars(self, bars: Sequence[PageBar], before: int) -> Iterator[str]:
        """A line of LilyPond for each bar; ``before`` counts the bars written before."""
        for number, (bar, heads) in enumerate(zip(bars, heads_of(bars), strict=True), before):
            words = []
            if bar.number not in (self._number, 0):
                words.append(f"\\set Score.currentBarNumber = #{bar.number}")
            self._number = bar.number + 1
            if str(bar.meter) != self._meter:
                words.append(_time(bar.meter))
                self._meter = str(bar.meter)
            if bar.pickup:
                words.append(f"\\partial {_partial(bar.length)}")
            words += self._heads(bar, heads)
            words.append("|")
            words.append("\\break" if number in self._breaks else "\\noBreak")
            yield " ".join(words)

    def _heads(self, bar: PageBar, heads: Sequence[Head]) -> list[str]:
        if not any(head.notes for head in heads) and not bar.pickup:
            return [f"R1*{bar.length / 4}"]
        shift = bar.meter.quarters - bar.length if bar.pickup else Fraction(0)
        beams = {group[0]: "[" for group in beam_groups(heads, bar.meter, shift)} | {
            group[-1]: "]" for group in beam_groups(heads, bar.meter, shift)
        }
        words = []
        for index, (head, (begins, ends)) in enumerate(zip(heads, tuplets_of(heads), strict=True)):
            if begins:
                words.append(f"\\tuplet {head.value.actual}/{head.value.normal} {{")
            words.append(self._head(head, beams.get(index, "")))
            if ends:
                words.append("}")
        return words

    def _head(self, head: Head, beam: str) -> str:
        length = _PLAIN[head.value.plain] + "." * head.value.dots
        if not head.notes:
            return f"r{length}"
        notes = [self._note(note) for note in head.notes]
        body = f"<{' '.join(notes)}>" if len(notes) > 1 or self.tab else notes[0]
        first = head.notes[-1]
        return body + length + beam + ("~" if head.to_next else "") + self._signs(head, first)

    def _note(self, note: PageNote) -> str:
        name = _pitch(written(note.pitch + 12 * self._octaves, self._scale))
        string = f"\\{note.string}" if self.tab and note.string else ""
        if "dead" in note.marks:
            return f"\\tweak style #'cross {name}{string}" if not self.tab else f"\\deadNote {name}{string}"
        if "ghost" in note.marks:
            return f"\\parenthesize {name}{string}"
        return name + string

    def _signs(self, head: Head, note: PageNote) -> str:
        """What stands at a head: slurs, glides, marks and hands."""
        signs = ""
        if id(note) in self._reached and not head.from_before and join_of(note) != "slide":
            signs += ")"
        next_note = self._following.get(id(note)) if not head.to_next else None
        if next_note is not None:
            signs += _to_next(join_of(next_note), self.tab)
        if head.from_before:
            return signs
        signs += "".join(_MARKS[mark] for mark in note.marks if mark in _MARKS)
        if self.first:
            signs += "".join(_MARKS_ONCE[mark] for mark in note.marks if mark in _MARKS_ONCE)
        if self.tab:
            alone = id(note) not in self._reached
            marks = ["slide-from" if mark == "slide" and alone else mark for mark in note.marks]
            signs += "".join(_above_tab(mark, note, self._strings) for mark in marks)
            if id(note) not in self._reached and join_of(note) in ("hammer-on", "pull-off"):
                signs += _letter(join_of(note))
        if "bend" in note.marks and self.tab:
            signs += f"^\\markup {_bend(note)}"
        if self._hands is not None:
            signs += _hand_signs(self._hands, head.notes)
        return signs


#: On both staves; on the upper one only; on the tab only.
_MARKS = {"let-ring": "\\laissezVibrer", "slide-to": "\\bendAfter #-3 "}
_MARKS_ONCE = {"accent": "->", "staccato": "-.", "trill": "\\trill"}
_WAVE = '\\musicglyph "scripts.trill_element" '


#: A short stroke up to a fret, at its left.
_SLIDE_IN = (
    "-\\tweak outside-staff-priority ##f -\\tweak X-offset #-1.5 -\\tweak Y-offset #%.2f"
    " ^\\markup \\path #0.14 #'((moveto 0 0) (lineto 1.0 0.9)) "
)


def _height(note: PageNote, strings: int) -> float:
    """Where a stroke to a fret begins, from the middle of the tab."""
    return ((strings - 1) / 2 - (note.string - 1)) * 1.5 - 0.6


def _above_tab(mark: str, note: PageNote, strings: int) -> str:
    """What stands over a tab for a mark: a wave as long as its note has room for; nothing for
    others.
    """
    if mark == "slide-from":
        return _SLIDE_IN % _height(note, strings)
    if mark != "vibrato":
        return ""
    waves = min(max(int(note.duration * 4), 2), 8)
    return f"^\\markup \\concat {{ {_WAVE * waves}}}"


def _to_next(join: str, tab: bool) -> str:
    """What leads from a note to the one that is reached from it."""
    if join == "slide":
        return "\\glissando"
    return "(" + (_letter(join) if tab else "")


def _letter(join: str) -> str:
    return f'^\\markup \\teeny "{"H" if join == "hammer-on" else "P"}"'


_UP = "(moveto 0 0) (curveto 1.1 0 1.3 0.8 1.3 1.7) (moveto 1.0 1.2) (lineto 1.3 1.8) (lineto 1.6 1.2)"
_DOWN = " (moveto 1.3 1.8) (curveto 2.0 1.8 2.4 1.2 2.4 0.1) (moveto 2.1 0.6) (lineto 2.4 0) (lineto 2.7 0.6)"


def _bend(note: PageNote) -> str:
    """An arrow up (and down where it comes back) with the amount over it, in whole steps as players
    say it: ``full`` is two semitones.
    """
    steps = max(round(note.bend_semitones * 2) / 2, 0.5) / 2
    amount = {0.25: "¼", 0.5: "½", 0.75: "¾", 1.0: "full", 1.5: "1½"}.get(steps, f"{steps:g}")
    path = _UP + (_DOWN if "release" in note.marks else "")
    return f"\\left-column {{ \\teeny {quoted(amount)} \\path #0.12 #'({path}) }}"


def _hand_signs(hands: Hands, chord: Sequence[PageNote]) -> str:
    """The hands at a chord (from the lowest note): what is above it from the lowest note up, what
    is below it from the highest down.
    """
    signs = [hands.signs.get(id(note), "") for note in chord]
    found = "".join({"down-bow": "\\downbow", "up-bow": "\\upbow"}.get(sign, "") for sign in signs)
    found += "".join(f"_\\markup \\tiny \\italic {quoted(sign)} " for sign in reversed(signs) if sign in PLUCKING)
    if "fret" in hands.ways:
        found += "".join(f"-{note.finger}" for note in chord if note.finger)
    return found


def _pitch(name: NoteName) -> str:
    octave = name.octave - 3
    return name.step.lower() + _ALTERS[name.alter] + ("'" * octave if octave > 0 else "," * -octave)


def _time(meter: Meter) -> str:
    groups = ",".join(str(group) for group in meter.groups)
    if len(set(meter.groups)) == 1 or meter.plain:
        return f"\\time {groups} {meter.numerator}/{meter.unit}"
    parts = " ".join(str(group) for group in meter.groups)
    return f"\\compoundMeter #'(({parts} {meter.unit}))"


def _partial(length: Fraction) -> str:
    units = length / Fraction(1, 16)
    return f"64*{units.numerator}" if units.denominator == 1 else f"1*{length / 4}"
