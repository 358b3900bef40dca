"""An engine whose sound goes through SDL's disk driver into a pipe, and the clicks found in it. Used by a test and a benchmark.

The engine is the real one in a process of its own, started as jam starts it, steered over its socket as the window does. Only the clock is driven by the
device instead of estimated ("driven"), since a file takes an hour of sound in a minute or two.
"""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.live.messages import LinkClient, LinkError, new_address
from loopdeck.live.options import Options
from loopdeck.looper.brief import Brief

RATE, FRAMES = 48_000, 1024
CYCLE, TEMPO = "4/4 4+3/8", "96"
#: Samples from the start of the cycle to its clicks, in whole numbers: at 96 a quarter is 30,000 samples.
PLACES = [*range(0, 120_000, 30_000), *range(120_000, 225_000, 15_000)]
CYCLE_SAMPLES = 225_000
#: A click follows at least that much silence: they last less than an eighth.
SILENCE = 1000
#: The master's level for the test in dB: the file is heard by nobody.
LEVEL_DB = 0.0


def play(folder: Path, seconds: float) -> Iterator[NDArray[np.float32]]:
    """Start an engine and its time, and yield the left side of ``seconds`` of its sound, piece by piece; then end it."""
    pipe = folder / "sound.pipe"
    os.mkfifo(pipe)
    brief = Brief.default().replace(tempo=TEMPO, cycle=CYCLE, count_in=0)
    options = Options(
        address=new_address(), journal=str(folder / "disk.journal"), shelf=str(folder / "shelf.sqlite"),
        brief=brief.to_dict(), sound="driven", buffer=FRAMES,
    )  # fmt: skip
    env = options.environment() | {
        "SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(pipe), "SDL_DISKAUDIODELAY": "0",
    }  # fmt: skip
    engine = subprocess.Popen([sys.executable, "-m", "loopdeck.live"], env=env, stdin=subprocess.DEVNULL)
    link = None
    try:
        with pipe.open("rb") as sound:
            # Until it is read, the pipe holds the device up, and with it the engine's time.
            link = _reach(options.address)
            _command(link, "level", {"part": "master", "db": LEVEL_DB})
            _command(link, "start", {})
            time.sleep(0.2)
            left = round(seconds * RATE)
            while left > 0:
                data = sound.read(8 * min(RATE * 10, left))
                assert data, "the engine ended early"
                left -= len(data) // 8
                yield np.frombuffer(data, np.float32)[::2]
                link.poll()
            # Read on, or the engine could not end.
            link.close()
            while sound.read(1 << 20):
                pass
        assert engine.wait(20) == 0
    finally:
        if engine.poll() is None:
            engine.kill()
            engine.wait()
        if link is not None:
            link.close()


def _reach(address: str) -> LinkClient:
    until = time.monotonic() + 20
    while True:
        try:
            return LinkClient(address, role="front", wait_sec=0.5)
        except LinkError:
            if time.monotonic() > until:
                raise


def _command(link: LinkClient, name: str, args: dict[str, Any]) -> None:
    link.send("command", time.perf_counter(), name=name, args=args)


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
