"""The written form as input of the typesetter LilyPond: staff and tab, as one system.

Conventions
    Pitches are written as they are printed, an octave above a bass's sound; so are the strings of the tab staff. Names are LilyPond's Dutch ones
    (``fis``, ``bes``). Repeats are folded; swing is a sign above the first bar.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from loopdeck.page.beams import beam_groups, tuplets_of
from loopdeck.page.folding import Section, folded
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.hands import Hands
from loopdeck.page.musicxml import Instrument
from loopdeck.page.signature import Written, fifths_of, written
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
#: Bars on a line: four are easy to read (common practice, no source).
BARS_A_LINE = 4


def quoted(text: str) -> str:
    """Text as a LilyPond string."""
    clean = "".join(sign if sign.isprintable() else " " for sign in text)
    return '"' + clean.replace("\\", "\\\\").replace('"', '\\"') + '"'


def score(page: Page, parts: Sequence[str], instrument: Instrument, hands: Hands | None = None) -> str:
    """A ``\\score`` block for the page."""
    staves = []
    for part in parts:
        music = _music(page, part == "tab", -instrument.octaves, hands if part != "tab" or len(parts) == 1 else None)
        staves.append(_tab_staff(page, music, instrument) if part == "tab" else _staff(page, music, instrument))
    joined = "\n".join(staves)
    group = f"\\new StaffGroup <<\n{joined}\n>>" if len(staves) > 1 else joined
    return f"\\score {{\n{group}\n\\layout {{ }}\n}}\n"


def _staff(page: Page, music: str, instrument: Instrument) -> str:
    clef = "bass" if instrument.sign == "F" else "treble"
    return f"\\new Staff {{ \\clef {clef}\n{_key(page)}\n{music}\n}}"


def _tab_staff(page: Page, music: str, instrument: Instrument) -> str:
    strings = " ".join(
        _pitch(written(pitch - 12 * instrument.octaves, None)) for pitch in reversed(page.brief.tuning.strings)
    )
    lines = [
        "\\new TabStaff \\with {",
        f"  stringTunings = \\stringTuning <{strings}>",
        "} {",
        "\\override TabStaff.TimeSignature.stencil = ##f",
        music,
        "}",
    ]
    return "\n".join(lines)


def _key(page: Page) -> str:
    return f"\\key {_MAJOR_KEYS[fifths_of(page.brief.scale) + 7]} \\major"


def _music(page: Page, tab: bool, octaves: int, hands: Hands | None) -> str:
    lines: list[str] = []
    if not tab:
        lines.append(_tempo(page))
    writer = _Writer(page, tab, octaves, hands)
    bars_before = 0
    for section in folded(page.bars):
        lines += _section(section, writer, bars_before)
        bars_before += len(section.bars) + sum(len(ending) for ending in section.endings)
    return "\n".join([*lines, '\\bar "|."'])


def _section(section: Section, writer: "_Writer", before: int) -> list[str]:
    body = list(writer.bars(section.bars, before))
    if section.times == 1:
        return body
    lines = [f"\\repeat volta {section.times} {{"]
    if section.times > 2 and not writer.tab:
        body[0] = f'<>^\\markup \\italic "play {section.times} times" ' + body[0]
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


def _tempo(page: Page) -> str:
    tempo = page.brief.tempo
    unit = {
        "quarter": "4",
        "8th": "8",
        "half": "2",
        "16th": "16",
        "dotted-quarter": "4.",
        "dotted-8th": "8.",
        "dotted-half": "2.",
        "whole": "1",
    }.get(tempo.unit)
    count = tempo.count if unit is not None else Fraction(round(tempo.quarters_per_minute))
    text = f"\\tempo {unit or '4'} = {round(float(count))}"
    swing = page.brief.swing
    if swing.straight:
        return text
    eighth = swing.unit_for(page.brief.grid) == Fraction(1, 2)
    share = float(swing.ratio / (swing.ratio + 1) * 100)
    value = "8" if eighth else "16"
    return f'{text}\n<>^\\markup \\italic {{ swing \\note {{ {value} }} #UP "{share:.0f} %" }}'


class _Writer:
    """Writes bars; what was said last (the meter, the bars on this line) is said again only where it changes."""

    def __init__(self, page: Page, tab: bool, octaves: int, hands: Hands | None) -> None:
        self.tab = tab
        self._scale, self._octaves, self._hands = page.brief.scale, octaves, hands
        self._meter: Meter | None = None
        self._reached = _reached(page)

    def bars(self, bars: Sequence[PageBar], before: int) -> Iterator[str]:
        """A line of LilyPond for each bar; ``before`` counts the bars written before."""
        for number, (bar, heads) in enumerate(zip(bars, heads_of(bars), strict=True), before):
            words = []
            if bar.meter != self._meter:
                words.append(_time(bar.meter))
                self._meter = bar.meter
            if bar.pickup:
                words.append(f"\\partial {_partial(bar.length)}")
            words += self._heads(bar, heads)
            words.append("|")
            if number % BARS_A_LINE == BARS_A_LINE - 1 and not bar.pickup:
                words.append("\\break")
            yield " ".join(words)

    def _heads(self, bar: PageBar, heads: Sequence[Head]) -> list[str]:
        if len(heads) == 1 and not heads[0].notes and not bar.pickup:
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
        into, away = self._reached.get(id(note), ("", ""))
        if not head.from_before and into in ("hammer-on", "pull-off"):
            signs += ")"
        if not head.to_next and away in ("hammer-on", "pull-off"):
            signs += "(" + ("" if not self.tab else f'^\\markup \\tiny "{"H" if away == "hammer-on" else "P"}"')
        if not head.to_next and away == "slide":
            signs += "\\glissando"
        if head.from_before:
            return signs
        if "accent" in note.marks and not self.tab:
            signs += "->"
        if "staccato" in note.marks and not self.tab:
            signs += "-."
        if "trill" in note.marks and not self.tab:
            signs += "\\trill"
        if "let-ring" in note.marks:
            signs += "\\laissezVibrer"
        if "slide-to" in note.marks:
            signs += "\\bendAfter #-3"
        words = [word for mark, word in _WORDS.items() if mark in note.marks and self.tab]
        if "bend" in note.marks and self.tab:
            words.append(_bend_words(note))
        if words:
            signs += f"^\\markup \\tiny {quoted(', '.join(words))}"
        return signs + (_hand_signs(self._hands, note) if self._hands is not None else "")


_WORDS = {"vibrato": "vib.", "slide-from": "slide"}


def _bend_words(note: PageNote) -> str:
    amount = {0.5: "½", 1.0: "1", 1.5: "1½", 2.0: "2"}.get(
        max(round(note.bend_semitones * 2) / 2, 0.5), f"{note.bend_semitones:.1f}"
    )
    return f"bend {amount}" + (", back" if "release" in note.marks else "")


def _hand_signs(hands: Hands, note: PageNote) -> str:
    sign = hands.signs.get(id(note), "")
    found = {"down-bow": "\\downbow", "up-bow": "\\upbow"}.get(sign, "")
    if sign in ("i", "m"):
        found += f"_\\markup \\tiny \\italic {sign}"
    if "fret" in hands.ways and note.finger:
        found += f"-{note.finger}"
    return found


def _pitch(name: Written) -> str:
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


def _reached(page: Page) -> dict[int, tuple[str, str]]:
    """For each note (by identity) how it was reached and how the next one on its string is reached from it."""
    last: dict[int, PageNote] = {}
    into: dict[int, str] = {}
    away: dict[int, str] = {}
    for bar in page.bars:
        for note in bar.notes:
            how = next((mark for mark in ("hammer-on", "pull-off", "slide") if mark in note.marks), "")
            before = last.get(note.string)
            if how and before is not None:
                into[id(note)], away[id(before)] = how, how
            last[note.string] = note
    return {key: (into.get(key, ""), away.get(key, "")) for key in {*into, *away}}
