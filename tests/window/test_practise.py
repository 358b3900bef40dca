"""``loopdeck practise`` in the real window: the target on the lanes, the panel, a pass that is
judged, the record.
"""

import contextlib
import json
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import psutil
import pytest

from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from loopdeck.practice.progress import read_progress
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import Command, KeyPlayed
from loopdeck.window.layout import Box, layout, rows
from loopdeck.window.theme import PAPER
from tests.unit.test_play_command import take_of
from tests.waiting import PATIENCE_SEC, until
from tests.window.screen import ROOT, Screen, end
from tests.window.test_window import share

PITCHES = (28, 31, 33, 35)


@dataclass
class Practised:
    """The command, its window, and its files."""

    process: "subprocess.Popen[bytes]"
    shelf: Path
    out: Path
    id: str
    screen: Screen

    def cut(self, name: str, box: Box) -> np.ndarray:
        x, y, _, _ = self.screen.geometry(self.id)
        whole = self.screen.shot(name)
        return whole[y + box.y : y + box.bottom, x + box.x : x + box.right]

    def address(self) -> str:
        """Where the engine is reached; "" before anybody knows."""
        for child in psutil.Process(self.process.pid).children(recursive=True):
            with contextlib.suppress(psutil.Error):
                if "loopdeck.engine.listening" in child.cmdline():
                    return str(json.loads(child.environ()["LOOPDECK_ENGINE"])["address"])
        return ""


@pytest.fixture
def practised(screen: Screen, tmp_path: Path) -> Iterator[Practised]:
    """``loopdeck practise`` of four notes, without any MIDI device."""
    write_smf(tmp_path / "four.mid", piece_of_take(take_of(list(PITCHES), tempo="150", gap_q=1.0)))
    env = screen.env | {"SDL_VIDEODRIVER": "x11", "SDL_RENDER_DRIVER": "software", "SDL_AUDIODRIVER": "dummy"}
    env |= {"XDG_DATA_HOME": str(tmp_path / "data"), "XDG_CONFIG_HOME": str(tmp_path / "config")}
    command = [
        sys.executable, "-m", "loopdeck", "practise", str(tmp_path / "four.mid"), "--from-tempo", "150", "--to-tempo", "158",
        "--step", "8", "--json", "--shelf", str(tmp_path / "shelf.sqlite"),
    ]  # fmt: skip
    out = tmp_path / "out.json"
    screen.clear()
    with out.open("wb") as file:
        process = subprocess.Popen(command, cwd=ROOT, env=env, start_new_session=True, stdout=file)
    try:
        yield Practised(process, tmp_path / "shelf.sqlite", out, screen.window(), screen)
    finally:
        end(process)


def tray_floors(lanes: np.ndarray) -> float:
    """How much of the line on which the trays of the lowest string stand is their floor."""
    lowest = rows(Box(0, 0, lanes.shape[1], lanes.shape[0]), 4)[-1]
    line = lanes[lowest.bottom - 5]
    return float((line == PAPER.quiet).all(axis=1).mean())


def test_from_the_first_pass_to_the_record(screen: Screen, practised: Practised) -> None:
    lanes, panel = layout(1280, 720).lanes, layout(1280, 720).panel
    # Two notes of half a beat on the lowest string, of four beats.
    until(lambda: tray_floors(practised.cut("practise-target", lanes)) > 0.1, "the trays on the lanes")
    until(lambda: share(practised.cut("practise-panel", panel), PAPER.now) > 0.005, "the rung of the ladder")
    until(lambda: practised.address() != "", "the engine")
    engine = LinkClient(practised.address(), role="test")
    # What is played has no time of its own here: how passes are judged stands in the tests of the
    # run.
    play_for(engine, 5.0)
    # Ends the run; or begins another one, where nobody had played for four passes.
    engine.send(Command(name="window-practise"))
    until(lambda: recorded(practised, engine), "a run on record")
    run = read_progress(practised.shelf).runs[-1]
    assert run["from_qpm"] == 150 and run["target"] == "four" and sum(one["played"] for one in run["passes"]) > 0
    until(lambda: share(practised.cut("practise-ended", panel), PAPER.ink) > 0.005, "what came of it")
    engine.close()
    screen.leave(lambda: practised.process.poll() is not None)
    assert practised.process.wait(PATIENCE_SEC) == 0
    assert json.loads(practised.out.read_text())["passes"] == run["passes"]


def recorded(practised: Practised, engine: LinkClient) -> bool:
    """Whether a run is on record; after twenty seconds without one, play and ask once more."""
    end = time.monotonic() + 20.0
    while not read_progress(practised.shelf).runs:
        if time.monotonic() > end:
            play_for(engine, 5.0)
            engine.send(Command(name="window-practise"))
            return False
        time.sleep(0.05)
    return True


def play_for(engine: LinkClient, seconds: float) -> None:
    """Notes, whenever."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        for on in (True, False):
            engine.send(KeyPlayed(pitch=28, on=on, velocity=90 if on else 0, played_sec=time.perf_counter()))
            time.sleep(0.1)
        engine.poll()
