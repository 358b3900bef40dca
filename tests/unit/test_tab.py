"""Text tab: what is written is read back the same; faults are said with line and column; nothing is
half-written.
"""

import json
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.brief.brief import Brief
from loopdeck.cli.main import main
from loopdeck.errors import UserError
from loopdeck.page.folding import folded
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.tab_read import read_tab
from loopdeck.page.tab_text import tab_text
from loopdeck.page.values import split
from loopdeck.page.voice import heads_of
from loopdeck.rhythm.meter import parse_cycle, parse_meter

STEPS = [Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 3), Fraction(1, 8), Fraction(1, 6), Fraction(1, 5)]
MARKS = [
    "hammer-on",
    "pull-off",
    "slide",
    "slide-from",
    "slide-to",
    "vibrato",
    "staccato",
    "accent",
    "ghost",
    "dead",
    "let-ring",
    "trill",
    "bend",
]


def _plain(step: Fraction) -> bool:
    return step.denominator & (step.denominator - 1) == 0


@st.composite
def pages(draw: st.DrawFn) -> Page:
    """Pages of one to six bars with chords, rests, held notes, tuplets, marks and repeats."""
    cycle = parse_cycle(draw(st.sampled_from(["4/4", "4/4 4+3/8", "2+2+3/8", "3/4", "6/8", "5/4 7/8"])))
    brief = Brief.default().replace(cycle=str(cycle))
    bars: list[PageBar] = []
    for number in range(draw(st.integers(1, 6))):
        meter = cycle.meters[number % len(cycle.meters)]
        if number >= len(cycle.meters) and draw(st.booleans()):
            bars.append(PageBar(number + 1, meter, meter.quarters, bars[number - len(cycle.meters)].notes))
            continue
        bars.append(PageBar(number + 1, meter, meter.quarters, draw(notes_in(meter.quarters, brief))))
    page = Page("a page", brief, tuple(bars))
    # What would last beyond the end, or into the next note, is cut there.
    return page.chosen(1, len(bars)) if _one_voice(page) else Page("a page", brief, tuple(_cut(bar) for bar in bars))


def _cut(bar: PageBar) -> PageBar:
    return PageBar(bar.number, bar.meter, bar.length, tuple(
        PageNote(**{**note.__dict__, "duration": min(note.duration, bar.length - note.at)}) for note in bar.notes
    ))  # fmt: skip


def _one_voice(page: Page) -> bool:
    over = Fraction(0)
    for bar in page.bars:
        if over > 0 and bar.notes and bar.notes[0].at < over:
            return False
        over = max([note.at + note.duration for note in bar.notes] + [over]) - bar.length
    return True


@st.composite
def notes_in(draw: st.DrawFn, length: Fraction, brief: Brief) -> tuple[PageNote, ...]:
    found: list[PageNote] = []
    at = Fraction(0)
    while at < length:
        # A tuplet fills its quarter and begins on one, as it does on paper.
        fits = [
            step
            for step in STEPS
            if (at + step <= length if _plain(step) else at.denominator == 1 and at + 1 <= length)
        ]
        step = draw(st.sampled_from(fits or [length - at]))
        for _ in range(1 if _plain(step) else int(1 / step)):
            strings = draw(st.lists(st.integers(1, 4), max_size=2, unique=True))
            marks = tuple(draw(st.lists(st.sampled_from(MARKS), max_size=2, unique=True)))
            before = [mark for mark in marks if mark in MARKS[:4]]
            marks = tuple(mark for mark in MARKS if mark in marks and mark not in before[1:])
            over = draw(st.sampled_from([0, 0, 0, 1])) if at + step == length else 0
            for string in sorted(strings, reverse=True):
                fret = draw(st.integers(0, 24))
                pitch = brief.tuning.strings[string - 1] + fret
                bend = 1.5 if "bend" in marks else 0.0
                found.append(PageNote(at, step + over, pitch, string, fret, marks, bend_semitones=bend))
            at += step
    return tuple(sorted(found, key=lambda note: (note.at, note.pitch, note.string)))


def shown(page: Page) -> list[dict]:
    bars = [bar.as_dict() for bar in page.bars]
    for bar in bars:
        for note in bar["notes"]:
            note["marks"] = sorted(note["marks"])
        bar["notes"].sort(key=lambda note: (Fraction(note["at"]), note["string"]))
    return bars


@settings(max_examples=60)
@given(pages(), st.integers(60, 160), st.booleans())
def test_what_is_written_is_read_back_the_same(page: Page, width: int, ascii_only: bool) -> None:
    text = tab_text(page, width, ascii_only)
    assert not ascii_only or text.isascii()
    assert shown(read_tab(text)) == shown(page)


@settings(max_examples=60)
@given(pages())
def test_every_bar_adds_up_and_nothing_is_lost_by_folding(page: Page) -> None:
    for bar, heads in zip(page.bars, heads_of(page.bars), strict=True):
        assert sum((head.value.length for head in heads), Fraction(0)) == bar.length
    played = [bar for section in folded(page.bars) for bar in section.played]
    assert [bar.content() for bar in played] == [bar.content() for bar in page.bars]


@given(
    st.sampled_from(["4/4", "7/8", "4+3/8", "2+2+3/8", "6/8", "12/8", "5/4", "3/2", "15/16"]),
    st.sampled_from(STEPS),
    st.data(),
)
def test_every_length_has_heads(meter_text: str, step: Fraction, data: st.DataObject) -> None:
    meter = parse_meter(meter_text)
    count = int(meter.quarters / step)
    begin = data.draw(st.integers(0, count - 1))
    end = data.draw(st.integers(begin + 1, count))
    heads = split(begin * step, (end - begin) * step, meter)
    assert sum(head.length for head in heads) == (end - begin) * step
    assert all(head.dots < 2 for head in heads)


def test_a_rest_between_two_kinds_of_tuplet_has_heads() -> None:
    heads = split(Fraction(1, 6), Fraction(6, 5) - Fraction(1, 6), parse_meter("6/8"))
    assert sum(head.length for head in heads) == Fraction(31, 30)


def test_heads_show_the_groups_of_the_meter() -> None:
    meter = parse_meter("4+3/8")
    assert [str(head) for head in split(Fraction(0), Fraction(7, 2), meter)] == ["h", "q."]
    assert [str(head) for head in split(Fraction(3, 2), Fraction(1), meter)] == ["e", "e"]
    assert [str(head) for head in split(Fraction(0), Fraction(3), parse_meter("6/8"))] == ["h."]


def test_a_triplet_of_quarters_has_quarters() -> None:
    """Over a half bar, or a group of four eighths, in the open; over the middle of the bar it is
    still tied.
    """
    four, seven, third = parse_meter("4/4"), parse_meter("4+3/8"), Fraction(2, 3)
    for meter, begin in ((four, 0), (four, 2), (seven, 0), (parse_meter("3/4"), 1)):
        for place in range(3):
            assert [str(head) for head in split(begin + place * third, third, meter)] == ["q3"], (meter, begin, place)
    assert [str(head) for head in split(third, 2 * third, four)] == ["h3"]
    assert len(split(1 + third, third, four)) == 2


TAB = """harbour steps
tuning: E1 A1 D2 G2
tempo: 96
meter: 4/4

     1       &   2   3   4
     e       e   q   q   q
G |--------------------------|
D |--------------h5----------|
A |--------------------------|
E |--3-------0-------3---5x--|
"""


def test_a_text_typed_by_hand() -> None:
    page = read_tab(TAB)
    assert page.title == "harbour steps"
    notes = page.bars[0].notes
    assert [(str(note.at), str(note.duration), note.pitch) for note in notes] == [
        ("0", "1/2", 31), ("1/2", "1/2", 28), ("1", "1", 43), ("2", "1", 31), ("3", "1", 33),
    ]  # fmt: skip
    assert notes[2].marks == ("hammer-on",)
    assert notes[4].marks == ("dead",)


def test_a_missing_fill_character_is_mended() -> None:
    mended = TAB.replace("D |--------------h5----------|", "D |-------------h5----------|")
    assert shown(read_tab(mended)) == shown(read_tab(TAB))


def test_a_missing_last_bar_line_and_empty_lines_are_mended() -> None:
    open_ended = TAB.replace("A |--------------------------|", "A |--------------------------")
    assert shown(read_tab(open_ended)) == shown(read_tab(TAB))
    riff = (Path(__file__).parents[2] / "docs" / "riffs" / "02-tram-line-seven.txt").read_text()
    apart = riff.replace("[4+3/8]\n", "[4+3/8]\n\n").replace("\nG |", "\n\nG |")
    assert apart != riff
    assert shown(read_tab(apart)) == shown(read_tab(riff))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "e       e   q",
            "e       e   e",
            "line 7, column 3: the note values of this bar add up to 7/2 quarters; 4/4 has 4.",
        ),
        ("e       e   q", "e       e   z", "line 7, column 18: 'z' is not a note value"),
        ("E |--3---", "E |--?---", "line 11, column 6: '?' is not a fret"),
        ("E |--3----", "E |-3-----", "stands below no note value"),
        ("tempo: 96", "tempo: fast", "line 3, column 8:"),
        ("tuning: E1", "tuning: Q1", "line 2, column 9:"),
        ("A |", "B |", "line 10, column 1: this line is called B"),
        ("A |--------------------------|\n", "", "here are 3 string lines"),
        (
            "     1       &   2   3   4\n     e       e   q   q   q\n",
            "",
            "line 6, column 4: this bar has 25 columns, which make no even rhythm in 4/4",
        ),
        ("e       e   q   q   q", "e       re  q   q   q", "a rest has a fret below it"),
        ("e       e   q   q   q", "e       e   q   q   q~", "the last note is tied to a next one"),
        ("D |---", "D  ---", "line 9, column 2: behind the name of this string a bar line is missing"),
        ("G |---", "G |-|-", "line 9, column 30: this line has 2 bar lines where 3 are wanted."),
        ("E |--3-------0-------3---5x--|", "E |--3-------0-------3---5x--:|", "this bar is 1 column longer"),
        ("5x", "55", "line 11, column 26: there is no fret 55"),
    ],
)
def test_a_fault_is_said_with_its_place(old: str, new: str, said: str) -> None:
    assert old in TAB
    with pytest.raises(UserError) as caught:
        read_tab(TAB.replace(old, new))
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.text(alphabet="GDAE |-0123456789qehs.r~[]:\n", max_size=300))
def test_any_text_ends_with_a_page_or_a_sentence(text: str) -> None:
    try:
        read_tab(text)
    except UserError as error:
        assert "\n" not in str(error)


def _file(path: Path, rows: list[tuple[int, int, int]], meter: tuple[int, int] = (4, 4)) -> str:
    """A file of (start, length, pitch) in sixteenths, at 480 ticks a quarter."""
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1]))
    events = sorted(
        [(start * 120, 1, pitch) for start, _, pitch in rows]
        + [((start + length) * 120, 0, pitch) for start, length, pitch in rows]
    )
    last = 0
    for tick, on, pitch in events:
        track.append(mido.Message("note_on" if on else "note_off", note=pitch, velocity=90, time=tick - last))
        last = tick
    file.save(str(path))
    return str(path)


RIFF = [(0, 3, 28), (3, 1, 31), (4, 2, 33), (8, 4, 35), (12, 2, 28), (14, 2, 26 + 5)]


def test_the_command_there_and_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take, text, back = _file(tmp_path / "riff.mid", RIFF), tmp_path / "riff.txt", tmp_path / "back.mid"
    assert main(["tab", take, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [bar["meter"] for bar in found["bars"]] == ["4/4"]
    assert [(n["at"], n["duration"], n["pitch"]) for n in found["bars"][0]["notes"]] == [
        ("0", "3/4", 28), ("3/4", "1/4", 31), ("1", "1/2", 33), ("2", "1", 35), ("3", "1/2", 28), ("7/2", "1/2", 31),
    ]  # fmt: skip
    assert main(["tab", take, "-o", str(text)]) == 0
    assert main(["tab", "--read", str(text), "-o", str(back)]) == 0
    notes, now = [], 0
    for message in mido.merge_tracks(mido.MidiFile(str(back)).tracks):
        now += message.time
        if message.type == "note_on" and message.velocity:
            notes.append((now / 240, message.note))
    assert notes == [(start, pitch) for start, _, pitch in RIFF]
    shelf = tmp_path / "shelf.sqlite"
    assert main(["tab", "--read", str(text), "-o", "Harbour", "--shelf", str(shelf)]) == 0
    capsys.readouterr()
    assert main(["tab", "Harbour", "--shelf", str(shelf), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert again["bars"] == found["bars"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["tab"], ["tab", "TAKE", "--bars", "x"], ["tab", "TAKE", "--bars", "9-12"], ["tab", "TAKE", "--width", "3"],
        ["tab", "TAKE", "-o", "OUT.pdf"], ["tab", "--read", "TAKE", "-o", "x"], ["tab", "--read", "TXT"], ["tab", "TAKE", "--tuning", "C4 G4"],
    ],
)  # fmt: skip
def test_bad_input_gets_one_sentence_and_writes_nothing(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    take, text = _file(tmp_path / "riff.mid", RIFF), tmp_path / "riff.txt"
    text.write_text(TAB)
    before = sorted(tmp_path.iterdir())
    words = [
        {"TAKE": take, "TXT": str(text), "OUT.pdf": str(tmp_path / "out.pdf")}.get(word, word) for word in arguments
    ]
    assert main([*words, "--shelf", str(tmp_path / "none.sqlite")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert sorted(tmp_path.iterdir()) == before


def test_a_repeat_is_folded_and_an_ending_kept(tmp_path: Path) -> None:
    meter = parse_meter("4/4")
    one = PageBar(1, meter, Fraction(4), (PageNote(Fraction(0), Fraction(4), 28, 4, 0),))
    other = PageBar(1, meter, Fraction(4), (PageNote(Fraction(0), Fraction(4), 31, 4, 3),))
    last = PageBar(1, meter, Fraction(4), (PageNote(Fraction(0), Fraction(4), 33, 3, 0),))
    bars = [one, other, one, other, one, other, one, last]
    text = tab_text(Page("again", Brief.default(), tuple(bars)))
    assert "[play 4 times]" in tab_text(Page("four", Brief.default(), (one, other) * 4))
    assert [bar.content() for bar in read_tab(text).bars] == [bar.content() for bar in bars]
    two = tab_text(Page("endings", Brief.default(), (one, other, one, last)))
    assert "[1.]" in two
    assert "[2.]" in two
    assert [bar.content() for bar in read_tab(two).bars] == [bar.content() for bar in (one, other, one, last)]


@pytest.mark.parametrize("tempo", ["96", "97", "116", "8th=190", "133.7"])
def test_repeated_notes_come_back_at_any_tempo(tempo: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    meter = parse_meter("4/4")
    notes = tuple(PageNote(Fraction(place, 4), Fraction(1, 4), 33, 3, 0) for place in range(16))
    bars = tuple(PageBar(number, meter, Fraction(4), notes) for number in (1, 2, 3))
    path, shelf = tmp_path / "same.txt", str(tmp_path / "shelf.sqlite")
    path.write_text(tab_text(Page("same", Brief.default().replace(tempo=tempo), bars), ascii_only=True))
    assert main(["tab", "--read", str(path), "-o", "same", "--shelf", shelf]) == 0
    capsys.readouterr()
    assert main(["tab", "same", "--shelf", shelf, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [bar["notes"] for bar in found["bars"]] == [bar.as_dict()["notes"] for bar in bars]


def test_a_long_header_and_a_dense_bar_keep_to_the_width() -> None:
    words = "one bar of it needs a longer breath before the slide, and a soft thumb all the way down"
    meter = parse_meter("5/4")
    notes = tuple(PageNote(Fraction(at, 8), Fraction(1, 8), 28, 4, 0) for at in range(0, 8))
    held = tuple(PageNote(Fraction(at, 2), Fraction(1, 2), 31, 4, 3) for at in range(2, 10))
    page = Page(f"A name that is as long as this line, {words}", Brief.default().replace(cycle="5/4"), (PageBar(1, meter, meter.quarters, notes + held),), words=words)  # fmt: skip
    text = tab_text(page, 60)
    assert max(map(len, text.splitlines())) <= 60
    back = read_tab(text)
    assert (back.title, back.words) == (page.title, page.words)
    assert shown(back) == shown(page)
