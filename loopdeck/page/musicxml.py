"""MusicXML 4.0 (W3C Community Group): the written form as a score that other programs read.

Conventions
    A part each for staff and tab. A bass (and a guitar) sounds an octave below what is printed,
    which the element ``transpose`` says, once; clefs have no octave of their own. ``staff-tuning``
    is the sounding pitch. Repeats are folded, with ``times``; swing is a ``sound`` and not written
    out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from xml.etree.ElementTree import Element, SubElement
from xml.sax.saxutils import escape, quoteattr

from loopdeck.page.beams import beams_of, tuplets_of
from loopdeck.page.folding import folded
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.hands import Hands
from loopdeck.page.joined import following
from loopdeck.page.musicxml_notes import BarWriter
from loopdeck.page.signature import fifths_of, written
from loopdeck.page.voice import Head, heads_of
from loopdeck.rhythm.meter import Meter
from loopdeck.rhythm.tempo import UNITS as TEMPO_UNITS

STAFF, TAB = "staff", "tab"


@dataclass(frozen=True)
class Instrument:
    """Clef (sign, line), and octaves from what is printed to what sounds."""

    name: str
    sign: str
    line: int
    octaves: int


INSTRUMENTS = {
    "bass": Instrument("Bass", "F", 4, -1),
    "guitar": Instrument("Guitar", "G", 2, -1),
    "treble": Instrument("Treble", "G", 2, 0),
}


@dataclass
class _Bar:
    """A bar of the folded score: heads, and the signs around it."""

    bar: PageBar
    heads: list[Head]
    beams: list[list[str]]
    tuplets: list[tuple[bool, bool]]
    opens: bool = False
    closes: int = 0
    ending: int = 0
    ending_stops: bool = False
    words: str = ""


def musicxml(
    page: Page,
    parts: Sequence[str] = (STAFF, TAB),
    instrument: Instrument = INSTRUMENTS["bass"],
    hands: Hands | None = None,
) -> bytes:
    """The page as a MusicXML document in UTF-8.

    ``hands``: fingers and strokes to print, None for neither.
    """
    bars = list(_folded(page))
    root = Element("score-partwise", version="4.0")
    work = SubElement(root, "work")
    SubElement(work, "work-title").text = _clean(page.title)
    identification = SubElement(root, "identification")
    SubElement(SubElement(identification, "encoding"), "software").text = "loopdeck"
    joins = following(page)
    part_list = SubElement(root, "part-list")
    for number, part in enumerate(parts, 1):
        score_part = SubElement(part_list, "score-part", id=f"P{number}")
        SubElement(score_part, "part-name").text = instrument.name if part == STAFF else f"{instrument.name} tab"
    for number, part in enumerate(parts, 1):
        _add_part(root, f"P{number}", part, page, bars, instrument, hands, joins)
    head = '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">\n'
    return (head + "".join(_text(root, 0)).rstrip("\n")).encode()


def _text(element: Element, depth: int) -> Iterator[str]:
    """An element as lines, a space in for each depth (half the time of the standard library's
    way).
    """
    pad = " " * depth
    name = element.tag
    said = "".join([f" {key}={quoteattr(value)}" for key, value in element.attrib.items()]) if element.attrib else ""
    if len(element):
        yield f"{pad}<{name}{said}>\n"
        for child in element:
            yield from _text(child, depth + 1)
        yield f"{pad}</{name}>\n"
    elif element.text:
        yield f"{pad}<{name}{said}>{escape(element.text)}</{name}>\n"
    else:
        yield f"{pad}<{name}{said} />\n"


def _clean(text: str) -> str:
    """Text without what XML cannot hold."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def _folded(page: Page) -> Iterator[_Bar]:
    for section in folded(page.bars):
        parts: list[tuple[Sequence[PageBar], int]] = [(section.bars, 0)]
        parts += [(ending, number) for number, ending in enumerate(section.endings, 1)]
        for place, (bars, ending) in enumerate(parts):
            for index, (bar, heads) in enumerate(zip(bars, heads_of(bars), strict=True)):
                last = index + 1 == len(bars)
                shift = bar.meter.quarters - bar.length if bar.pickup else Fraction(0)
                found = _Bar(bar, heads, beams_of(heads, bar.meter, shift), tuplets_of(heads))
                found.opens = section.times > 1 and place == 0 and index == 0
                if last and section.times > 1 and (not section.endings or place == 1):
                    found.closes = section.times
                if ending:
                    found.ending = ending if index == 0 else 0
                    found.ending_stops = last
                if found.opens and section.times > 2:
                    found.words = f"play {section.times} times"
                yield found


def _divisions(bars: Sequence[_Bar]) -> int:
    """Divisions of a quarter in which every length is whole."""
    return lcm(*(head.value.length.denominator for bar in bars for head in bar.heads), 1)


def _add_part(
    root: Element,
    name: str,
    kind: str,
    page: Page,
    bars: Sequence[_Bar],
    instrument: Instrument,
    hands: Hands | None,
    joins: dict[int, PageNote],
) -> None:
    part = SubElement(root, "part", id=name)
    divisions = _divisions(bars)
    writer = BarWriter(
        page,
        divisions,
        kind == TAB,
        -instrument.octaves,
        fifths_of(page.brief.scale),
        hands,
        joins,
        beside=name != "P1",
    )
    meter = ""
    for number, one in enumerate(bars):
        measure = SubElement(part, "measure", number=str(one.bar.number))
        if one.bar.pickup:
            measure.set("implicit", "yes")
        _left_barline(measure, one, number == 0)
        shown = str(one.bar.meter)
        if number == 0:
            _first_attributes(measure, kind, page, divisions, instrument, one.bar.meter)
            if kind == STAFF or name == "P1":
                _tempo(measure, page)
        elif meter != shown:
            _time(SubElement(measure, "attributes"), one.bar.meter)
        meter = shown
        if one.words and (kind == STAFF or name == "P1"):
            _words(measure, one.words)
        writer.write(measure, one.bar, one.heads, one.beams, one.tuplets)
        _right_barline(measure, one, number + 1 == len(bars))


def _first_attributes(
    measure: Element, kind: str, page: Page, divisions: int, instrument: Instrument, meter: Meter
) -> None:
    attributes = SubElement(measure, "attributes")
    SubElement(attributes, "divisions").text = str(divisions)
    key = SubElement(attributes, "key")
    SubElement(key, "fifths").text = str(fifths_of(page.brief.scale))
    if (mode := _mode(page)) is not None:
        SubElement(key, "mode").text = mode
    _time(attributes, meter)
    clef = SubElement(attributes, "clef")
    SubElement(clef, "sign").text = "TAB" if kind == TAB else instrument.sign
    SubElement(clef, "line").text = "5" if kind == TAB else str(instrument.line)
    if kind == TAB:
        _staff_details(attributes, page)
    if instrument.octaves:
        transpose = SubElement(attributes, "transpose")
        SubElement(transpose, "diatonic").text = "0"
        SubElement(transpose, "chromatic").text = "0"
        SubElement(transpose, "octave-change").text = str(instrument.octaves)


def _mode(page: Page) -> str | None:
    scale = page.brief.scale
    if scale is None:
        return None
    names = ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
    return scale.name if scale.name in names else "minor" if scale.is_minor else "major"


def _staff_details(attributes: Element, page: Page) -> None:
    details = SubElement(attributes, "staff-details")
    strings = page.brief.tuning.strings
    SubElement(details, "staff-lines").text = str(len(strings))
    for line, pitch in enumerate(reversed(strings), 1):
        tuning = SubElement(details, "staff-tuning", line=str(line))
        name = written(pitch, None)
        SubElement(tuning, "tuning-step").text = name.step
        if name.alter:
            SubElement(tuning, "tuning-alter").text = str(name.alter)
        SubElement(tuning, "tuning-octave").text = str(name.octave)


def _time(attributes: Element, meter: Meter) -> None:
    time = SubElement(attributes, "time")
    beats, _, beat_type = str(meter).strip("()").replace(")", "").partition("/")
    SubElement(time, "beats").text = beats
    SubElement(time, "beat-type").text = beat_type


def _tempo(measure: Element, page: Page) -> None:
    brief = page.brief
    direction = SubElement(measure, "direction", placement="above")
    metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
    unit, dotted, per_minute = _beat_unit(page)
    SubElement(metronome, "beat-unit").text = unit
    if dotted:
        SubElement(metronome, "beat-unit-dot")
    SubElement(metronome, "per-minute").text = per_minute
    sound = SubElement(direction, "sound", tempo=f"{brief.tempo.quarters_per_minute:g}")
    swing = SubElement(sound, "swing")
    if brief.swing.straight:
        SubElement(swing, "straight")
        return
    ratio = brief.swing.ratio
    SubElement(swing, "first").text = str(ratio.numerator)
    SubElement(swing, "second").text = str(ratio.denominator)
    eighth = brief.swing.unit_for(brief.grid) == Fraction(1, 2)
    SubElement(swing, "swing-type").text = "eighth" if eighth else "16th"


_UNITS = {Fraction(1): ("quarter", False), Fraction(1, 2): ("eighth", False), Fraction(3, 2): ("quarter", True), Fraction(2): ("half", False),
          Fraction(1, 4): ("16th", False), Fraction(3, 4): ("eighth", True), Fraction(4): ("whole", False), Fraction(3): ("half", True)}  # fmt: skip


def _beat_unit(page: Page) -> tuple[str, bool, str]:
    """The unit in which the tempo was written, whether it is dotted, and how many a minute."""
    tempo = page.brief.tempo
    unit = TEMPO_UNITS[tempo.unit]
    name, dotted = _UNITS.get(unit, ("quarter", False))
    per_minute = tempo.quarters_per_minute / float(unit if unit in _UNITS else 1)
    return name, dotted, f"{per_minute:.3f}".rstrip("0").rstrip(".")


def _words(measure: Element, words: str) -> None:
    direction = SubElement(measure, "direction", placement="above")
    SubElement(SubElement(direction, "direction-type"), "words").text = words


def _left_barline(measure: Element, one: _Bar, first: bool) -> None:
    """A repeat from the very beginning has no sign there, as in print."""
    opens = one.opens and not first
    if not (opens or one.ending):
        return
    barline = SubElement(measure, "barline", location="left")
    if opens:
        SubElement(barline, "bar-style").text = "heavy-light"
    if one.ending:
        SubElement(barline, "ending", number=str(one.ending), type="start").text = f"{one.ending}."
    if opens:
        SubElement(barline, "repeat", direction="forward")


def _right_barline(measure: Element, one: _Bar, last: bool) -> None:
    if not (one.closes or one.ending_stops or last):
        return
    barline = SubElement(measure, "barline", location="right")
    if one.closes or last:
        SubElement(barline, "bar-style").text = "light-heavy"
    if one.ending_stops:
        number = "1" if one.closes else "2"
        SubElement(barline, "ending", number=number, type="stop" if one.closes else "discontinue")
    if one.closes:
        SubElement(
            barline, "repeat", {"direction": "backward", **({"times": str(one.closes)} if one.closes != 2 else {})}
        )
