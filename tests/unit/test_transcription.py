"""Rhythm transcription: beats that change, chords, early downbeats, ornaments, swing, written
durations, and odd input.
"""

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from loopdeck.analysis.timing import Feel, Placed, place_onsets, report
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.analysis.transcription.embellishing import HeardNotes, values, without
from loopdeck.analysis.transcription.embellishments import find
from loopdeck.analysis.transcription.grids import GRIDS, KIND
from loopdeck.analysis.transcription.inventory import stray
from loopdeck.analysis.transcription.notation import written_notes
from loopdeck.analysis.transcription.placing import KnownNotes
from loopdeck.errors import UserError
from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.swing import Swing, parse_swing, warp
from loopdeck.rhythm.tempo import TempoMap, parse_tempo
from tests.fitting.rhythm.corpus import TICKS
from tests.fitting.rhythm.pieces import piece
from tests.fitting.rhythm.players import play
from tests.fitting.rhythm.simplest import simplest
from tests.fitting.rhythm.textures import riff

AUTO = Feel(parse_grid("auto"), Swing())
#: Seconds of a quarter at 96.
QUARTER = 0.625


def stretch(cycle: str = "4/4", start: Fraction = Fraction(0)) -> Stretch:
    return Stretch(start, parse_cycle(cycle))


def place(onsets: Any, cycle: str = "4/4", pitch: Any = None, long: Any = None, feel: Feel = AUTO) -> Placed:
    """Onsets in quarters at 96; notes of an ascending scale unless told, held to 9 tenths of the
    way to the next.
    """
    onsets = np.asarray(onsets, float)
    if long is None:
        long = np.diff(np.append(onsets, onsets[-1:] + 1)) * 0.9 if len(onsets) else onsets
    pitch = np.arange(len(onsets)) % 12 + 40 if pitch is None else np.asarray(pitch)
    long = np.maximum(np.asarray(long, float), 0.01)
    playing = KnownNotes(onsets * QUARTER, long * QUARTER, long, pitch)
    return place_onsets(onsets, [stretch(cycle)], feel, playing)


def played(written: list[Fraction], seed: int, noise_ms: float = 10.0) -> np.ndarray[Any, Any]:
    rng = np.random.default_rng(seed)
    return np.asarray(np.array(written, float) + rng.normal(size=len(written)) * noise_ms / 1000 / QUARTER)


def in_bars(written: list[Fraction], bar: Fraction = Fraction(4)) -> list[Fraction]:
    return [place % bar for place in written]


def test_divisions_change_from_beat_to_beat() -> None:
    written = [
        bar * 4 + beat + Fraction(index, parts)
        for bar in range(6)
        for beat, parts in enumerate((4, 3, 2, 8) if bar % 2 else (1, 4, 6, 3))
        for index in range(parts)
    ]
    assert place(played(written, 1)).written == in_bars(written)


@pytest.mark.parametrize("parts", [5, 7, 9])
def test_tuplets_of_five_seven_and_nine(parts: int) -> None:
    counts = [4, 4, parts, 4, 2, parts, 4, 4] * 3
    written = [beat + Fraction(index, count) for beat, count in enumerate(counts) for index in range(count)]
    assert place(np.array(written, float) + 0.004 * np.sin(np.arange(len(written)))).written == in_bars(written)


def test_seven_eighths_with_sixteenths() -> None:
    written = [bar * Fraction(7, 2) + Fraction(index, 4) for bar in range(6) for index in (0, 2, 3, 4, 6, 8, 9, 10, 12)]
    found = place(played(written, 3), "4+3/8")
    assert found.written == in_bars(written, Fraction(7, 2))
    assert found.bar.tolist() == [1 + index // 9 for index in range(54)]


def test_an_early_downbeat_is_a_downbeat() -> None:
    found = place([0.0, 1.0, 2.0, 3.0, 3.5, 3.93, 5.0, 6.0, 7.0, 7.96])
    assert (found.bar[5], found.written[5]) == (2, 0)
    assert (found.bar[9], found.written[9]) == (3, 0)


def test_a_spread_chord_stays_together() -> None:
    chords, pitches = [], []
    for beat in range(16):
        chords += [beat - 0.02, beat - 0.005, beat + 0.025, beat + 0.5]
        pitches += [40, 47, 52, 45]
    found = place(chords, pitch=pitches, long=[0.45] * len(chords))
    assert found.written == [Fraction(beat % 4) + half for beat in range(16) for half in (0, 0, 0, Fraction(1, 2))]


def test_a_rolled_chord_stays_together() -> None:
    onsets, pitches, truth = [], [], []
    for beat in range(16):
        offsets = (0.0, 0.06, 0.12, 0.17) if beat % 4 == 0 else (0.0,)
        onsets += [beat + offset for offset in offsets]
        pitches += [40, 47, 52, 56][: len(offsets)]
        truth += [Fraction(beat % 4)] * len(offsets)
    assert place(onsets, pitch=pitches, long=[0.8] * len(onsets)).written == truth


@pytest.mark.parametrize("ends_on_the_beat", [True, False])
def test_a_fast_roll_is_one_chord_before_the_beat_and_after_it(ends_on_the_beat: bool) -> None:
    onsets, pitches, truth = [], [], []
    for beat in range(16):
        offsets = (0.0, 0.05, 0.1, 0.15, 0.2) if beat % 4 == 0 else (0.0,)
        onsets += [beat + offset - (0.2 if ends_on_the_beat and len(offsets) > 1 else 0.0) for offset in offsets]
        pitches += [40, 45, 49, 52, 57][: len(offsets)]
        truth += [Fraction(beat % 4)] * len(offsets)
    assert place(onsets, pitch=pitches, long=[0.9] * len(onsets)).written == truth


def test_a_bass_note_before_the_beat_is_the_downbeat() -> None:
    rng = np.random.default_rng(9)
    onsets, pitches, truth = [], [], []
    for beat in range(24):
        early = 0.09 if beat == 17 else 0.0
        onsets += [beat - early, beat + 0.005, beat + 0.5]
        pitches += [40, 60, 62]
        truth += [float(beat), float(beat), beat + 0.5]
    found = place(np.array(onsets) + rng.normal(size=72) * 0.02, pitch=pitches, long=[0.9, 0.45, 0.45] * 24).found
    assert found is not None
    assert found.written_q.tolist() == truth


def test_lone_offbeats_played_freely_are_no_triplets() -> None:
    whole = piece("study", *riff(10_020))
    played = play(whole.notes, whole.beats, np.random.default_rng([23, 20]))
    second = 60.0 / played.qpm
    playing = KnownNotes(played.onset_q * second, played.duration_q * second, played.duration_q, played.pitch)
    placed = place_onsets(played.onset_q, whole.stretches, AUTO, playing)
    assert placed.found is not None
    right = np.abs(placed.found.written_q - played.written / TICKS) < 1e-3
    assert right[played.written >= 0].mean() > 0.8


def test_a_division_that_is_rare_must_explain_much() -> None:
    names = [grid.name for grid in GRIDS[KIND[0]]]
    grid = np.full(60, names.index("4"))
    grid[10], grid[30] = names.index("5"), names.index("7")
    grid[40:50] = names.index("3")
    gain = np.zeros(60)
    gain[10], gain[30] = 1.0, 4.0
    assert np.flatnonzero(stray(grid, gain)).tolist() == [10]


def test_late_sixteenths_are_no_triplets_where_nothing_else_is() -> None:
    rng = np.random.default_rng(8)
    written = np.arange(160) / 4
    onsets = written + rng.normal(size=160) * 0.02
    # Two beats of forty are hurried so that they look like triplets and a note.
    for beat in (11, 27):
        onsets[4 * beat + 1 : 4 * beat + 4] = beat + np.array([0.31, 0.6, 0.8])
    found = place(onsets, pitch=40 + (np.arange(160) * 5) % 12)
    assert found.found is not None
    assert set(found.found.grids) <= {"1", "2", "4"}
    assert np.mean(np.abs(found.found.written_q - written) < 1e-6) >= 0.98


@pytest.mark.parametrize(("unit", "bars"), [("1/16", 1), ("1/8", 1), ("1/8", 2)])
@pytest.mark.parametrize("ratio", [1.5, 2.0, 2.4])
def test_swing_is_found_in_short_takes(unit: str, bars: int, ratio: float) -> None:
    swing = parse_swing(f"{ratio}:1 {unit}")
    assert swing.unit is not None
    step = float(swing.unit)
    written = np.arange(0, 4 * bars, step)
    noise = np.random.default_rng(5).normal(size=len(written)) * 0.01 / QUARTER
    found = place(warp(written, parse_cycle("4/4"), swing, parse_grid(unit)) + noise).found
    assert found is not None
    assert (np.abs(found.written_q - written) < 1e-6).all()
    assert found.swing.unit == swing.unit
    assert float(found.swing.ratio) == pytest.approx(ratio, rel=0.2)


def test_two_off_beats_alone_can_swing() -> None:
    found = place([0.0, 1.0, 1.64, 2.0, 3.0, 3.66])
    assert found.found is not None and found.found.swing.unit == Fraction(1, 2)
    assert found.written == [0, 1, Fraction(3, 2), 2, 3, Fraction(7, 2)]


def test_swung_pairs_and_triplets_beside_each_other() -> None:
    off = [Fraction(1, 2)]
    third = [Fraction(1, 3), Fraction(2, 3)]
    written = [beat + part for beat in range(32) for part in (Fraction(0), *(third if beat % 4 == 1 else off))]
    onsets = [float(at) + (0.16 if at.denominator == 2 else 0.0) for at in written]
    noise = np.random.default_rng(8).normal(size=len(onsets)) * 0.008 / QUARTER
    found = place(np.array(onsets) + noise)
    assert found.found is not None and found.found.swing.unit == Fraction(1, 2)
    assert found.written == in_bars(written)


def test_late_throughout_is_no_swing() -> None:
    """At 96, 60 ms is a tenth of a quarter: off-beats alone would look like 3:2."""
    written = [Fraction(number, 2) for number in range(48) if number % 7 != 3]
    found = place(played(written, 5) + 0.06 / QUARTER).found
    assert found is not None and found.swing.straight
    assert found.written_q.tolist() == [float(one) for one in written]


def test_the_swing_of_a_late_player_is_measured_without_the_lateness() -> None:
    swing = parse_swing("60% 1/8")
    written = [number / 2 for number in range(64) if number % 7 != 3]
    late = warp(written, parse_cycle("4/4"), swing, parse_grid("1/8")) + 0.03 / QUARTER
    found = place(late + np.random.default_rng(6).normal(size=len(written)) * 0.008 / QUARTER).found
    assert found is not None and float(found.swing.ratio) == pytest.approx(1.5, abs=0.12)
    assert found.written_q.tolist() == written


def test_dotted_figures_are_no_swing() -> None:
    onsets = np.sort(np.concatenate([np.arange(16.0), np.arange(16) + 0.75]))
    noise = np.random.default_rng(6).normal(size=32) * 0.008 / QUARTER
    found = place(onsets + noise).found
    assert found is not None
    assert found.swing.straight
    assert (np.abs(found.written_q - onsets) < 1e-6).all()


def test_a_grace_note_is_an_ornament_of_its_note() -> None:
    onsets, pitches, long, truth = [], [], [], []
    for beat in range(16):
        if beat % 4 == 2:
            onsets, pitches, long, truth = [*onsets, beat - 0.11], [*pitches, 46], [*long, 0.12], [*truth, True]
        onsets, pitches, long, truth = [*onsets, float(beat)], [*pitches, 47], [*long, 0.9], [*truth, False]
    found = place(onsets, pitch=pitches, long=long)
    assert found.found is not None
    assert found.found.ornament.tolist() == truth
    assert found.written == [round(onset) % 4 for onset in onsets]
    assert found.found.length is not None
    assert [length for length, grace in zip(found.found.length, truth, strict=True) if grace] == [0] * 4


@pytest.mark.parametrize("apart", [0, 3, -7, -12])
def test_grace_notes_by_leap_and_flams_are_ornaments(apart: int) -> None:
    line = np.array([40, 43, 45, 38] * 8)
    onsets = played([Fraction(number, 2) for number in range(32)], seed=9, noise_ms=6.0)
    led = np.arange(3, 32, 6)
    early = onsets[led] - np.linspace(0.05, 0.11, len(led))
    held = np.full(32, 0.45)
    held[led - 1] = 0.3
    found = place(
        np.concatenate([onsets, early]),
        pitch=np.concatenate([line, line[led] + apart]),
        long=np.concatenate([held, np.full(len(led), 0.05)]),
    )
    assert found.found is not None
    assert found.found.ornament.tolist() == [False] * 32 + [True] * len(led)
    assert found.found.written_q.tolist() == [*(np.arange(32) / 2), *(led / 2)]


@pytest.mark.parametrize("steps", [(0, 0), (-7, -4), (-10, -5)], ids=["drag", "leaps", "rake"])
def test_drags_and_rakes_are_ornaments_of_the_note_they_lead_to(steps: tuple[int, int]) -> None:
    rng = np.random.default_rng(3)
    line = rng.integers(36, 48, 32)
    onsets = np.arange(32.0) + rng.normal(size=32) * 0.01
    led = np.arange(3, 32, 5)
    early = np.concatenate([onsets[led] - 0.14, onsets[led] - 0.07])
    held = np.full(32, 0.7)
    found = place(
        np.concatenate([onsets, early]),
        pitch=np.concatenate([line, line[led] + steps[0], line[led] + steps[1]]),
        long=np.concatenate([held, np.full(len(early), 0.05)]),
    )
    assert found.found is not None
    assert found.found.written_q.tolist() == [*range(32), *led, *led]
    assert found.found.ornament.tolist() == [False] * 32 + [True] * len(early)


def over_sixteenths(onsets: Any, pitches: Any, long: Any) -> tuple[Placed, np.ndarray[Any, Any]]:
    """Eight quarters of sixteenths in the left hand, these notes over the fifth of them and a high
    note over each other one; and which of the notes are the left hand's.
    """
    low = np.arange(32) / 4
    high = np.array([0.0, 1.0, 2.0, 3.0, 5.0, 6.0, 7.0])
    every = np.concatenate([low, high, onsets])
    pitch = np.concatenate([[36, 43, 40, 43] * 8, np.full(len(high), 74), pitches])
    held = np.concatenate([np.full(len(low), 0.22), np.full(len(high), 0.9), long])
    return place(every, pitch=pitch, long=held), np.arange(len(every)) < len(low)


@pytest.mark.parametrize("quarter", [0.36, 0.43])
def test_two_short_notes_a_late_sixteenth_apart_are_no_ornament_at_a_quick_tempo(quarter: float) -> None:
    written = np.array([bar * 4 + at for bar in range(4) for at in (0, 0.5, 0.75, 1, 1.5, 2, 3)])
    late = np.isin(written % 4, (0.5, 0.75))
    onsets, long = written + 0.05 * late, np.where(late, 0.1 / quarter, 0.4)
    playing = KnownNotes(onsets * quarter, long * quarter, long, np.tile([48, 50, 48, 46, 45, 43, 41], 4))
    found = place_onsets(onsets, [stretch()], AUTO, playing).found
    assert found is not None and found.written_q.tolist() == written.tolist()


def test_a_trill_leaves_the_other_hand_on_its_sixteenths() -> None:
    onsets = 4.0 + 0.137 * np.arange(6)
    found, left = over_sixteenths(onsets, [76, 77] * 3, np.full(6, 0.12))
    assert [found.written[index] for index in np.flatnonzero(left)] == [Fraction(index, 4) % 4 for index in range(32)]
    assert found.found is not None and found.found.ornament[-5:].all() and not found.found.ornament[:-5].any()
    assert set(found.written[39:45]) == {Fraction(0)}
    assert found.quantized_q[39:45] == pytest.approx(onsets)
    assert found.found.length is not None and found.found.length[39] >= Fraction(3, 4)


def test_grace_notes_on_the_beat_leave_their_late_note_there() -> None:
    onsets = np.array([4.5, 4.57, 4.64])
    found, left = over_sixteenths(onsets, [74, 76, 77], [0.08, 0.08, 0.3])
    assert [found.written[index] for index in np.flatnonzero(left)] == [Fraction(index, 4) % 4 for index in range(32)]
    assert found.found is not None and found.found.ornament[-3:].tolist() == [True, True, False]
    assert found.written[-3:] == [Fraction(1, 2)] * 3


def test_a_riff_to_and_fro_in_sixteenths_is_no_trill() -> None:
    at = np.arange(64) / 4
    rng = np.random.default_rng(4)
    for jitter_ms, quarter in ((0.0, 0.4), (6.0, 0.5), (6.0, 0.32)):
        onset_q = at + rng.normal(size=len(at)) * jitter_ms / 1000 / quarter
        held = np.full(len(at), 0.2)
        notes = KnownNotes(onset_q * quarter, held * quarter, held, np.array([40, 41] * 32))
        found = place_onsets(onset_q, [stretch()], AUTO, notes)
        assert found.found is not None and not found.found.ornament.any()
        assert found.found.written_q.tolist() == at.tolist()


def test_chords_that_move_by_step_are_no_trills() -> None:
    at = np.repeat(np.arange(64) / 4, 3)
    pitch = np.array([60, 64, 67, 62, 65, 69] * 32)
    jitter = np.random.default_rng(0).normal(size=len(at)) * 0.006 / 0.4
    order = np.argsort(at + jitter, kind="stable")
    onset_q, held = (at + jitter)[order], np.full(len(at), 0.2)
    found = place_onsets(onset_q, [stretch()], AUTO, KnownNotes(onset_q * 0.4, held * 0.4, held, pitch[order]))
    assert found.found is not None and not found.found.ornament.any()
    assert found.found.written_q.tolist() == at[order].tolist()


def test_a_trill_struck_with_both_its_notes() -> None:
    onset_ms = np.array([0.0, 0.0, 80.0, 160.0, 240.0, 320.0])
    found = find(onset_ms, np.full(6, 60.0), np.array([60, 62, 60, 62, 60, 62]))
    assert found.notes.tolist() == [1, 2, 3, 4, 5] and found.main.tolist() == [1]
    assert np.isfinite(values(found, onset_ms, np.full(6, 500.0))).all()


def test_a_trill_that_begins_with_the_last_note_of_another() -> None:
    onset_ms = np.array([0.0, 20.0, 50.0, 80.0, 110.0, 140.0, 200.0, 260.0, 320.0])
    duration_ms = np.array([60.0, 50.0, 50.0, 50.0, 300.0, 60.0, 60.0, 60.0, 60.0])
    notes = HeardNotes(onset_ms / 500, onset_ms, duration_ms, np.array([64, 58, 60, 58, 60, 62, 60, 62, 60]))
    found = find(*notes[1:])
    assert found.main.tolist() == [4, 1]
    left = without(notes, found, np.ones(2, bool))
    assert left.kept[left.home].tolist() == [0, 1, 1, 1, 4, 4, 4, 4, 4]


def test_a_run_of_thirty_seconds_is_no_ornament() -> None:
    found, _ = over_sixteenths(4.0 + np.arange(8) / 8, [76, 77, 79, 77, 76, 77, 79, 81], np.full(8, 0.11))
    assert found.found is not None and not found.found.ornament.any()
    assert found.written[-8:] == [Fraction(index, 8) for index in range(8)]


@pytest.mark.parametrize("cycle", ["4/4", "4/4 4+3/8"])
@pytest.mark.parametrize("ratio", [1.3, 1.6, 2.0, 2.5])
def test_swing_is_found_and_written_straight(cycle: str, ratio: float) -> None:
    swing = Swing(Fraction(ratio).limit_denominator(100), Fraction(1, 4))
    rng = np.random.default_rng(int(ratio * 10))
    written = np.flatnonzero(rng.random(240) < 0.8) / 4
    onsets = (
        warp(written, parse_cycle(cycle), swing, parse_grid("1/16")) + rng.normal(size=len(written)) * 0.01 / QUARTER
    )
    found = place(np.sort(onsets), cycle)
    assert found.found is not None
    assert np.mean(np.abs(found.found.written_q - written) < 1e-6) >= 0.97
    assert found.found.swing.unit == Fraction(1, 4)
    assert float(found.found.swing.ratio) == pytest.approx(ratio, abs=0.12)
    # The played place keeps the feel: it is where the swing puts it.
    assert np.percentile(np.abs(found.target_q - np.sort(onsets)), 95) < 0.05


def test_triplets_are_no_swing() -> None:
    written = [beat + Fraction(index, 3) for beat in range(32) for index in ((0, 1, 2) if beat % 2 else (0, 2))]
    found = place(played(written, 5, 6.0))
    assert found.found is not None and found.found.swing.straight
    assert found.written == in_bars(written)


def test_a_swing_that_is_given_is_kept() -> None:
    onsets = [beat + off for beat in range(8) for off in (0.0, 0.66)]
    found = place(onsets, feel=Feel(parse_grid("auto"), parse_swing("2:1 1/8")))
    assert found.written == [Fraction(beat % 4) + half for beat in range(8) for half in (0, Fraction(1, 2))]
    straight = place(onsets, feel=Feel(parse_grid("auto"), Swing(), find_swing=False))
    assert straight.written[1] == Fraction(2, 3)


def test_written_durations_and_rests() -> None:
    # A quarter held too short, eighths, a half, and an eighth before a rest of an eighth; four bars
    # of it.
    bar = [
        (0.0, 0.8, "1"),
        (1.0, 0.47, "1/2"),
        (1.5, 0.45, "1/2"),
        (2.0, 0.95, "1"),
        (3.0, 0.48, "1/2"),
        (3.5, 0.42, "1/2"),
    ]
    rows = [(start + 4 * turn, held, length) for turn in range(4) for start, held, length in bar]
    found = place([row[0] for row in rows], long=[row[1] for row in rows], pitch=[40] * len(rows))
    assert found.found is not None and found.found.length is not None
    assert [str(length) for length in found.found.length] == [row[2] for row in rows]


def _lengths(at: list[float], held: list[float], feel: Feel = AUTO) -> list[str]:
    found = place(at, feel=feel, long=held, pitch=[40] * len(at))
    assert found.found is not None and found.found.length is not None
    return [str(length) for length in found.found.length]


def test_a_short_note_means_a_rest_in_a_legato_take_and_none_in_a_staccato_one() -> None:
    at = [4.0 * bar + place for bar in range(4) for place in (0, 1, 1.5, 2, 3, 3.5)]
    written = [1, 0.5, 0.5, 1, 0.5, 0.5]
    legato = [0.92 * length for _ in range(4) for length in written]
    legato[9] = legato[21] = 0.46
    found = _lengths(at, legato)
    plain = ["1" if row % 6 in (0, 3) else "1/2" for row in range(24)]
    assert found == ["1/2" if row in (9, 21) else length for row, length in enumerate(plain)]
    assert _lengths(at, [0.45 * length for _ in range(4) for length in written]) == plain


def test_swung_notes_are_as_long_as_they_are_written() -> None:
    at = [bar + place for bar in range(8) for place in (0.0, 2 / 3)]
    assert set(_lengths(at, [0.6, 0.3] * 8, Feel(parse_grid("auto"), parse_swing("2:1")))) == {"1/2"}


def test_the_report_says_swing_and_durations() -> None:
    swing = parse_swing("2:1 1/16")
    onset_q = warp(np.arange(64) / 4, parse_cycle("4/4"), swing, parse_grid("1/16"))
    tempo = TempoMap.steady(parse_tempo("96"))
    found, _ = report(tempo.seconds(onset_q), [40] * 64, tempo, [stretch()], AUTO, np.full(64, 0.12))
    assert found["swing_found"] == "2:1 1/16"
    assert [note["written"] for note in found["notes"][:4]] == ["0", "1/4", "1/2", "3/4"]
    assert {note["ornament"] for note in found["notes"]} == {False}
    assert {note["duration"] for note in found["notes"]} == {"1/4"}
    assert sum(found["divisions"].values()) == 16


def test_notes_may_come_in_any_order() -> None:
    rng = np.random.default_rng(2)
    written = [Fraction(index, 4) for index in range(64)]
    onsets, pitches = played(written, 4), rng.integers(30, 50, 64)
    turn = rng.permutation(64)
    one = place(onsets, pitch=pitches, long=np.full(64, 0.2))
    other = place(onsets[turn], pitch=pitches[turn], long=np.full(64, 0.2))
    assert other.written == [one.written[index] for index in turn]
    assert other.target_q.tolist() == one.target_q[turn].tolist()


def test_the_next_stretch_begins_its_own_bars() -> None:
    stretches = [stretch("3/4"), stretch("4/4", Fraction(6))]
    found = place_onsets([0.0, 1.0, 2.0, 3.0, 4.5, 5.97, 7.0, 9.98], stretches, AUTO)
    assert found.bar.tolist() == [1, 1, 1, 2, 2, 3, 3, 4]
    assert found.written == [0, 1, 2, 0, Fraction(3, 2), 0, 1, 0]


def test_strength_and_window() -> None:
    onsets = [0.0, 1.04, 2.0, 3.0]
    half = place(onsets, feel=Feel(parse_grid("auto"), Swing(), strength=0.5))
    assert half.quantized_q[1] == pytest.approx(1.02)
    near = place(onsets, feel=Feel(parse_grid("auto"), Swing(), window=0.05))
    assert near.quantized_q[1] == 1.04


# ---- odd input -----------------------------------------------------------------------------------


def test_no_note_and_one_note() -> None:
    empty = place([])
    assert (empty.written, empty.bar.tolist()) == ([], [])
    assert empty.found is not None and empty.found.length == []
    assert place([2.03]).written == [2]


def test_all_notes_at_once() -> None:
    found = place([1.0] * 500, pitch=np.arange(500) % 128, long=[1.0] * 500)
    assert set(found.written) == {Fraction(1)}


def test_every_pitch_at_once_again_and_again() -> None:
    onsets = np.repeat(np.arange(8.0), 128) + np.random.default_rng(1).normal(size=1024) * 0.004
    order = np.argsort(onsets)
    pitch = np.tile(np.arange(128), 8)
    found = place(onsets[order], pitch=pitch[order], long=np.full(1024, 0.8))
    assert np.abs(np.array(found.written, float) - np.round(onsets[order]) % 4).max() == 0


def test_notes_before_zero() -> None:
    found = place([-4.02, -3.0, -0.5, 0.0])
    assert found.bar.tolist() == [0, 0, 0, 1]
    assert found.written == [0, 1, Fraction(7, 2), 0]


def test_ten_hours_with_long_silences() -> None:
    onsets = np.concatenate([np.arange(0, 8, 0.25) + start for start in np.linspace(0, 57_600, 40).round()])
    found = place(onsets, long=np.full(len(onsets), 0.2))
    assert found.found is not None
    assert np.abs(found.found.written_q - onsets).max() < 1e-6


def test_a_thousand_notes_in_one_beat() -> None:
    found = place(np.linspace(0, 0.999, 1000), long=np.full(1000, 0.01))
    assert len(found.written) == 1000
    assert (np.diff(found.target_q) >= 0).all()


def test_what_is_no_number() -> None:
    with pytest.raises(UserError, match="must be finite"):
        place_onsets([0.0, float("nan")], [stretch()], AUTO)


# ---- the grids -----------------------------------------------------------------------------------


def test_the_simplest_grid_explains() -> None:
    def name(compound: bool, *places: Fraction) -> str | None:
        number = simplest(frozenset(places), compound)
        return None if number is None else GRIDS[number].name

    half, third = Fraction(1, 2), Fraction(1, 3)
    assert name(False, Fraction(0)) == "1"
    assert name(False, Fraction(0), half) == "2"
    assert name(False, Fraction(0), third) == "3"
    assert name(False, Fraction(0), half, third) == "3:2"
    assert name(True, Fraction(0), third) == "3"
    assert name(True, Fraction(0), half) == "6" or name(True, Fraction(0), half) == "2"
    assert name(False, Fraction(1, 97)) is None


def test_every_grid_begins_on_the_beat_and_rises() -> None:
    for kind in KIND:
        for grid in GRIDS[kind]:
            assert grid.places[0] == 0
            assert list(grid.places) == sorted(set(grid.places))
            assert grid.places[-1] < 1


def test_written_notes_for_the_page() -> None:
    onsets = np.array([0.02, 0.99, 1.52, 1.98, 3.97, 4.49])
    found = written_notes(onsets, [0.9, 0.45, 0.45, 1.9, 0.4, 0.45], [40] * 6, [stretch()], 96.0)
    half = Fraction(1, 2)
    assert [note.place for note in found] == [0, 1, Fraction(3, 2), 2, 4, Fraction(9, 2)]
    assert [note.length for note in found] == [1, half, half, 2, half, half]
    assert {note.pitch for note in found} == {40}
