"""Without the calls that only Unix has: the demo, and a session from its start to its end in
order.
"""

import contextlib
import os
import signal
import subprocess
import sys
from pathlib import Path

import psutil
import pytest

from loopdeck.capture.journal import read_journal
from tests.waiting import until

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.skipif(os.name == "nt", reason="this is such a system")


def start(folder: Path, *words: str) -> "subprocess.Popen[str]":
    env = {
        **os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT / "tests/simulators/other_system"), str(ROOT))),
        "XDG_DATA_HOME": str(folder / "data"), "XDG_CONFIG_HOME": str(folder / "config"), "JACK_DEFAULT_SERVER": "loopdeck-none",
        "JACK_NO_START_SERVER": "1", "SDL_VIDEODRIVER": "dummy",
    }  # fmt: skip
    return subprocess.Popen(
        [sys.executable, "-m", "loopdeck", *words], env=env, cwd=folder, text=True, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip


def test_the_demo(tmp_path: Path) -> None:
    told, _ = start(tmp_path, "demo", "--fast", "--out", "demo").communicate(timeout=360)
    assert "Traceback" not in told and (tmp_path / "demo" / "quay-steps.mid").exists(), told


def met(process: "subprocess.Popen[str]") -> bool:
    """Whether the session's processes talk over the loopback."""
    with contextlib.suppress(psutil.Error):
        family = [
            one
            for child in psutil.Process(process.pid).children(recursive=True)
            for one in child.net_connections("tcp")
        ]
        return any(one.status == psutil.CONN_ESTABLISHED for one in family)
    return False


def test_a_session_over_the_loopback(tmp_path: Path) -> None:
    process = start(
        tmp_path, "jam", "--headless", "--sound", "off", "--api", "jack", "--journal", "journals", "--shelf", "s"
    )
    try:
        until(lambda: met(process), "the meeting of engine and front")
    finally:
        process.send_signal(signal.SIGTERM)
        told, _ = process.communicate(timeout=360)
    assert process.returncode == 0 and "Traceback" not in told, told
    assert "without a window nothing can start it" in told, "there are no such signals"
    (journal,) = tmp_path.glob("journals/*.journal")
    assert read_journal(journal).complete
