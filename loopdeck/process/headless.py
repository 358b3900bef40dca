"""The other half where there is no window: it watches over the engine and prints what the engine says.

Conventions: one line a sentence on standard output. SIGUSR1 is start-stop and SIGUSR2 is layer, passed on to the engine; SIGTERM, SIGINT and
SIGHUP end the session in order.
"""

import select
import signal
import sys
import time
from contextlib import suppress
from typing import Any

from loopdeck.process.options import Options
from loopdeck.process.supervise import Supervisor
from loopdeck.protocol.address import LinkError
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import Message, QuestionsPending, Said

FIRST_SEC = 20.0


def speak(sentence: str) -> None:
    """Print a line; whether anybody still reads does not matter."""
    with suppress(OSError, ValueError):
        print(sentence, flush=True)


def complain(sentence: str) -> None:
    """Print a line on standard error."""
    with suppress(OSError, ValueError):
        print(f"loopdeck: {sentence}", file=sys.stderr, flush=True)


def words_of(one: Message) -> str:
    """What is printed of a message; "" for nothing."""
    match one:
        case Said():
            return one.text
        case QuestionsPending(questions=questions) if questions:
            return f"{questions[0].text} (loopdeck jam --recover keep does it.)"
    return ""


class _EndError(Exception):
    """A signal asked for the end."""


def run(options: Options, supervisor: Supervisor) -> int:
    """Stay until the engine has ended in order, or for good; returns the exit code."""

    def end(number: int, frame: Any) -> None:
        raise _EndError

    for name in ("SIGTERM", "SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), end)
    for name in ("SIGUSR1", "SIGUSR2"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda number, frame: supervisor.signal(number))
    try:
        supervisor.start()
        _listen(options, supervisor)
    except _EndError:
        for name in ("SIGTERM", "SIGINT", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(getattr(signal, name), signal.SIG_IGN)
        return supervisor.stop()
    return supervisor.code


def _listen(options: Options, supervisor: Supervisor) -> None:
    link = _reach(options, supervisor)
    while not supervisor.ended.is_set():
        if link is None or link.closed:
            # The supervisor is about to find out why, and to start it again.
            time.sleep(0.1)
            if link is None:
                link = _reach(options, supervisor)
            else:
                link.connect()
            continue
        select.select((link,), (), (), 0.5)
        for one in link.poll():
            if words := words_of(one):
                speak(words)
    if link is not None:
        for one in link.poll():
            if words := words_of(one):
                speak(words)
        link.close()


def _reach(options: Options, supervisor: Supervisor) -> LinkClient | None:
    until = time.monotonic() + FIRST_SEC
    while not supervisor.ended.is_set() and time.monotonic() < until:
        with suppress(LinkError):
            return LinkClient(options.address, role="front", wait_sec=0.2)
    return None
