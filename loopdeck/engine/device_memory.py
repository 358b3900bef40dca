"""What was chosen while playing, on the disk: in the settings for the next start, and beside the
journal for an engine that takes this session up again.

Conventions: a thread of its own writes; ``say(sentence)`` is called in it when that fails. The file
beside the journal is JSON: ``{"version": 1, "chosen": [["in", 0, "a pickup"], ...], "controls":
"pedals"}``; it goes when the session ends in order.
"""

import json
import queue
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from loopdeck.atomic import whole_file
from loopdeck.settings import change_settings

VERSION = 1
SUFFIX = ".devices"
END_SEC = 3.0
#: Roles of ports and of the sound device.
IN, OUT, CONTROLS, SOUND = "in", "out", "controls", "sound"


@dataclass
class Chosen:
    """The choices of a session: the name for each (role, number), and the control map."""

    names: dict[tuple[str, int], str] = field(default_factory=dict)
    controls: str = ""

    @property
    def sound(self) -> str | None:
        """The sound device; None where none was chosen."""
        return self.names.get((SOUND, 0))


def beside(journal: str) -> Path:
    """The file of a session by its journal."""
    return Path(journal).with_suffix(SUFFIX)


def read_chosen(journal: str) -> Chosen:
    """What was chosen in a session that is taken up again; nothing where that cannot be told."""
    chosen = Chosen()
    with suppress(OSError, ValueError, TypeError, KeyError, OverflowError, RecursionError):
        found = json.loads(beside(journal).read_text(encoding="utf-8"))
        if found["version"] == VERSION:
            names = {(str(role), int(number)): str(name) for role, number, name in found["chosen"]}
            chosen = Chosen(names, str(found["controls"]))
    return chosen


class DeviceMemory:
    """Remembers; ``chosen`` is what was chosen so far in this session."""

    def __init__(self, journal: str, chosen: Chosen, say: Callable[[str], None]) -> None:
        self.chosen = chosen
        self._path = beside(journal)
        self.say = say
        self._jobs: queue.SimpleQueue[Callable[[], None] | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def remember(self, changed: dict[str, Any]) -> None:
        """Write ``chosen`` beside the journal, and these settings for the next start."""
        body = {
            "version": VERSION,
            "chosen": [[role, number, name] for (role, number), name in self.chosen.names.items()],
            "controls": self.chosen.controls,
        }
        self.do(lambda: self._write(json.dumps(body), changed))

    def do(self, work: Callable[[], None]) -> None:
        """Something else for the thread."""
        self._jobs.put(work)
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="device memory", daemon=True)
            self._thread.start()

    def end(self) -> None:
        """The session has ended in order: what waits is written, and what was chosen here stands
        in the settings only.
        """
        if self._thread is not None:
            self._jobs.put(None)
            self._thread.join(END_SEC)
        with suppress(OSError):
            self._path.unlink()

    def _run(self) -> None:
        while (work := self._jobs.get()) is not None:
            work()

    def _write(self, body: str, changed: dict[str, Any]) -> None:
        with suppress(OSError), whole_file(self._path) as file:
            file.write(body.encode())
        try:
            if changed:
                change_settings(**changed)
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            self.say(
                f"It is in use now, but cannot be remembered for the next start ({where}{error.strerror or error})."
            )
