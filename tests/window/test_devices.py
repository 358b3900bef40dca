"""Devices chosen and a pedal learned in the real window: ``loopdeck jam`` under Xvfb, on a JACK
server, with two senders of their own.
"""

import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from loopdeck.midi.control_files import load_controls
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import ClockChanged, DeviceListChanged, DevicesChanged, Message, PedalsChanged
from loopdeck.settings import load_settings
from loopdeck.window.layout import layout
from loopdeck.window.theme import PAPER
from tests.live.conftest import prefer
from tests.waiting import PATIENCE_SEC, until
from tests.window.looking import still
from tests.window.screen import ROOT, Screen, end
from tests.window.test_jam import Jam, listener_address
from tests.window.test_window import share

PICKUP, PEDAL = "some pickup", "some pedals"


class Sender:
    """A MIDI output of another program."""

    def __init__(self, env: dict[str, str], folder: Path, name: str) -> None:
        self.script, self.log = folder / f"{name}.json", folder / f"{name}.log"
        words = ["--name", name, "--script", str(self.script), "--log", str(self.log)]
        self.process = subprocess.Popen([sys.executable, "-m", "tests.live.sender", *words], cwd=ROOT, env=env)
        until(self.log.exists, f"the sender {name}")
        prefer(self.process)

    def play(self, *steps: tuple[float, bytes]) -> None:
        """Send each at its second from now on."""
        body = json.dumps({"base": time.perf_counter() + 0.3, "steps": [[sec, data.hex()] for sec, data in steps]})
        temporary = self.script.with_suffix(".tmp")
        temporary.write_text(body)
        temporary.rename(self.script)

    def close(self) -> None:
        self.process.kill()
        self.process.wait(PATIENCE_SEC)


class Engine:
    """What the engine tells a client: the newest message of each kind."""

    def __init__(self, address: str) -> None:
        self.link = LinkClient(address, role="test")
        self.last: dict[type[Message], Any] = {}

    def wait(self, kind: type[Message], true: Callable[[Any], bool], what: str) -> Any:
        """Until the newest message of a kind is as it should be."""

        def found() -> bool:
            self.last |= {type(one): one for one in self.link.poll()}
            return kind in self.last and true(self.last[kind])

        until(found, what)
        return self.last[kind]


@pytest.fixture
def rig(screen: Screen, jack: dict[str, str], tmp_path: Path) -> Iterator[tuple[Jam, Sender, Sender]]:
    """A session, a pickup and a pedal board."""
    env = screen.env | {
        name: jack[name] for name in ("JACK_DEFAULT_SERVER", "JACK_NO_AUDIO_RESERVATION", "JACK_NO_START_SERVER")
    }
    env |= {"SDL_VIDEODRIVER": "x11", "SDL_RENDER_DRIVER": "software", "SDL_AUDIODRIVER": "dummy"}
    env |= {"XDG_CONFIG_HOME": str(tmp_path / "config"), "XDG_DATA_HOME": str(tmp_path / "data")}
    senders = [Sender(env, tmp_path, name) for name in (PICKUP, PEDAL)]
    command = [
        sys.executable,
        "-m",
        "loopdeck",
        "jam",
        "--api",
        "jack",
        "--in",
        PEDAL,
        "--journal",
        str(tmp_path / "j"),
    ]
    screen.clear()
    process = subprocess.Popen(command, cwd=ROOT, env=env, start_new_session=True)
    try:
        yield Jam(process, tmp_path, screen.window(), screen), senders[0], senders[1]
    finally:
        for sender in senders:
            sender.close()
        end(process)


def named(devices: DevicesChanged, role: str) -> str:
    return next((one.name for one in devices.devices if one.role == role and one.state == "connected"), "")


def choose(screen: Screen, there: DeviceListChanged, now: str, wanted: str) -> None:
    """On the right of the page of devices: from the one in use to another one."""
    names = [*there.ins, "loopdeck in", ""]
    step = next(names.index(one) for one in names if wanted in one) - names.index(now)
    screen.key("Return", *(["Down"] * step if step > 0 else ["Up"] * -step), "Return")


def test_devices_are_chosen_and_a_pedal_is_learned(screen: Screen, rig: tuple[Jam, Sender, Sender]) -> None:
    jam, _, pedal = rig
    until(lambda: listener_address(jam) != "", "the process that listens")
    engine = Engine(listener_address(jam))
    there = engine.wait(
        DeviceListChanged, lambda one: all(any(name in port for port in one.ins) for name in (PICKUP, PEDAL)), "the list"
    )  # fmt: skip
    devices = engine.wait(DevicesChanged, lambda one: PEDAL in named(one, "in"), "the input of the start")

    # Another instrument, by keys.
    page = layout(1280, 720).page
    closed = still(lambda: jam.cut("devices-before", page), "the lanes")
    screen.key("shift+F2")
    sound = still(lambda: jam.cut("devices-opening", page), "the page of the sound", closed)
    screen.key("shift+F2")
    opened = still(lambda: jam.cut("devices-page", page), "the page of the devices", sound)
    assert share(opened, PAPER.ground) > 0.5 and share(opened, PAPER.ink) > 0.01
    choose(screen, there, named(devices, "in"), PICKUP)
    engine.wait(DevicesChanged, lambda one: PICKUP in named(one, "in"), "the other instrument")
    settings = jam.folder / "config" / "loopdeck" / "settings.toml"
    until(lambda: any(PICKUP in name for name in load_settings(settings)[0].midi_in), "the settings")

    # The pedals on an input of their own; on the right the last line is in use, the instrument's
    # input.
    screen.key("Down", "Down")
    choose(screen, there, "", PEDAL)
    engine.wait(DevicesChanged, lambda one: PEDAL in named(one, "controls"), "the pedals' own input")

    # Learn: the first command of the list is start and stop.
    screen.key("Down", "Down", "Return")
    listed = still(lambda: jam.cut("pedals-page", page), "the page of pedals", opened)
    screen.key("Return")
    engine.wait(PedalsChanged, lambda one: one.learning == "start-stop", "learning to begin")
    pedal.play((0.0, bytes((0xB0, 64, 127))), (0.15, bytes((0xB0, 64, 0))))
    learned = engine.wait(PedalsChanged, lambda one: not one.learning and len(one.rows) == 1, "the switch")
    assert [(row.switch, row.press, row.command) for row in learned.rows] == [("CC 64", "short", "start-stop")]
    until(lambda: bool((jam.cut("pedal-learned", page) != listed).any()), "the page to show it")
    pedal.play((0.0, bytes((0xB0, 64, 127))), (0.15, bytes((0xB0, 64, 0))))
    engine.wait(ClockChanged, lambda one: one.running, "the learned switch to start")

    until(lambda: load_settings(settings)[0].controls == "my-pedals", "the settings of the map")
    own = jam.folder / "config" / "loopdeck" / "controls" / "my-pedals.toml"
    assert [switch.number for switch in load_controls(str(own)).switches] == [64]
    assert PEDAL in load_settings(settings)[0].pedals_in
    shown = jam.cut("pedals-learned", page)
    screen.key("Escape")
    until(lambda: bool((jam.cut("pedals-closed", page) != shown).any()), "the page to close")
    engine.link.close()
    screen.leave(jam.left)
    assert jam.process.wait(PATIENCE_SEC) == 0
