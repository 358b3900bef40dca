"""The other half where there is no window: it watches over the engine and prints what the engine
says.

Conventions: one line a sentence on standard output. SIGUSR1 is start-stop and SIGUSR2 is layer,
passed on to the engine; SIGTERM, SIGINT and SIGHUP end the session in order (SIGHUP not under
``nohup``).
"""

import select
import sys
import time
from contextlib import suppress

from loopdeck.process.children import ready_for_signals
from loopdeck.process.options import Options
from loopdeck.process.signals import EndRequest, steer_by_signals
from loopdeck.process.supervise import Supervisor
from loopdeck.protocol.address import LinkError
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import Message, QuestionsPending, Said

#: So often is looked whether the end has come.
LOOK_SEC = 0.1


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


def run(options: Options, supervisor: Supervisor) -> int:
    """Stay until the engine has ended in order, or for good; returns the exit code."""
    end = EndRequest()
    supervisor.start()
    steer_by_signals(supervisor.signal)
    ready_for_signals()
    _listen(options, supervisor, end)
    if end.asked:
        end.done()
        return supervisor.stop()
    return supervisor.code


def _listen(options: Options, supervisor: Supervisor, end: EndRequest) -> None:
    link: LinkClient | None = None
    while not supervisor.ended.is_set() and not end.asked:
        if link is None:
            link = _reach(options)
        elif link.closed:
            # The supervisor is about to find out why, and to start it again.
            time.sleep(LOOK_SEC)
            link.connect()
        else:
            select.select((link,), (), (), LOOK_SEC)
            _speak_all(link)
    if link is not None:
        _speak_all(link)
        link.close()


def _speak_all(link: LinkClient) -> None:
    for one in link.poll():
        if words := words_of(one):
            speak(words)


def _reach(options: Options) -> LinkClient | None:
    with suppress(LinkError):
        return LinkClient(options.address, role="front", wait_sec=LOOK_SEC)
    return None
