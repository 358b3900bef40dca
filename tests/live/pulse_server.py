"""A PulseAudio server with a null sink, for tests and benchmarks: a real audio server on a machine
without a sound card.
"""

import contextlib
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.waiting import PATIENCE_SEC, end_server

PROGRAMS = ("pulseaudio", "parec")


def missing() -> list[str]:
    """The programs that are not installed (Debian packages pulseaudio and pulseaudio-utils)."""
    return [program for program in PROGRAMS if shutil.which(program) is None]


@contextlib.contextmanager
def pulse_server() -> Iterator[tuple[dict[str, str], Path]]:
    """A running server; yields the environment in which programs find it, and the file of its log,
    where it tells of underruns.

    RuntimeError when it does not start.
    """
    with tempfile.TemporaryDirectory(prefix="loopdeck-pulse-") as folder:
        log = Path(folder) / "log"
        env = {
            **os.environ,
            "XDG_RUNTIME_DIR": folder,
            "HOME": folder,
            "PULSE_SERVER": f"unix:{folder}/pulse/native",
            "SDL_AUDIODRIVER": "pulseaudio",
        }
        with log.open("wb") as said:
            server = subprocess.Popen(
                ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--log-level=debug", "--log-time", "--log-target=stderr",
                 "-L", "module-null-sink sink_name=null rate=48000", "-L", "module-native-protocol-unix"],
                env=env, stdin=subprocess.DEVNULL, stdout=said, stderr=said,
            )  # fmt: skip
        try:
            deadline = time.perf_counter() + PATIENCE_SEC
            while not (Path(folder) / "pulse" / "native").exists():
                if server.poll() is not None or time.perf_counter() > deadline:
                    raise RuntimeError(f"pulseaudio did not start: {log.read_text(errors='replace')[-400:]}")
                time.sleep(0.05)
            yield env, log
        finally:
            end_server(server)


def underruns(log: Path) -> int:
    """How often the server says that it ran out of our sound."""
    return sum("Implicit underrun" in line for line in log.read_text(errors="replace").splitlines())
