"""``python -m loopdeck.engine.listening``: the process that listens. It joins the engine like a
window, and after each pass says what it brought.

It gives way to everybody else, keeps nothing on the disk, and ends when the engine does.
"""

import gc
import select
import signal
import sys
import time
from collections.abc import Callable

from loopdeck.analysis.live_passes import LivePasses
from loopdeck.engine.free_listener import FreeListener
from loopdeck.engine.pass_collector import PassCollector
from loopdeck.process.children import ready_for_signals
from loopdeck.process.options import options_from_environment
from loopdeck.process.priority import lower_priority
from loopdeck.protocol.address import LinkError
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import LISTENER, Bye, Message, PassHeard, PassRiff, TempoGuessed

#: So often it looks whether playing before the start has come to a pause.
LOOK_SEC = 0.5


class PassListener:
    """Messages of the engine in, a ``PassHeard`` out for each pass, a ``TempoGuessed`` for playing
    before the start. ``now``: seconds.
    """

    def __init__(self, now: Callable[[], float] = time.perf_counter) -> None:
        self._now = now
        self._collector = PassCollector()
        self._passes = LivePasses()
        self._free = FreeListener()

    def receive(self, message: Message) -> PassHeard | None:
        """Take in one message; the answer when a pass has ended by it."""
        self._free.receive(message, self._now())
        ended = self._collector.receive(message)
        if ended is None:
            return None
        found = self._passes.heard(ended, self._collector.brief)
        riffs = tuple(PassRiff(*one) for one in found.riffs)
        return PassHeard(time_sec=self._now(), pass_index=ended.pass_index, **found._replace(riffs=riffs)._asdict())

    def guess(self) -> TempoGuessed | None:
        """What playing before the start sounds like, when it is time to say so."""
        return self._free.guess(self._now())


def listen(client: LinkClient, listener: PassListener) -> None:
    """Until the engine says goodbye or is gone."""
    while not client.closed:
        select.select((client,), (), (), LOOK_SEC)
        for message in client.poll():
            if isinstance(message, Bye):
                client.close()
                return
            if (heard := listener.receive(message)) is not None:
                client.send(heard)
        if (guess := listener.guess()) is not None:
            client.send(guess)


def main() -> int:
    """Listen to the engine of the environment; returns the exit code."""
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(0))
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    ready_for_signals()
    lower_priority(at_once=True)
    # What is loaded stays: there is nothing in it for the collector of cycles to find.
    gc.freeze()
    options = options_from_environment()
    if options is None:
        print("loopdeck: The process that listens is started by loopdeck jam, not by hand.", file=sys.stderr)
        return 2
    try:
        client = LinkClient(options.address, role=LISTENER)
    except LinkError:
        # The engine has ended meanwhile.
        return 0
    listen(client, PassListener())
    return 0


if __name__ == "__main__":
    sys.exit(main())
