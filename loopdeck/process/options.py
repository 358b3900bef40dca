"""What an engine is started with, handed from process to process as JSON in one environment
variable.

(Not as arguments: on systems without local sockets the address holds a secret, and everybody can
read arguments.) An engine may also be started before the options are known, to have its modules
loaded by then: the variable says ``WAIT``, and one line of JSON on standard input follows.
"""

import json
import os
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from loopdeck.errors import UserError
from loopdeck.process.children import environment

VARIABLE = "LOOPDECK_ENGINE"
WAIT = "wait"
#: The exit code of an engine that ended in order, but could not save everything.
NOT_SAVED = 3
#: What the name of a session journal ends with.
SUFFIX = ".journal"


@dataclass(frozen=True)
class MidiOptions:
    """The ports. ``api`` "" means no MIDI at all. ``controls`` is the file of a control map ("":
    none) and ``controls_in`` the input it is for; ``follow`` the number of the input whose MIDI
    clock leads (-1: none). ``first_come``: nobody named an input and there was none, so the first
    one that comes is taken.
    """

    api: str = ""
    ins: tuple[str, ...] = ()
    outs: tuple[str, ...] = ()
    controls: str = ""
    controls_in: str = ""
    thru: str = "auto"
    send_clock: bool = False
    follow: int = -1
    first_come: bool = False


@dataclass(frozen=True)
class SoundOptions:
    """The built-in sound. ``way``: auto, on, off, or driven (as fast as the device asks).
    ``route_rest`` is the way of the parts that ``route`` does not name; ``delay_ms`` below 0 is
    what the buffers make; ``buffer`` in frames.
    """

    way: str = "off"
    buffer: int = 256
    route: str = ""
    route_rest: str = "sound"
    device: str = ""
    delay_ms: float = -1.0


@dataclass(frozen=True)
class Options:
    """Everything an engine needs to know. ``front`` is the command that brings back a window that
    was lost. ``corrections`` is the file of measured latencies ("": none is taken off). ``look`` is
    the window's: its theme, and whether it fills the screen. ``pickup`` has the arguments of the
    looper's command of that name (all but the port); empty: no pickup. ``perform``: the built-in
    player plays, and the session ends when it has.
    """

    address: str
    journal: str
    shelf: str
    brief: Mapping[str, Any]
    midi: MidiOptions = MidiOptions()
    sound: SoundOptions = SoundOptions()
    recover: str = "ask"
    headless: bool = False
    resume: bool = False
    front: tuple[str, ...] = ()
    look: Mapping[str, Any] = field(default_factory=lambda: {"theme": "paper", "fullscreen": False})
    engine_pid: int = 0
    perform: bool = False
    corrections: str = ""
    pickup: Mapping[str, Any] = field(default_factory=dict)

    def environment(self, **changes: Any) -> dict[str, str]:
        """The environment for a process that is to know these options, with some changed."""
        return environment({VARIABLE: self.as_json(**changes)})

    def as_json(self, **changes: Any) -> str:
        """One line of JSON, with some changed."""
        return json.dumps(asdict(replace(self, **changes)))


def awaited() -> bool:
    """True when the options of this process are still to come, on standard input."""
    return os.environ.get(VARIABLE) == WAIT


def options_from_environment() -> Options | None:
    """The options this process was started with; None when it was not started as part of
    loopdeck.
    """
    text = sys.stdin.readline() if awaited() else os.environ.get(VARIABLE)
    if not text:
        return None
    found = _known(Options, json.loads(text))
    found["midi"] = MidiOptions(**_known(MidiOptions, found.get("midi", {})))
    found["sound"] = SoundOptions(**_known(SoundOptions, found.get("sound", {})))
    return Options(**found)


def _known(kind: type[Any], found: dict[str, Any]) -> dict[str, Any]:
    """The values of the fields there are; JSON has lists for tuples."""
    known = {one.name for one in fields(kind)}
    return {key: tuple(one) if isinstance(one, list) else one for key, one in found.items() if key in known}


def journal_path(folder: Path) -> Path:
    """The path of a new journal in a folder, named by the moment and the process; the folder is
    made. Raises UserError where nothing can be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        why = "" if os.access(folder, os.W_OK | os.X_OK) else "cannot be written"
    except OSError as error:
        why = f"cannot be made ({error.strerror or error})"
    if why:
        raise UserError(
            f"The journal of what you play goes into {folder}, which {why}; name another folder with --journal."
        )
    return folder / f"{datetime.now():%Y-%m-%d-%H%M%S}-{os.getpid()}{SUFFIX}"
