"""MusicXML against the W3C's schema 4.0 (which the package ``musicxml`` carries), and read back by
music21 and partitura.
"""

import warnings
from fractions import Fraction
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import music21
import musicxml as schema_package
import partitura
import pytest
import xmlschema
from hypothesis import HealthCheck, given, settings

from loopdeck.brief.brief import Brief
from loopdeck.page.form import Page, PageBar, PageNote, starts
from loopdeck.page.hands import hands_of
from loopdeck.page.musicxml import INSTRUMENTS, musicxml
from loopdeck.page.signature import fifths_of
from loopdeck.rhythm.meter import parse_meter
from loopdeck.theory.scale import parse_scale
from tests.unit.test_tab import pages

FOLDER = Path(schema_package.__file__).parent / "generate_classes"


@cache
def schema() -> xmlschema.XMLSchema:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        where = {"http://www.w3.org/XML/1998/namespace": str(FOLDER / "xml.xsd")}
        return xmlschema.XMLSchema(str(FOLDER / "musicxml_4_0.xsd"), locations=where, allow="local")


def check(document: bytes, path: Path) -> None:
    path.write_bytes(document)
    problems = [str(error)[:400] for error in schema().iter_errors(str(path))]
    assert not problems, problems[0]


def note(
    at: str, duration: str, pitch: int, string: int, fret: int, *marks: str, bend: float = 0.0, finger: int = 0
) -> PageNote:
    return PageNote(Fraction(at), Fraction(duration), pitch, string, fret, marks, bend_semitones=bend, finger=finger)


def everything() -> Page:
    """A page that has every mark, meters that change, tuplets, ties and a pick-up."""
    brief = Brief.default().replace(scale="E dorian", cycle="4/4 2+2+3/8", swing="60% 1/16", tempo="8th=184")
    four, seven = parse_meter("4/4"), parse_meter("2+2+3/8")
    first = (
        note("0", "1/2", 28, 4, 0, "accent"), note("1/2", "1/2", 31, 4, 3, "hammer-on"), note("1", "1/3", 33, 3, 0, "staccato"),
        note("4/3", "1/3", 35, 3, 2, "slide"), note("5/3", "1/3", 33, 3, 0, "pull-off"), note("2", "1", 40, 2, 2, "bend", "release", bend=1.0),
        note("3", "3/2", 38, 2, 0, "vibrato", "let-ring"),
    )  # fmt: skip
    second = (
        note("1/2", "1/2", 28, 4, 0, "dead"), note("1", "1/2", 31, 4, 3, "ghost"), note("3/2", "1/2", 43, 1, 0, "trill"),
        note("2", "1/2", 28, 4, 0, "slide-from"), note("2", "1/2", 35, 3, 2, "slide-from"), note("5/2", "1", 31, 4, 3, "slide-to"),
    )  # fmt: skip
    bars = (
        PageBar(0, four, Fraction(1, 2), (note("0", "1/2", 26 + 2, 4, 0),), pickup=True),
        PageBar(1, four, Fraction(4), first),
        PageBar(2, seven, Fraction(7, 2), second),
    )
    return Page("All <signs> & täken 譜", brief, bars)


def test_all_signs_are_valid_and_read_back(tmp_path: Path) -> None:
    page = everything()
    document = musicxml(page, hands=hands_of(page, frozenset({"fret", "alternate"})))
    check(document, tmp_path / "all.musicxml")
    root = ElementTree.fromstring(document)
    staff, tab = root.findall("part")
    for name in ("accent", "staccato", "scoop", "falloff"):
        assert staff.find(f".//{name}") is not None, name
    for name in (
        "hammer-on",
        "pull-off",
        "bend",
        "slide",
        "wavy-line",
        "trill-mark",
    ):
        assert tab.find(f".//{name}") is not None, name
    assert root.find(".//notehead[.='x']") is not None
    assert root.find(".//notehead[@parentheses='yes']") is not None
    assert root.find(".//tied[@type='let-ring']") is not None
    assert root.find(".//swing/first").text == "3"
    assert [clef.find("clef-octave-change") for clef in root.iter("clef")] == [None, None]
    assert len(list(root.iter("transpose"))) == 2
    assert [(one.findtext("tuning-step"), one.findtext("tuning-octave")) for one in root.iter("staff-tuning")] == [
        ("E", "1"), ("A", "1"), ("D", "2"), ("G", "2"),
    ]  # fmt: skip
    assert [one.text for one in root.findall("part")[0].iter("beats")] == ["4", "2+2+3"]


def wanted(page: Page) -> list[tuple[Fraction, Fraction, int]]:
    return sorted(
        (start + one.at, one.duration, one.pitch)
        for start, bar in zip(starts(page.bars), page.bars, strict=True)
        for one in bar.notes
    )


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pages())
def test_music21_reads_the_same_pitches_places_and_lengths(tmp_path: Path, page: Page) -> None:
    document = musicxml(page)
    check(document, tmp_path / "page.musicxml")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(str(tmp_path / "page.musicxml"), format="musicxml", forceSource=True)
    part = score.parts[0].expandRepeats() if score.parts[0].recurse().getElementsByClass("Repeat") else score.parts[0]
    for element in part.recurse().notes:
        for pitch in element.pitches:
            # music21 holds a printed natural and an unprinted one for two pitches, and would not
            # join their tie.
            if pitch.accidental is not None and pitch.accidental.alter == 0:
                pitch.accidental = None
    part = part.stripTies()
    found = sorted(
        (
            Fraction(element.getOffsetInHierarchy(part)).limit_denominator(10080),
            Fraction(element.quarterLength).limit_denominator(10080),
            pitch.midi - 12,
        )
        for element in part.recurse().notes
        for pitch in element.pitches
    )
    assert found == wanted(page)


def test_partitura_reads_strings_frets_and_sounding_pitches(tmp_path: Path) -> None:
    page = everything()
    (tmp_path / "all.musicxml").write_bytes(musicxml(page))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = partitura.load_musicxml(str(tmp_path / "all.musicxml"))
    tab = score.parts[1]
    pitches = sorted(one.midi_pitch for one in tab.notes_tied)
    assert pitches == sorted(pitch + 12 for _, _, pitch in wanted(page))
    root = ElementTree.fromstring(musicxml(page)).findall("part")[1]
    places = [
        (int(one.findtext(".//string")), int(one.findtext(".//fret")))
        for one in root.iter("note")
        if one.find("rest") is None and one.find("tie[@type='stop']") is None
    ]
    assert sorted(places) == sorted((one.string, one.fret) for bar in page.bars for one in bar.notes)


@pytest.mark.parametrize(
    ("scale", "fifths"),
    [("C ionian", 0), ("E dorian", 2), ("G dorian", -1), ("E phrygian", 0), ("D mixolydian", 1), ("F lydian", 0), ("Bb ionian", -2),
     ("E minor pentatonic", 1), ("A harmonic minor", 0), ("G minor blues", -2), ("F# aeolian", 3), ("Db ionian", -5)],
)  # fmt: skip
def test_signatures(scale: str, fifths: int) -> None:
    assert fifths_of(parse_scale(scale)) == fifths


@pytest.mark.parametrize("meter_text", ["2+2+3/8", "3+2+2/8", "4+3/8", "3+2/8", "4/4", "3/4", "6/8"])
def test_beams_follow_the_groups_as_music21_has_them(meter_text: str) -> None:
    meter = parse_meter(meter_text)
    count = int(meter.quarters * 2)
    notes = tuple(note(f"{index}/2", "1/2", 28, 4, 0) for index in range(count))
    root = ElementTree.fromstring(
        musicxml(Page("beams", Brief.default().replace(cycle=meter_text), (PageBar(1, meter, meter.quarters, notes),)))
    )
    ours = [one.findtext("beam[@number='1']") for one in root.findall("part")[0].iter("note")]
    theirs = music21.meter.TimeSignature(meter_text)
    rows = [music21.note.Note("E2", quarterLength=0.5) for _ in range(count)]
    words = {"start": "begin", "continue": "continue", "stop": "end", None: None}
    beams = theirs.getBeams(rows)
    assert ours == [words[one.beamsList[0].type if one is not None and one.beamsList else None] for one in beams]


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_the_octave_is_said_once(name: str, tmp_path: Path) -> None:
    document = musicxml(everything(), ("staff",), INSTRUMENTS[name])
    check(document, tmp_path / "one.musicxml")
    root = ElementTree.fromstring(document)
    said = len(list(root.iter("transpose"))) + len(list(root.iter("clef-octave-change")))
    assert said == (0 if name == "treble" else 1)
    octave = int(root.findtext(".//pitch/octave"))
    assert octave == (1 if name == "treble" else 2)


def test_a_rest_in_a_tuplet_is_of_the_tuplet(tmp_path: Path) -> None:
    """music21 reads the time modification of every head, rests too."""
    rows = (note("0", "2/3", 28, 4, 0), note("4/3", "2/3", 31, 4, 3), note("2", "2", 33, 3, 0))
    four = parse_meter("4/4")
    document = musicxml(Page("Rest", Brief.default(), (PageBar(1, four, Fraction(4), rows),)))
    check(document, tmp_path / "rest.musicxml")
    import music21

    score = music21.converter.parse(tmp_path / "rest.musicxml", forceSource=True)
    read = [(one.duration.type, len(one.duration.tuplets)) for one in score.parts[0].recurse().notesAndRests]
    assert read == [("quarter", 1), ("quarter", 1), ("quarter", 1), ("half", 0)]
