"""MIDI inputs and outputs: found by a part of their name, lost and found again while everything
else goes on.

Task
    python-rtmidi neither says that a device has gone nor that one has come, so a thread looks at
    the port list once a second. What it finds is told by ``on_change``; the thread that plays only
    ever sends, and never waits for a port.

Conventions
    A wanted port is a part of a name, upper or lower case alike, or ``virtual`` for a port of our
    own. Inputs are numbered from 0 in the order wanted; the pedal board's own input, if there is
    one, follows. What comes in is told as ``(input, bytes as they came, the driver's delta time in
    seconds)``: by a callback in a thread of the MIDI system, or, with JACK, by ``poll``.

Why not a callback with JACK: it would run inside JACK's own cycle, which lasts a millisecond or so,
and wait there for the interpreter; a cycle that is missed loses its MIDI (measured: single
messages, on a busy machine). RtMidi's queue is filled without the interpreter and emptied by
``poll``; the driver's delta times are taken before that, so stamps lose nothing.

Methods: a JACK server that dies takes everything with it without a word in the port list, and
sending then fills a buffer and never comes back, so ``jack_client`` tells of that death, and the
dead ports are left alone. Measured: a JACK port that is opened costs 7 ms, a list 0.4 ms.

Why ``except Exception`` around calls of RtMidi: while a device or server vanishes it raises its own
errors, SystemError or UnicodeDecodeError, and each means only that the port is not there now. The
next look, a second later, tries again.
"""

import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from typing import Any

from loopdeck.errors import UserError
from loopdeck.midi.connections import LEAVE_SEC, ConnectionFile
from loopdeck.midi.own_ports import OwnPorts
from loopdeck.midi.port import ALL_OFF, CONNECTED, LOOKING, NONE, OPEN, VIRTUAL, Port, System
from loopdeck.midi.port_requests import PortRequest, PortRequests, gone_words, row_of
from loopdeck.midi.systems import CLIENT, find_system, foreign, names_seen, new_client, pick, quiet

LOOK_EVERY_SEC = 1.0
#: So long the thread that watches is waited for at the end; the MIDI system may hold it up longer.
END_SEC = 2.0
#: A port that is to be there at once is tried so often, with so long in between.
REACH_TRIES, REACH_AGAIN_SEC = 5, 0.2
#: How often a MIDI system that has gone is tried again, in looks.
TRY_EVERY_LOOKS = 3
#: Messages that RtMidi's own queue holds until it is polled.
QUEUE = 8192


def _client(system: System, out: bool) -> Any:
    """A client of the MIDI system, to open one port with."""
    if out:
        return new_client(system, "MidiOut", CLIENT)
    handle = new_client(system, "MidiIn", CLIENT, queue_size_limit=QUEUE)
    # Clocks and system exclusive messages are wanted; active sensing only says that the cable is
    # there.
    handle.ignore_types(sysex=False, timing=False, active_sense=True)
    return handle


def _delete(handles: Sequence[Any]) -> None:
    for handle in handles:
        with suppress(Exception), quiet():
            handle.close_port()
            handle.delete()


class Ports:
    """All ports of a session.

    ``on_change(port, sentence)`` is told of each one that goes or comes, in the watching thread.
    """

    def __init__(
        self,
        system: System,
        ins: Sequence[str],
        outs: Sequence[str],
        controls: str | None,
        on_midi: Callable[[int, bytes, float], None],
        on_change: Callable[[Port, str], None] = lambda port, sentence: None,
        memory: ConnectionFile | None = None,
    ) -> None:
        """``memory``: where it is noted who is connected to ports of our own, so that they are
        connected again.
        """
        self.system = system
        self._on_midi, self._on_change = on_midi, on_change
        rows = [Port("in", wanted, number) for number, wanted in enumerate(ins)]
        if controls is not None:
            rows.append(Port("controls", controls, len(ins)))
        self.ports = rows + [Port("out", wanted) for wanted in outs]
        self._sort()
        self._lock = threading.Lock()
        self._lists: tuple[Any, Any] | None = None
        self._dead = threading.Event()
        #: Of a dead server (closing takes a second each), of our own ports let go of, or in use.
        self.abandoned: list[Any] = []
        self._own = OwnPorts(system.name, memory)
        self._requests = PortRequests()
        self._thread: threading.Thread | None = None
        #: Told what inputs and outputs there are after each look, in the watching thread.
        self.on_list: Callable[[list[str], list[str]], None] = lambda ins, outs: None

    # ---- for the thread that plays ---------------------------------------------------------------

    def send(self, data: bytes) -> None:
        """Send to every output that is there.

        Never raises, never waits (the lock is only ever held for a few assignments).
        """
        with self._lock:
            if self._dead.is_set():
                return
            for port in self._outs:
                if port.live:
                    with suppress(Exception):
                        port.handle.send_message(data)

    def silence(self) -> None:
        """All sound off and all notes off on every channel of every output (MIDI 1.0, channel mode
        messages 120 and 123).
        """
        for message in ALL_OFF:
            self.send(message)

    def poll(self) -> bool:
        """Take in what waits in the queues (where ``polled`` is set); True when there was
        something. Never waits.
        """
        found = False
        for port in self._ins:
            handle = port.handle
            while port.live and handle is not None and (event := handle.get_message()) is not None:
                found = True
                self._hear(event, port)
        return found

    def choose(self, role: str, number: int, wanted: str, lasting: str) -> None:
        """Use another device from now on; the thread that watches does it, and ``on_change`` is
        told. ``number`` counts inputs as usual, outputs from 0; see PortRequest.
        """
        self._requests.put(PortRequest(role, number, wanted, lasting))

    # ---- opening and watching --------------------------------------------------------------------

    def open(self) -> None:
        """Connect what is there; call before ``watch``. A MIDI system that does not answer is
        looked for like a port that has gone.
        """
        if self._begin():
            self._look()
        else:
            for port in self.ports:
                self._on_change(
                    port, f"{self.system.name} does not answer, so {port.shown} is not there; looking for it."
                )

    def watch(self) -> None:
        """Look for ports that go and come from now on."""
        self._thread = threading.Thread(target=self._run, name="ports", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop looking and close every port."""
        self._requests.stop()
        if self._thread is not None:
            self._thread.join(END_SEC)
        handles = (*(port.handle for port in self.ports), *(self._lists or ()))
        if self._dead.is_set():
            self._forget_system()
        elif self._thread is not None and self._thread.is_alive():
            # What it is using must not be taken away from it.
            self.abandoned += handles
        else:
            _delete(handles)
            self._own.close()
        self._own.leave()

    def devices(self) -> list[dict[str, str]]:
        """What the window shows: role, name and state of every port."""
        rows = [{"role": port.role, "name": port.shown, "state": port.state} for port in self.ports]
        roles = {port.role for port in self.ports}
        return rows + [{"role": role, "name": "", "state": NONE} for role in ("in", "out") if role not in roles]

    def _run(self) -> None:
        looks = 0
        while self._requests.sleep(LOOK_EVERY_SEC):
            looks += 1
            if self._dead.is_set():
                self._forget_system()
                if looks % TRY_EVERY_LOOKS == 0 and find_system(self.system.name.lower()) is not None:
                    self._begin()
            while (request := self._requests.take()) is not None:
                self._grant(request)
            if self._lists is not None:
                self._look()

    def _grant(self, request: PortRequest) -> None:
        """Let go of what is there, and take what is wanted; where that has gone, nothing
        changes.
        """
        out, name = request.role == "out", request.wanted
        port = row_of(request, self.ports)
        if self._lists is None or (name not in ("", "virtual") and name not in names_seen(self._lists[out])):
            self._on_change(Port("refused", name), gone_words(name, port))
            return
        if port is None:
            port = Port(request.role, request.lasting, -1 if out else request.number)
            self.ports = [*self.ports, port]
            self._sort()
        self._let_go(port)
        port.wanted, port.state = request.lasting, LOOKING if name else NONE
        with suppress(Exception), quiet():
            # Without a client of the system, the next look finds nothing to open either.
            port.handle = port.handle or _client(self.system, out)
        if name and port.handle is not None:
            self._open_as(port, VIRTUAL[port.role] if name == "virtual" else name)

    def _sort(self) -> None:
        """Outputs and inputs apart; with JACK inputs have to be polled."""
        self._outs = [port for port in self.ports if port.role == "out"]
        self._ins = [port for port in self.ports if port.role != "out"]
        self.polled = self.system.name == "JACK" and bool(self._ins)

    def _let_go(self, port: Port) -> None:
        """Close a port that is not wanted any more; what hangs on it is silenced first. A port of
        our own goes with its client.
        """
        if not port.live:
            return
        if port.role == "out":
            with self._lock, suppress(Exception):
                for message in ALL_OFF:
                    port.handle.send_message(message)
            time.sleep(LEAVE_SEC)
        own, handle = port.wanted == "virtual", port.handle
        self._shut(port)
        if own:
            # The thread that plays may be asking this client at this very moment: it is kept.
            self._own.closed(VIRTUAL[port.role])
            port.handle = None
            self.abandoned.append(handle)
        self._on_change(port, "")

    def _open_as(self, port: Port, name: str) -> None:
        if port.wanted == "virtual":
            self._own.opened(name, port.role == "out", partial(self._open, port, name))
        else:
            self._open(port, name)

    def _begin(self) -> bool:
        """Make our clients, and open our own ports, which others connect to.

        False when the system does not let us.
        """
        made: list[Any] = []
        self._dead.clear()
        try:
            with quiet():
                for port in (None, None, *self.ports):
                    made.append(_client(self.system, len(made) == 1 if port is None else port.role == "out"))
                self._own.begin(self._dead.set)
        except Exception:
            # What was made so far is left alone: closing it may take a second each.
            self.abandoned += made
            self._dead.set()
            return False
        self._lists = (made[0], made[1])
        for port, handle in zip(self.ports, made[2:], strict=True):
            port.handle = handle
        for port in self.ports:
            if port.wanted == "virtual":
                self._open_as(port, VIRTUAL[port.role])
        self._own.restore()
        return True

    def _look(self) -> None:
        assert self._lists is not None
        try:
            in_names, out_names = (foreign(handle.get_ports()) for handle in self._lists)
        except Exception:
            return
        for port in self.ports:
            out = port.role == "out"
            if not port.wanted:
                continue
            if port.wanted == "virtual":
                if not out:
                    self._look_at_own(port)
                continue
            names = out_names if out else in_names
            if port.live and port.name not in names:
                self._lose(port)
            if not port.live:
                others = [one for one in self.ports if one is not port and one.live and (one.role == "out") == out]
                found = pick(port.wanted, names, [one.name for one in others])
                if found is not None:
                    self._open(port, found)
        # Whoever is told of a new device knows by then whether somebody has connected to ours.
        self.on_list(in_names, out_names)
        self._own.note([port.name for port in self._outs if port.live and port.wanted != "virtual"])

    def _look_at_own(self, port: Port) -> None:
        """Whether somebody is connected to an input of our own; where the system does not tell, the
        first message does.
        """
        connected = self._own.is_connected(port.name) if port.live else None
        state = port.state if connected is None else CONNECTED if connected else OPEN
        if state != port.state:
            port.state = state
            self._on_change(port, f"{port.shown} is {state}.")

    def _lose(self, port: Port) -> None:
        name = port.shown
        self._shut(port)
        self._on_change(port, f"{name} is gone; looking for it.")

    def _open(self, port: Port, name: str) -> None:
        try:
            with quiet():
                if port.role != "out" and not self.polled:
                    # Each time anew: closing a port drops its callback.
                    port.handle.set_callback(self._hear, port)
                if port.wanted == "virtual":
                    port.handle.open_virtual_port(name)
                else:
                    title = "out" if port.number < 0 else f"{port.role} {port.number + 1}"
                    if not self._own.open_end(port.handle, name, title, port.role == "out"):
                        # It went between the list and the opening: the next look tells.
                        return
        except Exception:
            with suppress(Exception):
                port.handle.close_port()
            return
        with self._lock:
            port.live, port.name = True, name
        port.state = OPEN if port.wanted == "virtual" else CONNECTED
        self._on_change(port, f"{port.shown} is {port.state}.")

    def _hear(self, event: tuple[list[int], float], port: Port) -> None:
        if port.state == OPEN:
            port.state = CONNECTED
            self._on_change(port, f"{port.shown} is connected.")
        self._on_midi(port.number, bytes(event[0]), event[1])

    def _shut(self, port: Port) -> None:
        with self._lock:
            port.live, port.name = False, ""
        port.state = LOOKING
        with suppress(Exception), quiet():
            port.handle.close_port()

    def _forget_system(self) -> None:
        """The MIDI system died: forget everything of it, without touching it."""
        if self._lists is None:
            return
        self.on_list([], [])
        self.abandoned += [*self._lists, self._own.leave_dead_server(), *(port.handle for port in self.ports)]
        self._lists = None
        for port in self.ports:
            shown = port.shown
            with self._lock:
                port.live, port.name = False, ""
            port.handle, port.state = None, LOOKING if port.wanted else NONE
            if port.wanted:
                self._on_change(port, f"{self.system.name} has gone, and {shown} with it; looking for it.")


def open_now(ports: Ports) -> None:
    """Open ports that nobody watches afterwards. One that cannot be reached is tried again for a
    second; then UserError.
    """
    ports.open()
    for _ in range(REACH_TRIES):
        if all(port.live for port in ports.ports):
            return
        time.sleep(REACH_AGAIN_SEC)
        if ports._lists is not None:
            ports._look()
    away = next((port.shown for port in ports.ports if not port.live), None)
    if away is not None:
        raise UserError(f"{ports.system.name} does not let us reach {away!r} now; try again in a moment.")
