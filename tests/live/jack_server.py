"""A JACK server with its dummy driver, for tests and benchmarks: MIDI ports without hardware.

A lock, so that two runs on one machine take turns. JACK has room for eight names only, and a server
that was killed leaves its name taken; the next one of the same name takes it over. So there are a
few names, tried in turn: one that somebody still serves, such as a server left over by a run that
was killed, is passed over, for it would answer in place of ours.

``-R``: without real-time priority JACK drops MIDI between two bare programs as soon as the machine
is busy (measured with two other processes at work, of 1,500 messages: 50 lost with 64 frames, 2
with 256; none with ``-R`` and 128 frames). Its synchronous mode (``-S``) drops nothing either, but
takes 3 s to notice that a client was killed, and these tests kill clients. Where no real-time
priority is to be had, ``-r``: a server with ``-R`` starts there too, but passes nothing on.
"""

import contextlib
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from tests.waiting import PATIENCE_SEC, end_server

NAMES = ("loopdeck-test", "loopdeck-test-2", "loopdeck-test-3")
_PROBE = "import rtmidi; rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name='probe').get_ports()"


@contextlib.contextmanager
def jack_server() -> Iterator[dict[str, str]]:
    """A running server; yields the environment in which programs find it. RuntimeError when it does
    not start.
    """
    # Only now: systems without it have no such server to start, and read this file too.
    import fcntl

    with (Path(tempfile.gettempdir()) / f"{NAMES[0]}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        server, env = start_jackd(*NAMES)
        try:
            yield env
        finally:
            end_server(server)


def start_jackd(*names: str) -> tuple["subprocess.Popen[bytes]", dict[str, str]]:
    """Start a server under the first of these names that is free, and wait until it answers;
    returns it and its environment. RuntimeError when it does not start.
    """
    said = []
    for name in names:
        env = {**os.environ, "JACK_DEFAULT_SERVER": name, "JACK_NO_AUDIO_RESERVATION": "1", "JACK_NO_START_SERVER": "1"}
        if _answers(env):
            said.append(f"{name}: a server that is not ours answers")
            continue
        server, why = _start(name, env)
        if server is not None:
            return server, env
        said.append(f"{name}: {why}")
    raise RuntimeError(f"jackd did not start. {'; '.join(said)}")


def _start(name: str, env: dict[str, str]) -> tuple["subprocess.Popen[bytes] | None", str]:
    """The server once it answers; or None, and what it said."""
    with tempfile.TemporaryFile() as said:
        server = subprocess.Popen(
            ["jackd", "-n", name, "-R" if _realtime() else "-r", "-d", "dummy", "-r", "48000", "-p", "64"],
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=said,
        )
        deadline = time.monotonic() + PATIENCE_SEC
        while server.poll() is None and time.monotonic() < deadline:
            if _answers(env) and server.poll() is None:
                return server, ""
            time.sleep(0.05)
        end_server(server)
        said.seek(0)
        return None, said.read().decode(errors="replace")[-400:]


def _realtime() -> bool:
    """Whether a thread of ours may have real-time priority."""
    allowed = []

    def ask() -> None:
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(10))
            allowed.append(True)

    thread = threading.Thread(target=ask)
    thread.start()
    thread.join()
    return bool(allowed)


def _answers(env: dict[str, str]) -> bool:
    """Whether a server of this environment's name lets a client in."""
    with contextlib.suppress(subprocess.TimeoutExpired):
        done = subprocess.run([sys.executable, "-c", _PROBE], env=env, capture_output=True, check=False, timeout=20)
        return done.returncode == 0
    return False
