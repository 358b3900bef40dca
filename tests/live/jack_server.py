"""A JACK server with its dummy driver, for tests and benchmarks: MIDI ports without hardware.

One name for all of them, and a lock so that two runs on one machine take turns: JACK has room for
eight names only, and a server that was killed leaves its name taken; the next one of the same name
takes it over. ``-R``: without real-time priority JACK drops MIDI between two bare programs as soon
as the machine is busy (measured with two other processes at work, of 1,500 messages: 50 lost with
64 frames, 2 with 256; none with ``-R`` and 128 frames). Its synchronous mode (``-S``) drops nothing
either, but takes 3 s to notice that a client was killed, and these tests kill clients.
"""

import contextlib
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.waiting import end_server

NAME = "loopdeck-test"
START_SEC = 20.0
_PROBE = "import rtmidi; rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name='probe').get_ports()"


@contextlib.contextmanager
def jack_server() -> Iterator[dict[str, str]]:
    """A running server; yields the environment in which programs find it. RuntimeError when it does
    not start.
    """
    # Only now: systems without it have no such server to start, and read this file too.
    import fcntl

    env = {**os.environ, "JACK_DEFAULT_SERVER": NAME, "JACK_NO_AUDIO_RESERVATION": "1", "JACK_NO_START_SERVER": "1"}
    with (Path(tempfile.gettempdir()) / f"{NAME}.lock").open("w") as lock, tempfile.TemporaryFile() as said:
        fcntl.flock(lock, fcntl.LOCK_EX)
        server = subprocess.Popen(
            ["jackd", "-n", NAME, "-R", "-d", "dummy", "-r", "48000", "-p", "64"],
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=said,
        )
        try:
            deadline = time.perf_counter() + START_SEC
            while subprocess.run([sys.executable, "-c", _PROBE], env=env, capture_output=True, check=False).returncode:
                if server.poll() is not None or time.perf_counter() > deadline:
                    said.seek(0)
                    raise RuntimeError(f"jackd did not start: {said.read().decode(errors='replace')[-400:]}")
                time.sleep(0.05)
            yield env
        finally:
            end_server(server)
