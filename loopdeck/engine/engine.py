"""The engine: clock, ports, looper and journal in one process, which waits for nobody.

Theory of operation
    One thread, this one, owns the session. All others (MIDI callbacks, the link, the journal, the
    shelf, the port watch, signals) put what they have into the ``Inbox``, which wakes it. A turn
    takes what is in the inbox, runs the timers, sends what is due, and sleeps until the next thing
    is.

    What ends everything in order is a ``Bye`` from the last window, the command ``quit``, SIGTERM
    or SIGINT: time is stopped, what sounds is silenced, takes are saved, the journal gets its end
    mark. A window that goes without a word is brought back, after silencing. Any other end of this
    process is a crash: what sounds is silenced if that can still be done, and whoever started us
    resumes the journal.

``build`` makes an engine and gives it its parts; nothing here knows how they are made.
"""

import signal
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from loopdeck.audio.output import SoundOutput
from loopdeck.engine.command_door import CommandDoor
from loopdeck.engine.events import (
    ClientJoined,
    ClientLeft,
    CommandGiven,
    Inbox,
    MessageArrived,
    MidiArrived,
    PortChanged,
    SessionOffered,
    SignalArrived,
    SoundChanged,
    TakeListed,
    TakeSaved,
    ToDo,
    ToSay,
)
from loopdeck.engine.front_ends import FrontEnds
from loopdeck.engine.input_latency import InputLatencies
from loopdeck.engine.inputs import InputRouting
from loopdeck.engine.mixer_controller import MixerController
from loopdeck.engine.outputs import Outputs
from loopdeck.engine.player_messages import PlayerMessages
from loopdeck.engine.quiet_moments import QuietMoments
from loopdeck.engine.session_store import SessionStore
from loopdeck.engine.timers import Timer, earliest, sooner
from loopdeck.looper.state import STOPPED
from loopdeck.midi.port_set import PortSet
from loopdeck.process.clock import Clock
from loopdeck.process.options import NOT_SAVED, Options
from loopdeck.process.priority import RealtimeGuard
from loopdeck.protocol.address import forget_address
from loopdeck.protocol.messages import (
    BriefChanged,
    Command,
    CommandCall,
    DeviceRow,
    DevicesChanged,
    KeyPlayed,
    LayersChanged,
    Message,
    PassHeard,
    Question,
    TakeKept,
    TargetSet,
    TempoGuessed,
)
from loopdeck.session.opening import OpenedSession

#: The key of the question about an unfinished session.
LAST_SESSION = "last-session"


@dataclass
class Parts:
    """What an engine is made of."""

    options: Options
    clock: Clock
    inbox: Inbox
    session: OpenedSession
    sound: SoundOutput
    ports: PortSet
    store: SessionStore
    messages: PlayerMessages
    mixer: MixerController
    door: CommandDoor
    inputs: InputRouting
    outputs: Outputs
    front_ends: FrontEnds
    latencies: InputLatencies
    timers: list[Timer]


class Engine:
    """The running engine. ``run`` returns the exit code."""

    def __init__(self, parts: Parts) -> None:
        self.parts = parts
        self._guard = RealtimeGuard(parts.clock)
        self._quiet = QuietMoments()
        self._handlers: dict[type[Any], Callable[[Any], None]] = {
            MidiArrived: parts.inputs.midi,
            MessageArrived: self._on_message,
            ClientJoined: self._on_joined,
            ClientLeft: self._on_left,
            PortChanged: self._on_port,
            SoundChanged: self._on_sound,
            ToSay: lambda event: parts.messages.say(event.text, event.wrong),
            ToDo: lambda event: event.act(),
            TakeSaved: self._on_saved,
            TakeListed: lambda event: self._tell_take(event.row),
            SessionOffered: self._on_offered,
            CommandGiven: lambda event: parts.door.do(event.name, event.args, parts.clock.now()),
            SignalArrived: self._on_signal,
        }
        parts.messages.changed = self._before_messages

    # ---- the loop --------------------------------------------------------------------------------

    def run(self) -> int:
        """Play until the end; returns the exit code."""
        self._begin()
        try:
            while not self.parts.door.quit:
                self.turn()
        except BaseException:
            # A mistake of ours. What sounds must stop; the journal has no end mark, so the session
            # is resumed.
            traceback.print_exc()
            self.parts.outputs.silence_after_a_crash()
            with suppress(OSError):
                self.parts.store.journal.abandon()
            self.parts.sound.end()
            return 1
        return self._finish()

    def turn(self) -> None:
        """Everything that is to be done now; then sleep until there is more."""
        parts, scheduler = self.parts, self.parts.outputs.scheduler
        # The inbox first: what has come in belongs before what is made ahead.
        if parts.ports.polled:
            parts.ports.poll()
        while (event := parts.inbox.take()) is not None:
            scheduler.send_imminent()
            self._handlers[type(event)](event)
            scheduler.collect()
            scheduler.send_due()
        now = parts.clock.now()
        for timer in parts.timers:
            timer.run(now)
        due = scheduler.turn()
        if self._quiet.now(parts.clock.now(), scheduler.next_sending()):
            parts.messages.pass_on()
            parts.store.journal.wake()
        until_sec = sooner(sooner(due, earliest(parts.timers)), parts.sound.rest())
        if not parts.inbox and not parts.door.quit:
            self._sleep(until_sec)

    def _sleep(self, until_sec: float | None) -> None:
        parts = self.parts
        long = not parts.sound.present or parts.session.looper.state == STOPPED
        self._guard.idle(until_sec, long)
        poll = parts.ports.poll if parts.ports.polled else None
        parts.outputs.scheduler.wait(until_sec, parts.inbox.waker, poll)

    def _begin(self) -> None:
        parts = self.parts
        parts.ports.open()
        parts.ports.watch()
        parts.store.journal.mark("ports", {"devices": parts.ports.devices()})
        self._tell_devices()
        parts.mixer.tell()
        self._set_thru()
        self._set_pickup()
        parts.store.start()
        self._guard.begin()
        parts.sound.begin(lambda text, wrong: parts.inbox.put(SoundChanged(text, wrong)))

    def _finish(self) -> int:
        """End in order: first what sounds, then what must be saved, then the connections. Returns
        the exit code.
        """
        parts = self.parts
        self._guard.end()
        parts.outputs.stop_and_silence()
        parts.front_ends.end()
        parts.messages.pass_on()
        saved = parts.store.saver.end()
        while (event := parts.inbox.take()) is not None:
            # Takes that were saved in these last moments, and events that were on their way.
            if isinstance(event, TakeSaved | MidiArrived):
                self._handlers[type(event)](event)
        parts.session.command("silence", {}, parts.clock.now())
        parts.outputs.scheduler.drop_notes()
        parts.messages.pass_on()
        if report := parts.sound.report():
            parts.store.journal.mark("sound report", report)
        missing = parts.store.close(saved)
        parts.messages.close()
        parts.ports.close()
        parts.sound.end()
        forget_address(parts.options.address)
        for sentence in missing:
            parts.messages.complain(sentence)
        return NOT_SAVED if missing else 0

    # ---- what comes in ---------------------------------------------------------------------------

    def _on_message(self, event: MessageArrived) -> None:
        match event.message:
            case Command(name=name, args=args):
                self.parts.door.do(name, dict(args), event.arrived_sec)
            case KeyPlayed() as key:
                self.parts.inputs.key(key, event.arrived_sec)
            case TargetSet() as target:
                self.parts.outputs.target.set(target, self.parts.clock.now())
            case PassHeard() as heard:
                # Told, and nothing else: no journal has it, and the looper never hears of it.
                self.parts.session.tell(replace(heard, time_sec=self.parts.clock.now()))
            case TempoGuessed() as guess:
                self.parts.messages.tempo_offer.guessed(guess)

    def _on_joined(self, event: ClientJoined) -> None:
        self.parts.front_ends.joined(event.client, event.role)
        self.parts.messages.welcome(event.client)

    def _on_left(self, event: ClientLeft) -> None:
        parts = self.parts
        if not parts.front_ends.left(event.client):
            return
        if event.said_bye:
            parts.door.quit = True
            return
        parts.outputs.stop_and_silence()
        parts.messages.pass_on()
        parts.front_ends.lost(parts.clock.now())

    def _on_port(self, event: PortChanged) -> None:
        parts, now, sentence = self.parts, self.parts.clock.now(), event.sentence
        parts.inputs.forget(event.number)
        if event.role == "in":
            # Gone, or with nobody connected any more: nobody would end what is held. Newly there:
            # nothing is held.
            parts.session.release(event.number, now)
        if event.role == "in" and event.live and (late := parts.latencies.order(event.number, event.name)) is not None:
            sentence += f" {parts.session.command('late', late, now, quiet=True)}"
        if event.role == "controls" and not event.live:
            parts.inputs.let_go_of_pedals()
        if event.role == "out" and event.live:
            # It may hang on notes from before it went. Other outputs are cut short too, which
            # nobody will mind.
            parts.ports.silence()
        parts.store.journal.mark(
            "device", {"role": event.role, "number": event.number, "live": event.live, "text": sentence}
        )
        self._tell_devices()
        if sentence:
            parts.messages.say(sentence, wrong=not event.live, about="device")

    def _on_sound(self, event: SoundChanged) -> None:
        self.parts.messages.say(event.text, event.wrong)
        self.parts.mixer.tell()

    def _on_saved(self, event: TakeSaved) -> None:
        self.parts.store.journal.mark("kept", {**event.row, "identity": event.identity})
        self.parts.store.pages.kept = event.row["number"]
        self._tell_take(event.row)
        page = "" if self.parts.options.headless else "; Shift F7 writes its page"
        self.parts.messages.say(f"On the shelf: take {event.row['number']}{page}.")

    def _on_offered(self, event: SessionOffered) -> None:
        questions = self.parts.messages.questions
        if not event.text:
            questions.drop(LAST_SESSION)
            return
        accept, refuse = CommandCall(name="keep-last-session"), CommandCall(name="leave-last-session")
        questions.ask(Question(key=LAST_SESSION, text=event.text, accept=accept, refuse=refuse))

    def _on_signal(self, event: SignalArrived) -> None:
        if event.number in (signal.SIGTERM, signal.SIGINT):
            self.parts.door.quit = True
            return
        name = "start-stop" if event.number == getattr(signal, "SIGUSR1", 0) else "layer"
        self.parts.door.do(name, {}, self.parts.clock.now())

    # ---- what is told ----------------------------------------------------------------------------

    def _before_messages(self, messages: list[Message]) -> None:
        """What has to be done about something the session tells, before the window knows."""
        if any(isinstance(one, LayersChanged) for one in messages):
            self.parts.mixer.new_layers()
        self.parts.messages.tempo_offer.update()
        for one in messages:
            if isinstance(one, BriefChanged):
                self.parts.outputs.set_program(one)

    def _tell_take(self, row: dict[str, Any]) -> None:
        self.parts.session.tell(TakeKept(time_sec=self.parts.clock.now(), **row))

    def _tell_devices(self) -> None:
        devices = tuple(DeviceRow(**row) for row in self.parts.ports.devices())
        self.parts.session.tell(DevicesChanged(time_sec=self.parts.clock.now(), devices=devices))

    def _set_pickup(self) -> None:
        """The instruments' inputs are heard through the pickup's profile, from the first note
        on.
        """
        parts = self.parts
        if parts.options.resume or not parts.options.pickup:
            return
        for port in range(len(parts.options.midi.ins)):
            parts.session.command("pickup", {"port": port, **parts.options.pickup}, parts.clock.now())

    def _set_thru(self) -> None:
        """Auto: the computer keyboard has no sound of its own, an instrument has."""
        parts, keys_port = self.parts, self.parts.door.keys_port
        if parts.options.resume:
            return
        wanted = {"on": range(keys_port + 1), "off": range(0)}.get(parts.options.midi.thru, (keys_port,))
        for port in wanted:
            parts.session.command("thru", {"port": port, "on": True}, parts.clock.now())
        parts.session.take_messages()
        self._tell_devices()
