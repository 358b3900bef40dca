"""The engine plays through a real audio server; an independent program records what the server
plays, and the clicks are found in that.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.capture.journal import CommandRecord, read_journal
from tests.live.conftest import ROOT, wait_for
from tests.live.disk_sound import CYCLE, TEMPO, errors, onsets
from tests.live.pulse_server import missing, pulse_server, underruns
from tests.waiting import PATIENCE_SEC

#: So many clicks are looked at, 11 a cycle of 4.6875 s; and that much sound where none must be.
CLICKS, SILENT_SEC = 40, 6.0
BRIEF = f'name = "clicks"\ntempo = "{TEMPO}"\ncycle = "{CYCLE}"\ncount_in = 0\n'


@pytest.fixture(scope="module")
def pulse() -> Iterator[tuple[dict[str, str], Path]]:
    if missing():
        reason = f"{missing()[0]} is not installed (Debian packages pulseaudio, pulseaudio-utils)"
        if os.environ.get("CI"):
            pytest.fail(f"{reason}; in CI this must not skip")
        pytest.skip(reason)
    with pulse_server() as server:
        yield server


def record(
    env: dict[str, str], folder: Path, enough: Callable[[NDArray[np.float32]], bool], *words: str
) -> tuple[NDArray[np.float32], str]:
    """jam without a window, started by a signal, until what the server has played since then is
    ``enough``: all that it played, and what jam said.
    """
    (folder / "brief.toml").write_text(BRIEF)
    env = {**env, "XDG_DATA_HOME": str(folder), "JACK_NO_START_SERVER": "1"}
    out, said = folder / "recorded", folder / "said"
    with out.open("wb") as recorded, said.open("w") as speech:
        recorder = subprocess.Popen(
            ["parec", "-d", "null.monitor", "--format=float32le", "--rate=48000", "--channels=2"],
            env=env, stdout=recorded, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        jam = subprocess.Popen(
            [sys.executable, "-m", "loopdeck", "jam", "--headless", "--api", "jack", "--brief", str(folder / "brief.toml"),
             "--shelf", str(folder / "shelf"), "--journal", str(folder / "journals"), *words],
            env=env, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=speech, stderr=speech, start_new_session=True,
        )  # fmt: skip
        try:
            wait_for(lambda: out.stat().st_size, "the recorder")
            (journal,) = wait_for(lambda: list((folder / "journals").glob("*.journal")), "the engine's journal")
            time.sleep(1.0)
            jam.send_signal(signal.SIGUSR1)
            wait_for(lambda: has_started(journal), "the start")
            begun = len(recorded_so_far(out))
            wait_for(lambda: enough(recorded_so_far(out)[begun:]), "the sound", pause_sec=0.5)
            jam.send_signal(signal.SIGTERM)
            assert jam.wait(PATIENCE_SEC) == 0
        finally:
            if jam.poll() is None:
                os.killpg(jam.pid, signal.SIGKILL)
            recorder.terminate()
            recorder.wait()
    return recorded_so_far(out), said.read_text()


def recorded_so_far(path: Path) -> NDArray[np.float32]:
    """The left side."""
    return np.fromfile(path, np.float32, path.stat().st_size // 8 * 2)[::2]


def has_started(journal: Path) -> bool:
    """Whether time runs, as far as the journal says; it has no head yet for a moment."""
    if not journal.stat().st_size:
        return False
    return any(isinstance(one, CommandRecord) and one.name == "start-stop" for one in read_journal(journal).records)


def test_clicks_recorded_from_the_server(pulse: tuple[dict[str, str], Path], tmp_path: Path) -> None:
    env, log = pulse
    before = underruns(log)
    sound, said = record(env, tmp_path, lambda heard: len(onsets(iter([heard]))) >= CLICKS, "--sound", "on")
    found = onsets(iter([sound]))
    assert len(found) >= CLICKS, said
    off = errors(found)
    # Where the server ran dry (it says so), everything after it is later by that; nothing else may
    # move a click. The click in which it ran dry lost its beginning, so it may be moved by more.
    moved = np.flatnonzero(np.abs(np.diff(off)) > 1)
    assert len(moved) <= 2 * (underruns(log) - before), f"{np.diff(found).tolist()}"
    # The levels: it starts quiet.
    assert 0.001 < np.abs(sound).max() < 0.05
    assert "sound" not in said


def test_the_click_can_stay_out_of_the_built_in_sound(pulse: tuple[dict[str, str], Path], tmp_path: Path) -> None:
    sound, _ = record(pulse[0], tmp_path, lambda heard: len(heard) > SILENT_SEC * 48_000, "--route", "click=midi")
    assert not sound.any()
