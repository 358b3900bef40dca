"""Starting processes of our own, safely: what lies in the current folder is never run, and no
signal is lost while they come up.

Theory of operation
    ``python -m`` puts the current folder first on the path, so a ``numpy.py`` or a ``loopdeck``
    that lies there would be run instead of the real one; ``-P`` (Python 3.11) leaves it out.
    Signals that would end a child which has not yet said what it does with them are blocked while
    it is started: a child inherits that (POSIX), the system holds them back, and
    ``ready_for_signals`` lets them through.
"""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import loopdeck

#: What would end a process that does not expect it, and comes from outside.
HELD = ("SIGTERM", "SIGINT", "SIGHUP", "SIGUSR1", "SIGUSR2")


def python_command(module: str, *words: str) -> tuple[str, ...]:
    """The command that runs a module of ours as a program, with these words."""
    return (sys.executable, "-P", "-m", module, *words)


def environment(more: Mapping[str, str] | None = None) -> dict[str, str]:
    """Our environment for a child, with some variables more.

    A source folder that is not installed is on our own path only by being the current folder; the
    child is told where it is.
    """
    found = {**os.environ, "PYTHONSAFEPATH": "1", **(more or {})}
    root = str(Path(loopdeck.__file__).resolve().parents[1])
    if not any(one and os.path.realpath(one) == root for one in sys.path[1:]):
        found["PYTHONPATH"] = os.pathsep.join(one for one in (root, found.get("PYTHONPATH", "")) if one)
    return found


def start_process(
    command: tuple[str, ...], env: Mapping[str, str], stdin: int = subprocess.DEVNULL
) -> "subprocess.Popen[bytes]":
    """Start a process with an ``environment``, in a session of its own: Ctrl-C in a terminal is for
    us, and we pass it on. Raises OSError.
    """
    group = getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
    child: subprocess.Popen[bytes] | None = None
    try:
        with _held():
            child = subprocess.Popen(
                command, env=env, stdin=stdin, start_new_session=os.name != "nt", creationflags=group
            )
            return child
    except BaseException:
        if child is not None:
            # A request to end was held back meanwhile, and nobody will ever know of this process.
            child.kill()
            child.wait()
        raise


def ready_for_signals() -> None:
    """This process has said what it does with signals: let through what was held back since it was
    started.
    """
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, _held_numbers())


@contextmanager
def _held() -> Iterator[None]:
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, _held_numbers())
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _held_numbers() -> set[int]:
    return {int(getattr(signal, name)) for name in HELD if hasattr(signal, name)}
