"""The process that follows a session's journal: it writes the state, ends with the engine, and its
file goes when the session ends in order.
"""

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from loopdeck.engine import checkpointer
from loopdeck.engine.checkpointer import Checkpointer
from loopdeck.process.alive import alive
from loopdeck.session.checkpoint import Follower
from loopdeck.session.state_file import state_path
from tests.attack import playing
from tests.waiting import until


def test_little_that_is_new_is_not_worth_a_state(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    playing.journal(path, random.Random(1), 400)
    follower = Follower(path)
    assert follower.write()
    assert not follower.write()
    written = state_path(path).read_bytes()
    with path.open("ab") as file:
        file.write(b"\x25\x00\x00\x00torn")
    assert not follower.write()
    assert state_path(path).read_bytes() == written


def test_a_disk_without_room_keeps_the_state_of_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.journal"
    playing.journal(path, random.Random(1), 60)
    follower = Follower(path)
    follower.write(always=True)
    before = state_path(path).read_bytes()

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        follower.write(always=True)
    assert [one.name for one in tmp_path.iterdir() if one != path] == [state_path(path).name]
    assert state_path(path).read_bytes() == before


def test_it_ends_when_the_engine_does(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checkpointer, "FIRST_SEC", 0.0)
    path = tmp_path / "a.journal"
    playing.journal(path, random.Random(1), 60)
    Follower(path).write(always=True)
    one = Checkpointer(path)
    one.start()
    until(lambda: one._child is not None)
    assert one._child is not None
    pid = one._child.pid
    one.end(done=False)
    until(lambda: not alive(pid))
    assert state_path(path).exists()
    one.end(done=True)
    assert not state_path(path).exists()


ENGINE = """
import sys, time
from pathlib import Path
from loopdeck.engine import checkpointer
checkpointer.FIRST_SEC = 0.0
one = checkpointer.Checkpointer(Path(sys.argv[1]))
one.start()
while one._child is None:
    time.sleep(0.01)
print(one._child.pid, flush=True)
time.sleep(60)
"""


def test_a_killed_engine_leaves_no_process(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    playing.journal(path, random.Random(1), 60)
    engine = subprocess.Popen([sys.executable, "-c", ENGINE, str(path)], stdout=subprocess.PIPE, text=True)
    assert engine.stdout is not None
    pid = int(engine.stdout.readline())
    assert alive(pid)
    engine.kill()
    engine.wait()
    until(lambda: not alive(pid))


OFTEN = """
import sys
from loopdeck.session import checkpoint
checkpoint.EVERY_SEC = 0.05
sys.exit(checkpoint.main())
"""


def test_the_process_writes_the_state_while_the_journal_grows(tmp_path: Path) -> None:
    path = tmp_path / "a.journal"
    playing.journal(path, random.Random(1), 400)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 10])
    process = subprocess.Popen([sys.executable, "-c", OFTEN, str(path)], stdin=subprocess.PIPE)
    try:
        time.sleep(0.5)
        assert not state_path(path).exists()
        with path.open("ab") as file:
            file.write(data[len(data) // 10 :])
        until(state_path(path).exists)
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(90) == 0
    finally:
        process.kill()
        process.wait()
