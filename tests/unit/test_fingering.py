"""Fingering: what a hand does, what is pinned, what cannot be played, and what repeats."""

import json
from fractions import Fraction
from itertools import product
from pathlib import Path

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.bass.fingering import finger
from loopdeck.bass.handwork import LET_GO, Wish
from loopdeck.bass.moments import OVERLAP_SEC
from loopdeck.bass.neck import neck_of
from loopdeck.bass.repeats import classes
from loopdeck.brief.brief import Brief
from loopdeck.brief.tunings import find_tuning
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.cli.main import main
from loopdeck.errors import UserError
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.making import page_of
from loopdeck.page.playing import take_of_page
from loopdeck.rhythm.meter import parse_meter
from loopdeck.shelf.excerpt import excerpt, in_a_brief
from loopdeck.shelf.material import material_of
from loopdeck.shelf.store import Shelf
from loopdeck.theory.scale import parse_scale

BASS, DROP = find_tuning("four-string"), find_tuning("drop-d")
#: A drum and a bass note.
BAND = ((36, 9), (40, 0))
HELD = (55, 32, 41, 48, 44, 49, 49, 49, 30)


def notes(rows: list[tuple[float, float, int]], strings: tuple[int, ...] = ()) -> np.ndarray:
    """Notes of (onset, duration, pitch)."""
    array = np.zeros(len(rows), NOTE_DTYPE)
    for index, (onset, duration, pitch) in enumerate(rows):
        array[index] = (onset, duration, pitch, 90, 0, strings[index] if strings else 0)
    return array


def row(pitches: list[int], gap: float = 0.25) -> np.ndarray:
    return notes([(index * gap, gap * 0.8, pitch) for index, pitch in enumerate(pitches)])


def test_a_scale_lies_in_one_position() -> None:
    found = finger(row([36, 38, 40, 41, 43, 45, 47, 48], 0.12), BASS)
    assert len(set(found.hand.tolist())) == 1
    assert np.all(np.array([0, *BASS.strings])[found.string] + found.fret == [36, 38, 40, 41, 43, 45, 47, 48])


def test_a_low_open_string_is_pedalled() -> None:
    found = finger(row([28, 40, 28, 43, 28, 45, 28, 40]), BASS)
    assert found.fret[::2].tolist() == [0, 0, 0, 0]
    assert found.string[::2].tolist() == [4, 4, 4, 4]


@given(st.lists(st.tuples(st.floats(0, 4), st.floats(0.05, 2), st.integers(20, 75)), min_size=0, max_size=14))
def test_notes_that_sound_together_never_share_a_string(rows: list[tuple[float, float, int]]) -> None:
    array = notes(sorted(rows))
    found = finger(array, BASS)
    opens = np.array([0, *BASS.strings])
    played = found.string > 0
    assert np.all((opens[found.string] + found.fret == array["pitch"])[played])
    assert {one.index for one in found.unplayable} == set(np.flatnonzero(~played).tolist())
    first: dict[int, list[int]] = {}
    for index in np.flatnonzero(played).tolist():
        first.setdefault(int(found.string[index]), []).append(index)
    for indices in first.values():
        onsets = array["onset_sec"][indices]
        # Two onsets so near to each other would be one stroke on one string.
        assert np.all(np.diff(onsets) > OVERLAP_SEC)


def test_twelve_notes_at_once_on_four_strings() -> None:
    found = finger(notes([(0.0, 1.0, 28 + 3 * one) for one in range(12)]), BASS)
    assert sorted(found.string[found.string > 0].tolist()) == [1, 2, 3, 4]
    assert len(found.unplayable) == 12 - (found.string > 0).sum()


def test_what_the_tuning_cannot_play_has_the_nearest_octave() -> None:
    found = finger(row([23, 28, 100]), BASS)
    assert [(one.index, one.pitch, one.nearest) for one in found.unplayable] == [(0, 23, 35), (2, 100, 64)]


@pytest.mark.parametrize("before", [0, 100])
def test_a_note_that_rings_on_is_let_go_rather_than_leapt_around(before: int) -> None:
    """In a long take as in a short one: a high B flat sounds into a low F sharp and the E there."""
    rows = [(index * 0.25, 0.2, 33) for index in range(before)]
    rows += [(30.0, 0.7, 58), (30.25, 0.2, 30), (30.5, 0.2, 40)]
    found = finger(notes(rows), BASS)
    assert found.string[-2:].tolist() == [4, 2]
    assert found.fret[-2:].tolist() == [2, 2]


def test_a_note_that_was_let_go_does_not_come_back() -> None:
    """An F that is held to the end gives way to a low A flat, and is in nobody's way after it."""
    found = finger(notes([(0.0, 2.7, 53), *((0.25 * at, 0.2, pitch) for at, pitch in enumerate(HELD, 1))]), BASS)
    assert found.cost < 2 * LET_GO
    assert max(found.hand[2:].tolist()) <= 5


def test_pins_hold_and_the_rest_follows() -> None:
    low = finger(row([45, 47, 48, 50]), BASS)
    high = finger(row([45, 47, 48, 50]), BASS, {0: Wish(hand=7)})
    assert high.hand[0] == 7
    assert low.hand[0] < 7
    along = finger(row([45, 47, 48, 50]), BASS, {index: Wish(string=3) for index in range(4)})
    assert along.string.tolist() == [3, 3, 3, 3]
    with pytest.raises(UserError, match=r"Note 0 \(A2\) cannot be played at string 4, fret 3"):
        finger(row([45, 47]), BASS, {0: Wish(4, 3)})
    with pytest.raises(UserError, match="There is no note 7"):
        finger(row([45, 47]), BASS, {7: Wish(4)})


def test_the_pickups_string_wins_and_a_contradiction_is_said() -> None:
    rows = [(0.0, 0.2, 45), (0.25, 0.2, 45), (0.5, 0.2, 30)]
    found = finger(notes(rows, (3, 2, 1)), BASS)
    assert found.string[:2].tolist() == [3, 2]
    assert found.fret[:2].tolist() == [12, 7]
    assert [(one.index, one.string) for one in found.contradictions] == [(2, 1)]
    assert found.string[2] == 4


def test_a_hammer_on_stays_on_its_string() -> None:
    found = finger(row([33, 45], 0.12), BASS, joined=["", "legato"])
    assert found.string[0] == found.string[1]


@given(
    st.lists(
        st.tuples(st.sampled_from([0.0, 0.12, 0.3]), st.sampled_from([0.1, 0.3, 0.9]), st.integers(28, 55)),
        min_size=2,
        max_size=3,
    )
)
def test_no_row_of_pins_is_cheaper(rows: list[tuple[float, float, int]]) -> None:
    """Whatever sounds into what: holding every note somewhere never costs less than the search."""
    onsets = np.cumsum([gap for gap, _, _ in rows]).tolist()
    array = notes([(onset, length, pitch) for onset, (_, length, pitch) in zip(onsets, rows, strict=True)])
    free = finger(array, BASS)
    places = [
        [Wish(string, pitch - lowest) for string, lowest in enumerate(BASS.strings, 1) if 0 <= pitch - lowest <= 24]
        for _, _, pitch in rows
    ]
    for chosen in product(*places):
        held = finger(array, BASS, dict(enumerate(chosen)))
        # Another pair of notes may be left of three that cannot be held together.
        assert held.unplayable != free.unplayable or held.cost >= free.cost - 1e-9


def test_power_chords_keep_their_shape_and_no_finger_is_at_two_frets() -> None:
    roots = [29, 31, 34, 36]
    found = finger(notes([(at * 0.5, 0.4, root + up) for at, root in enumerate(roots) for up in (0, 7)]), BASS)
    strings, frets = found.string.reshape(-1, 2), found.fret.reshape(-1, 2)
    assert (strings[:, 0] - strings[:, 1] == 1).all() and (frets[:, 1] - frets[:, 0] == 2).all()
    drop = finger(notes([(at * 0.5, 0.4, root + up) for at, root in enumerate([26, 29, 31]) for up in (0, 7)]), DROP)
    assert drop.string.tolist() == [4, 3] * 3 and drop.fret.tolist() == [0, 0, 3, 3, 5, 5]
    # Frets 8, 11 and 12 at once: the ring finger makes room for the little one.
    wide = finger(notes([(0.0, 1.0, 36), (0.0, 1.0, 44), (0.0, 1.0, 50)]), BASS, {0: Wish(4, 8), 2: Wish(2, 12)})
    assert wide.fret.tolist() == [8, 11, 12] and wide.finger.tolist() == [1, 3, 4]


def test_the_command_reads_what_was_joined_and_the_channels_of_strings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A hammered A over E: alone the open string would be easier; and a channel a string."""
    legato, apart = tmp_path / "legato.mid", tmp_path / "apart.mid"
    smf(legato, [(0, 480, 40, 100, 0), (480, 240, 43, 40, 0), (960, 200, 40, 100, 0), (1440, 200, 40, 100, 0)])
    smf(apart, [(0, 400, 43, 90, 2), (480, 400, 45, 90, 1), (960, 400, 31, 90, 3)])
    main(["technique", str(legato), "--json"])
    assert json.loads(capsys.readouterr().out)["notes"][1]["reached"] == "hammer-on"
    main(["finger", str(legato), "--json"])
    first, second = json.loads(capsys.readouterr().out)["notes"][:2]
    assert first["string"] == second["string"]
    main(["finger", str(apart), "--json"])
    assert [note["string"] for note in json.loads(capsys.readouterr().out)["notes"]] == [3, 2, 4]


def smf(path: Path, rows: list[tuple[int, int, int, int, int]]) -> None:
    """A file of (tick, ticks, pitch, velocity, channel)."""
    events = []
    for start, length, pitch, velocity, channel in rows:
        events.append((start, 1, mido.Message("note_on", note=pitch, velocity=velocity, channel=channel)))
        events.append((start + length, 0, mido.Message("note_off", note=pitch, channel=channel)))
    file, now = mido.MidiFile(ticks_per_beat=480), 0
    track = mido.MidiTrack()
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=tick - now))
        now = tick
    file.tracks.append(track)
    file.save(path)


def test_a_repeated_riff_is_fingered_the_same_each_time() -> None:
    riff = [28, 43, 40, 45, 47, 43, 40, 38]
    filler = [[31, 55, 33, 60], [62, 50, 48, 36], [28, 29, 64, 41]]
    pitches = [pitch for between in filler for pitch in (*riff, *between)]
    found = finger(row(pitches, 0.18), BASS)
    starts = [0, 12, 24]
    for column in (found.string, found.fret, found.hand):
        assert len({tuple(column[start : start + 8].tolist()) for start in starts}) == 1


def test_what_repeats_is_found() -> None:
    assert classes(list("abcdxabcdyabcd")) == [0, 1, 2, 3, 4, 0, 1, 2, 3, 9, 0, 1, 2, 3]
    assert classes(list("ababababab"))[4:] == [0, 1, 0, 1, 0, 1]
    assert classes("abc") == [0, 1, 2]


def _file(path: Path, pitches: list[int]) -> str:
    file = mido.MidiFile()
    track = mido.MidiTrack()
    file.tracks.append(track)
    for pitch in pitches:
        track.append(mido.Message("note_on", note=pitch, velocity=90, time=0))
        track.append(mido.Message("note_off", note=pitch, time=240))
    file.save(str(path))
    return str(path)


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = _file(tmp_path / "riff.mid", [23, 28, 31, 33, 35])
    assert main(["finger", take, "--tuning", "four-string", "--pin", "2=4/3", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [note["index"] for note in found["notes"]] == [1, 2, 3, 4]
    assert set(found["notes"][0]) == {"index", "string", "fret", "hand", "finger"}
    assert (found["notes"][1]["string"], found["notes"][1]["fret"]) == (4, 3)
    assert found["unplayable"][0]["index"] == 0
    assert found["unplayable"][0]["nearest"] == 35
    assert main(["finger", take]) == 0
    assert "cannot be played, not on this neck; the nearest octave that can be is B1" in capsys.readouterr().out


@pytest.mark.parametrize("pin", ["9=1", "0", "1=0", "1@0", "a=1", "1=4/30", "2=9"])
def test_a_wrong_pin_gets_a_sentence(pin: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = _file(tmp_path / "riff.mid", [28, 31, 33, 35])
    assert main(["finger", take, "--pin", pin]) == 2
    said = capsys.readouterr().err
    assert said.startswith("loopdeck: ")
    assert said.count("\n") == 1


def test_what_is_said_of_a_pin_names_the_note_as_numbered_beside_drums(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    smf(tmp_path / "band.mid", [(at * 240, 120, pitch, 90, channel) for at in range(4) for pitch, channel in BAND])
    for pin, says in (("3=1/1", "Note 3 (E2) cannot"), ("2=1", "Note 2 is one of the drums"), ("8=1", "no note 8")):
        assert main(["finger", str(tmp_path / "band.mid"), "--pin", pin]) == 2
        assert says in capsys.readouterr().err


def test_pins_that_contradict_each_other_are_said_and_one_note_is_freed_of_what_is_said_of_all(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "riff.mid"
    smf(path, [(0, 400, 38, 90, 0), (480, 400, 40, 90, 0)])
    for pins in (("0=4", "0=3"), ("0=3/5", "0=3/6"), ("0@3", "0@5"), ("all=4", "all=3")):
        assert main(["finger", str(path), *(word for pin in pins for word in ("--pin", pin))]) == 2
        assert "only one of them can hold" in capsys.readouterr().err
    assert main(["finger", str(path), "--pin", "all=4", "--pin", "1=3", "--pin", "1@5", "--json"]) == 0
    notes = json.loads(capsys.readouterr().out)["notes"]
    assert [(note["string"], note["fret"]) for note in notes] == [(4, 10), (3, 7)] and notes[1]["hand"] == 5
    # Along the A string over the open E.
    smf(path, [(at * 240, 200, pitch, 90, 0) for at, pitch in enumerate((28, 40, 28, 43, 28, 45))])
    assert main(["finger", str(path), "--pin", "all=3", "--json"]) == 0
    notes = json.loads(capsys.readouterr().out)["notes"]
    assert [(note["string"], note["fret"]) for note in notes] == [(4, 0), (3, 7), (4, 0), (3, 10), (4, 0), (3, 12)]


def test_an_empty_take(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = _file(tmp_path / "nothing.mid", [])
    assert main(["finger", take]) == 0
    assert "There are no notes." in capsys.readouterr().out
    assert main(["finger", take, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["notes"] == []


def test_the_neck(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["neck", "--scale", "G dorian", "--tuning", "drop-d", "--json"]) == 0
    neck = json.loads(capsys.readouterr().out)
    assert [string["open"] for string in neck["strings"]] == [43, 38, 33, 26]
    fret = neck["strings"][3]["frets"][5]
    assert fret == {"fret": 5, "pitch": 31, "note": "G1", "degree": "1", "in_scale": True}
    opens = [0, *(string["open"] for string in neck["strings"])]
    for position in neck["positions"]:
        assert 0 <= position["high_fret"] - position["low_fret"] <= 5
        pitches = [opens[note["string"]] + note["fret"] for note in position["notes"]]
        assert all(position["low_fret"] <= note["fret"] <= position["high_fret"] for note in position["notes"])
        wanted = [pitch for pitch in range(min(pitches), max(pitches) + 1) if pitch % 12 in {7, 9, 10, 0, 2, 4, 5}]
        assert sorted(pitches) == wanted
    assert main(["neck", "--scale", "G dorian", "--from-tuning", "four-string", "--tuning", "drop-d"]) == 0
    assert "Everything on the lowest string two frets higher." in capsys.readouterr().out


def test_positions_are_those_that_are_taught() -> None:
    """The five of the minor pentatonic in each octave; open strings of wide tunings have one,
    too.
    """
    boxes = neck_of(parse_scale("E minor pentatonic"), BASS).positions
    assert [(box.low, box.high) for box in boxes][:6] == [(0, 3), (2, 5), (4, 7), (7, 10), (9, 12), (12, 15)]
    dorian = neck_of(parse_scale("G dorian"), BASS).positions
    assert len([one for one in dorian if one.spots[0].fret < 12]) == 7
    for tuning in ("drop-d", "fifths"):
        neck = neck_of(parse_scale("F# minor blues"), find_tuning(tuning))
        held = {spot for position in neck.positions for spot in position.spots}
        row = neck.as_dict()["strings"][-1]["frets"]
        assert {fret["fret"] for fret in row[:13] if fret["in_scale"]} <= {
            spot.fret for spot in held if spot.string == 4
        }


def test_notes_that_were_written_on_strings_stay_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """High up on the low E string, where a hand would not go by itself."""
    written = [PageNote(Fraction(at), Fraction(1), 28 + fret, 4, fret) for at, fret in enumerate((12, 15, 17, 19))]
    page = Page("high", Brief.default(), (PageBar(1, parse_meter("4/4"), Fraction(4), tuple(written)),))
    shelf = str(tmp_path / "shelf.sqlite")
    with Shelf(shelf) as opened:
        opened.add(take_of_page(page, "high"))
    assert main(["finger", "1", "--shelf", shelf, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["notes"]
    assert [(note["string"], note["fret"]) for note in found] == [(4, 12), (4, 15), (4, 17), (4, 19)]


def test_what_was_written_of_strings_and_techniques_stays_in_a_stretch() -> None:
    marks = ((), ("hammer-on",), (), ("accent",))
    written = [PageNote(Fraction(at), Fraction(1), 40 + at, 4, 12 + at, marks[at]) for at in range(4)]
    bars = [PageBar(number, parse_meter("4/4"), Fraction(4), tuple(written)) for number in (1, 2)]
    take = in_a_brief(take_of_page(Page("twice", Brief.default(), tuple(bars)), "twice"))
    assert not take.recording.meters
    second = excerpt(material_of(take), range(4, 8), "second")
    for one, count in ((take, 8), (second, 4)):
        notes = [note for bar in page_of(material_of(one)).bars for note in bar.notes]
        assert [note.marks for note in notes] == [*marks] * (count // 4)
        assert [(note.string, note.fret) for note in notes] == [(4, 12), (4, 13), (4, 14), (4, 15)] * (count // 4)
