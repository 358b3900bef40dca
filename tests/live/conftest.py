"""A real JACK server with its dummy driver, and helpers to run loopdeck, a sender and a receiver as
processes of their own.
"""

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.waiting import PATIENCE_SEC
from tests.waiting import until as wait_for

__all__ = ["Bench", "Receiver", "Sender", "bench", "wait_for"]
ROOT = Path(__file__).parents[2]


class Bench:
    """One test's processes and files."""

    def __init__(self, env: dict[str, str], folder: Path) -> None:
        self.env = {**env, "XDG_DATA_HOME": str(folder / "data"), "PYTHONUNBUFFERED": "1"}
        self.folder = folder
        self.shelf = folder / "shelf.sqlite"
        self.journals = folder / "journals"
        self.processes: list[subprocess.Popen[str]] = []

    def spawn(self, *command: str, log: str) -> subprocess.Popen[str]:
        """A process whose output goes to a file."""
        process = subprocess.Popen(
            [sys.executable, *command],
            env=self.env,
            cwd=ROOT,
            text=True,
            stdin=subprocess.DEVNULL,
            stdout=(self.folder / f"{log}.out").open("w"),
            stderr=(self.folder / f"{log}.err").open("w"),
            start_new_session=True,
        )
        self.processes.append(process)
        return process

    def text(self, log: str) -> str:
        """What a process said so far, both streams."""
        return "".join((self.folder / f"{log}.{end}").read_text() for end in ("out", "err"))

    def journal(self) -> Path:
        """The journal of the one session; after a while a file of its state lies beside it."""
        (path,) = self.journals.glob("*.journal")
        return path

    def loopdeck(self, *words: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """A loopdeck command that ends by itself."""
        done = subprocess.run(  # noqa: PLW1510 - the code is looked at below
            [sys.executable, "-m", "loopdeck", *words],
            env=self.env,
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=4 * PATIENCE_SEC,
        )
        if check:
            assert done.returncode == 0, done.stderr
        return done

    def another(self, name: str) -> "Bench":
        """A bench like this one, with a folder of its own in ours."""
        folder = self.folder / name
        folder.mkdir()
        return Bench(self.env, folder)

    def sender(self, name: str, to: str | None) -> "Sender":
        """An independent sender, connected."""
        return Sender(self, name, to)

    def receiver(self, source: str = "loopdeck out") -> "Receiver":
        """An independent receiver."""
        return Receiver(self, source)

    def show(self) -> None:
        """Print the end of every log and who is connected with whom: seen where a test fails."""
        for path in sorted((*self.folder.glob("*.out"), *self.folder.glob("*.err"), *self.folder.glob("*.log"))):
            print(f"--- {path.name}", *path.read_text(errors="replace").splitlines()[-25:], sep="\n")
        if shutil.which("jack_lsp"):
            with contextlib.suppress(subprocess.TimeoutExpired):
                subprocess.run(["jack_lsp", "-c"], env=self.env, stdin=subprocess.DEVNULL, timeout=5, check=False)

    def close(self) -> None:
        """End every process."""
        for process in self.processes:
            if process.poll() is None:
                process.terminate()
        for process in self.processes:
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)


def prefer(process: "subprocess.Popen[Any]") -> None:
    """Let a process of the test's run before everything of usual priority, where that is allowed: a
    player has no other work.
    """
    with contextlib.suppress(OSError, AttributeError):
        os.setpriority(os.PRIO_PROCESS, process.pid, -15)
    with contextlib.suppress(OSError, AttributeError):
        os.sched_setscheduler(process.pid, os.SCHED_RR, os.sched_param(1))


class Sender:
    """Plays scripts in a process of its own."""

    def __init__(self, bench: Bench, name: str, to: str | None) -> None:
        self.script = bench.folder / f"{name}.json"
        self.log = bench.folder / f"{name}.sent"
        # One of the same name may have left it.
        self.script.unlink(missing_ok=True)
        words = ["--name", name, "--script", str(self.script), "--log", str(self.log)]
        self.process = bench.spawn("-m", "tests.live.sender", *words, *(["--to", to] if to else []), log=name)
        wait_for(lambda: "ready" in bench.text(name), f"the sender {name}'s connection")
        prefer(self.process)

    def play(self, steps: list[tuple[float, bytes]], base: float | None = None) -> float:
        """Start playing; returns the base. Times are seconds after it."""
        base = time.perf_counter() + 0.3 if base is None else base
        body = json.dumps({"base": base, "steps": [[sec, data.hex()] for sec, data in sorted(steps)]})
        temporary = self.script.with_suffix(".tmp")
        temporary.write_text(body)
        self._before = self.log.read_text().count("done")
        temporary.rename(self.script)
        return base

    def finish(self) -> None:
        """Wait until the script has been played."""
        wait_for(lambda: self.log.read_text().count("done") > self._before, "the script's end")

    def sent(self) -> list[tuple[float, bytes]]:
        """(perf_counter seconds, bytes) of everything sent."""
        return parse(self.log.read_text())


class Receiver:
    """Hears what loopdeck sends, in a process of its own."""

    def __init__(self, bench: Bench, source: str) -> None:
        self.log = bench.folder / "received.log"
        process = bench.spawn(
            "-m", "tests.live.receiver", "--name", "ear", "--from", source, "--log", str(self.log), log="receiver"
        )
        wait_for(lambda: self.log.exists() and "connected" in self.log.read_text(), "the receiver's connection")
        # A port that goes and comes at once is not to be missed.
        prefer(process)

    def heard(self) -> list[tuple[float, bytes]]:
        """(perf_counter seconds, bytes) of everything heard."""
        return parse(self.log.read_text())


def parse(text: str) -> list[tuple[float, bytes]]:
    """The messages of a log; a line that is still being written is left out."""
    rows = [line.split() for line in text.split("\n")[:-1]]
    return [(float(row[0]), bytes.fromhex(row[1])) for row in rows if len(row) == 2]


@pytest.fixture
def bench(jack: dict[str, str], tmp_path: Path) -> Iterator[Bench]:
    """Processes and files of one test."""
    one = Bench(jack, tmp_path)
    yield one
    one.show()
    one.close()
