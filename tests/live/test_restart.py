"""While the engine restarts: what sounds is silenced at once by the half that lives, and what was
connected by hand is connected again.
"""

import contextlib
import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from loopdeck.capture.journal import MidiRecord, read_journal
from loopdeck.engine.__main__ import PROCESS_NAME
from loopdeck.midi.connections import ConnectionFile, Connections
from tests.live.conftest import Bench, wait_for
from tests.live.connecting import client, connect
from tests.live.test_session import START, engine_pids, foot, jam, off, on, silent
from tests.waiting import PATIENCE_SEC


class ByHand:
    """A keyboard and a sound module that were connected once, by hand, and do nothing about it when
    a connection goes.
    """

    def __init__(self) -> None:
        self.keys = client("MidiOut", "by hand keys")
        self.module = client("MidiIn", "by hand module", queue_size_limit=4096)
        connect(self.keys, "loopdeck in", "out")
        connect(self.module, "loopdeck out", "in")
        self.heard: list[tuple[float, bytes]] = []

    def listen(self) -> list[tuple[float, bytes]]:
        """All that was heard so far, with its moment."""
        while (event := self.module.get_message()) is not None:
            self.heard.append((time.perf_counter(), bytes(event[0])))
        return self.heard

    def close(self) -> None:
        self.keys.delete()
        self.module.delete()


@pytest.fixture
def by_hand(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[ByHand]]:
    for name in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER", "JACK_PROMISCUOUS_SERVER"):
        if name in bench.env:
            monkeypatch.setenv(name, bench.env[name])
    made: list[ByHand] = []
    yield made
    for one in made:
        one.close()


def test_a_killed_engine_is_silenced_at_once_and_connected_again(bench: Bench, by_hand: list[ByHand]) -> None:
    process = jam(bench, "--in", "virtual")
    wait_for(lambda: "loopdeck out" in bench.text("jam"), "the ports")
    by_hand.append(ByHand())
    rig = by_hand[0]
    rig.keys.send_message(list(foot(START)))
    wait_for(lambda: any(data[0] == 0x99 for _, data in rig.listen()), "the click")
    journal = bench.journal()
    note = ConnectionFile(address_of(engine_pids(bench, process.pid)[0]))
    wait_for(lambda: len(note.read().listeners) == 1 and note.read().into.get("loopdeck in"), "the note of it")

    (engine,) = engine_pids(bench, process.pid)
    spare = wait_for(lambda: spare_engine(process.pid), "the spare engine")
    before = len(rig.listen())
    # The engine that comes next is held until there is silence: it is the other half's doing.
    os.kill(spare, signal.SIGSTOP)
    try:
        killed = time.perf_counter()
        os.kill(engine, signal.SIGKILL)
        wait_for(lambda: silent(rig.listen()[before:]), "silence")
        took = next(sec for sec, data in rig.heard[before:] if data[1:] == bytes((120, 0))) - killed
    finally:
        os.kill(spare, signal.SIGCONT)
    wait_for(lambda: "The engine is back" in bench.text("jam"), "the engine's return")
    print(f"silenced {took * 1000:.0f} ms and back {(time.perf_counter() - killed) * 1000:.0f} ms after the kill")
    # Nobody connects anything: the click is heard again, and what is played is written down again.
    wait_for(lambda: played_arrives(rig, journal), "the keys")
    before = len(rig.listen())
    rig.keys.send_message(list(foot(START)))
    wait_for(lambda: any(data[0] == 0x99 for _, data in rig.listen()[before:]), "the click, heard again")
    process.send_signal(signal.SIGTERM)
    assert process.wait(PATIENCE_SEC) == 0
    assert not note.path.exists(), "a session that ended in order leaves nothing behind"


def address_of(engine: int) -> str:
    """Where an engine listens, as it stands in the list of the system's sockets."""
    inodes = set()
    for one in Path(f"/proc/{engine}/fd").iterdir():
        # It may be closed by now.
        with contextlib.suppress(OSError):
            inodes.add(os.readlink(one))
    for line in Path("/proc/net/unix").read_text().splitlines():
        words = line.split()
        if len(words) == 8 and f"socket:[{words[6]}]" in inodes and words[7].endswith("/link"):
            return f"unix:{words[7]}"
    raise AssertionError("the engine listens nowhere")


def spare_engine(parent: int) -> int:
    """The child that is not an engine yet, but is going to be; 0 before there is one."""
    import psutil

    for child in psutil.Process(parent).children():
        with contextlib.suppress(psutil.Error):
            if child.name() != PROCESS_NAME and child.cmdline()[-1:] == ["loopdeck.engine"]:
                return int(child.pid)
    return 0


def played_arrives(rig: ByHand, journal: Path) -> bool:
    """Play a note, and see whether it, or one before, is in the journal."""
    rig.keys.send_message(list(on(57)))
    rig.keys.send_message(list(off(57)))
    time.sleep(0.1)
    return any(one.data == on(57) for one in read_journal(journal).records if isinstance(one, MidiRecord))


def test_the_note_of_connections_is_believed_only_as_far_as_it_makes_sense(tmp_path: Path) -> None:
    one = ConnectionFile(f"unix:{tmp_path}/a")
    assert one.read() == Connections()
    told = Connections("JACK", {"loopdeck in": ("keys:out",)}, {"loopdeck out": ("module:in",)}, ("module:in",))
    one.write(told)
    assert one.read() == told and [path.name for path in tmp_path.iterdir()] == ["a.connections"]
    for text in (
        "",
        "[1",
        "[]",
        '{"version": 2}',
        '{"version": 1, "into": 3, "out": {"a": [1, "b"]}, "listeners": "x"}',
    ):
        one.path.write_text(text)
        found = one.read()
        assert found.listeners == () and found.into == {} and set(found.out) <= {"a"}
    one.remove()
    one.remove()
    assert list(tmp_path.iterdir()) == []
