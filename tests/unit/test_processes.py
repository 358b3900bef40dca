"""Processes of our own: nothing in the current folder is run, no signal is lost while they come up,
and none is left behind.
"""

import contextlib
import errno
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import CommandRecord, JournalWriter, read_journal
from loopdeck.engine.__main__ import PROCESS_NAME
from loopdeck.errors import UserError
from loopdeck.process import children
from loopdeck.process.alive import alive
from loopdeck.process.children import environment, python_command, start_process
from loopdeck.session.session import Session, header
from tests.waiting import PATIENCE_SEC, until

pytestmark = pytest.mark.skipif(not Path("/proc/self/environ").exists(), reason="processes are looked for in /proc")


class Jam:
    """A ``jam --headless`` without MIDI, in a folder of its own, which is also its current
    folder.
    """

    def __init__(self, folder: Path, *words: str) -> None:
        self.folder = folder
        self.journals = folder / "journals"
        self.mark = str(folder)
        env = {
            **os.environ, "LOOPDECK_TEST": self.mark, "JACK_DEFAULT_SERVER": "loopdeck-none", "JACK_NO_START_SERVER": "1",
            "XDG_DATA_HOME": str(folder / "data"), "XDG_CONFIG_HOME": str(folder / "config"), "PYTHONUNBUFFERED": "1",
        }  # fmt: skip
        # Not the current folder, for this first process of all: a player types "loopdeck", which is
        # a script elsewhere.
        command = [sys.executable, "-P", "-m", "loopdeck", "jam", "--headless", "--sound", "off", *words]
        command += ["--journal", str(self.journals), "--shelf", str(folder / "shelf.sqlite"), "--api", "jack"]
        self.out = (folder / "jam.out").open("w")
        self.process = subprocess.Popen(
            command, env=env, cwd=folder, stdin=subprocess.DEVNULL, stdout=self.out, stderr=subprocess.STDOUT
        )

    def text(self) -> str:
        return (self.folder / "jam.out").read_text()

    def pids(self, words: str) -> list[int]:
        """Processes of this test's with these words in their command line."""
        found = []
        for one in Path("/proc").iterdir():
            if one.name.isdigit():
                with contextlib.suppress(OSError):
                    line = (one / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
                    if words in line and self.mark.encode() in (one / "environ").read_bytes():
                        found.append(int(one.name))
        return found

    def end(self) -> None:
        for pid in self.pids("loopdeck"):
            with contextlib.suppress(OSError):
                os.kill(pid, signal.SIGKILL)
        self.process.wait()
        self.out.close()


@pytest.fixture
def started(tmp_path: Path) -> Iterator[Callable[..., Jam]]:
    made: list[Jam] = []

    def start(*words: str) -> Jam:
        made.append(Jam(tmp_path, *words))
        return made[-1]

    yield start
    for one in made:
        one.end()


def commands(jam: Jam) -> list[str]:
    """The names of the commands in a session's journal so far."""
    paths = list(jam.journals.glob("*.journal")) if jam.journals.exists() else []
    found: list[str] = []
    for path in paths:
        # It stands there for a moment before its head is written.
        with contextlib.suppress(UserError):
            found += [one.name for one in read_journal(path).records if isinstance(one, CommandRecord)]
    return found


def catches(pid: int, number: int) -> bool:
    """Whether a process has a handler for a signal."""
    status = Path(f"/proc/{pid}/status").read_text()
    return bool(int(status.split("SigCgt:")[1].split()[0], 16) >> (number - 1) & 1)


POISON = 'import pathlib\npathlib.Path({path!r}).write_text("run")\nraise SystemExit("poisoned")\n'


def poison(folder: Path) -> Path:
    """Modules lying where the player is, which write a file when they are run.

    Returns that file's path.
    """
    caught = folder / "caught"
    text = POISON.format(path=str(caught))
    (folder / "loopdeck").mkdir()
    for name in (
        "numpy.py",
        "json.py",
        "signal.py",
        "loopdeck/__init__.py",
        "loopdeck/__main__.py",
        "mido.py",
        "rtmidi.py",
    ):
        (folder / name).write_text(text)
    return caught


def lost_session(folder: Path) -> None:
    """A journal whose engine died, with a note in it."""
    folder.mkdir()
    brief = Brief.default()
    with JournalWriter(folder / "2031-05-06-070809-1.journal", header(brief, 0.0)) as writer:
        session = Session(brief, 0.0, writer)
        session.midi(0, bytes((0x90, 40, 90)), 1.0, 1.0)
        session.midi(0, bytes((0x80, 40, 0)), 1.5, 1.5)


def named(pids: list[int]) -> int:
    """The one of these processes that is an engine by its name, and no spare one; 0 for none."""
    for pid in pids:
        with contextlib.suppress(OSError):
            if Path(f"/proc/{pid}/comm").read_text().strip() == PROCESS_NAME:
                return pid
    return 0


def test_nothing_in_the_current_folder_is_run(started: Callable[..., Jam], tmp_path: Path) -> None:
    """By the front, the engine, the engine that takes its place, the recovery of a lost session,
    and the front that is brought back.
    """
    caught = poison(tmp_path)
    lost_session(tmp_path / "journals")
    jam = started("--recover", "keep")
    until(lambda: "on the shelf as take 1" in jam.text(), what="the recovery")
    engine = until(lambda: named(jam.pids("loopdeck.engine")), what="the engine")
    os.kill(engine, signal.SIGKILL)
    until(lambda: "The engine is back" in jam.text(), what="the return of the engine")
    jam.process.kill()
    jam.process.wait()
    back = until(lambda: jam.pids("jam --rejoin"), what="the return of the front")
    time.sleep(1.0)
    os.kill(back[0], signal.SIGTERM)
    until(lambda: not jam.pids("loopdeck"), what="the end")
    assert not caught.exists(), caught.read_text()
    assert all(read_journal(path).complete for path in jam.journals.glob("*.journal"))


def test_a_poisoned_folder_would_be_run_without_our_care(tmp_path: Path) -> None:
    """The test above can fail: this is what plain ``-m`` does."""
    caught = poison(tmp_path)
    subprocess.run(
        [sys.executable, "-m", "loopdeck.engine"], cwd=tmp_path, capture_output=True, timeout=360, check=False
    )
    assert caught.exists()
    caught.unlink()
    done = start_process(python_command("loopdeck.engine"), environment())
    assert done.wait(PATIENCE_SEC) == 2 and not caught.exists()


@pytest.mark.skipif(not hasattr(signal, "SIGUSR1"), reason="no such signals here")
@pytest.mark.parametrize("after_sec", [0.0, 0.1, 0.3, 0.6])
def test_steering_signals_in_the_first_second_do_what_they_say(started: Callable[..., Jam], after_sec: float) -> None:
    """From the moment our first line has run; before, the interpreter itself is coming up."""
    jam = started()
    until(lambda: catches(jam.process.pid, signal.SIGUSR1), what="our first line")
    time.sleep(after_sec)
    jam.process.send_signal(signal.SIGUSR1)
    jam.process.send_signal(signal.SIGUSR2)
    until(lambda: {"start-stop", "layer"} <= set(commands(jam)), what="the layering")
    jam.process.send_signal(signal.SIGTERM)
    assert jam.process.wait(PATIENCE_SEC) == 0
    (path,) = jam.journals.glob("*.journal")
    assert read_journal(path).complete and commands(jam)[:3] == ["thru", "start-stop", "layer"]
    assert "started again" not in jam.text() and "without a word" not in jam.text()


@pytest.mark.parametrize("after_sec", [0.05, 0.2, 0.35, 0.5, 0.7, 1.0])
def test_a_request_to_end_is_heard_whenever_it_comes(started: Callable[..., Jam], after_sec: float) -> None:
    jam = started()
    time.sleep(after_sec)
    jam.process.send_signal(signal.SIGTERM)
    jam.process.wait(PATIENCE_SEC)
    until(lambda: not jam.pids("loopdeck"), "the end of the engine")
    assert "Traceback" not in jam.text()


SWALLOWED = """
import signal, time, weakref
from loopdeck.process import signals
from loopdeck.process.signals import EndRequest, remember_ending

class Module:
    pass

# A shell may have had us started with some of them ignored.
signal.signal(signal.SIGTERM, signal.SIG_DFL)
signal.signal(signal.SIGINT, signal.default_int_handler)
remember_ending()
one, again_sec = Module(), signals.AGAIN_SEC
if "{ending}" == "yes":
    signals.AGAIN_SEC = 60.0  # However busy the machine, not before there is an EndRequest.
lock = weakref.ref(one, lambda _: signal.raise_signal(signal.{name}))
del one  # An exception in such a callback, as the import of a module has them, goes no further.
if "{ending}" == "no":
    time.sleep(60)
assert EndRequest().asked
signals.AGAIN_SEC = again_sec
try:
    end = EndRequest(interrupt=True)
    for _ in range(6000):
        time.sleep(0.01)
except KeyboardInterrupt:
    end.done()
    print("heard")
"""


@pytest.mark.parametrize(("name", "code"), [("SIGTERM", 143), ("SIGINT", -signal.SIGINT)])
@pytest.mark.parametrize("ending", ["yes", "no"])
def test_a_request_to_end_that_an_import_swallows_is_not_lost(name: str, code: int, ending: str) -> None:
    script = SWALLOWED.format(name=name, ending=ending)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=90, check=False)
    if ending == "yes":
        assert (done.stdout, done.stderr, done.returncode) == ("heard\n", "", 0)
    else:
        # By an exception, as without anything that swallows it; SIGTERM itself would be -15.
        assert (done.stdout, done.returncode) == ("", code)


TURNED = """
import importlib, signal, sys
import loopdeck.cli.main as command

class Field:
    def __set_name__(self, owner, name):
        signal.raise_signal(signal.{name})

def load(name):
    class Settings:
        field = Field()  # Python 3.11 makes a RuntimeError of what is raised here.

signal.signal(signal.{name}, signal.SIG_DFL)
importlib.import_module = load
sys.exit(command.main(["{word}"]))
"""


@pytest.mark.parametrize(("name", "code"), [("SIGTERM", 143), ("SIGINT", 130)])
@pytest.mark.parametrize("word", ["jam", "ports"])
def test_a_request_to_end_that_an_import_turns_into_an_error_ends_in_order(name: str, code: int, word: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", TURNED.format(name=name, word=word)],
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
    )
    assert (done.stdout, done.stderr, done.returncode) == ("", "", code)


def test_a_process_that_a_request_to_end_would_leave_alone_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    popen, made = subprocess.Popen, []

    @contextmanager
    def held() -> Iterator[None]:
        yield
        # What was held back is let through.
        raise KeyboardInterrupt

    def start(*words: Any, **more: Any) -> "subprocess.Popen[bytes]":
        made.append(popen(*words, **more))
        return made[-1]

    monkeypatch.setattr(children, "_held", held)
    monkeypatch.setattr(subprocess, "Popen", start)
    with pytest.raises(KeyboardInterrupt):
        start_process((sys.executable, "-c", "import time; time.sleep(60)"), environment())
    assert made[0].returncode is not None


NOHUP = """
import signal
from loopdeck.process.signals import EndRequest
signal.signal(signal.SIGHUP, signal.SIG_{before})
end = EndRequest()
signal.raise_signal(signal.SIGHUP)
print(end.asked)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="this system has no such signal")
@pytest.mark.parametrize(("before", "asked"), [("DFL", "True"), ("IGN", "False")])
def test_a_terminal_that_closes_is_a_request_to_end_but_not_under_nohup(before: str, asked: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", NOHUP.format(before=before)], capture_output=True, text=True, timeout=90, check=False
    )
    assert (done.stdout, done.stderr) == (f"{asked}\n", "")


def test_whether_a_process_lives() -> None:
    child = subprocess.Popen([sys.executable, "-c", "import sys; sys.stdin.read()"], stdin=subprocess.PIPE)
    assert alive(child.pid) and alive(os.getpid()) and not alive(0) and not alive(-1)
    assert child.stdin is not None
    child.stdin.close()
    # Ended, and not yet waited for.
    until(lambda: not alive(child.pid), what="the end")
    child.wait()
    assert not alive(child.pid)


@pytest.mark.parametrize("number", [errno.ENOSYS, errno.EPERM, errno.EMFILE])
def test_a_process_lives_where_no_handle_is_to_be_had(monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    def refused(pid: int) -> int:
        raise OSError(number, "no handle")

    monkeypatch.setattr(os, "pidfd_open", refused, raising=False)
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    assert alive(os.getpid()) and not alive(child.pid)


@pytest.mark.parametrize(
    ("events", "lives"), [([], True), (["exit"], False), (ProcessLookupError, False), (OSError, True)]
)
def test_whether_a_process_lives_on_a_bsd(monkeypatch: pytest.MonkeyPatch, events: Any, lives: bool) -> None:
    """What kqueue says of one that runs, has ended (FreeBSD), is unknown (macOS), is not ours."""

    def control(changes: list[Any], most: int, wait_sec: float) -> Any:
        if isinstance(events, type):
            raise events
        return events

    monkeypatch.delattr(os, "pidfd_open", raising=False)
    queue = SimpleNamespace(control=control, close=lambda: None)
    names = ("KQ_FILTER_PROC", "KQ_EV_ADD", "KQ_EV_ONESHOT", "KQ_NOTE_EXIT")
    for name, value in {"kqueue": lambda: queue, "kevent": lambda *words: words, **dict.fromkeys(names, 1)}.items():
        monkeypatch.setattr(select, name, value, raising=False)
    assert alive(os.getpid()) == lives
