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
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import psutil
import pygame
import pytest

from loopdeck.capture.journal import CommandRecord, finished, read_journal
from loopdeck.engine.__main__ import PROCESS_NAME
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import ClockChanged, KeyPlayed
from loopdeck.shelf.store import Shelf
from loopdeck.window.layout import Box, layout
from loopdeck.window.picture import picture
from loopdeck.window.theme import PAPER
from loopdeck.window.view import View
from tests.waiting import PATIENCE_SEC, until
from tests.window.conftest import is_drawn
from tests.window.looking import seen, still
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
        while True:
            x, y, w, h = place = self.screen.geometry(self.id)
            whole = self.screen.shot(name)
            if self.screen.geometry(self.id) == place:
                break
        beside = whole.copy()
        beside[y : y + h, x : x + w] = 0
        assert not beside.any(), "something is drawn outside the window"
        return whole[y + box.y : y + box.bottom, x + box.x : x + box.right]

    def engine_pid(self) -> int:
        """The engine's process: the child of the jam that plays (a spare one may wait beside
        it).
        """
        found = self._child(lambda child: child.name() == PROCESS_NAME)
        assert found, "no engine is running"
        return found

    def spare_pid(self) -> int:
        """The process that is going to be the engine if that dies; 0 before there is one."""
        return self._child(lambda child: child.name() != PROCESS_NAME and child.cmdline()[-1:] == ["loopdeck.engine"])

    def _child(self, right: "Callable[[psutil.Process], bool]") -> int:
        for child in psutil.Process(self.process.pid).children(recursive=True):
            with contextlib.suppress(psutil.Error):
                if right(child):
                    return int(child.pid)
        return 0

    def left(self) -> bool:
        """Whether the session has ended."""
        return self.process.poll() is not None

    def kill_engine(self, name: str) -> None:
        """Kill the engine, and wait until the window says so in the line at its foot. The engine
        that comes next is held until then.
        """
        foot = layout(1280, 720).sections["devices"]
        alive = still(lambda: self.cut(f"{name}-alive", foot), "the foot of the window")
        spare = until(self.spare_pid, "the spare engine")
        os.kill(spare, signal.SIGSTOP)
        try:
            os.kill(self.engine_pid(), signal.SIGKILL)
            seen(lambda: self.cut(name, foot), lambda one: not np.array_equal(one, alive), "the loss")
        finally:
            os.kill(spare, signal.SIGCONT)


@pytest.fixture
def jam(screen: Screen, tmp_path: Path) -> Iterator[Jam]:
    """``loopdeck jam`` without any MIDI device, with a folder of its own."""
    (tmp_path / "brief.toml").write_text(BRIEF, encoding="utf-8")
    env = screen.env | {"SDL_VIDEODRIVER": "x11", "SDL_RENDER_DRIVER": "software", "SDL_AUDIODRIVER": "dummy"}
    command = [
        sys.executable, "-m", "loopdeck", "jam", "--brief", str(tmp_path / "brief.toml"),
        "--journal", str(tmp_path / "journals"), "--shelf", str(tmp_path / "shelf.sqlite"),
    ]  # fmt: skip
    screen.clear()
    process = subprocess.Popen(command, cwd=ROOT, env=env, start_new_session=True)
    try:
        one = Jam(process, tmp_path, screen.window(), screen)
        until(lambda: is_drawn(screen, one.id), "the first picture")
        yield one
    finally:
        end(process)


def test_play_layer_undo_keep_leave(screen: Screen, jam: Jam) -> None:
    boxes = layout(1280, 720)
    row = layer_row(0)
    empty = jam.cut("jam-stopped", boxes.lanes)

    before = jam.cut("jam-no-layer", row)
    screen.key("grave") if _beside_an_instrument(jam) else None
    # By one command: they are to be in one pass, of 2.4 s.
    notes = [("keydown", name, "sleep", "0.12", "keyup", name) for name in ("z", "c", "a", "x")]
    screen.do("key", "Tab", "sleep", "0.3", *(word for words in notes for word in words))
    three_passes_end = time.monotonic() + 3 * 2.4
    # Three blocks of ink and a lozenge are on the lanes now.
    seen(
        lambda: jam.cut("jam-playing", boxes.lanes),
        lambda playing: bool((playing != empty).any(axis=2).mean() > 0.01),
        "the notes",
    )

    # The pass that was just played becomes a layer.
    screen.key("space")
    until(lambda: bool((jam.cut("jam-looped", row) != before).any()), "a layer's row")
    screen.key("Return")
    state = boxes.sections["state"]
    seen(lambda: jam.cut("jam-layering", state), lambda one: share(one, PAPER.ink) > 0.15, "LAYERING on ink")
    screen.note("q", 0.2)
    screen.key("Return")
    second = layer_row(1)
    until(lambda: share(jam.cut("jam-two-layers", second), PAPER.ink) > 0.01, "the second layer")
    screen.key("BackSpace")
    until(lambda: share(jam.cut("jam-undone", second), PAPER.ink) < 0.002, "the undo")
    # Three passes have gone by, the last of them after all that.
    time.sleep(max(2.6, three_passes_end - time.monotonic()))
    screen.key("F7", "F7", "F5")
    kept = Box(boxes.panel.right - 420, boxes.panel.y + 5, 420, 28)
    until(lambda: share(jam.cut("jam-kept", kept), PAPER.ink) > 0.01, "the keep")

    screen.do("windowmove", jam.id, "20", "20")
    screen.do("windowsize", "--sync", jam.id, "900", "520")
    seen(
        lambda: jam.cut("jam-900x520", Box(0, 0, 900, 520)),
        lambda small: small.shape == (520, 900, 3) and share(small, PAPER.ground) > 0.4,
        "the smaller window",
    )

    screen.leave(jam.left)
    assert jam.process.wait(PATIENCE_SEC) == 0
    with Shelf(jam.folder / "shelf.sqlite") as shelf:
        assert len(shelf.find()) == 1
        take = shelf.get(1)
    assert take.recording.passes == 3
    # The keep holds the last three passes; what was played before is in its layer.
    assert len(take.recording.layers) == 1
    assert take.recording.layers[0].notes["pitch"].tolist() == [28, 30, 33, 29]


def loop_a_note(screen: Screen, jam: Jam) -> None:
    """Start, play a note, and loop the pass it was in."""
    screen.key("grave") if _beside_an_instrument(jam) else None
    screen.key("Tab")
    time.sleep(0.3)
    screen.note("z", 0.2)
    screen.key("space")
    until(lambda: share(jam.cut("jam-a-layer", layer_row(0)), PAPER.ink) > 0.01, "the layer")
    (path,) = (jam.folder / "journals").glob("*.journal")
    until(
        lambda: any(isinstance(one, CommandRecord) and one.name == "loop-that" for one in read_journal(path).records),
        "the journal",
    )


def test_leaving_while_the_engine_is_gone_leaves(screen: Screen, jam: Jam) -> None:
    """As the sentence says: no window comes up again, and the journal is left in order."""
    loop_a_note(screen, jam)
    jam.kill_engine("jam-leaving")
    screen.leave(jam.left)
    assert jam.process.wait(PATIENCE_SEC) == 0
    assert all(finished(path) for path in (jam.folder / "journals").glob("*.journal"))


def test_the_engine_is_killed_and_comes_back(screen: Screen, jam: Jam) -> None:
    boxes = layout(1280, 720)
    loop_a_note(screen, jam)
    old = jam.engine_pid()
    line = still(lambda: jam.cut("jam-engine-alive", boxes.sections["devices"]), "the foot")
    # Said in the sentence at the bottom, and in the line of the devices below it.
    jam.kill_engine("jam-engine-killed")
    until(lambda: _engine(jam) not in (0, old), "the new engine")
    until(lambda: bool((jam.cut("jam-engine-again", boxes.sections["devices"]) == line).all()), "the engine's devices")
    until(lambda: share(jam.cut("jam-engine-back", layer_row(0)), PAPER.ink) > 0.01, "the layer that is still there")
    assert jam.process.poll() is None
    screen.leave(jam.left)
    assert jam.process.wait(PATIENCE_SEC) == 0


def test_the_window_is_killed_and_comes_back(screen: Screen, jam: Jam) -> None:
    loop_a_note(screen, jam)
    engine = jam.engine_pid()

    def kill() -> None:
        jam.process.kill()
        jam.process.wait(PATIENCE_SEC)

    jam.id = screen.next_window(jam.id, kill)
    row = layer_row(0)
    until(lambda: share(jam.cut("jam-window-back", row), PAPER.ink) > 0.01, "the layer that is still there")
    os.kill(engine, 0)  # the very same engine runs on
    (journal,) = (jam.folder / "journals").glob("*.journal")
    screen.leave(lambda: finished(journal) and not screen.windows())


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
    numbers = ("third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
    wanted = {number: message_picture(f"That is the {number} time: Space loops it.") for number in numbers}
    box = layout(1280, 720).sections["message"]
    screen.key("grave") if _beside_an_instrument(jam) else None
    engine = beside_the_listener(jam)
    screen.key("Tab")

    def read() -> str:
        shown = jam.cut("jam-heard", box)
        return next((one for one, drawn in wanted.items() if (drawn == shown).all(axis=2).mean() > 0.995), "")

    said = ""
    for number in range(10):
        clock = begin_pass(engine)
        end = clock.anchor.sec_at(clock.pass_start_q + 3.0)
        while number >= 3 and not said and time.perf_counter() < end:
            said = read()
        if said:
            break
        # Where there was nothing to read, the rest of the pass has gone by in looking.
        play_riff(engine, begin_pass(engine) if number >= 3 else clock)
    assert said, "the sentence did not come"
    screen.key("space")
    row = layer_row(0)
    until(lambda: share(jam.cut("jam-riff-looped", row), PAPER.ink) > 0.01, "the layer")
    screen.key("F7", "F7", "F7", "F5")
    until(lambda: takes(jam) == 1, "the take")
    engine.close()
    screen.leave(lambda: jam.left() or engine_has_ended(jam))
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


def begin_pass(engine: LinkClient, wait_sec: float = PATIENCE_SEC) -> ClockChanged:
    """Wait for the start of a pass, by what the engine tells; returns that."""
    engine.poll()
    end = time.monotonic() + wait_sec
    while time.monotonic() < end:
        for message in engine.poll():
            if isinstance(message, ClockChanged) and message.running:
                return message
        time.sleep(0.005)
    raise AssertionError("no pass began")


def takes(jam: Jam) -> int:
    """How many takes are on the shelf."""
    path = jam.folder / "shelf.sqlite"
    if not path.exists():
        return 0
    with Shelf(path) as shelf:
        return len(shelf.find())


def engine_has_ended(jam: Jam) -> bool:
    """Whether the engine has ended in order: the player has left, and a last page may stay."""
    return all(finished(path) for path in (jam.folder / "journals").glob("*.journal"))


def beside_the_listener(jam: Jam) -> LinkClient:
    """A client of the engine, once the process that listens has joined it: that comes up two
    seconds after the window, and gives way to everybody, which it need not do here.
    """
    until(lambda: listener_address(jam) != "", "the process that listens")
    pid = jam._child(lambda child: "loopdeck.engine.listening" in child.cmdline())
    until(lambda: has_joined(pid), "the joining of the process that listens")
    for task in Path(f"/proc/{pid}/task").iterdir():
        with contextlib.suppress(OSError):
            os.sched_setscheduler(int(task.name), os.SCHED_OTHER, os.sched_param(0))
            os.setpriority(os.PRIO_PROCESS, int(task.name), 0)
    return LinkClient(listener_address(jam), role="test")


def has_joined(pid: int) -> bool:
    """Whether a process has a socket of its own open."""
    with contextlib.suppress(OSError):
        files = [one for one in Path(f"/proc/{pid}/fd").iterdir() if int(one.name) > 2]
        return any(os.readlink(one).startswith("socket:") for one in files)
    return False


def listener_address(jam: Jam) -> str:
    """Where the engine is reached, as the process that listens was told; "" before there is one."""
    for child in psutil.Process(jam.process.pid).children(recursive=True):
        with contextlib.suppress(psutil.Error):
            if "loopdeck.engine.listening" in child.cmdline():
                return str(json.loads(child.environ()["LOOPDECK_ENGINE"])["address"])
    return ""
