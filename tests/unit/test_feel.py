"""The feel report: what players with known habits are told, the shape of the JSON, pictures, and
wrong input.
"""

import json
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.analysis.feel import FeelFound, measure, report
from loopdeck.analysis.feel_sentences import noticed_ms, says
from loopdeck.analysis.swing_estimate import estimate
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.cli.main import main
from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.swing import parse_swing
from loopdeck.rhythm.tempo import TempoMap, parse_tempo
from tests.bench.feel_players import play

TEMPO = TempoMap.steady(parse_tempo("96"))


def feel_of(
    onset_q: NDArray[np.float64],
    cycle: str = "4/4",
    swing: str = "straight",
    pitch: Sequence[int] | None = None,
    velocity: Sequence[int] | None = None,
    grid: str = "1/16",
) -> FeelFound:
    order = np.argsort(onset_q, kind="stable")
    heard = np.full(len(order), 40) if pitch is None else np.asarray(pitch)[order]
    loud = np.full(len(order), 90) if velocity is None else np.asarray(velocity)[order]
    stretches = (Stretch(Fraction(0), parse_cycle(cycle)),)
    return measure(TEMPO.seconds(onset_q[order]), heard, loud, TEMPO, stretches, parse_grid(grid), parse_swing(swing))


def player(cycle: str = "4/4", passes: int = 8, swing: str = "straight", grid: str = "1/8", **more: float):  # type: ignore[no-untyped-def]
    return play(np.random.default_rng(1), parse_cycle(cycle), passes, parse_swing(swing), grid, **more)  # type: ignore[arg-type]


def test_who_rushes_into_one_beat_is_told_so() -> None:
    played = player(sigma_ms=4.0, constant_ms=20.0)
    onsets = played.onset_q - np.where(played.written_q % 4 == 3, 15 * 96 / 60_000, 0)
    found = feel_of(onsets)
    assert found.constant_ms == pytest.approx(20, abs=2.5)
    by_place = {one.written: one for one in found.slots}
    assert by_place[Fraction(3)].median_ms == pytest.approx(-15, abs=3.5)
    assert abs(by_place[Fraction(1)].median_ms) < 4 and by_place[Fraction(3)].notes == 8
    sentences = says(found)
    assert any(one.startswith("You rush into beat 4 by 1") for one in sentences)
    assert any("behind the click" in one for one in sentences)
    assert not any("beat 2 " in one or "against the click" in one for one in sentences)


def test_slots_are_measured_against_the_briefs_swing() -> None:
    onsets = player(swing="2:1 1/8", sigma_ms=0.0).onset_q
    for brief, late in (("2:1 1/8", 0.0), ("straight", 625 / 6)):
        found = feel_of(onsets, swing=brief)
        off = next(one for one in found.slots if one.written == Fraction(1, 2))
        assert off.median_ms == pytest.approx(late, abs=0.01)
        assert found.constant_ms == pytest.approx(0.0, abs=0.01)
        assert found.fit.found["1/8"].ratio == pytest.approx(2.0)  # type: ignore[union-attr]
        # A swing that was not asked for is one remark, not one for every slot.
        assert sum("late" in one or "drag" in one for one in says(found)) == 0


def test_a_swing_that_misses_the_brief_is_told_against_it() -> None:
    sentences = says(feel_of(player(swing="60% 1/8", sigma_ms=5.0).onset_q, swing="2:1 1/8"))
    assert "60 %" in sentences[0] and "the brief asks for 2:1, so swing harder" in sentences[0]


def test_a_steady_straight_player_hears_nothing_bad() -> None:
    sentences = says(feel_of(player(sigma_ms=2.0).onset_q))
    assert "straight" in sentences[0]
    assert not any(word in one for one in sentences for word in ("rush", "drag", "against the click", "more than"))


def test_drift_has_its_size_and_sign() -> None:
    for drift in (-60.0, 60.0):
        found = feel_of(player(passes=24, sigma_ms=5.0, drift_ms_per_min=drift).onset_q)
        assert found.drift_ms_per_min == pytest.approx(drift, abs=8)
        assert any(("later" if drift > 0 else "earlier") in one for one in says(found))


def test_a_drift_that_adds_up_to_nothing_heard_is_not_spoken_of() -> None:
    # Ten seconds at 20 ms a minute are 3 ms in all.
    found = feel_of(player(passes=4, sigma_ms=0.05, drift_ms_per_min=20.0).onset_q)
    assert found.drift_ms_per_min == pytest.approx(20.0, abs=4)
    assert not any("against the click" in one for one in says(found))


def test_accents_and_bars_and_repeats() -> None:
    played = player("4/4 4+3/8", passes=4, swing="2:1 1/8", sigma_ms=5.0)
    loud = np.where(np.isin(played.written_q % 7.5, (1.0, 4.0)), 110, 80)
    found = feel_of(played.onset_q, "4/4 4+3/8", "2:1 1/8", velocity=loud.tolist())
    assert [one.bar for one in found.bars] == list(range(1, 9))
    assert all(one.swing == pytest.approx(2.0, rel=0.3) for one in found.bars)
    assert (
        found.repeats is not None and found.repeats.passes == 4 and found.repeats.spread_ms == pytest.approx(5, abs=1.5)
    )
    assert any(one.startswith("In bar 1 you accent beat 2, in bar 2 beat 1, by about 30 steps") for one in says(found))
    # The unpaired seventh eighth of 4+3/8 stays straight.
    last = next(one for one in found.slots if one.written == Fraction(7))
    assert abs(last.median_ms) < 8


EIGHTHS = np.arange(64) / 2


def told(late_ms: NDArray[np.float64], onset_q: NDArray[np.float64] = EIGHTHS, **more: Any) -> list[str]:
    """What is said of eighths in 4/4 that are ``late_ms`` late, played within 3 ms."""
    error = late_ms + np.random.default_rng(4).normal(0, 3, len(onset_q))
    return says(feel_of(onset_q + error * 96 / 60_000, **more))


def test_places_are_named_as_a_teacher_names_them() -> None:
    place = EIGHTHS % 4
    assert told(np.where(place == 1.5, 25, 0))[0] == "You are 26 ms late on the and of 2."
    laid_back = told(np.where((place == 1) | (place == 3), 24, 0))
    assert "2 and 4" in laid_back[0] and not any("off-" in one for one in laid_back)
    # One beat of the two makes no habit of both.
    one_early = told(np.select([place == 3, place == 2, place == 1], [-20, 6, -1], 0))
    assert one_early[0].startswith("You rush into beat 4 by ")
    loud = np.where(place % 1 == 0.5, 110, 80)
    assert "You accent the off-beats, by about 30 steps of velocity." in told(np.zeros(64), velocity=loud.tolist())
    sixteenths = np.arange(128) / 4
    loud = np.where(np.isin(sixteenths % 4, (0, 2.25)), 110, 80)
    sentences = told(np.zeros(128), sixteenths, velocity=loud.tolist())
    assert "You accent beat 1 and the e of 3, by about 30 steps of velocity." in sentences


def test_off_beats_alone_and_triplets_are_said_to_be_such() -> None:
    off = EIGHTHS[1::2]
    assert told(np.full(32, 60.0), off)[0].startswith("Only off-beats, 60 ms late")
    assert told(np.full(32, 40.0), off)[0].startswith("Only off-beats, ")
    triplets = np.arange(96) / 3
    sentences = told(np.zeros(96), triplets)
    assert any(one.startswith("You play triplets nearly throughout") for one in sentences)
    assert not any("late" in one or "rush" in one for one in sentences)
    assert not any("triplets" in one or "late" in one for one in told(np.zeros(96), triplets, grid="1/8T"))


def test_triplets_beside_straight_eighths_are_no_swing() -> None:
    beats = np.arange(16.0)
    straight = np.concatenate([beats, beats[::2] + 1 / 2])
    odd, noise = beats[1::2], np.random.default_rng(2)
    mixed = np.sort(np.concatenate([straight, odd + 1 / 3, odd + 2 / 3]))
    found = feel_of(mixed + noise.normal(0, 4 * 96 / 60_000, len(mixed)))
    assert found.fit.main == "1/8" and found.spread_ms < 6
    assert {one.counted for one in found.slots} == {"1", "1 and", "2", "3", "3 and", "4"}
    assert says(found)[1] == "8 triplets stand apart from the grid; --grid 1/8T measures them."
    alone = feel_of(np.sort(np.concatenate([beats + 1 / 3, beats + 2 / 3])))
    assert says(alone) == ["You play triplets nearly throughout; --grid 1/8T measures them."]
    once = feel_of(np.sort(np.concatenate([straight, [5 + 1 / 3, 5 + 2 / 3]])))
    assert "1 triplet stands apart from the grid; --grid 1/8T measures it." in says(once)


def test_places_that_are_late_together_are_named_together() -> None:
    late = np.select([np.isin(EIGHTHS % 4, (0.5, 3.5)), EIGHTHS % 4 == 2], [25, -20], 0)
    sentences = told(late)
    assert [one for one in sentences if "rush" in one] == ["You rush into beat 3 by 20 ms."]
    assert sum("late" in one for one in sentences) == 1 and "the and of 1 and the and of 4" in "".join(sentences)


@pytest.mark.parametrize("drift", [-60, 90])
def test_who_gets_away_from_the_click_is_followed(drift: int) -> None:
    onset_q = np.arange(256) / 2
    sentences = told(drift * onset_q / 96, onset_q)
    assert sentences[0].startswith(f"You get {'later' if drift > 0 else 'earlier'} against the click")
    # The rest is what the player plays, and not the drift once more.
    assert len(sentences) == 3 and "straight" in sentences[1] and "steady" in sentences[2]


def test_swung_and_straight_bars_in_turn() -> None:
    swung = EIGHTHS + np.where((EIGHTHS % 1 == 0.5) & (EIGHTHS // 4 % 2 == 1), 1 / 6, 0)
    assert told(np.zeros(64), swung)[0] == (
        "Your eighths swing at 2.01:1 in 4 bars (2, 4, 6, ...) and are straight in 4 (1, 3, 5, ...)."
    )


def test_bars_in_turn_are_told_whole_of_a_long_take() -> None:
    """More notes than the search looks at."""
    eighths = np.arange(300 * 8) / 2
    swung = eighths + np.where((eighths % 1 == 0.5) & (eighths // 16 % 2 == 1), 1 / 6, 0)
    turns = estimate(swung + np.random.default_rng(2).normal(0, 0.01, len(swung)), parse_cycle("4/4"), 96.0).turns
    assert turns is not None
    assert turns.swung == tuple(bar for bar in range(300) if bar // 4 % 2)
    assert turns.straight == tuple(bar for bar in range(300) if bar // 4 % 2 == 0)


def test_playing_without_the_click_is_said_to_be_such() -> None:
    free = np.sort(np.random.default_rng(1).uniform(0, 100, 200))
    assert [one.split(":")[0] for one in told(np.zeros(200), free)] == ["Your notes do not keep to this click"]


@pytest.mark.parametrize("early_ms", [40, 50, 60, 70])
def test_a_very_early_beat_is_no_dotted_figure(early_ms: int) -> None:
    sentences = told(np.where((EIGHTHS % 4 == 0) & (EIGHTHS > 0), -early_ms, 0))
    assert sentences[0] == f"You rush into beat 1 by {early_ms} ms."
    assert sentences[1].startswith("Your eighths are straight")


@pytest.mark.parametrize("place", [0.5, 1.0, 2.0])
def test_one_early_place_is_no_swing(place: float) -> None:
    early = (np.abs(EIGHTHS % 4 - place) < 0.01) & (EIGHTHS > 0)
    sentences = told(np.where(early, -40, 0))
    assert sentences[0].startswith("You rush into ")
    assert sentences[1].startswith("Your eighths are nearly straight")


def test_a_single_stroke_tells_nothing() -> None:
    for notes, what in ((1, "One note alone"), (3, "What is struck at once")):
        assert says(feel_of(np.zeros(notes))) == [f"{what} says nothing about timing."]


def test_at_most_five_sentences() -> None:
    noise = np.random.default_rng(3)
    onset_q = np.sort(noise.choice(np.arange(960) / 4, 600, replace=False))
    bent = 20 * np.sin(7 * (onset_q % 4)) + 0.4 * onset_q + noise.normal(0, 15, 600)
    assert len(told(bent, onset_q, velocity=noise.integers(40, 127, 600).tolist())) <= 5


def test_reports_of_a_long_name_fit_a_screen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / f"{'a very long name ' * 8}.mid", (np.arange(400) * 0.23).tolist())
    for command in (["feel"], ["check", "--scale", "E dorian"], ["riffs"], ["quantize", "--grid", "auto"]):
        assert main([command[0], path, *command[1:]]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert len(lines) <= 24 and max(map(len, lines)) <= 80


def test_a_wide_interval_is_not_called_straight() -> None:
    # The second notes of six pairs stand at 50 and 62 % in turns.
    beats, late = np.arange(6.0), np.tile([0.0, 0.12], 3)
    sentences = says(feel_of(np.sort(np.concatenate([beats, beats + 0.5 + late]))))
    assert any("may be straight or not (5" in one for one in sentences), sentences
    assert not any("are straight" in one for one in sentences)


def test_two_notes_at_a_place_are_no_habit() -> None:
    said = [
        one
        for seed in range(20)
        for one in says(
            feel_of(play(np.random.default_rng(seed), parse_cycle("4/4"), 2, parse_swing("straight")).onset_q)
        )
        if "rush into" in one or "late on" in one
    ]
    assert len(said) <= 3


def test_the_early_downbeat_belongs_to_the_next_pass() -> None:
    onsets = np.array([beat + place for beat in range(16) for place in (0.0, 0.5)], float)
    onsets[::8] -= 0.03
    found = feel_of(onsets)
    assert found.slots[0].notes == 4 and found.slots[0].median_ms == pytest.approx(-0.03 * 625, abs=0.1)


def test_a_chord_is_one_stroke() -> None:
    onsets = player(swing="2:1 1/8", sigma_ms=8.0).onset_q
    one, two = (
        feel_of(onsets, swing="2:1 1/8"),
        feel_of(np.repeat(onsets, 2), swing="2:1 1/8", pitch=[40, 47] * len(onsets)),
    )
    assert one.fit.found["1/8"] == pytest.approx(two.fit.found["1/8"])
    assert sum(slot.notes for slot in two.slots) == 2 * len(onsets)


def test_the_just_noticeable_displacement() -> None:
    # Friberg & Sundberg 1995: 6 ms up to 240 ms between tones, 2.5 % of it above.
    assert (noticed_ms(0.1), noticed_ms(0.239)) == (6.0, 6.0)
    assert noticed_ms(0.240) == pytest.approx(6.0) and noticed_ms(0.6) == pytest.approx(15.0)


def test_the_report_is_plain_numbers() -> None:
    found = report(feel_of(player(swing="2:1 1/8").onset_q))
    assert json.loads(json.dumps(found)) == found
    assert set(found["swing"]) == {"1/8", "1/16"} and found["swing"]["1/16"] is None
    assert {"ratio", "low", "high", "pairs"} <= set(found["swing"]["1/8"])
    assert {"slot", "written", "notes", "median_ms", "spread_ms", "velocity"} <= set(found["slots"][0])
    assert set(found["bars"][0]) == {"bar", "median_ms", "swing"}


# ---- the command ---------------------------------------------------------------------------------


def write(path: Path, onset_q: Sequence[float], pitches: Sequence[int] | None = None, tempo: bool = True) -> str:
    track = mido.MidiTrack()
    if tempo:
        track.append(mido.MetaMessage("set_tempo", tempo=625_000))
    heard = pitches or [40] * len(onset_q)
    events = sorted(
        one for at, pitch in zip(onset_q, heard, strict=True)
        for one in ((max(round(at * 960), 0), 1, pitch), (max(round(at * 960), 0) + 120, 0, pitch))
    )  # fmt: skip
    now = 0
    for tick, on, pitch in events:
        track.append(mido.Message("note_on" if on else "note_off", note=pitch, time=tick - now))
        now = tick
    mido.MidiFile(type=0, ticks_per_beat=960, tracks=[track]).save(path)
    return str(path)


def test_the_command_prints_what_the_contract_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "a.mid", player(swing="2:1 1/8", constant_ms=10.0).onset_q.tolist())
    assert main(["feel", path, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert {"constant_ms", "swing", "slots", "bars", "drift_ms_per_min", "says"} <= set(found)
    assert found["swing"]["1/8"]["low"] < 2.0 < found["swing"]["1/8"]["high"]
    assert main(["feel", path, "--json", "--tempo", "48", "--meter", "2/4", "--swing", "2:1"]) == 0
    halved = json.loads(capsys.readouterr().out)
    assert halved["meter"] == "2/4" and halved["swing"]["1/16"]["ratio"] == pytest.approx(
        found["swing"]["1/8"]["ratio"], rel=0.01
    )
    assert main(["feel", path]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 24 and max(map(len, lines)) <= 80 and "off-eighths" in lines[1]


BAD: dict[str, tuple[list[float], list[int] | None]] = {
    "empty": ([], None),
    "one": ([1.0], None),
    "all at once": ([2.0] * 9, list(range(40, 49))),
    "128 pitches": ([0.0] * 128, list(range(128))),
    "two": ([0.0, 0.5], None),
    "ten hours": ([float(at) for at in range(0, 57_600, 9)], None),
}


@pytest.mark.parametrize("name", BAD)
@pytest.mark.parametrize("command", [["feel"], ["check", "--scale", "E dorian"]])
def test_odd_takes_end_well(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, command: list[str]) -> None:
    path = write(tmp_path / "odd.mid", *BAD[name], tempo=name != "one")
    assert main([command[0], path, *command[1:], "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert len(found["notes"]) == len(BAD[name][0]) if command[0] == "check" else found["says"]
    assert main([command[0], path, *command[1:]]) == 0
    assert capsys.readouterr().out


def test_notes_before_zero() -> None:
    found = feel_of(np.array([-0.02, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5]))
    assert found.slots[0].notes == 1 and found.slots[0].median_ms < 0


def test_no_file_and_wrong_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "a.mid", [0.0, 1.0])
    for words in ([str(tmp_path / "none.mid")], [path, "--swing", "5:1"], [path, "--meter", "4/5"], [path, "--picture", path],
                  [path, "--picture", "a.gif"], [path, "--grid", "1/7"]):  # fmt: skip
        assert main(["feel", *words]) == 2
        told = capsys.readouterr()
        assert told.out == "" and told.err.startswith("loopdeck: ") and told.err.count("\n") == 1


def test_pictures(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    for name, onsets in (("many", player(swing="2:1 1/8").onset_q.tolist()), ("none", []), ("one", [1.0])):
        path = write(tmp_path / f"{name}.mid", onsets)
        out = tmp_path / f"{name}.svg"
        assert main(["feel", path, "--picture", str(out)]) == 0
        assert out.read_bytes().startswith(b"<?xml")
