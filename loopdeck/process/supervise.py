"""Watching over the engine from the other half: start it, notice its death, take its session up
again in a new one.

Conventions: sentences for the player go to ``say``. Exit codes of an engine: 0 ended in order, 2 a
wrong input (it has said so), 3 ended in order but not everything could be saved (it has said so),
anything else a death. A supervisor either started its engine or adopted one by its process id (when
it was brought back by that very engine).
"""

import os
import signal
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress

from loopdeck.capture.journal import finished
from loopdeck.process.alive import alive
from loopdeck.process.children import environment, python_command, start_process
from loopdeck.process.options import NOT_SAVED, VARIABLE, WAIT, Options
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import Command

#: More deaths than this in so many seconds: starting it again will not help.
MOST_DEATHS, DEATHS_SEC = 4, 30.0
STOP_SEC = 12.0
#: A spare engine is loaded so long after the one that plays: a start is left alone, and so is a row
#: of deaths.
SPARE_AFTER_SEC = 3.0
COMMAND = python_command("loopdeck.engine")


def warm_engine() -> "subprocess.Popen[bytes]":
    """Start an engine that loads its modules and waits for its options; a Supervisor takes it, or
    one closes its standard input.
    """
    return start_process(COMMAND, environment({VARIABLE: WAIT}), stdin=subprocess.PIPE)


class Supervisor:
    """One engine, kept alive.

    ``ended`` is set when it ended in order, or for good; ``code`` is then the exit code to pass on.
    """

    def __init__(
        self,
        options: Options,
        say: Callable[[str], None],
        on_end: Callable[[], None] = lambda: None,
        warm: "subprocess.Popen[bytes] | None" = None,
        on_death: Callable[[], None] = lambda: None,
    ) -> None:
        """``on_end`` is called when the engine has ended for good; ``on_death``, in a thread of its
        own, whenever it has died and another one is coming up.
        """
        self.options = options
        self._warm = warm
        self._warm_lock = threading.Lock()
        self._say, self._on_end, self._on_death = say, on_end, on_death
        self._child: subprocess.Popen[bytes] | None = None
        self._pid = options.engine_pid
        self._stopping = False
        self._started = self._watching = False
        self._deaths: deque[float] = deque()
        self.ended = threading.Event()
        self.code = 0

    def start(self) -> None:
        """Start the engine, or adopt the one named by the options, and watch over it from now on.

        A second call does nothing.
        """
        if self._started:
            return
        self._started = True
        if not self._pid:
            self._spawn(False)
        self._watching = True
        threading.Thread(target=self._run, name="supervisor", daemon=True).start()

    def stop(self) -> int:
        """Ask the engine to end in order, and wait for it; returns the exit code."""
        self._stopping = True
        if self.ended.is_set():
            return self.code
        if not self._watching:
            # Interrupted while starting: nothing has been played yet.
            for child in (self._child, self._warm):
                if child is not None:
                    child.terminate()
            return self.code
        self._ask_to_end()
        if not self.ended.wait(STOP_SEC):
            self._say("The engine does not end; it is killed, and its session is offered at the next start.")
            self.signal(getattr(signal, "SIGKILL", signal.SIGTERM))
            self.ended.wait(2.0)
        return self.code

    def signal(self, number: int) -> None:
        """Pass a signal on to the engine."""
        with suppress(OSError):
            os.kill(self._pid, number)

    def _ask_to_end(self) -> None:
        if os.name != "nt":
            self.signal(signal.SIGTERM)
            return
        # There a signal would end it on the spot.
        with suppress(OSError):
            link = LinkClient(self.options.address, role="supervisor", wait_sec=2.0)
            link.send(Command(time_sec=time.perf_counter(), name="quit"))
            link.close(bye=False)

    def _load_spare(self) -> None:
        """Have an engine ready that has loaded its modules, which is most of what a restart takes.

        It ends when its input is closed.
        """
        with self._warm_lock:
            if self._warm is None and not self._stopping and not self.ended.is_set():
                with suppress(OSError):
                    self._warm = warm_engine()

    def _take_warm(self) -> "subprocess.Popen[bytes] | None":
        with self._warm_lock:
            warm, self._warm = self._warm, None
        return warm

    def _spawn(self, resume: bool) -> None:
        warm = self._take_warm()
        if warm is not None and warm.stdin is not None and warm.poll() is None:
            # If it has died meanwhile, its exit code tells, and it is started again.
            with suppress(OSError):
                warm.stdin.write(self.options.as_json(engine_pid=0, resume=resume).encode() + b"\n")
                warm.stdin.close()
            self._child = warm
        else:
            self._child = start_process(COMMAND, self.options.environment(engine_pid=0, resume=resume))
        self._pid = self._child.pid

    def _run(self) -> None:
        while True:
            spare = threading.Timer(SPARE_AFTER_SEC, self._load_spare)
            spare.daemon = True
            spare.start()
            code = self._child.wait() if self._child is not None else self._wait_adopted(self._pid)
            spare.cancel()
            if code in (0, 2, NOT_SAVED) or self._stopping:
                self._end(code if code in (0, 2, NOT_SAVED) else 1)
                return
            now = time.monotonic()
            while self._deaths and self._deaths[0] < now - DEATHS_SEC:
                self._deaths.popleft()
            self._deaths.append(now)
            how = f"was killed by signal {-code}" if code < 0 else "died"
            if len(self._deaths) > MOST_DEATHS:
                self._say(
                    f"The engine {how} again and again, so it is not started any more; the session's journal is "
                    f"{self.options.journal}."
                )
                self._end(1)
                return
            self._say(f"The engine {how}; it is started again with everything that was played.")
            self._spawn(True)
            # A MIDI system may take seconds to let it be done; the next engine is watched over as
            # far as RtMidi lets other threads run.
            threading.Thread(target=self._on_death, name="after a death", daemon=True).start()
            if self._stopping:
                # Whoever asked for the end a moment ago asked the one that had died.
                self._ask_to_end()

    def _end(self, code: int) -> None:
        self.code = code
        # In this order: who waits for the end is then past whatever that did.
        self._on_end()
        self.ended.set()
        spare = self._take_warm()
        if spare is not None:
            # It has nothing that could be lost.
            spare.kill()
            spare.wait()

    def _wait_adopted(self, pid: int) -> int:
        """Wait for the end of a process that is not our child; 0 when its journal says that it
        ended in order.
        """
        while alive(pid):
            time.sleep(0.1)
        try:
            return 0 if finished(self.options.journal) else 1
        except OSError:
            return 1
