"""Measuring over real MIDI ports: an echo process with a known delay is the rig, and ``jam`` takes
off what was found.
"""

import json
import os
import statistics
from pathlib import Path

import pytest

from loopdeck.capture.journal import CommandRecord, read_journal
from loopdeck.engine.input_latency import load_corrections
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take
from tests.live.conftest import Bench, wait_for
from tests.live.pulse_server import missing, pulse_server
from tests.live.test_session import KEEP, PASS_SEC, START, STOP, foot, jam, off, on
from tests.waiting import PATIENCE_SEC

DELAY_SEC = 0.020
#: What JACK itself adds: a message waits for the next cycle (64 frames, 1.3 ms) on each of the two
#: ways.
CYCLE_MS = 64 / 48.0


@pytest.fixture
def rig(bench: Bench) -> Bench:
    """A bench with a configuration folder of its own."""
    bench.env["XDG_CONFIG_HOME"] = str(bench.folder / "config")
    return bench


def corrections(bench: Bench) -> Path:
    return bench.folder / "config" / "loopdeck" / "corrections.json"


def take_of_a_pass(bench: Bench, *words: str) -> Take:
    """A session in which one note is played, and what was kept of it."""
    process = jam(bench, "--in", "virtual", *words)
    sender = bench.sender("player", "loopdeck in")
    sender.play([(0.0, foot(START)), (0.5, on(40)), (0.7, off(40)), (PASS_SEC + 0.7, foot(KEEP)), (2.5, foot(STOP))])
    sender.finish()
    wait_for(bench.shelf.exists, "the shelf")
    process.terminate()
    assert process.wait(PATIENCE_SEC) == 0
    with Shelf(bench.shelf) as shelf:
        return shelf.get("1")


def test_an_echo_is_measured_and_taken_off(rig: Bench) -> None:
    log = rig.folder / "echo.log"
    rig.spawn(
        "-m", "tests.live.echo", "--from", "loopdeck out", "--to", "loopdeck in",
        "--delay", str(DELAY_SEC), "--log", str(log), log="echo",
    )  # fmt: skip
    picture = rig.folder / "picture.png"
    done = rig.loopdeck(
        "measure",
        "--api",
        "jack",
        "--in",
        "virtual",
        "--out",
        "virtual",
        "--count",
        "100",
        "--json",
        "--picture",
        str(picture),
    )
    found = json.loads(done.stdout)
    known_ms = statistics.median(float(line) for line in log.read_text().split()) * 1000.0
    assert abs(found["median_ms"] - known_ms - CYCLE_MS) < 2.0, found
    # A note that a busy machine holds up for longer than any rig would is counted as lost.
    assert found["pairs"] + found["lost"] == 100 and found["lost"] <= 20, found
    assert found["input"] == "loopdeck in" and found["stored"]
    assert picture.stat().st_size > 1000
    stored = load_corrections(corrections(rig))["loopdeck in"]
    assert stored.correction_ms == found["correction_ms"]

    take = take_of_a_pass(rig)
    journal = read_journal(rig.journal())
    orders = [one.args for one in journal.records if isinstance(one, CommandRecord) and one.name == "late"]
    assert orders == [{"port": 0, "sec": pytest.approx(stored.correction_ms / 1000.0)}]
    assert take.recording.late == {0: pytest.approx(stored.correction_ms / 1000.0)}
    struck = next(event for event in take.recording.events if event.data[0] & 0xF0 == 0x90)
    assert take.notes().array["onset_sec"][0] == pytest.approx(struck.time_sec - stored.correction_ms / 1000.0)


def test_no_correction_leaves_it(rig: Bench) -> None:
    corrections(rig).parent.mkdir(parents=True)
    corrections(rig).write_text('{"version": 1, "inputs": {"loopdeck in": {"correction_ms": 20.0}}}')
    assert take_of_a_pass(rig, "--no-correction").recording.late == {}


def test_a_broken_file_is_said_and_left(rig: Bench) -> None:
    corrections(rig).parent.mkdir(parents=True)
    corrections(rig).write_text("{")
    assert take_of_a_pass(rig).recording.late == {}
    assert rig.text("jam").count("cannot be used (it is damaged; line 1 is not JSON)") == 1


def test_nothing_comes_back(rig: Bench) -> None:
    done = rig.loopdeck("measure", "--api", "jack", "--in", "virtual", "--out", "virtual", check=False)
    assert done.returncode == 2
    assert done.stderr.splitlines()[-1].startswith("loopdeck: Nothing came back within 20 seconds;")
    assert not corrections(rig).exists()


def test_taps_to_the_click_of_the_built_in_sound(rig: Bench) -> None:
    """A player of another program hears the sound server's monitor and taps a known time after each
    click.
    """
    if missing():
        reason = f"{missing()[0]} is not installed (Debian packages pulseaudio, pulseaudio-utils)"
        if os.environ.get("CI"):
            pytest.fail(f"{reason}; in CI this must not skip")
        pytest.skip(reason)
    tapped = rig.folder / "tapped.log"
    with pulse_server() as (pulse, _):
        rig.env.update({name: pulse[name] for name in ("XDG_RUNTIME_DIR", "PULSE_SERVER", "SDL_AUDIODRIVER")})
        rig.spawn(
            "-m",
            "tests.live.tapper",
            "--to",
            "loopdeck in",
            "--delay",
            str(DELAY_SEC),
            "--log",
            str(tapped),
            log="tapper",
        )
        done = rig.loopdeck(
            "measure", "--tap", "--click", "sound", "--api", "jack", "--in", "virtual", "--count", "20", "--json",
        )  # fmt: skip
    found = json.loads(done.stdout)
    known_ms = statistics.median(float(line) for line in tapped.read_text().split()) * 1000.0
    assert "A click sounds built in; tap along" in done.stderr
    # A tap that a busy machine holds up is both: a click that was missed, and a tap too many.
    assert found["kind"] == "tap" and found["pairs"] >= 10 and found["spurious"] <= 10 and found["stored"], found
    # Beside the player's own time there is the way through the server's monitor, and what the
    # server's delay was thought to be but was not.
    assert known_ms - 20.0 < found["median_ms"] < known_ms + 60.0
    assert load_corrections(corrections(rig))["loopdeck in"].kind == "tap"
