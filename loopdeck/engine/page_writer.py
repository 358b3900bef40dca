"""The page writer, as the engine sees it: the commands that write the loop, or a take, out as tab.

Theory of operation
    A process of its own (``page_writing``) does the work, at a lower priority: fingering and
    engraving would hold up the thread that plays. A thread here waits for it and hands on what it
    says. One page is written at a time.
"""

import json
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from loopdeck.engine.page_writing import layers_as_json
from loopdeck.looper.machine import Looper
from loopdeck.process.children import environment, python_command
from loopdeck.process.priority import reset_priority
from loopdeck.theory.programs import is_guitar

Say = Callable[[str, bool], None]
BUSY = "The page before is still being written; ask again in a moment."
NO_LAYER = "There is no layer to write out; Space loops what you just played."
ALL_MUTED = "All layers are muted; choose one to write it out."
NO_KEEP = "Nothing was kept yet in this session; F5 keeps, and then its page can be written."


class PageWriter:
    """``say(text, wrong)`` is called in a thread of its own when a page is written, and at once for
    what cannot be. ``kept`` is the number of the take kept last, None before the first.
    """

    def __init__(self, shelf: Path, looper: Looper, say: Say) -> None:
        self._shelf, self._looper, self._say = shelf, looper, say
        self.kept: int | None = None
        self._thread: threading.Thread | None = None

    def acts(self) -> dict[str, Callable[[dict[str, Any]], None]]:
        """The commands it carries out."""
        return {"write-loop": self._write_loop, "write-take": self._write_take}

    def wait(self, sec: float) -> bool:
        """Wait for the page that is being written; True when none is any more."""
        if self._thread is not None:
            self._thread.join(sec)
        return self._thread is None or not self._thread.is_alive()

    def _write_loop(self, args: dict[str, Any]) -> None:
        active, layer = self._looper.layers(), args["layer"]
        if layer == "all":
            heard = [one for one in active if one.number not in self._looper.muted]
            # What a guitar plays has no place on the strings of the bass.
            layers = [one for one in heard if not is_guitar(one.program)] or heard
        else:
            layers = [one for one in active if one.number == layer]
        if not layers:
            self._say(NO_LAYER if not active else ALL_MUTED if layer == "all" else f"There is no layer {layer}.", True)
            return
        self._begin({"layers": layers_as_json(layers), "brief": self._looper.brief.to_dict()})

    def _write_take(self, args: dict[str, Any]) -> None:
        take = args.get("take", self.kept)
        if take is None:
            self._say(NO_KEEP, True)
            return
        self._begin({"take": take})

    def _begin(self, job: dict[str, Any]) -> None:
        if not self.wait(0):
            self._say(BUSY, True)
            return
        text = json.dumps({**job, "shelf": str(self._shelf)})
        self._thread = threading.Thread(target=self._run, args=(text,), name="page writer", daemon=True)
        self._thread.start()

    def _run(self, job: str) -> None:
        pipe = subprocess.PIPE
        command = python_command("loopdeck.engine.page_writing")
        try:
            child = subprocess.Popen(command, env=environment(), stdin=pipe, stdout=pipe, stderr=pipe, text=True)
        except OSError as error:
            self._say(f"The page cannot be written: {error.strerror or error}.", True)
            return
        reset_priority(child.pid)
        out, errors = child.communicate(job)
        if child.returncode:
            why = (errors.strip().splitlines() or ["it ended without saying why"])[-1]
            self._say(f"The page was not written: {why}", True)
            return
        said = json.loads(out)
        self._say(said["text"], said["wrong"])
