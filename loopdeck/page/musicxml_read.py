"""MusicXML read back into the written form, through the library music21: the bass part, with
strings and frets where the file says them.

Rule
    Of several parts the one named is taken; without a name the first with a tab staff, then the
    first whose name says bass, then the lowest. Repeats are written out, ties joined. A string
    counts only where it and its fret make the pitch. Grace notes have no place in the count and are
    left out, and so are chord names and unpitched notes.
"""

import importlib.util
import warnings
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from statistics import median
from typing import Any
from xml.etree import ElementTree

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.page.form import Page, PageBar, PageNote, in_order
from loopdeck.page.musicxml_marks import note_down, noted
from loopdeck.rhythm.meter import Meter, parse_meter
from loopdeck.rhythm.tempo import UNITS

ENDINGS = (".musicxml", ".xml", ".mxl")
MOST_BYTES = 50_000_000
_FINEST = 10080


def read_musicxml(path: str | Path, part: str | None = None) -> Page:
    """The page that a file holds; ``part``: a part's name or its number from 1. Raises UserError,
    OSError.
    """
    file = Path(path)
    if file.stat().st_size > MOST_BYTES:
        raise UserError(f"{path} is larger than any score; {MOST_BYTES:,} bytes are the most.")
    root = _root(file)
    score = _score(file)
    parts = list(score.parts)
    if not parts:
        raise UserError(f"{path} has no parts.")
    chosen = parts[_chosen(parts, part, str(path))]
    brief = _brief(score, chosen, root)
    note_down(chosen, (part for part in parts if part is not chosen))
    bars = tuple(_bars(_played(chosen), brief))
    if not any(bar.notes for bar in bars):
        raise UserError(f"{path} has no notes in the part {_name(chosen)!r}.")
    metadata = score.metadata
    title = str((metadata.title or metadata.movementName or "") if metadata is not None else "")
    return Page(" ".join(title.split()) or file.stem, brief, bars, extra=_choice(chosen, parts))


def _choice(chosen: Any, parts: list[Any]) -> dict[str, Any]:
    """Which part was taken, where there was a choice; a staff and its tab are no choice."""
    names = {_name(part) for part in parts}
    return (
        {} if len({name.removesuffix(" tab") for name in names}) == 1 else {"part": _name(chosen), "parts": len(parts)}
    )


def _root(file: Path) -> ElementTree.Element | None:
    """The document, for what the library does not say (None for a compressed one).

    Raises UserError for what is none.
    """
    if file.suffix.lower() == ".mxl":
        return None
    try:
        root = ElementTree.fromstring(file.read_bytes())
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise UserError(f"{file} is no MusicXML: {error}.") from None
    if root.tag not in ("score-partwise", "score-timewise"):
        raise UserError(f"{file} is no MusicXML score; its document is a {root.tag[:40]!r}.")
    return root


def _score(file: Path) -> Any:
    if importlib.util.find_spec("music21") is None:
        raise UserError("MusicXML is read through the library music21; get it with: pip install 'loopdeck[musicxml]'.")
    import music21

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            score = music21.converter.parse(str(file), format="musicxml", forceSource=True)
        except Exception as error:
            # The library's own faults are many and have no class in common.
            words = " ".join(str(error).split())[:120] or type(error).__name__
            raise UserError(f"{file} cannot be read as MusicXML: {words}.") from None
    if not hasattr(score, "parts"):
        raise UserError(f"{file} holds several works; a file with one is wanted.")
    return score


def _name(part: Any) -> str:
    return str(part.partName or part.id)


def _chosen(parts: list[Any], wanted: str | None, path: str) -> int:
    names = [_name(part) for part in parts]
    if wanted is not None:
        if wanted.isdecimal() and 1 <= int(wanted) <= len(parts):
            return int(wanted) - 1
        found = [index for index, name in enumerate(names) if name.lower() == wanted.lower()]
        if not found:
            raise UserError(f"{path} has no part {wanted[:40]!r}; its parts are {', '.join(names)}.")
        return found[0]
    for index, part in enumerate(parts):
        if any("StringIndication" in one.classes for note in part.recurse().notes for one in note.articulations):
            return index
    for index, name in enumerate(names):
        if "bass" in name.lower():
            return index
    return min(range(len(parts)), key=lambda index: _height(parts[index]))


def _height(part: Any) -> float:
    pitches = [pitch.midi for note in part.recurse().notes for pitch in note.pitches]
    return median(pitches) if pitches else 999.0


def _brief(score: Any, part: Any, root: ElementTree.Element | None) -> Brief:
    fields: dict[str, str] = {"name": "imported"}
    marks = list(score.recurse().getElementsByClass("MetronomeMark"))
    if marks and marks[0].number:
        units = {length: name for name, length in UNITS.items()}
        unit = units.get(_exact(marks[0].referent.quarterLength), "quarter")
        fields["tempo"] = f"{unit}={marks[0].getQuarterBPM() / float(UNITS[unit]):.6f}"
    keys = list(part.recurse().getElementsByClass("Key"))
    if keys:
        fields["scale"] = f"{keys[0].tonic.name.replace('-', 'b')} {keys[0].mode}"
    fields["grid"] = "auto"
    brief = Brief.default()
    if root is not None:
        fields |= _said(root, str(part.id))
    for name, text in fields.items():
        try:
            brief = brief.replace(**{name: text})
        except UserError:
            # A scale or a tuning that we do not know says nothing about the notes.
            continue
    return brief


def _said(root: ElementTree.Element, identity: str) -> dict[str, str]:
    """Tuning and swing, which stand in the document only."""
    fields = {}
    part = next((one for one in root.iter("part") if one.get("id") == identity), root)
    strings = []
    for one in next(part.iter("staff-details"), ElementTree.Element("none")).iter("staff-tuning"):
        alter = {"-1": "b", "1": "#"}.get((one.findtext("tuning-alter") or "0").strip(), "")
        strings.append(f"{one.findtext('tuning-step')}{alter}{one.findtext('tuning-octave')}")
    if strings:
        fields["tuning"] = " ".join(strings)
    swing = next(root.iter("swing"), None)
    if swing is not None and swing.findtext("first"):
        unit = " 1/16" if swing.findtext("swing-type") == "16th" else " 1/8"
        fields["swing"] = f"{swing.findtext('first')}:{swing.findtext('second')}{unit}"
    return fields


def _played(part: Any) -> Any:
    """The part as it sounds, repeats written out, ties joined. Raises UserError."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            if any(part.recurse().getElementsByClass("Repeat")):
                part = part.expandRepeats()
            return part.toSoundingPitch().stripTies()
        except Exception as error:
            words = " ".join(str(error).split())[:120] or type(error).__name__
            raise UserError(f"The repeats of this score make no sense: {words}.") from None


def _bars(part: Any, brief: Brief) -> Iterator[PageBar]:
    meter = parse_meter("4/4")
    number = 1
    measures = list(part.getElementsByClass("Measure"))
    for place, measure in enumerate(measures):
        for signature in measure.getElementsByClass("TimeSignature"):
            meter = _meter(signature)
        # A note that is held beyond the bar makes the library's bar longer than it is.
        after = (
            measures[place + 1].offset
            if place + 1 < len(measures)
            else measure.offset + measure.barDuration.quarterLength
        )
        length = _exact(after - measure.offset)
        pickup = place == 0 and 0 < length < meter.quarters
        number = 0 if pickup else number
        notes = sorted(_notes(measure, brief), key=lambda note: (note.at, note.pitch))
        yield PageBar(number, meter, length if pickup else meter.quarters, in_order(notes), pickup)
        number += 1


def _meter(signature: Any) -> Meter:
    """The meter with its groups, where they are written."""
    groups = [str(one.numerator) for one in signature.displaySequence]
    units = {one.denominator for one in signature.displaySequence}
    text = f"{'+'.join(groups)}/{units.pop()}" if len(units) == 1 else signature.ratioString
    return parse_meter(text)


def _exact(length: Any) -> Fraction:
    return Fraction(length).limit_denominator(_FINEST)


def _notes(measure: Any, brief: Brief) -> Iterator[PageNote]:
    tuning = brief.tuning.strings
    for element in measure.recurse().notes:
        duration = _exact(element.quarterLength)
        if duration <= 0 or "ChordSymbol" in element.classes or "Unpitched" in element.classes:
            continue
        at = _exact(element.getOffsetInHierarchy(measure))
        members = list(element.notes) if hasattr(element, "notes") else [element]
        said = [one for note in (element, *members) for one in note.articulations]
        strings = [int(one.number) for one in said if "StringIndication" in one.classes]
        for pitch, marks in zip(element.pitches, noted(element), strict=True):
            string = next((s for s in strings if 1 <= s <= len(tuning) and 0 <= pitch.midi - tuning[s - 1] <= 36), 0)
            fret = pitch.midi - tuning[string - 1] if string else 0
            yield PageNote(at, duration, pitch.midi, string, fret, marks)
            strings = [one for one in strings if one != string] if len(element.pitches) > 1 else strings
