"""Devices chosen while playing: the command ``device``, what there is to choose from, and what
comes of a choice.

Theory of operation
    A choice is granted by the thread that watches the ports, or by the sound's own; nothing is
    waited for here. It is remembered for the next start, and for an engine that takes this session
    up again (``DeviceMemory``). Lists come from the thread that watches the ports, and from one of
    this module's that looks at the sound devices; both hand them over through the inbox.

Conventions: called in the thread that plays, where nothing else is said. Roles are ``in``, ``out``,
``controls`` (the pedal board's own input) and ``sound``.
"""

import threading
from collections.abc import Callable
from typing import Any

from loopdeck.audio.output import SoundOutput
from loopdeck.engine.device_memory import CONTROLS, IN, OUT, SOUND, DeviceMemory
from loopdeck.engine.events import Inbox, ToDo
from loopdeck.engine.input_latency import plain_name
from loopdeck.engine.pedal_board import SHARED, PedalBoard
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.midi.port import CONNECTED, first_device
from loopdeck.midi.port_set import PortSet
from loopdeck.protocol.messages import DeviceListChanged
from loopdeck.session.session import Session

ROLES = {IN: "MIDI input", OUT: "MIDI output", CONTROLS: "input for pedals", SOUND: "sound device"}
LOOK_SEC = 2.0
OWN = "virtual"


class DeviceChooser:
    """``keys_port`` is the number of the computer keyboard as an input; pedals that get an input of
    their own while playing come next. ``first_come``: nobody named an input and none was there, so
    the first one that comes is the instrument, until the player chooses one.
    """

    def __init__(
        self,
        session: Session,
        ports: PortSet,
        sound: SoundOutput,
        board: PedalBoard,
        messages: PlayerMessages,
        memory: DeviceMemory,
        keys_port: int,
        first_come: bool = False,
    ) -> None:
        self._session, self._ports, self._sound, self.board = session, ports, sound, board
        self._messages, self.memory = messages, memory
        self._pedals_port = board.port if board.port != SHARED else keys_port + 1
        self._midi: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())
        self._sounds: tuple[str, ...] = ()
        self._first_come = first_come
        self._to_restore = bool(memory.chosen.names)

    # ---- what there is ---------------------------------------------------------------------------

    def watch(self, inbox: Inbox, sound_names: Callable[[], list[str]] | None) -> None:
        """Be told of what there is from now on; ``sound_names`` is asked in a thread, now and
        again.
        """
        last: list[Any] = [None]

        def midi(ins: list[str], outs: list[str]) -> None:
            if last[0] != (found := (tuple(ins), tuple(outs))):
                last[0] = found
                inbox.put(ToDo(lambda: self.listed(found, None)))

        self._ports.on_list = midi
        if sound_names is not None:
            threading.Thread(
                target=_watch_sound,
                args=(sound_names, lambda found: inbox.put(ToDo(lambda: self.listed(None, found)))),
                name="sound devices",
                daemon=True,
            ).start()

    def listed(self, midi: tuple[tuple[str, ...], tuple[str, ...]] | None, sounds: tuple[str, ...] | None) -> None:
        """What there is has changed."""
        self._midi = midi if midi is not None else self._midi
        self._sounds = sounds if sounds is not None else self._sounds
        self.tell()
        if midi is not None and self._to_restore:
            self._to_restore = False
            self._restore()
        found = first_device(self._midi[0]) if self._first_come else None
        if found is not None and not self._is_played():
            self._first_come = False
            self._take(IN, 0, found, self._lasting(IN, found))

    def _is_played(self) -> bool:
        """Whether somebody is connected to the input of our own."""
        return any(row["role"] == IN and row["state"] == CONNECTED for row in self._ports.devices())

    def tell(self) -> None:
        """Tell the window."""
        system = self._ports.system
        ins, outs = self._midi
        self._session.tell(
            DeviceListChanged(
                time_sec=self._messages.now(), ins=ins, outs=outs, sounds=self._sounds, system=system.name if system is not None else "", virtual=system is not None and system.virtual,
            )
        )  # fmt: skip

    # ---- choosing --------------------------------------------------------------------------------

    def choose(self, args: dict[str, Any]) -> None:
        """The command ``device``."""
        role, name, number = str(args["role"]), str(args["name"]), int(args["number"])
        if role == SOUND:
            self._choose_sound(name)
        elif wrong := self._wrong(role, name):
            self._messages.say(wrong, wrong=True)
        else:
            lasting = self._lasting(role, name)
            self._first_come = self._first_come and role != IN
            self._take(role, number, name, lasting)
            self.memory.chosen.names[role, number] = lasting
            self.memory.remember(self._as_settings(role, number, lasting))

    def _wrong(self, role: str, name: str) -> str:
        """Why a device cannot be chosen; "" where it can."""
        system = self._ports.system
        if system is None:
            return "There is no MIDI in this session, since no MIDI system answered at the start; start loopdeck again."
        known = self._midi[role == OUT]
        if name == OWN and not system.virtual:
            return f"{system.name} has no ports of our own."
        if name in ("", OWN) or name in known:
            return ""
        return f"There is no {ROLES[role]} {name[:60]!r} any more, so nothing was changed."

    def _lasting(self, role: str, name: str) -> str:
        """What to look for when it comes again: without the numbers of the moment, unless another
        one is called the same.
        """
        plain = plain_name(name)
        same = [one for one in self._midi[role == OUT] if plain_name(one) == plain]
        return plain if len(same) < 2 else name

    def _take(self, role: str, number: int, name: str, lasting: str) -> None:
        now = self._messages.now()
        if role == CONTROLS:
            number = self._pedals_port
            self.board.let_go()
            self.board.port = number if name else SHARED
            if not name:
                self._messages.say("Pedals are listened for on the instrument's input now.")
        elif role == OUT:
            # What sounds there now would never be ended.
            self._session.command("silence", {}, now)
            self._sound.silence()
            self._sound.routes.set_rest("sound" if not name else "both" if name == OWN else "midi")
            self._session.tell(self._sound.state(now))
            if not name:
                built_in = "" if self._sound.present else " The built-in sound begins with the next start."
                self._messages.say(f"Nothing goes out by MIDI now.{built_in}")
        else:
            self._session.release(number, now)
            if not name:
                self._messages.say("No MIDI input is listened to now.")
        self._ports.choose(role, number, name, lasting)

    def _choose_sound(self, name: str) -> None:
        self.memory.chosen.names[SOUND, 0] = name
        self.memory.remember({"sound_device": name})
        if why := self._sound.switch(name):
            self._messages.say(why)

    def _as_settings(self, role: str, number: int, lasting: str) -> dict[str, Any]:
        if role == CONTROLS:
            return {"pedals_in": lasting}
        rows = [row for row in self._ports.devices() if row["role"] == role and row["state"] != "none"]
        names = [self._wanted(row["name"]) for row in rows]
        names = names + [""] * (number + 1 - len(names))
        names[number] = lasting
        return {"midi_in" if role == IN else "midi_out": tuple(name for name in names if name)}

    @staticmethod
    def _wanted(shown: str) -> str:
        return OWN if shown in ("loopdeck in", "loopdeck out") else plain_name(shown)

    def _restore(self) -> None:
        """A session that is taken up again: what was chosen in it, as it was, once it is known what
        devices there are. (The sound device was opened so already.)
        """
        for (role, number), lasting in self.memory.chosen.names.items():
            if role != SOUND:
                name = lasting if lasting in ("", OWN) else self._there(role, lasting)
                self._take(role, number, name, lasting)

    def _there(self, role: str, lasting: str) -> str:
        from loopdeck.midi.systems import pick

        return pick(lasting, self._midi[role == OUT]) or lasting


def _watch_sound(names: Callable[[], list[str]], told: Callable[[tuple[str, ...]], None]) -> None:
    """Look for sound devices as long as the engine runs; a thread of its own."""
    last: tuple[str, ...] | None = None
    sleep = threading.Event()
    while True:
        found = tuple(names())
        if found != last:
            last = found
            told(found)
        sleep.wait(LOOK_SEC)
