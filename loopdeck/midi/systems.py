"""The MIDI systems of this machine, the ports they list, and the port that a player means.

What a system says aloud while it is asked is swallowed (``quiet``). Our own ports are left out of
every list.
"""

import os
import re
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Any

from loopdeck.errors import UserError
from loopdeck.midi.port import VIRTUAL, System

CLIENT = "loopdeck"
#: A port of a client of ours; JACK numbers clients of one name.
_OURS = re.compile(rf"{CLIENT}( \w+)?(-\d+)?:")
#: A client that took so long to make may not run; so many are tried.
STALLED_SEC, CLIENT_TRIES = 2.0, 4
ASKED_TRIES, ASK_AGAIN_SEC = 3, 0.1
APIS = ("auto", "alsa", "jack")
#: The MIDI systems by the names of RtMidi's constants.
_SYSTEMS = {
    "API_LINUX_ALSA": "ALSA",
    "API_UNIX_JACK": "JACK",
    "API_MACOSX_CORE": "CoreMIDI",
    "API_WINDOWS_MM": "Windows MM",
}


class _Silence:
    """Standard error, turned away as long as any thread asks for it: the first one turns it away,
    the last one back.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._asked, self._kept = 0, -1

    def begin(self) -> None:
        with self._lock:
            self._asked += 1
            if self._asked > 1:
                return
            with suppress(OSError):
                self._kept = os.dup(2)
                nowhere = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nowhere, 2)
                os.close(nowhere)

    def end(self) -> None:
        with self._lock:
            self._asked -= 1
            if self._asked or self._kept < 0:
                return
            os.dup2(self._kept, 2)
            os.close(self._kept)
            self._kept = -1


_SILENCE = _Silence()


@contextmanager
def quiet() -> Iterator[None]:
    """Nothing that is written to standard error meanwhile is seen, not even by libraries that write
    to it directly.
    """
    with suppress(Exception):
        sys.stderr.flush()
    _SILENCE.begin()
    try:
        yield
    finally:
        _SILENCE.end()


def find_system(api: str = "auto") -> System | None:
    """The first MIDI system that answers, of those asked for; None if none answers. Raises
    UserError for an unknown name.
    """
    _check_api(api)
    try:
        import rtmidi
    except ImportError:
        return None
    found = _find(rtmidi, api)
    if found is None:
        return None
    system, probe = found
    probe.delete()
    return system


def named_system(api: str) -> System | None:
    """The MIDI system of this name, whether it answers or not; None for ``auto``, for a system that
    is not of this machine's kind, and without python-rtmidi. Raises UserError for an unknown name.
    """
    _check_api(api)
    try:
        import rtmidi
    except ImportError:
        return None
    for constant, name in _SYSTEMS.items():
        number = getattr(rtmidi, constant)
        if name.lower() == api and number in rtmidi.get_compiled_api():
            return _system(rtmidi, number, name)
    return None


def _system(rtmidi: Any, number: int, name: str) -> System:
    return System(number, name, number != rtmidi.API_WINDOWS_MM)


def new_client(system: System, kind: str, name: str, **more: Any) -> Any:
    """A client of RtMidi's that runs: ``kind`` is ``MidiIn`` or ``MidiOut``.

    Where a client was killed a moment ago, the JACK server waits, up to 5 s by default, for its
    graph to change, and then refuses to run the new one. RtMidi hides the refusal (1.5.8: the
    answer of ``jack_activate`` is thrown away), and such a client would never send or hear a thing.
    So one that took that long is thrown away for another. Measured: 30 ms is usual; 5.0 s after 2
    of 100 kills.
    """
    import rtmidi

    for _ in range(CLIENT_TRIES):
        begun = time.monotonic()
        client = getattr(rtmidi, kind)(system.api, name=name, **more)
        if system.name != "JACK" or time.monotonic() - begun < STALLED_SEC:
            break
        client.delete()
        client = None
    if client is None:
        raise OSError(f"{system.name} does not run a new client")
    return client


def look(api: str = "auto") -> tuple[System | None, list[str], list[str]]:
    """The MIDI system that answers, as ``find_system`` finds it, and what ``list_ports`` finds
    there; with JACK each client takes 30 ms to come up, and this makes two.
    """
    _check_api(api)
    try:
        import rtmidi
    except ImportError:
        return None, [], []
    found = _find(rtmidi, api)
    if found is None:
        return None, [], []
    system, into = found
    with quiet():
        return system, *_names_of(into, rtmidi.MidiOut(system.api, name=f"{CLIENT} list"))


def _find(rtmidi: Any, api: str) -> tuple[System, Any] | None:
    """The first system that answers, and the client that it answered to. One that was asked for by
    name is asked again, for a JACK server that is busy with clients may turn one away.
    """
    for attempt in range(1 if api == "auto" else ASKED_TRIES):
        time.sleep(ASK_AGAIN_SEC if attempt else 0.0)
        if (found := _first_that_answers(rtmidi, api)) is not None:
            return found
    return None


def _first_that_answers(rtmidi: Any, api: str) -> tuple[System, Any] | None:
    names = {getattr(rtmidi, constant): name for constant, name in _SYSTEMS.items()}
    for number in sorted(rtmidi.get_compiled_api(), key=lambda one: one == rtmidi.API_UNIX_JACK):
        name = names.get(number)
        if name is None or api not in ("auto", name.lower()):
            continue
        try:
            with quiet():
                probe = rtmidi.MidiIn(number, name=f"{CLIENT} probe")
        except Exception:
            # RtMidi raises an error of its own, or SystemError, where the system does not answer.
            continue
        return _system(rtmidi, number, name), probe
    return None


def _check_api(api: str) -> None:
    """One that a player can ask for, or one that was found, by its name in lower case."""
    if api not in (*APIS, *map(str.lower, _SYSTEMS.values())):
        raise UserError(f"There is no MIDI system {api!r}; take one of {', '.join(APIS)}.")


def what_is_missing(api: str = "auto") -> str:
    """One sentence saying why there is no MIDI."""
    try:
        import rtmidi
    except ImportError:
        return (
            "There is no MIDI, for python-rtmidi is not installed for this Python "
            "(ready-made for CPython 3.11 and 3.12)"
        )
    there = [name for constant, name in _SYSTEMS.items() if getattr(rtmidi, constant) in rtmidi.get_compiled_api()]
    asked = there if api == "auto" else [name for name in _SYSTEMS.values() if name.lower() == api]
    if len(asked) == 1:
        return f"There is no MIDI: {asked[0]} does not answer"
    return "There is no MIDI: no MIDI system answers" + (f", neither {' nor '.join(asked)}" if asked else "")


def list_ports(system: System) -> tuple[list[str], list[str]]:
    """The names of the inputs and outputs there are now, without our own."""
    import rtmidi

    with quiet():
        into, out = rtmidi.MidiIn(system.api, name=f"{CLIENT} list"), rtmidi.MidiOut(system.api, name=f"{CLIENT} list")
        return _names_of(into, out)


def _names_of(into: Any, out: Any) -> tuple[list[str], list[str]]:
    found = names_seen(into), names_seen(out)
    into.delete()
    out.delete()
    return found


def names_seen(handle: Any) -> list[str]:
    """The names that a client sees, without our own.

    RtMidi raises when a port goes while it is making the list: then once more.
    """
    for _ in range(5):
        with suppress(Exception):
            return foreign(handle.get_ports())
    return []


def foreign(names: Sequence[str] | None) -> list[str]:
    """Without ours: those that others connect to, and the ends of our connections to devices, which
    a system lists as ports as well (``loopdeck:out``).
    """
    return [name for name in names or () if not _OURS.match(name) and not any(own in name for own in VIRTUAL.values())]


def pick(wanted: str, names: Sequence[str], taken: Sequence[str] = ()) -> str | None:
    """The port meant by a part of a name: the very name before one that begins so before one that
    contains it; None for none.
    """
    free = [name for name in names if name not in taken]
    low = wanted.strip().lower()
    if not low:
        return None
    tests: tuple[Callable[[str], bool], ...] = (
        lambda name: name == low,
        lambda name: name.startswith(low),
        lambda name: low in name,
    )
    return next((name for test in tests for name in free if test(name.lower())), None)


def check_wanted(system: System, ins: Sequence[str], outs: Sequence[str], controls: str | None) -> None:
    """Raise UserError, listing what there is, when a wanted port is not there."""
    if not (ins or outs or controls):
        return
    in_names, out_names = list_ports(system)
    for kind, wanted, names in (
        *(("input", one, in_names) for one in ins),
        *(("input", one, in_names) for one in ([controls] if controls else [])),
        *(("output", one, out_names) for one in outs),
    ):
        if wanted == "virtual":
            if not system.virtual:
                raise UserError(f"{system.name} has no virtual ports; name one of: {_words(names)}.")
        elif pick(wanted, names) is None:
            raise UserError(f"There is no MIDI {kind} with {wanted!r} in its name; there {_words(names)}.")


def _words(names: Sequence[str]) -> str:
    if not names:
        return "is none on this machine, but 'virtual' opens one of our own"
    return f"{'is' if len(names) == 1 else 'are'} {', '.join(map(repr, names))}, and 'virtual' opens one of our own"
