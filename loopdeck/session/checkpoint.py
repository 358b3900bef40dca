"""``python -m loopdeck.session.checkpoint JOURNAL``: follow a session's journal while it is played,
and write its state beside it.

A process of its own, with the lowest claim on the machine: the engine is not kept from playing, and
what it writes down is by construction what a replay of the journal gives. It ends when its standard
input is closed, which the engine's death does.
"""

import gc
import os
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from loopdeck.capture.journal import JournalPosition, JournalReader
from loopdeck.errors import UserError
from loopdeck.session.opening import OpenedSession
from loopdeck.session.replay import Replay
from loopdeck.session.state_file import StateError, replay_of_state, state_bytes, write_state

#: The journal is looked at so often, and the state written when at least so many records or so much
#: time has been added.
EVERY_SEC = 15.0
LEAST_RECORDS = 200
LEAST_SEC = 300.0


class Follower:
    """A replay that keeps up with a journal which is being written."""

    def __init__(self, journal: Path) -> None:
        self._journal = journal
        with JournalReader(journal) as reader:
            found = replay_of_state(state_bytes(journal), reader)
            self._replay = found if found is not None else Replay(reader.header, OpenedSession)
            self._place: JournalPosition = reader.position
        self._written = self._place.records if found is not None else 0
        self._written_sec = time.monotonic()

    def catch_up(self) -> JournalReader:
        """Feed what was added.

        Raises whatever a record does to the looper: there is no state to write down then.
        """
        with JournalReader(self._journal) as reader:
            reader.go_to(self._place)
            for record in reader:
                self._replay.feed(record)
            self._replay.skipped += reader.unreadable
            self._place = reader.position
        return reader

    def write(self, always: bool = False) -> bool:
        """Write the state down, if enough was added. Raises StateError, OSError."""
        reader = self.catch_up()
        added = self._place.records - self._written
        late = time.monotonic() - self._written_sec >= LEAST_SEC
        if reader.complete or not (always or added >= LEAST_RECORDS or (added and late)):
            return False
        with _no_collector():
            write_state(self._journal, reader, self._replay)
        self._written, self._written_sec = self._place.records, time.monotonic()
        return True


@contextmanager
def _no_collector() -> Iterator[None]:
    """Without Python's collector of reference cycles: a state is written as tens of thousands of
    lists without a cycle, and the collector would go through them again and again, which takes a
    third of the time.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _wait_for_the_end(over: threading.Event) -> None:
    """Until standard input is closed; a thread, since not every system can wait for a pipe with a
    time limit.
    """
    while os.read(0, 1024):
        pass
    over.set()


def main() -> int:
    """Follow the journal until standard input is closed."""
    with suppress(OSError, AttributeError):
        os.setpriority(os.PRIO_PROCESS, 0, 15)
    journal = Path(sys.argv[1])
    try:
        follower = Follower(journal)
        over = threading.Event()
        threading.Thread(target=_wait_for_the_end, args=(over,), daemon=True).start()
        while not over.wait(EVERY_SEC):
            follower.write()
    except (StateError, UserError, OSError) as error:
        print(str(error), file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
