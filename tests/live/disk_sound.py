"""An engine whose sound goes through SDL's disk driver into a pipe, and the clicks found in it.
Used by a test and a benchmark.

The engine is the real one in a process of its own, started as jam starts it, steered over its
socket as the window does. Only the clock is driven by the device instead of estimated ("driven"),
since a file takes an hour of sound in a minute or two.
"""

import os
import select
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from loopdeck.brief.brief import Brief
from loopdeck.process.options import Options, SoundOptions
from loopdeck.protocol.address import LinkError, new_address
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import Command
from tests.waiting import PATIENCE_SEC

RATE, FRAMES = 48_000, 1024
CYCLE, TEMPO = "4/4 4+3/8", "96"
#: Samples from the start of the cycle to its clicks, in whole numbers: at 96 a quarter is 30,000
#: samples.
PLACES = [*range(0, 120_000, 30_000), *range(120_000, 225_000, 15_000)]
CYCLE_SAMPLES = 225_000
#: A click follows at least that much silence: they last less than an eighth.
SILENCE = 1000
#: The master's level for the test in dB: the file is heard by nobody.
LEVEL_DB = 0.0


class DiskEngine:
    """An engine whose sound is read from ``sound``, and a ``link`` to steer it by.

    ``resume``: it takes up the journal in ``folder``.
    """

    def __init__(self, folder: Path, resume: bool = False) -> None:
        pipe = folder / "sound.pipe"
        if not pipe.exists():
            os.mkfifo(pipe)
        brief = Brief.default().replace(tempo=TEMPO, cycle=CYCLE, count_in=0)
        options = Options(
            address=new_address(), journal=str(folder / "disk.journal"), shelf=str(folder / "shelf.sqlite"),
            brief=brief.to_dict(), sound=SoundOptions("driven", FRAMES), resume=resume,
        )  # fmt: skip
        env = options.environment() | {
            "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(pipe), "SDL_DISKAUDIODELAY": "0",
        }  # fmt: skip
        self.process = subprocess.Popen([sys.executable, "-m", "loopdeck.engine"], env=env, stdin=subprocess.DEVNULL)
        try:
            # Until it is read, the pipe holds the device up, and with it the engine's time.
            self.sound = self._opened(pipe)
            self.link = self._reached(options.address)
        except BaseException:
            self.kill()
            raise

    def _opened(self, pipe: Path) -> BinaryIO:
        """The pipe, once the engine writes to it. AssertionError when it ends before."""
        end = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
        try:
            # There is something to read, or the writer has gone again.
            while not select.select([end], [], [], 0.2)[0]:
                assert self.process.poll() is None, "the engine ended before it sounded"
            os.set_blocking(end, True)
            return os.fdopen(end, "rb")
        except BaseException:
            os.close(end)
            raise

    def _reached(self, address: str) -> LinkClient:
        until = time.monotonic() + PATIENCE_SEC
        while True:
            assert self.process.poll() is None, "the engine ended before it could be reached"
            try:
                return LinkClient(address, role="front", wait_sec=0.5)
            except LinkError:
                if time.monotonic() > until:
                    raise

    def command(self, name: str, **args: Any) -> None:
        """Give a command."""
        self.link.send(Command(name=name, args=args))

    def read(self, seconds: float) -> NDArray[np.float32]:
        """The left side of the next so many seconds of sound."""
        data = self.sound.read(8 * round(seconds * RATE))
        assert data, "the engine ended early"
        return np.frombuffer(data, np.float32)[::2]

    def end(self) -> None:
        """End it in order."""
        # Read on, or it could not end.
        self.link.close()
        while self.sound.read(1 << 20):
            pass
        assert self.process.wait(PATIENCE_SEC) == 0
        self.sound.close()

    def kill(self) -> None:
        """End it at once, if it has not ended."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        for part in ("link", "sound"):
            if hasattr(self, part):
                getattr(self, part).close()


def play(folder: Path, seconds: float) -> Iterator[NDArray[np.float32]]:
    """Start an engine and its time, and yield the left side of ``seconds`` of its sound, piece by
    piece; then end it.
    """
    engine = DiskEngine(folder)
    try:
        engine.command("level", part="master", db=LEVEL_DB)
        engine.command("start")
        time.sleep(0.2)
        left = seconds
        while left > 0:
            yield engine.read(min(10.0, left))
            left -= 10.0
            engine.link.poll()
        engine.end()
    finally:
        engine.kill()


def onsets(pieces: Iterator[NDArray[np.float32]]) -> NDArray[np.int64]:
    """The samples at which sound begins after silence."""
    found, at, last = [], 0, -SILENCE
    for piece in pieces:
        loud = np.flatnonzero(piece) + at
        if len(loud):
            before = np.concatenate(([last], loud[:-1]))
            found.append(loud[loud - before >= SILENCE])
            last = int(loud[-1])
        at += len(piece)
    return np.concatenate(found) if found else np.zeros(0, np.int64)


def errors(found: NDArray[np.int64]) -> NDArray[np.int64]:
    """How many samples each click lies beside its place, from the first one on, in order."""
    index = np.arange(len(found))
    places = np.array(PLACES)
    ideal = found[0] + index // len(places) * CYCLE_SAMPLES + places[index % len(places)]
    return np.asarray(found - ideal)
