"""Pickup profiles, their clean-up and their delay."""

import json
from pathlib import Path

import numpy as np
import pytest

from loopdeck import configs
from loopdeck.bass.pickup.cleaning import clean
from loopdeck.bass.pickup.delay import fit, late_sec, period_sec
from loopdeck.bass.pickup.profile import Cleaning, Delay, load_pickup, pickup_from_toml
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.cli.main import main
from loopdeck.errors import UserError
from tests.simulators.pickup import Pickup as Simulated
from tests.simulators.pickup import save, stream

OFF = Cleaning(ghosts=False, octaves=False, doubles=False, chopped=False)


def notes(*rows: tuple[float, float, int, int, int]) -> np.ndarray:
    """Notes of (onset, duration, pitch, velocity, channel)."""
    array = np.zeros(len(rows), NOTE_DTYPE)
    for index, row in enumerate(rows):
        array[index] = (*row, 0)
    return array


def straight(array: np.ndarray) -> tuple[np.ndarray, ...]:
    return tuple(np.zeros((1, 2)) for _ in array)


@pytest.mark.parametrize("name", configs.names("pickups"))
def test_every_profile_loads(name: str) -> None:
    pickup = load_pickup(name)
    assert pickup.name
    assert pickup.about
    assert [pickup.string_of(channel - 1) for channel in pickup.channels] == list(range(1, len(pickup.channels) + 1))


@pytest.mark.parametrize(
    "text",
    [
        "channels = [1, 1]", "channels = [0]", "channels = 'one'", "bend_range = 0", "bend_range = nan", "keyboard = 3", "sound = 1",
        "[cleaning]\nghosts = 1", "[cleaning]\nbirds = true", "[latency]\nperiods = -1", "latency = 3", "name = 5",
    ],
)  # fmt: skip
def test_a_wrong_profile_gets_one_sentence(text: str) -> None:
    with pytest.raises(UserError) as caught:
        pickup_from_toml(text, "my.toml")
    assert str(caught.value).startswith("my.toml")
    assert "\n" not in str(caught.value)


CLEAN = [(0.0, 0.4, 40, 90, 0), (0.5, 0.4, 43, 85, 1), (1.0, 0.4, 45, 95, 0)]
ERRORS = {
    "ghost": (0.7, 0.02, 50, 14, 2),
    "octave": (0.02, 0.03, 52, 90, 0),
    "double": (1.02, 0.01, 45, 60, 0),
}


@pytest.mark.parametrize("why", sorted(ERRORS))
def test_each_error_is_taken_out_of_view_and_can_be_brought_back(why: str) -> None:
    rows = sorted([*CLEAN, ERRORS[why]])
    place, array = rows.index(ERRORS[why]), notes(*rows)
    found = clean(array, straight(array), Cleaning())
    assert [(one.note, one.why) for one in found.removed] == [(place, why)]
    assert len(found.notes) == 3
    kept = clean(array, straight(array), Cleaning(), frozenset({place}))
    assert len(kept.notes) == 4
    assert not clean(array, straight(array), OFF).removed


def test_what_was_played_is_left_alone() -> None:
    array = notes(*CLEAN, (1.5, 0.03, 47, 80, 1), (2.0, 0.4, 35, 40, 3))
    assert not clean(array, straight(array), Cleaning()).removed


def test_a_note_that_a_bend_cut_in_two_is_one_again() -> None:
    array = notes((0.0, 0.3, 40, 90, 0), (0.3, 0.3, 42, 80, 0))
    bends = (np.array([[0.0, 0.0], [0.2, 1.0], [0.29, 1.9]]), np.array([[0.0, 0.0], [0.1, 0.5]]))
    found = clean(array, bends, Cleaning())
    assert len(found.notes) == 1
    assert found.raw == ((0, 1),)
    assert found.notes["duration_sec"][0] == pytest.approx(0.6)
    assert found.bends[0][-1].tolist() == pytest.approx([0.4, 2.5])


def test_a_minute_of_playing_along_leaves_under_two_milliseconds_a_string() -> None:
    opens, left = np.array([28, 33, 38, 43]), []
    for seed in range(40):
        choice = np.random.default_rng(seed)
        pitch = opens[choice.integers(0, 4, 200)] + choice.integers(0, 6, 200)
        true = Delay(float(choice.uniform(1, 8)), float(choice.uniform(1.7, 2.3)))
        played = np.arange(200) * 0.3 + choice.normal(0, 0.008, 200) + late_sec(pitch, true)
        found = fit(played, pitch, np.arange(-4, 210) * 0.3)
        left += np.abs((late_sec(opens + 2, found.delay) - late_sec(opens + 2, true)) * 1000).tolist()
        assert found.after_ms < found.before_ms
    assert np.mean(np.array(left) < 2.0) >= 0.97


def test_the_period_of_a_low_e() -> None:
    """E1 is 41.203 Hz, so its period is 24.27 ms (ISO 16, equal temperament)."""
    assert float(period_sec(28)) * 1000 == pytest.approx(24.27, abs=0.005)


def test_too_little_to_measure_by() -> None:
    with pytest.raises(UserError, match="too few"):
        fit([0.0] * 5, [28] * 5, [0.0, 1.0])
    with pytest.raises(UserError, match="about the same pitch"):
        fit(np.arange(30) * 0.5, [40] * 30, np.arange(40) * 0.5)


def test_the_command_technique(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "played.mid"
    save(stream(11, Simulated(ghosts=0.05, octaves=0.05), 40, 96.0), str(path), 96.0)
    assert main(["technique", str(path), "--pickup", "per-string", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    wanted = {
        "onset_sec",
        "end_sec",
        "pitch",
        "string",
        "velocity",
        "reached",
        "marks",
        "vibrato",
        "bend_semitones",
        "raw",
        "unsure",
    }
    assert all(set(note) == wanted for note in found["notes"])
    assert {note["reached"] for note in found["notes"]} >= {"pluck", "slide"}
    assert {one["why"] for one in found["removed"]} >= {"ghost"}
    assert main(["technique", str(path), "--pickup", "per-string"]) == 0
    assert "as a player would write them" in capsys.readouterr().out


@pytest.mark.parametrize("command", ["quantize", "check", "finger", "technique"])
def test_every_report_takes_a_pickup_and_refuses_an_unknown_one(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "played.mid"
    save(stream(12, Simulated(), 8, 96.0), str(path), 96.0)
    assert main([command, str(path), "--pickup", "per-string", "--json"]) == 0
    capsys.readouterr()
    assert main([command, str(path), "--pickup", "nothing-like-it"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_a_bend_without_a_note_and_an_empty_take(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = stream(1, Simulated(), 1, 96.0)
    one.events = [(0.1, bytes((0xE0, 0, 80))), (0.2, bytes((0xE0, 0, 64)))]
    save(one, str(tmp_path / "bends.mid"), 96.0)
    assert main(["technique", str(tmp_path / "bends.mid"), "--pickup", "per-string"]) == 0
    assert "There are no notes." in capsys.readouterr().out


def _played_to_a_click(path: Path, seed: int) -> None:
    """Half a minute of quarters at 120 on all strings, 8 ms of spread, 4 ms and two periods
    late.
    """
    choice = np.random.default_rng(seed)
    events, opens = [], (28, 33, 38, 43)
    for index in range(100):
        pitch = opens[int(choice.integers(0, 4))] + int(choice.integers(0, 5))
        at = 1.0 + index * 0.5 + float(choice.normal(0, 0.008)) + float(late_sec(pitch, Delay(4.0, 2.0)))
        events += [(at, bytes((0x90, pitch, 90))), (at + 0.3, bytes((0x80, pitch, 0)))]
    one = stream(1, Simulated(), 1, 120.0)
    one.events = events
    save(one, str(path), 120.0)


def test_a_pickup_is_measured_by_playing_already_kept_and_every_report_takes_it_off(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    path = tmp_path / "along.mid"
    _played_to_a_click(path, 3)
    assert main(["measure", "--pickup", "one-channel", "--take", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["periods"] == pytest.approx(2.0, abs=0.5)
    assert found["stored"] is True
    assert main(["quantize", str(path), "--grid", "1/4", "--json"]) == 0
    before = json.loads(capsys.readouterr().out)
    assert main(["quantize", str(path), "--grid", "1/4", "--pickup", "one-channel", "--json"]) == 0
    after = json.loads(capsys.readouterr().out)
    assert before["median_ms"] > 25
    assert abs(after["median_ms"]) < 3
    assert main(["measure", "--take", str(path)]) == 2
    assert main(["measure", "--pickup", "keyboard", "--take", str(path)]) == 2
    assert "none of its notes is later" in capsys.readouterr().err
    (tmp_path / "config" / "loopdeck" / "pickups.json").write_text("[]")
    assert main(["finger", str(path), "--pickup", "one-channel"]) == 2


def test_what_was_taken_out_can_be_brought_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "played.mid"
    save(stream(11, Simulated(ghosts=0.1), 40, 96.0), str(path), 96.0)
    words = ["technique", str(path), "--pickup", "per-string", "--json"]
    assert main(words) == 0
    found = json.loads(capsys.readouterr().out)
    ghost = found["removed"][0]["index"]
    assert main([*words, "--bring-back", str(ghost)]) == 0
    back = json.loads(capsys.readouterr().out)
    assert ghost not in {one["index"] for one in back["removed"]}
    assert any(ghost in note["raw"] for note in back["notes"])
    assert main([*words, "--bring-back", "99999"]) == 2
    assert main(["quantize", str(path), "--bring-back", "0"]) == 2
    assert capsys.readouterr().err.count("\n") == 2
