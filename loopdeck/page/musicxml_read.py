"""MusicXML read back into the written form, through the library music21: the bass part, with
strings and frets where the file says them.

Rule
    Of several parts the one named is taken; without a name the first whose name says bass (of a
    staff and a tab the tab), then the first with a tab staff, then the lowest. Repeats are written
    out, ties joined. A string counts only where it and its fret make the pitch. Grace notes have no
    place in the count and are left out, and so are chord names and unpitched notes.
"""

import importlib.util
import warnings
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from statistics import median
from typing import Any
from xml.etree import ElementTree

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError, to_install
from loopdeck.page.form import Page, PageBar, PageNote, in_order
from loopdeck.page.musicxml_marks import note_down, noted, ringing
from loopdeck.page.musicxml_strings import named, tuning_and_octaves
from loopdeck.rhythm.meter import Meter, parse_meter
from loopdeck.rhythm.tempo import UNITS
from loopdeck.shelf.hand_marks import amount_of, plain

ENDINGS = (".musicxml", ".xml", ".mxl")
MOST_BYTES = 50_000_000
_FINEST = 10080
_LONGEST_CYCLE = 8
_MOST_TIMES = 100
_STAVES = tuple(map(str, range(1, 10)))


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
    number = _chosen(parts, part, str(path))
    chosen, document = parts[number], _document_part(root, number, len(parts))
    brief = _brief(score, chosen, _said(root, document))
    note_down(chosen, (part for part in parts if part is not chosen), ringing(document))
    played = _played(chosen)
    brief, octaves = tuning_and_octaves(played, brief, "tuning" in _said(root, document))
    bars = tuple(_bars(played, brief, octaves))
    if not any(bar.notes for bar in bars):
        raise UserError(f"{path} has no notes in the part {_name(chosen)!r}.")
    brief = brief.replace(cycle=_cycle(bars))
    metadata = score.metadata
    title = str((metadata.title or metadata.movementName or "") if metadata is not None else "")
    title = " ".join(title.split())
    # Without a title the library calls a score after its file.
    return Page(title if title and title != file.name else file.stem, brief, bars, extra=_choice(chosen, parts))


def _choice(chosen: Any, parts: list[Any]) -> dict[str, Any]:
    """Which part was taken, where there was a choice; a staff and its tab are not a choice."""
    names = {_name(part) for part in parts}
    return (
        {} if len({name.removesuffix(" tab") for name in names}) == 1 else {"part": _name(chosen), "parts": len(parts)}
    )


def _root(file: Path) -> ElementTree.Element:
    """The document, for what the library does not say. Raises UserError if it is not MusicXML."""
    try:
        root = ElementTree.fromstring(_document(file))
    except UserError:
        raise
    except ElementTree.ParseError as error:
        line, column = error.position
        raise UserError(
            f"{file} is not MusicXML: its XML breaks off or has a fault in line {line}, column {column + 1}."
        ) from None
    except (ValueError, LookupError, NotImplementedError, RuntimeError, zlib.error):
        raise UserError(f"{file} is not MusicXML: its letters cannot be read.") from None
    if root.tag not in ("score-partwise", "score-timewise"):
        raise UserError(f"{file} is not a MusicXML score; its document is a {root.tag[:40]!r}.")
    return root


def _document(file: Path) -> bytes:
    """The bytes of the document; a compressed file names the one it holds in its container.

    Raises UserError.
    """
    if file.suffix.lower() != ".mxl":
        return file.read_bytes()
    try:
        with zipfile.ZipFile(file) as packed:
            container = ElementTree.fromstring(packed.read("META-INF/container.xml"))
            named = next((one.get("full-path") for one in container.iter() if one.tag.endswith("rootfile")), None)
            if named is None or packed.getinfo(named).file_size > MOST_BYTES:
                raise UserError(f"{file} names no score of at most {MOST_BYTES:,} bytes in its container.")
            return packed.read(named)
    except (zipfile.BadZipFile, KeyError, EOFError):
        raise UserError(f"{file} is not compressed MusicXML: it is not an archive with a score in it.") from None


def _score(file: Path) -> Any:
    if importlib.util.find_spec("music21") is None:
        raise UserError(f"MusicXML is read with the library music21; install it with: {to_install('musicxml')}.")
    import music21

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            score = music21.converter.parse(str(file), format="musicxml", forceSource=True)
        except Exception:
            # The library's own faults are many and have no class in common, and it speaks of its
            # own insides.
            raise UserError(
                f"{file} cannot be read as MusicXML: an element in it is missing, or holds what it cannot mean."
            ) from None
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
        strung_part = _with_strings(parts, found)
        return found[0] if strung_part is None else strung_part
    called = [index for index, name in enumerate(names) if "bass" in name.lower()]
    every = range(len(parts))
    for candidates in (called, every):
        chosen = _with_strings(parts, candidates)
        if chosen is not None or candidates:
            break
    if chosen is not None:
        return chosen
    return called[0] if called else min(every, key=lambda index: _height(parts[index]))


def _with_strings(parts: list[Any], chosen: Iterable[int]) -> int | None:
    """The first of the chosen parts whose notes say their strings."""
    for index in chosen:
        articulations = (one for note in parts[index].recurse().notes for one in note.articulations)
        if any("StringIndication" in one.classes for one in articulations):
            return index
    return None


def _height(part: Any) -> float:
    pitches = [pitch.midi for note in part.recurse().notes for pitch in note.pitches]
    return median(pitches) if pitches else 999.0


def _brief(score: Any, part: Any, said: dict[str, str]) -> Brief:
    fields: dict[str, str] = {"name": "imported"}
    marks = list(score.recurse().getElementsByClass("MetronomeMark"))
    if marks and marks[0].number:
        units = {length: name for name, length in UNITS.items()}
        unit = units.get(_exact(marks[0].referent.quarterLength), "quarter")
        fields["tempo"] = f"{unit}={marks[0].getQuarterBPM() / float(UNITS[unit]):.6f}"
    else:
        fields |= {"tempo": said["tempo"]} if "tempo" in said else {}
    keys = list(part.recurse().getElementsByClass("Key"))
    if keys:
        fields["scale"] = f"{keys[0].tonic.name.replace('-', 'b')} {keys[0].mode}"
    fields["grid"] = "auto"
    brief = Brief.default()
    fields |= {name: text for name, text in said.items() if name != "tempo"}
    for name, text in fields.items():
        try:
            brief = brief.replace(**{name: named(text) if name == "tuning" else text})
        except UserError:
            # A scale or a tuning that we do not know says nothing about the notes.
            continue
    return brief


def _document_part(root: ElementTree.Element, number: int, count: int) -> ElementTree.Element:
    """The element of a part of the library's, which makes one of every staff; the whole document
    where they cannot be matched.
    """
    found = []
    for part in root.iter("part"):
        said = [(one.text or "").strip() for one in part.iter("staves")]
        found += [part] * max([int(text) for text in said if text in _STAVES] + [1])
    return found[number] if len(found) == count else root


def _said(root: ElementTree.Element, part: ElementTree.Element) -> dict[str, str]:
    """Tuning, swing and a tempo that is not printed, which stand in the document only."""
    fields = {}
    strings = []
    tuned = (one for one in part.iter("staff-details") if one.find("staff-tuning") is not None)
    for one in next(tuned, ElementTree.Element("none")).iter("staff-tuning"):
        alter = {"-1": "b", "1": "#"}.get((one.findtext("tuning-alter") or "0").strip(), "")
        strings.append(f"{one.findtext('tuning-step')}{alter}{one.findtext('tuning-octave')}")
    if strings:
        fields["tuning"] = " ".join(strings)
    tempo = next((one.get("tempo") for one in root.iter("sound") if one.get("tempo")), None)
    if tempo is not None:
        fields["tempo"] = tempo
    swing = next(root.iter("swing"), None)
    if swing is not None and swing.findtext("first"):
        unit = " 1/16" if swing.findtext("swing-type") == "16th" else " 1/8"
        fields["swing"] = f"{swing.findtext('first')}:{swing.findtext('second')}{unit}"
    return fields


def _played(part: Any) -> Any:
    """The part as it sounds, repeats written out, ties joined. Raises UserError."""
    times = [one.times or 2 for one in part.recurse().getElementsByClass("Repeat") if one.direction == "end"]
    if any(not 0 < one <= _MOST_TIMES for one in times):
        raise UserError(
            f"This score repeats a stretch {max(times, key=abs)} times; from 1 to {_MOST_TIMES} times can be "
            "written out."
        )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return _expanded(part).toSoundingPitch().stripTies()
        except Exception:
            raise UserError(
                "The repeats of this score cannot be played out: one of them begins or ends nowhere."
            ) from None


def _expanded(part: Any) -> Any:
    """The part with its repeats written out; words such as D.S. that lead nowhere are passed
    over.
    """
    signs = part.recurse().getElementsByClass
    try:
        return part.expandRepeats() if any(signs(("Repeat", "RepeatExpression"))) else part
    except Exception:
        if any(signs("Repeat")):
            raise
        return part


def _bars(part: Any, brief: Brief, octaves: int) -> Iterator[PageBar]:
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
        notes = sorted(_notes(measure, brief, octaves), key=lambda note: (note.at, note.pitch))
        yield PageBar(number, meter, length if pickup else meter.quarters, in_order(notes), pickup)
        number += 1


def _cycle(bars: Sequence[PageBar]) -> str:
    """The meters that come again and again, the first bar's first; of a piece where they do not,
    the first two.
    """
    meters = [str(bar.meter) for bar in bars if not bar.pickup] or [str(bars[0].meter)]
    for size in range(1, _LONGEST_CYCLE + 1):
        if all(meter == meters[place % size] for place, meter in enumerate(meters)):
            return " ".join(meters[:size])
    return " ".join(dict.fromkeys(meters[:2]))


def _meter(signature: Any) -> Meter:
    """The meter with its groups, where they are written."""
    groups = [str(one.numerator) for one in signature.displaySequence]
    units = {one.denominator for one in signature.displaySequence}
    text = f"{'+'.join(groups)}/{units.pop()}" if len(units) == 1 else signature.ratioString
    return parse_meter(text)


def _exact(length: Any) -> Fraction:
    return Fraction(length).limit_denominator(_FINEST)


def _notes(measure: Any, brief: Brief, octaves: int) -> Iterator[PageNote]:
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
            midi = pitch.midi + 12 * octaves
            string = next((s for s in strings if 1 <= s <= len(tuning) and 0 <= midi - tuning[s - 1] <= 36), 0)
            fret = midi - tuning[string - 1] if string else 0
            bend = max(map(amount_of, marks), default=0.0)
            yield PageNote(at, duration, midi, string, fret, plain(marks), bend_semitones=bend)
            strings = [one for one in strings if one != string] if len(element.pitches) > 1 else strings
