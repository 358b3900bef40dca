"""The real thing: ``loopdeck jam`` under Xvfb, played by the computer's keys, from the first note
to the shelf.
"""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pygame
import pytest

from loopdeck.capture.journal import finished
from loopdeck.engine.__main__ import PROCESS_NAME
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import ClockChanged, KeyPlayed
from loopdeck.shelf.store import Shelf
from loopdeck.window.layout import Box, layout
from loopdeck.window.picture import picture
from loopdeck.window.theme import PAPER
from loopdeck.window.view import View
from tests.waiting import PATIENCE_SEC, until
from tests.window.screen import ROOT, Screen, end
from tests.window.test_window import share

BRIEF = """
name = "under the stairs"
tempo = 100
cycle = "4/4"
scale = "E dorian"
count_in = 0
"""


def layer_row(index: int) -> Box:
    """The row of a layer in the panel, from the top, without its outline."""
    panel = layout(1280, 720).panel
    return Box(panel.x, panel.y + 6 + index * (panel.h - 4) // 4, 360, (panel.h - 4) // 4 - 4)


@dataclass
class Jam:
    """A session: its process, its folder, its window."""

    process: "subprocess.Popen[bytes]"
    folder: Path
    id: str
    screen: Screen

    def cut(self, name: str, box: Box) -> np.ndarray:
        """A screenshot's part in window coordinates; nothing may be drawn beside the window."""
        x, y, w, h = self.screen.geometry(self.id)
        whole = self.screen.shot(name)
        beside = whole.copy()
        beside[y : y + h, x : x + w] = 0
        assert not beside.any(), "something is drawn outside the window"
        return whole[y + box.y : y + box.bottom, x + box.x : x + box.right]

    def engine_pid(self) -> int:
        """The engine's process: the child of the jam that plays (a spare one may wait beside
        it).
        """
        import psutil

        for child in psutil.Process(self.process.pid).children(recursive=True):
            if child.name() == PROCESS_NAME:
                return int(child.pid)
        raise AssertionError("no engine is running")


@pytest.fixture
def jam(screen: Screen, tmp_path: Path) -> Iterator[Jam]:
    """``loopdeck jam`` without any MIDI device, with a folder of its own."""
    (tmp_path / "brief.toml").write_text(BRIEF, encoding="utf-8")
    env = screen.env | {"SDL_VIDEODRIVER": "x11", "SDL_RENDER_DRIVER": "software", "SDL_AUDIODRIVER": "dummy"}
    command = [
        sys.executable, "-m", "loopdeck", "jam", "--brief", str(tmp_path / "brief.toml"),
        "--journal", str(tmp_path / "journals"), "--shelf", str(tmp_path / "shelf.sqlite"),
    ]  # fmt: skip
    process = subprocess.Popen(command, cwd=ROOT, env=env, start_new_session=True)
    try:
        one = Jam(process, tmp_path, screen.window(30), screen)
        time.sleep(1.5)
        yield one
    finally:
        end(process)


def test_play_layer_undo_keep_leave(screen: Screen, jam: Jam) -> None:
    boxes = layout(1280, 720)
    row = layer_row(0)
    empty = jam.cut("jam-stopped", boxes.lanes)

    screen.key("grave") if _beside_an_instrument(jam) else None
    screen.key("Tab")
    time.sleep(0.4)
    for name in ("z", "c", "a", "x"):
        screen.note(name, 0.12)
    playing = jam.cut("jam-playing", boxes.lanes)
    # Three blocks of ink and a lozenge are on the lanes now.
    assert (playing != empty).any(axis=2).mean() > 0.01

    # Wait for the end of this pass (it takes 2.4 s), then take the pass that was just played.
    before = jam.cut("jam-no-layer", row)
    time.sleep(1.4)
    screen.key("space")
    until(lambda: bool((jam.cut("jam-looped", row) != before).any()), "a layer's row")
    screen.key("Return")
    time.sleep(2.6)
    screen.note("q", 0.2)
    screen.key("Return")
    time.sleep(3.0)
    second = layer_row(1)
    two = jam.cut("jam-two-layers", second)
    assert share(two, PAPER.ink) > 0.01
    screen.key("BackSpace")
    until(lambda: share(jam.cut("jam-undone", second), PAPER.ink) < 0.002, "the undo")
    screen.key("F7", "F7", "F5")
    kept = Box(boxes.panel.right - 420, boxes.panel.y + 5, 420, 28)
    until(lambda: share(jam.cut("jam-kept", kept), PAPER.ink) > 0.01, "the keep")

    screen.do("windowmove", jam.id, "20", "20")
    screen.do("windowsize", "--sync", jam.id, "900", "520")
    time.sleep(0.4)
    small = jam.cut("jam-900x520", Box(0, 0, 900, 520))
    assert small.shape == (520, 900, 3) and share(small, PAPER.ground) > 0.4

    screen.key("F12", "F12")
    assert jam.process.wait(PATIENCE_SEC) == 0
    with Shelf(jam.folder / "shelf.sqlite") as shelf:
        assert len(shelf.find()) == 1
        take = shelf.get(1)
    assert take.recording.passes == 3
    # The keep holds the last three passes; what was played before is in its layer.
    assert len(take.recording.layers) == 1
    assert take.recording.layers[0].notes["pitch"].tolist() == [28, 30, 33, 29]


def loop_a_note(screen: Screen) -> None:
    """Start, play a note, and loop the pass it was in."""
    screen.key("Tab")
    time.sleep(0.3)
    screen.note("z", 0.2)
    time.sleep(2.4)
    screen.key("space")
    time.sleep(0.5)


def test_leaving_while_the_engine_is_gone_leaves(screen: Screen, jam: Jam) -> None:
    """As the sentence says: no window comes up again, and the journal is left in order."""
    loop_a_note(screen)
    boxes = layout(1280, 720)
    line = jam.cut("jam-leaving-alive", boxes.sections["devices"])
    os.kill(jam.engine_pid(), signal.SIGKILL)
    until(lambda: bool((jam.cut("jam-leaving", boxes.sections["devices"]) != line).any()), "the sentence")
    screen.key("F12", "F12")
    assert jam.process.wait(PATIENCE_SEC) == 0
    assert all(finished(path) for path in (jam.folder / "journals").glob("*.journal"))


def test_the_engine_is_killed_and_comes_back(screen: Screen, jam: Jam) -> None:
    boxes = layout(1280, 720)
    loop_a_note(screen)
    old = jam.engine_pid()
    line = jam.cut("jam-engine-alive", boxes.sections["devices"])
    os.kill(old, signal.SIGKILL)
    # Said in the sentence at the bottom, and in the line of the devices below it.
    until(lambda: bool((jam.cut("jam-engine-killed", boxes.sections["devices"]) != line).any()), "the sentence")
    until(lambda: _engine(jam) not in (0, old), "the new engine")
    until(lambda: bool((jam.cut("jam-engine-again", boxes.sections["devices"]) == line).all()), "the engine's devices")
    assert share(jam.cut("jam-engine-back", layer_row(0)), PAPER.ink) > 0.01, "the layer is still there"
    assert jam.process.poll() is None
    screen.key("F12", "F12")
    assert jam.process.wait(PATIENCE_SEC) == 0


def test_the_window_is_killed_and_comes_back(screen: Screen, jam: Jam) -> None:
    loop_a_note(screen)
    engine = jam.engine_pid()
    jam.process.kill()
    jam.process.wait(PATIENCE_SEC)
    with pytest.raises(AssertionError, match="no window"):
        screen.window(0.3)
    jam.id = screen.window(20)
    row = layer_row(0)
    until(lambda: share(jam.cut("jam-window-back", row), PAPER.ink) > 0.01, "the layer that is still there")
    os.kill(engine, 0)  # the very same engine runs on
    screen.key("F12", "F12")
    (journal,) = (jam.folder / "journals").iterdir()
    until(lambda: finished(journal), "the orderly end of the engine")


def _engine(jam: Jam) -> int:
    try:
        return jam.engine_pid()
    except AssertionError:
        return 0


def _beside_an_instrument(jam: Jam) -> bool:
    """With a MIDI system there is a port of our own to play on, so the letter keys have to be
    switched on.
    """
    from loopdeck.midi.systems import find_system

    return find_system("auto") is not None


# ---- what comes back -----------------------------------------------------------------------------

#: A bar of four: places in quarters, and the pitches.
RIFF = ((0.5, 28), (1.0, 31), (1.25, 33), (1.75, 38), (2.0, 37), (2.25, 35), (2.75, 40), (3.0, 33), (3.25, 30))


def message_picture(text: str) -> np.ndarray:
    """The message at the foot of the window as it has to look."""
    view = View()
    view.tell(text, False, 0.0)
    drawn = np.transpose(pygame.surfarray.array3d(picture(view, 0.5)), (1, 0, 2))
    box = layout(1280, 720).sections["message"]
    return drawn[box.y : box.bottom, box.x : box.right]


def test_a_riff_that_comes_back_is_said_and_space_loops_it(screen: Screen, jam: Jam) -> None:
    numbers = ("third", "fourth", "fifth", "sixth")
    wanted = {number: message_picture(f"That is the {number} time: Space loops it.") for number in numbers}
    box = layout(1280, 720).sections["message"]
    screen.key("grave") if _beside_an_instrument(jam) else None
    # The process that listens comes up two seconds after the window.
    until(lambda: listener_address(jam) != "", "the process that listens")
    engine = LinkClient(listener_address(jam), role="test")
    time.sleep(1.5)
    screen.key("Tab")
    said = ""
    for number in range(6):
        clock = begin_pass(engine)
        if number >= 3:
            time.sleep(0.6)
            shown = jam.cut("jam-heard", box)
            said = next((one for one, drawn in wanted.items() if (drawn == shown).all(axis=2).mean() > 0.995), "")
            if said:
                break
            clock = begin_pass(engine)
        play_riff(engine, clock)
    assert said, "the sentence did not come"
    screen.key("space")
    row = layer_row(0)
    until(lambda: share(jam.cut("jam-riff-looped", row), PAPER.ink) > 0.01, "the layer")
    screen.key("F7", "F7", "F7", "F5")
    time.sleep(1.0)
    engine.close()
    screen.key("F12", "F12")
    close_the_last_page(screen, jam)
    assert jam.process.wait(PATIENCE_SEC) == 0
    with Shelf(jam.folder / "shelf.sqlite") as shelf:
        layer = shelf.get(1).recording.layers[0].notes["pitch"].tolist()
    assert sorted(layer) == sorted(pitch for _, pitch in RIFF), "what Space looped is not the riff"


def close_the_last_page(screen: Screen, jam: Jam) -> None:
    """Close the page of riffs that comes when one leaves after having played, as soon as it is
    there.
    """

    def closed() -> bool:
        if jam.process.poll() is None:
            screen.key("Escape")
        return jam.process.poll() is not None

    until(closed, "the end of the window")


def play_riff(engine: LinkClient, clock: ClockChanged) -> None:
    """Letter keys as the window tells them, each at its moment; a virtual keyboard is not steady
    enough on a busy machine.
    """
    for at_q, pitch in RIFF:
        moment = clock.anchor.sec_at(clock.pass_start_q + at_q)
        for on, sec in ((True, moment), (False, moment + 0.1)):
            time.sleep(max(sec - time.perf_counter(), 0.0))
            engine.send(KeyPlayed(pitch=pitch, on=on, velocity=90 if on else 0, played_sec=sec))


def begin_pass(engine: LinkClient, wait_sec: float = 6.0) -> ClockChanged:
    """Wait for the start of a pass, by what the engine tells; returns that."""
    engine.poll()
    end = time.monotonic() + wait_sec
    while time.monotonic() < end:
        for message in engine.poll():
            if isinstance(message, ClockChanged) and message.running:
                return message
        time.sleep(0.005)
    raise AssertionError("no pass began")


def listener_address(jam: Jam) -> str:
    """Where the engine is reached, as the process that listens was told; "" before there is one."""
    import psutil

    for child in psutil.Process(jam.process.pid).children(recursive=True):
        with contextlib.suppress(psutil.Error):
            if "loopdeck.engine.listening" in child.cmdline():
                return str(json.loads(child.environ()["LOOPDECK_ENGINE"])["address"])
    return ""
