"""Killing a process on purpose at a chosen point of the product's code, without the product knowing
of it.

Conventions
    A point is ``module:Class.method`` (or ``module:function``) and ``before``, ``midway`` or
    ``after``: the process is killed with SIGKILL when the method is entered, in the middle of its
    first write to a file, or when it has returned, for the nth time. ``run_killed`` forks a child
    that plays and is killed; nothing of it is left but its files and what it told through a pipe.
"""

import functools
import importlib
import os
import pickle
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any, NamedTuple


class KillPoint(NamedTuple):
    """Where a process is killed: the ``count``-th time."""

    place: str
    when: str
    count: int


def die() -> None:
    """Be killed, as by ``kill -9``."""
    os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(10.0)


def arm(point: KillPoint) -> None:
    """Make this process die at a point.

    There is no way back: only for a child that was forked for it.
    """
    module, _, path = point.place.partition(":")
    *owners, name = path.split(".")
    owner: Any = importlib.import_module(module)
    for one in owners:
        owner = getattr(owner, one)
    method, left = getattr(owner, name), [point.count]

    @functools.wraps(method)
    def deadly(*args: Any, **more: Any) -> Any:
        left[0] -= 1
        if left[0] == 0 and point.when == "before":
            die()
        if left[0] == 0 and point.when == "midway":
            _break_writing(args[0])
        found = method(*args, **more)
        if left[0] == 0:
            die()
        return found

    setattr(owner, name, deadly)


class _HalfAFile:
    """Stands before a journal's file: writes half of what it is given, and dies."""

    def __init__(self, file: Any) -> None:
        self._file = file

    def write(self, data: bytes) -> int:
        self._file.write(bytes(data)[: len(data) // 2])
        die()
        return 0

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)


def _break_writing(writer: Any) -> None:
    if getattr(writer, "_waiting", None):
        writer._file = _HalfAFile(writer._file)


def run_killed(play: Callable[[Callable[[Any], None]], None], after_sec: float | None = None) -> tuple[list[Any], bool]:
    """Run ``play(tell)`` in a child; returns what it told, and whether it was killed.
    ``after_sec``: killed from outside then, at the latest.

    Raises AssertionError when the child fails in any other way.
    """
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        code = 70
        with suppress(BaseException):
            os.close(ours)
            with os.fdopen(theirs, "wb", buffering=0) as pipe:
                try:
                    play(lambda what: pipe.write(pickle.dumps(what)) and None)
                    code = 0
                except BaseException as error:
                    pipe.write(pickle.dumps(AssertionError(f"the child failed: {error!r}")))
        os._exit(code)
    os.close(theirs)
    if after_sec is not None:
        time.sleep(after_sec)
        os.kill(child, signal.SIGKILL)
    told: list[Any] = []
    with os.fdopen(ours, "rb") as pipe, suppress(EOFError, pickle.UnpicklingError):
        while True:
            told.append(pickle.load(pipe))
    _, status = os.waitpid(child, 0)
    for one in told:
        if isinstance(one, AssertionError):
            raise one
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    assert killed or os.waitstatus_to_exitcode(status) == 0
    return told, killed
