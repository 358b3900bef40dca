"""The engine: clock, ports, looper and journal in one process, which waits for nobody.

Theory of operation
    One thread, this one, owns the session. All others (MIDI callbacks, the link, the journal, the shelf, the port watch, signals) put
    what they have into ``inbox`` and wake it. A turn takes what is in the inbox, sends what is due, and sleeps until the next thing is.

    What ends everything in order is a ``bye`` from the last window, the command ``quit``, SIGTERM or SIGINT: time is stopped, what sounds is
    silenced, takes are saved, the journal gets its end mark. A window that goes without a word is brought back, after silencing. Any other
    end of this process is a crash: what sounds is silenced if that can still be done, and whoever started us resumes the journal.

Conventions: inputs are numbered from 0 in the order of ``--in``; the computer keyboard is the input after the last of them.
"""

import signal
import sys
import traceback
from collections import deque
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from loopdeck.audio.levels import asked_layer
from loopdeck.audio.sounding import open_sound
from loopdeck.capture.bytestream import ByteParser
from loopdeck.capture.stamps import Stamper
from loopdeck.engine.board import Board
from loopdeck.engine.checkpointer import Checkpointer
from loopdeck.engine.corrections import Lateness
from loopdeck.engine.fronts import NOBODY, Fronts
from loopdeck.engine.journal_thread import JournalThread, what_is_missing
from loopdeck.engine.performer import Performer
from loopdeck.engine.player import performance
from loopdeck.engine.scheduler import Scheduler, Waker
from loopdeck.engine.take_saver import TakeSaver
from loopdeck.looper.commands import COMMANDS, ENGINE, SOUND, CommandError, check_command
from loopdeck.looper.keep import Keep
from loopdeck.looper.machine import Out
from loopdeck.looper.state import STOPPED
from loopdeck.looper.through import LIVE_CHANNEL
from loopdeck.midi.control_files import load_controls
from loopdeck.midi.controls import ControlMap, Feet, Order
from loopdeck.midi.ports import Port, Ports, find_system
from loopdeck.process.children import ready_for_signals
from loopdeck.process.clock import Clock, PerfClock
from loopdeck.process.options import NOT_SAVED, Options
from loopdeck.process.priority import Calm, hurry
from loopdeck.protocol.address import forget_address
from loopdeck.protocol.messages import (
    BriefChanged,
    Bye,
    Command,
    CommandCall,
    DeviceRow,
    DevicesChanged,
    KeyPlayed,
    LayersChanged,
    Message,
    Question,
    QuestionsPending,
    Said,
    TakeKept,
)  # fmt: skip
from loopdeck.protocol.server import LinkServer
from loopdeck.session.clocking import ClockCommand, ClockIn, ClockOut
from loopdeck.session.opening import open_session

#: Others connect to our own outputs when they can: until then silence is asked for again and again, as long as nothing plays.
SILENCE_FOR_SEC, SILENCE_EVERY_SEC = 4.0, 0.5
#: A key's own time is believed if it lies at most that far back.
KEY_TRAVEL_SEC = 0.1


class Engine:
    """The running engine. ``run`` returns the exit code."""

    def __init__(self, options: Options, clock: Clock | None = None) -> None:
        hurry()
        self.options = options
        self.sound, said = (None, "") if clock is not None else open_sound(options)
        self.clock: Clock = clock or (self.sound.clock if self.sound is not None else PerfClock())
        self.inbox: deque[tuple[Any, ...]] = deque()
        self.waker = Waker()
        self._controls: ControlMap | None = load_controls(options.controls) if options.controls else None
        self._feet = Feet(self._controls) if self._controls is not None else None
        self.session, writer, self._greetings = open_session(options, self.clock.now())
        self._greetings += [said] if said else []
        self.board = Board(self.sound, said, self.session, self.clock, self.say)
        self.journal = JournalThread(writer, lambda text, wrong: self.put("say", text, wrong))
        self.session.journal = self.board.journal = self.journal
        self.saver = TakeSaver(Path(options.shelf), self.journal, self.session.identity, self.put, options.recover)
        self.checkpointer = Checkpointer(Path(self.journal.path))
        for keep in self.session.take_unsaved():
            self._keep(keep)
        self.session.keep = self._keep
        self.ports = self._make_ports()
        self.scheduler = Scheduler(self.clock, self.session, self._send)
        if self.sound is not None:
            self.sound.clock.skip_to(self.session.looper.now_sec)
            self.scheduler.ahead_sec, self.scheduler.hand = self.sound.ahead_sec, self.sound.hand
            self.scheduler.wake_sec = self.sound.wake_sec
        self.link: LinkServer | None = None
        self._keys_port = len(options.ins)
        self._controls_port = len(options.ins) if options.controls_in and self.ports is not None else -1
        if self._controls_port >= 0:
            self._keys_port += 1
        self._stampers: dict[int, Stamper] = {}
        self._parsers: dict[int, ByteParser] = {}
        self._fronts = Fronts(options, self.clock.now())
        self._silence_due = self.clock.now()
        self._silence_until = self.clock.now() + SILENCE_FOR_SEC
        self._quit = False
        self._performer = self._make_performer()
        self._clock_in = self._follow() if options.follow >= 0 else None
        if options.send_clock:
            self.session.clock_out = ClockOut(self.session.looper)
        self._lateness = Lateness(options.corrections, self.session.late_sec)
        self._calm = Calm(self.clock)

    def _follow(self) -> ClockIn:
        return ClockIn(self.session.looper, self.sound.ahead_sec if self.sound is not None else 0.0)

    def _make_ports(self) -> Ports | None:
        options = self.options
        system = find_system(options.api) if options.api else None
        if system is None:
            return None
        controls = options.controls_in or None
        return Ports(system, options.ins, options.outs, controls, self._hear, self._device)

    def _make_performer(self) -> Performer | None:
        if not self.options.perform:
            return None
        return Performer(
            performance(self.session.looper.brief),
            hear=lambda data, delta_sec: self._hear(self._keys_port, data, delta_sec),
            order=lambda name, args: self.put("order", name, args),
            end=lambda: self.put("order", "quit", {}),
        )

    # ---- called in other threads ----------------------------------------------------------------------------------------

    def put(self, *item: Any) -> None:
        """Hand something to the engine's thread."""
        self.inbox.append(item)
        self.waker.wake()

    def _hear(self, port: int, data: bytes, delta_sec: float) -> None:
        self.inbox.append(("midi", port, data, delta_sec, self.clock.now()))
        self.waker.wake()

    def _device(self, port: Port, sentence: str) -> None:
        self.put("device", port.role, port.number, port.live, sentence, port.shown)

    def _keep(self, keep: Keep) -> None:
        self.saver.save(keep, self.board.mix())

    def _signal(self, number: int, _frame: Any) -> None:
        self.put("signal", number)

    # ---- the thread that plays ------------------------------------------------------------------------------------------

    def run(self) -> int:
        """Play until the end."""
        for number in (signal.SIGTERM, signal.SIGINT, *(getattr(signal, n, None) for n in ("SIGUSR1", "SIGUSR2"))):
            if number is not None:
                signal.signal(number, self._signal)
        signal.set_wakeup_fd(self.waker.fileno(), warn_on_full_buffer=False)
        ready_for_signals()
        self.link = LinkServer(
            self.options.address,
            on_message=lambda client, one: self.put("message", client, one, self.clock.now()),
            on_joined=lambda client, role: self.put("joined", client, role),
            on_left=lambda client, role, bye: self.put("left", client, role, bye),
            on_problem=lambda sentence: self.put("say", sentence, True),
        )
        if self.ports is not None:
            self.ports.open()
            self.ports.watch()
            self.journal.mark("ports", {"devices": self.ports.devices()})
        self._tell_devices()
        self.board.tell()
        self._set_thru()
        self.saver.start()
        self.checkpointer.start()
        self._calm.begin()
        if self.sound is not None:
            self.sound.begin(lambda text, wrong: self.put("sound", text, wrong))
        try:
            while not self._quit:
                self._turn()
        except BaseException:
            # A mistake of ours. What sounds must stop; the journal has no end mark, so the session is resumed.
            traceback.print_exc()
            self._silence_all()
            with suppress(OSError):
                self.journal.abandon()
            if self.sound is not None:
                self.sound.end()
            return 1
        return self._finish()

    def _turn(self) -> None:
        # The inbox first: what has come in belongs before what is made ahead.
        if self.ports is not None and self.ports.polled:
            self.ports.poll()
        while self.inbox:
            self._take(self.inbox.popleft())
            self.scheduler.collect()
            self.scheduler.send_due()
        now = self.clock.now()
        if self._feet is not None:
            for order in self._feet.tick(now):
                self._obey(order)
        if self._clock_in is not None:
            self._follow_clock(self._clock_in.rest(now), now)
        self._care(now)
        due = self.scheduler.turn()
        self._pass_on()
        moments = [due, self._feet.next_due() if self._feet is not None else None, self._fronts.due]
        if self._silence_due <= self._silence_until:
            moments.append(self._silence_due)
        if self._clock_in is not None:
            moments.append(self._clock_in.next_due())
        if self.sound is not None:
            moments.append(self.sound.rest())
        until = min((one for one in moments if one is not None), default=None)
        if not self.inbox and not self._quit:
            self._calm.rest(until, long=self.sound is None or self.session.looper.state == STOPPED)
            self.scheduler.wait(
                until, self.waker, self.ports.poll if self.ports is not None and self.ports.polled else None
            )

    def _send(self, out: Out) -> None:
        if self.ports is not None and (self.sound is None or self.sound.routes.midi(out.part)):
            self.ports.send(out.data)

    def _pass_on(self) -> None:
        messages = self.session.take_messages()
        if any(isinstance(one, LayersChanged) for one in messages):
            messages += self.session.take_messages() if self.board.new_layers() else []
        for one in messages:
            if isinstance(one, BriefChanged):
                # What is played live sounds with the brief's program too, as the layers made of it will.
                program = int(one.fields["program"]) - 1
                self._send(Out(one.time_sec, bytes((0xC0 | LIVE_CHANNEL, program)), "live"))
        if messages and self.link is not None:
            self.link.send(*self._for_window(messages))

    def _for_window(self, messages: list[Message]) -> list[Message]:
        return messages if self.sound is None else self.sound.clock.for_window(messages)

    def say(self, text: str, wrong: bool = False) -> None:
        """A sentence for the player."""
        self.session.tell(Said(time_sec=self.clock.now(), text=text, wrong=wrong))

    # ---- what comes in --------------------------------------------------------------------------------------------------

    def _take(self, item: tuple[Any, ...]) -> None:
        getattr(self, f"_on_{item[0]}")(*item[1:])

    def _on_midi(self, port: int, data: bytes, delta_sec: float, arrived_sec: float) -> None:
        stamp_sec = self._stampers.setdefault(port, Stamper()).stamp(arrived_sec, delta_sec)
        for one in self._parsers.setdefault(port, ByteParser()).feed(data):
            self._on_event(port, one, stamp_sec, arrived_sec)

    def _on_event(self, port: int, data: bytes, stamp_sec: float, arrived_sec: float) -> None:
        if self._clock_in is not None and port == self.options.follow:
            self._follow_clock(self._clock_in.feed(stamp_sec, data), arrived_sec)
        own = port == self._controls_port
        if self._feet is not None and (own or self._controls_port < 0) and port != self._keys_port:
            taken, orders = self._feet.message(stamp_sec, data)
        else:
            taken, orders = False, []
        if taken or own:
            self.session.control(port, data, stamp_sec, arrived_sec)
        else:
            self.session.midi(port, data, stamp_sec, arrived_sec)
        for order in orders:
            self._obey(order)

    def _follow_clock(self, commands: Iterable[ClockCommand], now: float) -> None:
        """What the clock source asks for."""
        for one in commands:
            self.session.command(one.name, dict(one.args), now if one.at_sec is None else max(one.at_sec, now))

    def _obey(self, order: Order) -> None:
        act = order.act
        if act.stopped is not None and self.session.looper.state == STOPPED:
            act = act.stopped
        self.do(act.command, dict(act.args), order.time_sec)

    def do(self, name: str, args: dict[str, Any] | None, at_sec: float) -> None:
        """A command, of the looper, the engine or the sound; one that is wrong is answered in a sentence and goes no further."""
        try:
            args = check_command(name, args)
        except CommandError as error:
            self.say(str(error), wrong=True)
            return
        owner = COMMANDS[name].owner
        if name == "quit":
            self._quit = True
        elif (layer := asked_layer(name, args)) is not None:
            on = args.get("on")
            self.do("mute-toggle" if on is None else "mute" if on else "unmute", {"layer": layer}, at_sec)
        elif owner == SOUND:
            self.board.obey(name, args)
        elif owner == ENGINE:
            self.saver.answer(name == "keep-last-session")
        elif name == "thru" and "port" not in args:
            for port in range(self._keys_port + 1):
                self.session.command(name, {"port": port, "on": args["on"]}, at_sec)
        else:
            if name == "tap":
                # When it was tapped, not where the looper has got to.
                args = {"sec": at_sec, **args}
            elif self.sound is not None and self.session.looper.state == STOPPED:
                at_sec = self.sound.begin_sec(at_sec)
            self.session.command(name, args, at_sec)
            if name in ("undo", "redo"):
                # What these bring back sounds as it did.
                self.board.brought_back()

    def _on_message(self, client: int, one: Message, arrived_sec: float) -> None:
        match one:
            case Command():
                self.do(one.name, dict(one.args), arrived_sec)
            case KeyPlayed():
                self._key(one, arrived_sec)

    def _key(self, key: KeyPlayed, arrived_sec: float) -> None:
        """A key of the computer keyboard: an input like any other; each string has a channel, as with a pickup."""
        played_sec = key.played_sec
        if self.sound is not None:
            played_sec = min(self.sound.clock.of_host(played_sec), arrived_sec)
        if not arrived_sec - KEY_TRAVEL_SEC <= played_sec <= arrived_sec:
            played_sec = arrived_sec
        status = (0x90 if key.on else 0x80) | max(key.string - 1, 0) & 0x0F
        data = bytes((status, key.pitch, key.velocity))
        self.session.midi(self._keys_port, data, played_sec, arrived_sec)

    def _on_device(self, role: str, number: int, live: bool, sentence: str, name: str) -> None:
        now = self.clock.now()
        self._stampers.pop(number, None)
        self._parsers.pop(number, None)
        if role == "in" and not live:
            self.session.release(number, now)
        if role == "in" and live and (late := self._lateness.order(number, name)) is not None:
            sentence += f" {self.session.command('late', late, now, quiet=True)}"
        if role == "controls" and not live and self._feet is not None:
            self._feet.let_go()
        if role == "out" and live:
            # It may hang on notes from before it went. Other outputs are cut short too, which nobody will mind.
            self._silence_outs()
        self.journal.mark("device", {"role": role, "number": number, "live": live, "text": sentence})
        self._tell_devices()
        self.say(sentence, wrong=not live)

    def _on_say(self, text: str, wrong: bool = False) -> None:
        self.say(text, wrong)

    def _on_sound(self, text: str, wrong: bool) -> None:
        """The sound device has gone or come."""
        self.say(text, wrong)
        self.board.tell()

    def _on_saved(self, row: dict[str, Any], identity: str) -> None:
        self.journal.mark("kept", {**row, "identity": identity})
        self.session.tell(TakeKept(time_sec=self.clock.now(), **row))
        self.say(f"On the shelf: take {row['number']}.")

    def _on_recovered(self, row: dict[str, Any]) -> None:
        self.session.tell(TakeKept(time_sec=self.clock.now(), **row))

    def _on_offer(self, data: dict[str, Any]) -> None:
        accept, refuse = CommandCall(name="keep-last-session"), CommandCall(name="leave-last-session")
        question = Question(key="last-session", text=data["text"], accept=accept, refuse=refuse)
        pending = (question,) if data["text"] else ()
        self.session.tell(QuestionsPending(time_sec=self.clock.now(), questions=pending))

    def _on_order(self, name: str, args: dict[str, Any]) -> None:
        self.do(name, args, self.clock.now())

    def _on_signal(self, number: int) -> None:
        now = self.clock.now()
        if number in (signal.SIGTERM, signal.SIGINT):
            self._quit = True
        else:
            self.do("start-stop" if number == signal.SIGUSR1 else "layer", {}, now)

    # ---- windows that come and go ---------------------------------------------------------------------------------------

    def _on_joined(self, client: int, role: str) -> None:
        # What was told so far is in the snapshot; it must not come a second time after it.
        self._pass_on()
        if self._fronts.joined(client, role) and self._performer is not None:
            self._performer.begin()
        if self.link is not None:
            # Whoever comes first is told how it began; what was said before is in no snapshot.
            said = [Said(time_sec=self.clock.now(), text=text) for text in self._greetings]
            self._greetings.clear()
            self.link.welcome(client, self._for_window([*self.session.snapshot(), *said]))
        if self._lateness.problem:
            # Said now that somebody is there to read it.
            self.say(self._lateness.problem, wrong=True)
            self._lateness.problem = ""

    def _on_left(self, client: int, role: str, said_bye: bool) -> None:
        if not self._fronts.left(client):
            return
        if said_bye:
            self._quit = True
            return
        self._stop_and_silence()
        self._complain(self._fronts.lost(self.clock.now()))

    def _care(self, now: float) -> None:
        """Small duties: ask for silence until somebody hears it, bring back a window that is missing."""
        if self._silence_due <= min(now, self._silence_until):
            self._silence_due = now + SILENCE_EVERY_SEC
            if self.session.looper.state == STOPPED:
                self._silence_outs()
            else:
                self._silence_due = self._silence_until + 1.0
        if sentence := self._fronts.care(now):
            self._complain(sentence)
            self._quit = self._quit or sentence == NOBODY

    def _complain(self, sentence: str) -> None:
        with suppress(OSError, ValueError):
            print(f"loopdeck: {sentence}", file=sys.stderr, flush=True)
        self.say(sentence, wrong=True)

    # ---- devices and silence --------------------------------------------------------------------------------------------

    def _tell_devices(self) -> None:
        nothing = [{"role": role, "name": "", "state": "none"} for role in ("in", "out")]
        found = self.ports.devices() if self.ports is not None else nothing
        devices = tuple(DeviceRow(**row) for row in found)
        self.session.tell(DevicesChanged(time_sec=self.clock.now(), devices=devices))

    def _set_thru(self) -> None:
        """Auto: the computer keyboard has no sound of its own, an instrument has."""
        if self.options.resume:
            return
        wanted = {"on": range(self._keys_port + 1), "off": range(0)}.get(self.options.thru, (self._keys_port,))
        for port in wanted:
            self.session.command("thru", {"port": port, "on": True}, self.clock.now())
        self.session.take_messages()
        self._tell_devices()

    def _stop_and_silence(self) -> None:
        now = self.clock.now()
        if self.session.looper.state != STOPPED:
            self.session.command("stop", {}, now)
        self.session.command("silence", {}, now)
        self.scheduler.drop_notes()
        self._silence_outs()
        if self.sound is not None:
            self.sound.silence()
        self._pass_on()

    def _silence_outs(self) -> None:
        if self.ports is not None:
            self.ports.silence()

    def _silence_all(self) -> None:
        with suppress(Exception):
            self.scheduler.drop_notes()
        with suppress(Exception):
            self._silence_outs()

    def _finish(self) -> int:
        self._calm.end()
        self._stop_and_silence()
        saved = self.saver.end()
        while self.inbox:
            item = self.inbox.popleft()
            # Takes that were saved in these last moments, and events that were on their way.
            if item[0] in ("saved", "midi"):
                self._take(item)
        self.session.command("silence", {}, self.clock.now())
        self.scheduler.drop_notes()
        self._pass_on()
        if self.sound is not None:
            self.journal.mark("sound report", self.sound.report())
        written = self.journal.end() if saved else self.journal.abandon()
        self.checkpointer.end(done=saved and written)
        if self.link is not None:
            self.link.send(Bye(time_sec=self.clock.now()))
            self.link.close()
            forget_address(self.options.address)
        if self.ports is not None:
            self.ports.close()
        if self.sound is not None:
            self.sound.end()
        missing = what_is_missing(saved, written, self.journal)
        for sentence in missing:
            self._complain(sentence)
        return NOT_SAVED if missing else 0
