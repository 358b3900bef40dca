"""From a file to paper and back, by the commands: places, lengths and pitches of random riffs in
odd meters, tunings and swing; the hands.
"""

import json
import random
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.brief.brief import Brief
from loopdeck.cli.main import main
from loopdeck.page.hands import hands_of, ways_of_technique
from loopdeck.page.tab_read import read_tab

TICKS = 960
Row = tuple[Fraction, Fraction, int]


class Riff(NamedTuple):
    """Notes (place, length, pitch) in written quarters, and the options by which they are read."""

    rows: list[Row]
    cycle: str
    grid: str
    swing: str
    tempo: int = 100


def saved(riff: Riff, path: Path) -> None:
    """The riff as it is played: with its swing, by the slots of the brief."""
    brief = Brief.default().replace(cycle=riff.cycle, grid=riff.grid, swing=riff.swing)
    played = dict(zip(brief.slots.written, brief.slots.played_q.tolist(), strict=True))
    whole = brief.cycle.quarters

    def tick(at: Fraction) -> int:
        passes, inside = divmod(at, whole)
        return round((float(passes * whole) + played[inside]) * TICKS)

    events = [(tick(at), 1, pitch) for at, _, pitch in riff.rows]
    events += [(tick(at + long), 0, pitch) for at, long, pitch in riff.rows]
    track, last = mido.MidiTrack(), 0
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(riff.tempo)))
    for now, on, pitch in sorted(events):
        track.append(mido.Message("note_on", note=pitch, velocity=90 * on, time=now - last))
        last = now
    file = mido.MidiFile(ticks_per_beat=TICKS)
    file.tracks.append(track)
    file.save(path)


def options(riff: Riff) -> list[str]:
    said = ("--meter", riff.cycle, "--grid", riff.grid, "--swing", riff.swing, "--tempo", str(riff.tempo))
    return list(said)


def as_json(capsys: pytest.CaptureFixture[str], *words: str) -> list[dict[str, object]]:
    assert main(list(words)) == 0
    bars: list[dict[str, object]] = json.loads(capsys.readouterr().out)["bars"]
    return bars


def rows_of(bars: list[dict[str, object]]) -> list[Row]:
    found, start = [], Fraction(0)
    for bar in bars:
        for note in bar["notes"]:  # type: ignore[attr-defined]
            found.append((start + Fraction(note["at"]), Fraction(note["duration"]), note["pitch"]))
        start += Fraction(str(bar["length"]))
    return found


@st.composite
def riffs(draw: st.DrawFn) -> Riff:
    """One line of notes on the grid, some shorter than the way to the next one; repeated, perhaps
    with another end.
    """
    cycle = draw(st.sampled_from(["4/4", "7/8", "2+2+3/8", "4/4 4+3/8", "5/4", "3/4 3+3+2/8", "6/8", "7/8 4+3/8"]))
    grid = draw(st.sampled_from(["1/8", "1/16"]))
    swing = draw(st.sampled_from(["straight", "2:1", "60%"]))
    brief = Brief.default().replace(cycle=cycle, grid=grid, swing=swing)
    slots = [*brief.slots.written]
    count = draw(st.integers(1, min(len(slots), 14)))
    chosen = sorted(draw(st.permutations(range(len(slots))))[:count])
    rows: list[Row] = []
    for number, slot in enumerate(chosen):
        until = chosen[number + 1] if number + 1 < count else len(slots)
        end = draw(st.integers(slot + 1, until))
        long = (slots[end] if end < len(slots) else brief.cycle.quarters) - slots[slot]
        rows.append((slots[slot], long, draw(st.integers(28, 60))))
    times, whole = draw(st.integers(1, 4)), brief.cycle.quarters
    rows = [(at + number * whole, long, pitch) for number in range(times) for at, long, pitch in rows]
    if draw(st.booleans()):
        rows[-1] = (*rows[-1][:2], draw(st.integers(28, 60)))
    return Riff(rows, cycle, grid, swing)


@settings(max_examples=25, deadline=None)
@given(riffs())
def test_what_is_written_is_what_was_played(tmp_path_factory: pytest.TempPathFactory, riff: Riff) -> None:
    """Places and pitches come out as they went in, through JSON and through text tab and back; what
    ends on the grid keeps its length.
    """
    folder = tmp_path_factory.mktemp("riff")
    saved(riff, folder / "riff.mid")
    capsys = _Captured()
    bars = capsys.json("tab", str(folder / "riff.mid"), *options(riff), "--json")
    assert rows_of(bars) == riff.rows
    assert main(["tab", str(folder / "riff.mid"), *options(riff), "-o", str(folder / "riff.txt"), "--ascii"]) == 0
    assert capsys.json("tab", "--read", str(folder / "riff.txt"), "-o", str(folder / "back.mid"), "--json") == bars


class _Captured:
    """Standard output of a command, inside a property test."""

    def json(self, *words: str) -> list[dict[str, object]]:
        import contextlib
        import io

        with contextlib.redirect_stdout(io.StringIO()) as out:
            assert main(list(words)) == 0
        bars: list[dict[str, object]] = json.loads(out.getvalue())["bars"]
        return bars


def test_a_swung_eighth_is_an_eighth(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """2:1: the first of a pair sounds two thirds of a quarter, the second one third, and both are
    written as eighths.
    """
    rows = [(Fraction(k, 2), Fraction(1, 2), 28 + k) for k in range(32)]
    riff = Riff(rows, "4/4", "1/8", "2:1")
    saved(riff, tmp_path / "swung.mid")
    assert rows_of(as_json(capsys, "tab", str(tmp_path / "swung.mid"), *options(riff), "--json")) == rows
    # Where nobody says that it swings it is heard, and said.
    assert main(["tab", str(tmp_path / "swung.mid"), "-o", str(tmp_path / "swung.txt")]) == 0
    page = read_tab((tmp_path / "swung.txt").read_text())
    assert str(page.brief.swing) == "2:1 1/8"
    assert [note.duration for bar in page.bars for note in bar.notes] == [Fraction(1, 2)] * 32


def test_a_quick_chromatic_run_is_written_note_by_note(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sixteenths at 184 a minute are as short as the frets of a slide; on the grid they are
    notes.
    """
    rows = [(Fraction(k, 4), Fraction(1, 4), 30 + k) for k in range(5)]
    riff = Riff(rows, "4/4", "1/16", "straight", 184)
    saved(riff, tmp_path / "run.mid")
    assert rows_of(as_json(capsys, "tab", str(tmp_path / "run.mid"), *options(riff), "--json")) == rows


def test_two_notes_of_one_place_take_two_strings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Played one after the other, written together: neither is lost; where there is one string
    only, that is said.
    """
    for pitches in ((55, 57), (28, 29)):
        rows = [(Fraction(1), Fraction(1, 8), pitches[0]), (Fraction(9, 8), Fraction(1, 8), pitches[1])]
        saved(Riff(rows, "4/4", "1/32", "straight"), tmp_path / "two.mid")
        code = main(["tab", str(tmp_path / "two.mid"), "--meter", "4/4", "--grid", "1/8", "--json"])
        out, errors = capsys.readouterr()
        if pitches == (28, 29):
            assert code == 2 and "more notes at once than the strings" in errors and not out
        else:
            notes = json.loads(out)["bars"][0]["notes"]
            assert code == 0 and {note["string"] for note in notes} == {1, 2} and len(notes) == 2


# ---- the hands -----------------------------------------------------------------------------------

TAB = """\
Down the quay
tuning: E1 A1 D2 G2
tempo: 96
meter: 4/4
technique: {technique}

    1     & 2 e &   3   4
    e     e s s e   q   rq
G |------------------------|
D |-------------0---2------|
A |-------0---2------------|
E |-3-------0--------------|
"""


@pytest.mark.parametrize(
    ("technique", "ways"),
    [
        ("plectrum", {"fret", "alternate"}),
        ("all downstrokes with a pick", {"fret", "down"}),
        ("fingers, even and full", {"fret", "pluck"}),
        ("fingerpicked", {"fret", "pluck"}),
        ("", {"fret", "pluck"}),
        ("slap and pop", {"fret"}),
    ],
)
def test_the_technique_of_the_brief_says_the_hands(technique: str, ways: set[str]) -> None:
    assert ways_of_technique(technique) == ways


def test_tab_prints_the_hands_below_the_strings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "quay.txt"
    path.write_text(TAB.format(technique="plectrum"))
    assert main(["tab", str(path), "--hands", "--ascii"]) == 0
    text = capsys.readouterr().out
    assert "n down, v up" in text and "1 to 4 fretting fingers" in text
    below = text.splitlines()[
        text.splitlines().index(next(line for line in text.splitlines() if line[0:3] == "E |")) + 2
    ]
    # The finest step is a sixteenth: what stands on an odd one goes up.
    assert below.split() == ["n", "n", "n", "v", "n", "n"]
    assert main(["tab", str(path), "--hands", "pluck", "--json"]) == 0
    notes = json.loads(capsys.readouterr().out)["bars"][0]["notes"]
    assert [note["pluck"] for note in notes] == ["i", "m", "m", "i", "m", "i"]
    (tmp_path / "with.txt").write_text(text)
    assert main(["tab", "--read", str(tmp_path / "with.txt"), "-o", str(tmp_path / "b.mid"), "--json"]) == 0
    assert [note["pitch"] for note in json.loads(capsys.readouterr().out)["bars"][0]["notes"]] == [
        31,
        33,
        28,
        35,
        38,
        40,
    ]


def test_sheet_prints_the_hands_that_the_technique_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, out = tmp_path / "quay.txt", tmp_path / "quay.musicxml"
    path.write_text(TAB.format(technique="plectrum"))
    assert main(["sheet", str(path), "--hands", "-o", str(out)]) == 0
    assert out.read_text().count("<up-bow") == 1 and "<fingering>" in out.read_text()
    assert main(["sheet", str(path), "--hands", "left", "-o", str(out)]) == 2
    assert "not ways to show the hands" in capsys.readouterr().err


def test_a_chord_has_one_stroke_and_a_finger_for_each_string() -> None:
    page = read_tab(
        "tuning: E1 A1 D2 G2\nmeter: 4/4\n\n    q  q  h\nG |-2-------|\nD |-2-------|\nA |-0-------|\nE |----0--3-|\n"
    )
    for way, wanted in (
        ("pluck", ["p", "i", "m", "i", "m"]),
        ("down", ["down-bow", None, None, "down-bow", "down-bow"]),
    ):
        hands = hands_of(page, frozenset({way}))
        assert [hands.signs.get(id(note)) for note in page.bars[0].notes] == wanted


def written_file(seed: int) -> tuple[list[tuple[Fraction, str]], list[Row]]:
    """Bars of changing meters, each beat in twos, threes or fours, and a note on most of the
    places, up to the next one.
    """
    chance = random.Random(seed)
    meters, places, at = [], [Fraction(0)], Fraction(0)
    for _ in range(chance.randint(2, 6)):
        bar = chance.choice(["4/4", "3/4", "7/8", "5/8", "6/8", "9/8", "5/4"])
        meters.append((at, bar))
        end = at + Fraction(4 * int(bar.split("/")[0]), int(bar.split("/")[1]))
        while at < end:
            beat = min(Fraction(1), end - at)
            parts = chance.choice([2, 4, 3]) if beat == 1 else 2
            inside = [at + Fraction(k, parts) for k in range(parts) if Fraction(k, parts) < beat]
            places += [place for place in inside if chance.random() < 0.7]
            at += beat
    places = sorted(set(places))
    ends = [*places[1:], at]
    return meters, [(place, until - place, chance.randint(28, 55)) for place, until in zip(places, ends, strict=True)]


@pytest.mark.parametrize("seed", range(12))
def test_a_written_file_is_taken_as_it_stands(seed: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody says a grid, the meters change, eighths, sixteenths and triplets stand side by side:
    what is exact is not guessed.
    """
    meters, rows = written_file(seed)
    events = [(round(at * TICKS), 1, pitch, 90) for at, _, pitch in rows]
    events += [(round((at + long) * TICKS), 0, pitch, 0) for at, long, pitch in rows]
    track, last = mido.MidiTrack(), 0
    signs = [(round(at * TICKS), -1, number, 0) for number, (at, _) in enumerate(meters)]
    for now, kind, what, velocity in sorted([*events, *signs]):
        if kind < 0:
            above, below = map(int, meters[what][1].split("/"))
            track.append(mido.MetaMessage("time_signature", numerator=above, denominator=below, time=now - last))
        else:
            track.append(mido.Message("note_on", note=what, velocity=velocity, time=now - last))
        last = now
    file = mido.MidiFile(ticks_per_beat=TICKS)
    file.tracks.append(track)
    file.save(tmp_path / "file.mid")
    assert rows_of(as_json(capsys, "tab", str(tmp_path / "file.mid"), "--json")) == rows


def test_a_doubled_note_is_one_and_hurried_notes_are_no_chord(tmp_path: Path) -> None:
    doubled = tmp_path / "doubled.mid"
    track = mido.MidiTrack()
    for kind, pitch, time in (("on", 28, 0), ("on", 28, 0), ("off", 28, 480), ("on", 31, 480), ("off", 28, 0), ("off", 31, 480)):  # fmt: skip
        track.append(mido.Message(f"note_{kind}", note=pitch, time=time))
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    file.save(doubled)
    assert main(["tab", str(doubled), "-o", str(tmp_path / "doubled.txt")]) == 0
    # A played sextuplet on the lowest string, its first notes drawn to the beat when they are
    # heard.
    generator = random.Random(12)
    track, last = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(96))]), 0
    places = [beat + part / 6 for beat in range(12) for part in ((0, 1, 2, 4) if beat % 2 else (0, 3))]
    for number, place in enumerate(places):
        tick = round((place + max(generator.gauss(0, 0.012), -place)) * TICKS)
        track.append(mido.Message("note_on", note=28 + number % 4, velocity=90, time=max(tick - last, 0)))
        track.append(mido.Message("note_off", note=28 + number % 4, time=100))
        last = tick + 100
    file = mido.MidiFile(ticks_per_beat=TICKS)
    file.tracks.append(track)
    file.save(tmp_path / "hurried.mid")
    text = tmp_path / "hurried.txt"
    assert main(["tab", str(tmp_path / "hurried.mid"), "-o", str(text)]) == 0
    notes = [note for bar in read_tab(text.read_text()).bars for note in bar.notes]
    assert [note.pitch for note in notes] == [28 + number % 4 for number in range(len(places))]


def test_finger_and_tab_agree_on_runs_of_a_written_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = [(Fraction(at, 8), Fraction(1, 8), 28 + (0, 3, 5, 7, 8, 7, 5, 3)[at % 8]) for at in range(32)]
    saved(Riff(rows, "4/4", "1/32", "straight"), tmp_path / "run.mid")
    capsys.readouterr()
    assert main(["tab", str(tmp_path / "run.mid"), "--json"]) == 0
    notes = [note for bar in json.loads(capsys.readouterr().out)["bars"] for note in bar["notes"]]
    assert main(["finger", str(tmp_path / "run.mid"), "--json"]) == 0
    fingered = json.loads(capsys.readouterr().out)["notes"]
    assert [(note["string"], note["fret"]) for note in notes] == [(note["string"], note["fret"]) for note in fingered]
    assert len(notes) == len(rows)
