"""The notes of a bar as MusicXML elements, in the order that its schema asks for."""

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement

from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.hands import Hands
from loopdeck.page.signature import NoteName, alter_in_key, written
from loopdeck.page.values import PLAIN
from loopdeck.page.voice import Head

_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


class BarWriter:
    """Writes bars one after the other.

    ``octaves``: how many higher notes are printed than they sound; ``joins`` as
    ``joined.following`` finds them.
    """

    def __init__(
        self,
        page: Page,
        divisions: int,
        tab: bool,
        octaves: int,
        fifths: int,
        hands: Hands | None,
        joins: dict[int, PageNote],
        beside: bool = False,
    ) -> None:
        self._scale, self._divisions, self._tab = page.brief.scale, divisions, tab
        self._octaves, self._fifths, self._hands = octaves, fifths, hands
        # Beside a staff that has them, accents, dots and hands on a tab are noise.
        self._articulated = not (tab and beside)
        self._following = joins
        self._reached = {id(note) for note in self._following.values()}

    def write(
        self,
        measure: Element,
        bar: PageBar,
        heads: Sequence[Head],
        beams: Sequence[list[str]],
        tuplets: Sequence[tuple[bool, bool]],
    ) -> None:
        """Append the notes of ``bar`` to ``measure``; ``beams`` and ``tuplets`` of each head."""
        altered: dict[tuple[str, int], int] = {}
        if not any(head.notes for head in heads) and not bar.pickup:
            self._whole_rest(measure, bar)
            return
        for head, beam, tuplet in zip(heads, beams, tuplets, strict=True):
            if not head.notes:
                self._rest(measure, head, tuplet)
                continue
            for place, note in enumerate(head.notes):
                self._note(
                    measure,
                    head,
                    note,
                    place,
                    beam if place == 0 else [],
                    tuplet if place == 0 else (False, False),
                    altered,
                )

    def _whole_rest(self, measure: Element, bar: PageBar) -> None:
        """A bar of rest has one sign, whatever its meter."""
        note = SubElement(measure, "note")
        SubElement(note, "rest", measure="yes")
        SubElement(note, "duration").text = str(int(bar.length * self._divisions))
        SubElement(note, "voice").text = "1"

    def _rest(self, measure: Element, head: Head, tuplet: tuple[bool, bool]) -> None:
        note = SubElement(measure, "note")
        SubElement(note, "rest")
        SubElement(note, "duration").text = str(int(head.value.length * self._divisions))
        SubElement(note, "voice").text = "1"
        self._type(note, head)
        _in_tuplet(note, head)
        if any(tuplet):
            _tuplet(SubElement(note, "notations"), tuplet)

    def _type(self, note: Element, head: Head) -> None:
        SubElement(note, "type").text = PLAIN[head.value.plain][1]
        for _ in range(head.value.dots):
            SubElement(note, "dot")

    def _note(
        self,
        measure: Element,
        head: Head,
        note: PageNote,
        place: int,
        beam: list[str],
        tuplet: tuple[bool, bool],
        altered: dict[tuple[str, int], int],
    ) -> None:
        element = SubElement(measure, "note")
        if place:
            SubElement(element, "chord")
        name = written(note.pitch + 12 * self._octaves, self._scale)
        _pitch(element, name)
        SubElement(element, "duration").text = str(int(head.value.length * self._divisions))
        if head.from_before:
            SubElement(element, "tie", type="stop")
        if head.to_next:
            SubElement(element, "tie", type="start")
        SubElement(element, "voice").text = "1"
        self._type(element, head)
        if not self._tab:
            self._accidental(element, name, head, altered)
        _in_tuplet(element, head)
        _notehead(element, note)
        for level, word in enumerate(beam, 1):
            SubElement(element, "beam", number=str(level)).text = word
        self._notations(element, head, note, tuplet)

    def _accidental(self, element: Element, name: NoteName, head: Head, altered: dict[tuple[str, int], int]) -> None:
        key = (name.step, name.octave)
        stands = altered.get(key, alter_in_key(name.step, self._fifths))
        if name.alter != stands and not head.from_before:
            SubElement(element, "accidental").text = _ACCIDENTALS[name.alter]
            altered[key] = name.alter

    def _notations(self, element: Element, head: Head, note: PageNote, tuplet: tuple[bool, bool]) -> None:
        notations = Element("notations")
        if head.from_before:
            SubElement(notations, "tied", type="stop")
        if head.to_next:
            SubElement(notations, "tied", type="start")
        elif "let-ring" in note.marks:
            SubElement(notations, "tied", type="let-ring")
        if any(tuplet):
            _tuplet(notations, tuplet)
        next_note = self._following.get(id(note)) if not head.to_next else None
        reached = id(note) in self._reached and not head.from_before
        if reached and "slide" in note.marks:
            SubElement(notations, "slide", {"type": "stop", "number": "1", "line-type": "solid"})
        if next_note is not None and "slide" in next_note.marks:
            SubElement(notations, "slide", {"type": "start", "number": "1", "line-type": "solid"})
        _ornaments(notations, note, head)
        first, others = self._technical(note, head, next_note)
        _append(notations, first)
        # On a tab the rest stands in notations of their own: there are programs that draw string
        # and fret of the first ones alone, and complain of all else there.
        more = Element("notations") if self._tab else notations
        _append(more, others)
        if not head.from_before and self._articulated:
            _articulations(more, note, id(note) in self._reached)
        _append(element, notations)
        if more is not notations:
            _append(element, more)

    def _technical(self, note: PageNote, head: Head, next_note: PageNote | None) -> tuple[Element, Element]:
        """String and fret; and the hands, bends, and what joins the note to others."""
        first = Element("technical")
        others = Element("technical") if self._tab else first
        if not head.from_before and self._hands is not None and self._articulated:
            self._hands.add(others, note)
        if self._tab and note.string:
            SubElement(first, "string").text = str(note.string)
            SubElement(first, "fret").text = str(note.fret)
        if not head.from_before:
            for mark in _JOINED:
                if mark in note.marks and id(note) in self._reached:
                    SubElement(others, mark, number="1", type="stop")
            if "hammer-on" in note.marks and id(note) not in self._reached:
                # From nowhere: the fretting hand taps.
                SubElement(others, "tap", hand="left")
            if "pull-off" in note.marks and id(note) not in self._reached:
                SubElement(others, "other-technical").text = "P"
            if "bend" in note.marks:
                _bend(others, note)
        if next_note is not None:
            for mark, letter in _JOINED.items():
                if mark in next_note.marks:
                    SubElement(others, mark, number="1", type="start").text = letter
        return first, others if others is not first else Element("technical")


_JOINED = {"hammer-on": "H", "pull-off": "P"}


def _append(parent: Element, child: Element) -> None:
    if len(child):
        parent.append(child)


def _pitch(element: Element, name: NoteName) -> None:
    pitch = SubElement(element, "pitch")
    SubElement(pitch, "step").text = name.step
    if name.alter:
        SubElement(pitch, "alter").text = str(name.alter)
    SubElement(pitch, "octave").text = str(name.octave)


def _notehead(element: Element, note: PageNote) -> None:
    if "dead" in note.marks:
        SubElement(element, "notehead").text = "x"
    elif "ghost" in note.marks:
        SubElement(element, "notehead", parentheses="yes").text = "normal"


def _in_tuplet(element: Element, head: Head) -> None:
    if head.value.actual:
        change = SubElement(element, "time-modification")
        SubElement(change, "actual-notes").text = str(head.value.actual)
        SubElement(change, "normal-notes").text = str(head.value.normal)


def _tuplet(notations: Element, tuplet: tuple[bool, bool]) -> None:
    begins, ends = tuplet
    if begins:
        SubElement(notations, "tuplet", type="start", number="1", bracket="yes")
    if ends:
        SubElement(notations, "tuplet", type="stop", number="1")


def _ornaments(notations: Element, note: PageNote, head: Head) -> None:
    ornaments = Element("ornaments")
    if "trill" in note.marks and not head.from_before:
        SubElement(ornaments, "trill-mark")
    if "vibrato" in note.marks:
        if not head.from_before:
            SubElement(ornaments, "wavy-line", type="start", number="1")
        if not head.from_before and not head.to_next:
            # A line that begins and ends at one head; musicxml2ly would set no end to it otherwise.
            SubElement(ornaments, "wavy-line", type="continue", number="1")
        if not head.to_next:
            SubElement(ornaments, "wavy-line", type="stop", number="1")
    if len(ornaments):
        notations.append(ornaments)


def _bend(technical: Element, note: PageNote) -> None:
    bend = SubElement(technical, "bend")
    amount = f"{max(round(note.bend_semitones * 4) / 4, 0.25):g}"
    SubElement(bend, "bend-alter").text = amount
    if "release" in note.marks:
        back = SubElement(technical, "bend")
        SubElement(back, "bend-alter").text = f"-{amount}"
        SubElement(back, "release")


_ARTICULATIONS = {"accent": "accent", "staccato": "staccato", "slide-from": "scoop", "slide-to": "falloff"}


def _articulations(notations: Element, note: PageNote, reached: bool) -> None:
    """``reached``: from a note before it; a slide from none is one from nowhere."""
    marks = [name for mark, name in _ARTICULATIONS.items() if mark in note.marks]
    if "slide" in note.marks and not reached and "scoop" not in marks:
        marks.append("scoop")
    if marks:
        articulations = SubElement(notations, "articulations")
        for name in marks:
            SubElement(articulations, name)
