"""Our Standard MIDI Files read back by other people's readers, to within one tick of 960 a quarter.

Sources
    mido 1.3.3 (messages and ticks) and pretty_midi 0.2.11 (notes, seconds, bars); neither shares
    code with our notes, tempo and places, though mido also does our writing of bytes. Swung places
    in the examples: a pair L long at 2:1 begins its second note at 2L/3, from the definition of the
    ratio. The keys' numbers of sharps and flats: common practice, no source.
"""

import warnings
from fractions import Fraction
from pathlib import Path

import mido
import numpy as np
import pretty_midi
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from loopdeck.looper.layers import Layer
from loopdeck.looper.recording import Recording
from loopdeck.looper.transport import Anchor
from loopdeck.shelf.take import Take
from tests.unit import shelf_tools as tools

TICKS = 960


def written(take: Take, path: Path, straight: bool = False) -> tuple[mido.MidiFile, pretty_midi.PrettyMIDI]:
    """A take's file by both readers."""
    write_smf(path, piece_of_take(take, straight))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return mido.MidiFile(path), pretty_midi.PrettyMIDI(str(path))


def notes_by_mido(file: mido.MidiFile) -> dict[str, list[tuple[int, int, int]]]:
    """(tick, length, pitch) by track name, in order.

    No note begins or ends another one of its pitch, unless both are one.
    """
    found: dict[str, list[tuple[int, int, int]]] = {}
    for track in file.tracks[1:]:
        now, notes = 0, []
        sounding: dict[tuple[int, int], list[int]] = {}
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                starts = sounding.setdefault((message.channel, message.note), [])
                assert set(starts) <= {now}, "a note begins while its pitch sounds"
                starts.append(now)
            elif message.type in ("note_on", "note_off"):
                start = sounding[message.channel, message.note].pop()
                notes.append((start, now - start, message.note))
        assert not any(sounding.values())
        found[track.name] = sorted(notes)
    return found


def metas(file: mido.MidiFile, kind: str) -> list[tuple[int, mido.MetaMessage]]:
    """(tick, message) of one kind in the first track; nowhere else is there any."""
    assert not any(message.type == kind for track in file.tracks[1:] for message in track)
    now, found = 0, []
    for message in file.tracks[0]:
        now += message.time
        if message.type == kind:
            found.append((now, message))
    return found


def signatures(file: mido.MidiFile) -> list[tuple[int, str]]:
    """(tick, meter)."""
    return [(tick, f"{one.numerator}/{one.denominator}") for tick, one in metas(file, "time_signature")]


def test_type_and_resolution(tmp_path: Path) -> None:
    file, _ = written(tools.small_take(), tmp_path / "a.mid")
    assert (file.type, file.ticks_per_beat) == (1, TICKS)
    head = (tmp_path / "a.mid").read_bytes()[:14]
    assert head == b"MThd" + bytes([0, 0, 0, 6, 0, 1, 0, 3, 3, 192])


def test_time_signatures_at_every_change_inside_the_cycle_in_every_pass(tmp_path: Path) -> None:
    take = tools.small_take(cycle="4/4 4+3/8", tempo="96").changed(passes=3, end_sec=22.5 * 60 / 96)
    file, pretty = written(take, tmp_path / "a.mid")
    bar, odd = 4 * TICKS, 7 * TICKS // 2
    want = [(0, "4/4"), (bar, "7/8"), (bar + odd, "4/4"), (2 * bar + odd, "7/8"), (2 * (bar + odd), "4/4"),
            (3 * bar + 2 * odd, "7/8")]  # fmt: skip
    assert signatures(file) == want
    assert [(pretty.time_to_tick(one.time), f"{one.numerator}/{one.denominator}")
            for one in pretty.time_signature_changes] == want  # fmt: skip
    # Its bars begin where ours do, as far as it hears a note.
    starts = [0.0, 4.0, 7.5, 11.5, 15.0]
    assert np.abs(pretty.get_downbeats()[:5] - np.array(starts) * 60 / 96).max() < 60 / 96 / TICKS


def test_the_same_meter_twice_is_no_change(tmp_path: Path) -> None:
    take = tools.small_take(cycle="4/4 4/4 7/8", tempo="96").changed(passes=2, end_sec=23 * 60 / 96)
    file, _ = written(take, tmp_path / "a.mid")
    assert signatures(file) == [(0, "4/4"), (8 * TICKS, "7/8"), (11520 - 480, "4/4"), (11040 + 8 * TICKS, "7/8")]


def test_no_bars_are_announced_after_the_end(tmp_path: Path) -> None:
    """A note that is held a little past the last pass does not begin another one."""
    take = tools.small_take(cycle="4/4 7/8 3/4", tempo="120").changed(passes=1, end_sec=10.5 * 0.5)
    take = take.changed(layers=(tools.layer(1, [(10.25, 0.5, 40)]),))
    file, _ = written(take, tmp_path / "a.mid")
    assert [tick for tick, _ in signatures(file)] == [0, 4 * TICKS, 7 * TICKS + TICKS // 2, 10 * TICKS + TICKS // 2]
    assert max(sum(message.time for message in track) for track in file.tracks) == round(10.75 * TICKS)


@pytest.mark.parametrize(
    ("scale", "key", "number"),
    [
        ("C ionian", "C", 0), ("E aeolian", "Em", 16), ("D major", "D", 2), ("Db ionian", "Db", 1), ("C# ionian", "C#", 1),
        ("Ab minor", "Abm", 20), ("G dorian", "Gm", 19), ("", None, None),
    ],
)  # fmt: skip
def test_key_signature(scale: str, key: str | None, number: int | None, tmp_path: Path) -> None:
    """mido names the key; pretty_midi numbers it: 0 to 11 major from C, 12 to 23 minor from C. A
    mode has its parallel's.
    """
    file, pretty = written(tools.small_take(scale=scale), tmp_path / "a.mid")
    assert [(tick, one.key) for tick, one in metas(file, "key_signature")] == ([(0, key)] if key else [])
    assert [one.key_number for one in pretty.key_signature_changes] == ([number] if key else [])


def test_names_and_one_track_for_each_layer(tmp_path: Path) -> None:
    layers = tuple(tools.layer(number, [(0.0, 0.5, 30 + number)]) for number in (1, 2, 5))
    take = tools.small_take("Ünder the bridge").changed(layers=layers, muted=frozenset({2}))
    file, pretty = written(take, tmp_path / "a.mid")
    assert [track.name.encode("latin-1").decode() for track in file.tracks] == [
        "Ünder the bridge", "as played", "layer 1", "layer 2, muted", "layer 5",
    ]  # fmt: skip
    assert [one.name for one in pretty.instruments] == ["as played", "layer 1", "layer 2, muted", "layer 5"]
    assert [len(one.notes) for one in pretty.instruments] == [2, 2, 2, 2]
    assert {one.program for one in pretty.instruments[1:]} == {33}


def test_swing_is_kept_in_the_times_and_straight_takes_it_out(tmp_path: Path) -> None:
    """Sixteenths at 2:1 in 4/4 and 4+3/8, each played a little off: by hand, from the
    definition.
    """
    # In the seven eighths the pairs begin anew at the fourth eighth's end: 4 eighths, then 3; each
    # eighth is a pair of sixteenths.
    places = [(0.27, Fraction(1, 4), Fraction(1, 3)), (1.0, Fraction(1), Fraction(1)),
              (3.80, Fraction(15, 4), Fraction(23, 6)), (5.76, Fraction(23, 4), Fraction(35, 6)),
              (6.02, Fraction(6), Fraction(6)), (6.30, Fraction(25, 4), Fraction(19, 3))]  # fmt: skip
    take = tools.small_take(cycle="4/4 4+3/8", swing="2:1", grid="1/16", tempo="96").changed(
        layers=(tools.layer(1, [(played, 0.1, 40 + index) for index, (played, _, _) in enumerate(places)]),),
        events=(), end_sec=15 * 60 / 96,
    )  # fmt: skip
    for straight in (False, True):
        file, pretty = written(take, tmp_path / "a.mid", straight)
        want = sorted(
            (place[1] if straight else place[2]) + again * Fraction(15, 2) for again in range(2) for place in places
        )
        ticks = [tick for tick, _, _ in notes_by_mido(file)["layer 1"]]
        assert np.abs(np.array(ticks) - np.array([float(one * TICKS) for one in want])).max() <= 1
        (bass,) = [one for one in pretty.instruments if one.name == "layer 1"]
        seconds = np.array(sorted(note.start for note in bass.notes))
        assert np.abs(seconds - np.array([float(one) * 60 / 96 for one in want])).max() <= 60 / 96 / TICKS


def test_an_early_downbeat_gets_a_bar_in_front(tmp_path: Path) -> None:
    take = tools.small_take(cycle="3/4 7/8", tempo="120").changed(
        events=(tools.note_on(-0.05, 43), tools.note_off(0.4, 43), tools.note_on(0.5, 45), tools.note_off(0.75, 45)),
        layers=(tools.layer(1, [(-0.08, 0.5, 31)]),),
        end_sec=6.5,
    )
    file, pretty = written(take, tmp_path / "a.mid")
    bar = 3 * TICKS
    notes = notes_by_mido(file)
    assert [tick for tick, _, _ in notes["as played"]] == [bar - 96, bar + TICKS]
    assert [tick for tick, _, _ in notes["layer 1"]] == [bar, bar + bar + 7 * TICKS // 2]
    assert signatures(file)[:3] == [(0, "3/4"), (2 * bar, "7/8"), (2 * bar + 7 * TICKS // 2, "3/4")]
    assert abs(pretty.instruments[0].notes[0].start - 1.45) < 0.5 / TICKS


def test_tempo_map(tmp_path: Path) -> None:
    """120, then 60 from quarter 2, then 90 from quarter 5; a note on each quarter."""
    points = (Anchor(0.0, 0.0, 120.0), Anchor(1.0, 2.0, 60.0), Anchor(4.0, 5.0, 90.0))
    seconds = [0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 4.0 + 2 / 3, 4.0 + 4 / 3]
    events = tuple(one for index, sec in enumerate(seconds)
                   for one in (tools.note_on(sec, 40 + index), tools.note_off(sec + 0.1, 40 + index)))  # fmt: skip
    take = tools.small_take().changed(tempo_map=points, events=events, layers=(), end_sec=6.0)
    file, pretty = written(take, tmp_path / "a.mid")
    assert [(tick, one.tempo) for tick, one in metas(file, "set_tempo")] == [
        (0, 500_000), (2 * TICKS, 1_000_000), (5 * TICKS, 666_667),
    ]  # fmt: skip
    assert [tick for tick, _, _ in notes_by_mido(file)["as played"]] == [TICKS * quarter for quarter in range(8)]
    times, tempi = pretty.get_tempo_changes()
    assert np.allclose(times, [0, 1, 4])
    assert np.allclose(tempi, [120, 60, 90])
    assert np.abs(np.array([note.start for note in pretty.instruments[0].notes]) - seconds).max() < 1 / TICKS


def test_a_tempo_that_was_set_before_the_first_pass_stays_before_it(tmp_path: Path) -> None:
    """The early downbeat was played at 60, the pass itself at 120 from its start on; before all
    that it was 90.
    """
    points = (Anchor(-6.0, -8.0, 90.0), Anchor(-2.0, -2.0, 60.0), Anchor(0.0, 0.0, 120.0))
    events = (tools.note_on(-0.5, 40), tools.note_off(-0.1, 40), tools.note_on(0.5, 41), tools.note_off(0.6, 41))
    take = tools.small_take().changed(tempo_map=points, events=events, layers=())
    file, pretty = written(take, tmp_path / "a.mid")
    assert [tick for tick, _, _ in notes_by_mido(file)["as played"]] == [4 * TICKS - TICKS // 2, 5 * TICKS]
    first, second = (note.start for note in pretty.instruments[0].notes)
    assert abs(second - first - 1.0) <= 1 / TICKS
    assert [(tick, one.tempo) for tick, one in metas(file, "set_tempo")] == [
        (0, 666_667), (2 * TICKS, 1_000_000), (4 * TICKS, 500_000),
    ]  # fmt: skip


def test_tempi_that_were_over_before_the_start_are_left_out(tmp_path: Path) -> None:
    points = (Anchor(-6.0, -8.0, 90.0), Anchor(-2.0, -2.0, 60.0), Anchor(0.0, 0.0, 120.0), Anchor(1.0, 2.0, 100.0))
    file, _ = written(tools.small_take().changed(tempo_map=points), tmp_path / "a.mid")
    assert [(tick, one.tempo) for tick, one in metas(file, "set_tempo")] == [(0, 500_000), (2 * TICKS, 600_000)]


@pytest.mark.parametrize(("reach", "semitones"), [(1.0, 2), (2.0, 2), (2.5, 3), (7.0, 7)])
def test_bends_and_their_range(reach: float, semitones: int, tmp_path: Path) -> None:
    curve = [(0.0, 0.0), (0.25, reach / 2), (0.5, reach), (0.75, -reach), (0.9, 0.0)]
    layer = tools.layer(1, [(0.0, 1.0, 33), (2.0, 1.0, 35)], {0: curve})
    file, pretty = written(tools.small_take().changed(layers=(layer,), passes=1, end_sec=2.0), tmp_path / "a.mid")
    track = next(track for track in file.tracks if track.name == "layer 1")
    now, found, controls = 0, [], []
    for message in track:
        now += message.time
        if message.type == "pitchwheel":
            found.append((now, message.pitch / 8192 * semitones))
        if message.type == "control_change":
            controls.append((now, message.control, message.value))
    want = [(round(quarter * TICKS), bend) for quarter, bend in curve[1:]]
    assert [tick for tick, _ in found] == [tick for tick, _ in want]
    assert np.abs(np.array([one for _, one in found]) - [one for _, one in want]).max() <= semitones / 8191
    if semitones > 2:
        assert controls[:4] == [(0, 101, 0), (0, 100, 0), (0, 6, semitones), (0, 38, 0)]
    else:
        assert not [one for one in controls if one[1] in (6, 38, 100, 101)]
    bass = next(one for one in pretty.instruments if one.name == "layer 1")
    assert [pretty.time_to_tick(one.time) for one in bass.pitch_bends] == [tick for tick, _ in want]


def test_a_bend_that_is_left_standing_does_not_bend_the_next_note(tmp_path: Path) -> None:
    layer = tools.layer(1, [(0.0, 1.0, 33), (2.0, 1.0, 35)], {0: [(0.0, 0.0), (0.5, 1.5)]})
    file, _ = written(tools.small_take().changed(layers=(layer,), passes=2), tmp_path / "a.mid")
    bend, at_onset = 0, []
    for message in next(track for track in file.tracks if track.name == "layer 1"):
        if message.type == "pitchwheel":
            bend = message.pitch
        if message.type == "note_on":
            at_onset.append(bend)
    assert at_onset == [0, 0, 0, 0]


def test_notes_of_one_pitch_never_end_each_other(tmp_path: Path) -> None:
    """Held across its own next onset in every pass; and two notes that quantizing brings to one
    place.
    """
    layer = tools.layer(1, [(0.0, 4.0, 33), (1.0, 4.0, 33), (2.02, 0.3, 40), (1.98, 0.6, 40)])
    file, pretty = written(tools.small_take().changed(layers=(layer,)), tmp_path / "a.mid")
    bass = next(one for one in pretty.instruments if one.name == "layer 1")
    low = sorted((note.start, note.end) for note in bass.notes if note.pitch == 33)
    assert np.allclose(low, [(0, 0.5), (0.5, 2), (2, 2.5), (2.5, 4.5)], atol=0.5 / TICKS)
    high = sorted({(note.start, note.end) for note in bass.notes if note.pitch == 40})
    assert np.allclose(high, [(1.0, 1.3), (3.0, 3.3)], atol=0.5 / TICKS)
    assert file.length == pytest.approx(4.5, abs=0.01)


# ---- any take at all -----------------------------------------------------------------------------

briefs = st.fixed_dictionaries(
    {
        "tempo": st.sampled_from(["20", "60", "96", "97.3", "8th=184", "400"]),
        "cycle": st.sampled_from(["4/4", "4/4 4+3/8", "6/8", "3/4 2/4", "2+2+3/16 5/8"]),
        "grid": st.sampled_from(["1/8", "1/16", "1/8T", "1/32"]),
        "swing": st.sampled_from(["straight", "2:1", "58%", "3:1 1/8"]),
        "scale": st.sampled_from(["", "G dorian", "Gb altered", "F# lydian"]),
    }
).map(lambda texts: Brief.default().replace(**texts))


@st.composite
def layers_of(draw: st.DrawFn, number: int, brief: Brief) -> Layer:
    cycle = float(brief.cycle.quarters)
    share = st.floats(-0.02, 0.999)
    notes = draw(st.lists(st.tuples(share, st.floats(0.0, 1.0), st.integers(20, 100)), max_size=6))
    return tools.layer(number, [(on * cycle, long * cycle, pitch) for on, long, pitch in notes])


@st.composite
def playings(draw: st.DrawFn) -> Take:
    brief = draw(briefs)
    passes = draw(st.integers(1, 4))
    cycle_sec = float(brief.tempo.seconds(float(brief.cycle.quarters)))
    onsets = draw(st.lists(st.tuples(st.floats(-0.03, 0.999), st.integers(28, 67)), max_size=8))
    events: list[Event] = []
    for share, pitch in onsets:
        start = share * cycle_sec * passes
        events += [tools.note_on(start, pitch), tools.note_off(start + 0.05 * cycle_sec, pitch)]
    events.sort(key=lambda event: event.time_sec)
    numbers = sorted(draw(st.sets(st.integers(1, 9), max_size=3)))
    return Take(
        name=draw(tools.words),
        kept_at="2031-05-06T07:08:09+00:00",
        recording=Recording(
            brief=brief,
            events=tuple(events),
            layers=tuple(draw(layers_of(number, brief)) for number in numbers),
            muted=frozenset(draw(st.sets(st.sampled_from(numbers)))) if numbers else frozenset(),
            passes=passes,
            end_sec=cycle_sec * passes,
        ),
    )


@settings(max_examples=80, deadline=None)
@given(playings())
def test_any_take_is_read_back_to_within_a_tick(tmp_path_factory: pytest.TempPathFactory, take: Take) -> None:
    file, pretty = written(take, tmp_path_factory.mktemp("smf") / "a.mid")
    qpm, cycle = take.brief.tempo.quarters_per_minute, take.brief.cycle
    own = {
        "as played": [(float(sec) * qpm / 60, int(pitch)) for sec, pitch in take.notes().array[["onset_sec", "pitch"]]]
    }
    for layer in take.recording.layers:
        name = f"layer {layer.number}" + (", muted" if layer.number in take.recording.muted else "")
        own[name] = [
            (place + again * float(cycle.quarters), int(pitch))
            for again in range(take.recording.passes)
            for place, pitch in zip(layer.places(take.brief).tolist(), layer.notes["pitch"], strict=True)
        ]
    first = min((quarter for notes in own.values() for quarter, _ in notes), default=0.0)
    lead = float(cycle.meters[0].quarters) if first < -1 / (2 * TICKS) else 0.0
    found = notes_by_mido(file)
    assert list(found) == list(own)
    for name, notes in own.items():
        want = sorted((round((quarter + lead) * TICKS), pitch) for quarter, pitch in notes)
        # Notes of one pitch at one tick are one note to any reader.
        got = sorted({(tick, pitch) for tick, _, pitch in found[name]})
        want = sorted(set(want))
        assert [pitch for _, pitch in sorted(got, key=lambda one: one[::-1])] == [
            pitch for _, pitch in sorted(want, key=lambda one: one[::-1])
        ]
        for one, other in zip(sorted(got, key=lambda o: o[::-1]), sorted(want, key=lambda o: o[::-1]), strict=True):
            assert abs(one[0] - other[0]) <= 1
    for instrument in pretty.instruments:
        ticks = {(pretty.time_to_tick(note.start), note.pitch) for note in instrument.notes}
        assert all(
            any(abs(tick - t) <= 1 and pitch == p for t, _, p in found[instrument.name]) for tick, pitch in ticks
        )
    # Signatures: at each bar of each pass whose meter differs from the bar's before.
    bars = [(lead + float(cycle.quarters) * again + float(start), meter)
            for again in range(take.recording.passes) for start, meter in zip(cycle.bar_starts, cycle.meters, strict=True)]  # fmt: skip
    want_signatures, before = [], ""
    for quarter, meter in ([(0.0, cycle.meters[0])] if lead else []) + bars:
        text = f"{meter.numerator}/{meter.unit}"
        if text != before:
            want_signatures.append((round(quarter * TICKS), text))
        before = text
    assert signatures(file)[: len(want_signatures)] == want_signatures
    end = max(sum(message.time for message in track) for track in file.tracks)
    assert all(tick < max(end, 1) for tick, _ in signatures(file))
    assert [one.tempo for _, one in metas(file, "set_tempo")] == [round(60e6 / qpm)]
