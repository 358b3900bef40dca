"""Signals to the process in the foreground: what comes before it is ready is remembered, and no
request to end is lost.

Conventions: SIGUSR1 is start-stop and SIGUSR2 is layer, where the system has them; SIGTERM, SIGINT
and SIGHUP ask for the end in order; SIGHUP does not where whoever started us ignores it
(``nohup``).
"""

import signal
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any

ENDING = ("SIGTERM", "SIGINT", "SIGHUP")
STEERING = ("SIGUSR1", "SIGUSR2")
#: So often the main thread is interrupted again, in case the first time was lost in code that
#: swallows exceptions.
AGAIN_SEC = 0.5

_early: list[int] = []
_ending: list[int] = []


def numbers(names: tuple[str, ...]) -> list[int]:
    """Those of these signals that the system has."""
    return [int(getattr(signal, name)) for name in names if hasattr(signal, name)]


def remember_steering() -> None:
    """Call first of all: until ``steer_by_signals`` steering signals are remembered, where by
    default they would end the process.
    """
    if threading.current_thread() is not threading.main_thread():
        return
    for number in numbers(STEERING):
        signal.signal(number, lambda number, frame: _early.append(number))


def remember_ending() -> None:
    """Call first of all: until there is an ``EndRequest``, a request to end ends the process by an
    exception, so that nothing is left half-written and no process behind. Some code swallows
    exceptions (the import of a module can): then it is made once more, or the ``EndRequest`` has
    been asked from its start.
    """
    _ending.clear()
    if threading.current_thread() is not threading.main_thread():
        return
    for number in numbers(ENDING):
        if signal.getsignal(number) in (signal.SIG_DFL, signal.default_int_handler):
            signal.signal(number, _end_at_once)
    if sys.unraisablehook is sys.__unraisablehook__:
        sys.unraisablehook = _swallowed


def end_asked() -> int | None:
    """The exit code of whoever has been asked to end, None where nobody asked. What else goes wrong
    then is owed to that exception: Python turns it into another one in some places.
    """
    if not _ending:
        return None
    return 130 if _ending[0] == signal.SIGINT else 128 + _ending[0]


def _end_at_once(number: int, _frame: Any) -> None:
    _ending.append(number)
    if number == signal.SIGINT:
        raise KeyboardInterrupt
    raise SystemExit(128 + number)


def _swallowed(what: "sys.UnraisableHookArgs") -> None:
    """Python would print a swallowed request to end as an error of ours; it is made once more."""
    if not (_ending and isinstance(what.exc_value, SystemExit | KeyboardInterrupt)):
        sys.__unraisablehook__(what)
        return
    again = threading.Timer(AGAIN_SEC, _ask_again, (_ending[0],))
    again.daemon = True
    # While the interpreter is taken down there are no new threads.
    with suppress(RuntimeError):
        again.start()


def _ask_again(number: int) -> None:
    """Unless an ``EndRequest`` has been made by now, which has been asked already."""
    if signal.getsignal(number) is _end_at_once:
        _signal_main_thread(number)


def _signal_main_thread(number: int) -> None:
    """What the main thread waits for is interrupted where the system has a way to do that."""
    main = threading.main_thread().ident
    if hasattr(signal, "pthread_kill") and main is not None:
        signal.pthread_kill(main, number)
    else:
        signal.raise_signal(number)


def steer_by_signals(steer: Callable[[int], None]) -> None:
    """From now on steering signals call ``steer(number)``, beginning with those that came early."""
    for number in numbers(STEERING):
        signal.signal(number, lambda number, frame: steer(number))
    while _early:
        steer(_early.pop(0))


class EndRequest:
    """Notes that a signal has asked for the end.

    ``interrupt``: also raise KeyboardInterrupt in the main thread, again and again until ``done``
    is called, for code that cannot look at ``asked``.
    """

    def __init__(self, interrupt: bool = False) -> None:
        self._interrupt = interrupt
        self._asked = threading.Event()
        self._done = threading.Event()
        for number in numbers(ENDING):
            if number != getattr(signal, "SIGHUP", 0) or signal.getsignal(number) != signal.SIG_IGN:
                signal.signal(number, self._hear)
        if _ending:
            self._ask_early()

    @property
    def asked(self) -> bool:
        """True once the end has been asked for."""
        return self._asked.is_set()

    def ask(self) -> None:
        """Ask for the end from another thread."""
        _signal_main_thread(signal.SIGINT)

    def done(self) -> None:
        """The request has been heard: further signals of the kind change nothing."""
        self._done.set()
        for number in numbers(ENDING):
            signal.signal(number, signal.SIG_IGN)

    def _hear(self, number: int, frame: Any) -> None:
        if self._done.is_set():
            return
        first = not self._asked.is_set()
        self._asked.set()
        if not self._interrupt:
            return
        if first:
            self._begin_to_insist()
        raise KeyboardInterrupt

    def _ask_early(self) -> None:
        self._asked.set()
        if self._interrupt:
            self._begin_to_insist()

    def _begin_to_insist(self) -> None:
        threading.Thread(target=self._insist, name="end request", daemon=True).start()

    def _insist(self) -> None:
        while not self._done.wait(AGAIN_SEC):
            _signal_main_thread(signal.SIGINT)
