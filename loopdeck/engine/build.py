"""Making an engine: what touches the world is made by ``Devices``, which a test replaces, and
everything is wired together here.
"""

import signal
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from loopdeck.audio.output import SoundOutput
from loopdeck.audio.sounding import open_sound
from loopdeck.engine.audition import Audition
from loopdeck.engine.checkpointer import Checkpointer
from loopdeck.engine.choices import make_choices
from loopdeck.engine.command_door import CommandDoor, EngineAct
from loopdeck.engine.demo_player import DemoPlayer
from loopdeck.engine.demo_session import performance
from loopdeck.engine.device_memory import Chosen, read_chosen
from loopdeck.engine.engine import Engine, Parts
from loopdeck.engine.events import (
    ClientJoined,
    ClientLeft,
    CommandGiven,
    Inbox,
    MessageArrived,
    MidiArrived,
    PortChanged,
    SignalArrived,
    ToDo,
    ToSay,
)
from loopdeck.engine.front_ends import FrontEnds
from loopdeck.engine.input_latency import InputLatencies
from loopdeck.engine.inputs import InputRouting
from loopdeck.engine.journal_thread import JournalThread
from loopdeck.engine.listener import Listener, ListenerProcess, NoListener
from loopdeck.engine.mixer_controller import MixerController
from loopdeck.engine.outputs import Outputs
from loopdeck.engine.page_writer import PageWriter
from loopdeck.engine.pedal_board import PedalBoard
from loopdeck.engine.player_messages import Link, PlayerMessages
from loopdeck.engine.quiet_moments import PatientJournal
from loopdeck.engine.session_store import SessionStore
from loopdeck.engine.shelf_acts import ShelfActs
from loopdeck.engine.take_saver import TakeSaver
from loopdeck.engine.timers import FollowTimer, SilenceAtStart, Timer
from loopdeck.engine.tuner import Tuner
from loopdeck.midi.connections import ConnectionFile
from loopdeck.midi.control_files import load_controls
from loopdeck.midi.port import Port
from loopdeck.midi.port_set import NoPorts, PortSet
from loopdeck.midi.ports import Ports
from loopdeck.midi.systems import find_system, named_system
from loopdeck.process.children import ready_for_signals
from loopdeck.process.clock import Clock
from loopdeck.process.options import Options, SoundOptions
from loopdeck.process.priority import raise_priority
from loopdeck.process.signals import STEERING, numbers
from loopdeck.protocol.server import LinkServer
from loopdeck.session.clock_sync import ClockIn, ClockOut
from loopdeck.session.opening import OpenedSession, open_session

OnMidi = Callable[[int, bytes, float], None]
OnChange = Callable[[Port, str], None]


def open_ports(options: Options, on_midi: OnMidi, on_change: OnChange) -> PortSet:
    """The MIDI ports the options ask for. A system asked for by its name is looked for while it
    does not answer, as when it died together with the engine before this one; no ports where none
    was named and none answers.
    """
    api = options.midi.api
    system = (find_system(api) or named_system(api)) if api else None
    if system is None:
        return NoPorts()
    memory = ConnectionFile(options.address)
    if not options.resume:
        memory.remove()
    return Ports(
        system, options.midi.ins, options.midi.outs, options.midi.controls_in or None, on_midi, on_change, memory
    )


def serve(address: str, inbox: Inbox, clock: Clock) -> Link:
    """The engine's end of the link."""
    return LinkServer(
        address,
        on_message=lambda client, message: inbox.put(MessageArrived(client, message, clock.now())),
        on_joined=lambda client, role: inbox.put(ClientJoined(client, role)),
        on_left=lambda client, role, bye: inbox.put(ClientLeft(client, role, bye)),
        on_problem=lambda sentence: inbox.put(ToSay(sentence, True)),
    )


def listen(options: Options, inbox: Inbox) -> Listener:
    """Start what reports after each pass which riff has come back; nothing without a window."""
    if options.headless:
        return NoListener()
    return ListenerProcess(options, lambda sentence: inbox.put(ToSay(sentence, True)))


def hear_signals(inbox: Inbox) -> None:
    """Put signals of the system into the inbox."""
    for number in (signal.SIGTERM, signal.SIGINT, *numbers(STEERING)):
        signal.signal(number, lambda number, frame: inbox.put(SignalArrived(number)))
    signal.set_wakeup_fd(inbox.waker.fileno(), warn_on_full_buffer=False)
    ready_for_signals()


@dataclass(frozen=True)
class Devices:
    """Makers of what touches the world.

    ``sound`` also gives a sentence for the player, or ""; its clock is the session's.
    """

    sound: Callable[[SoundOptions, bool], tuple[SoundOutput, str]] = open_sound
    ports: Callable[[Options, OnMidi, OnChange], PortSet] = open_ports
    link: Callable[[str, Inbox, Clock], Link] = serve
    signals: Callable[[Inbox], None] = hear_signals
    listener: Callable[[Options, Inbox], Listener] = listen


def build(options: Options, devices: Devices = Devices()) -> Engine:
    """An engine that is ready to run.

    Raises UserError for a wrong input, OSError for a journal that cannot be opened.
    """
    raise_priority()
    inbox = Inbox()
    chosen = read_chosen(options.journal) if options.resume else Chosen()
    options = replace(options, sound=replace(options.sound, device=chosen.sound or options.sound.device))
    board = PedalBoard(load_controls(options.midi.controls) if options.midi.controls else None)
    sound, notice = devices.sound(options.sound, options.resume)
    clock = sound.session_clock
    session, writer, greetings = open_session(options, clock.now())
    sound.skip_to(session.looper.now_sec)
    journal = JournalThread(writer, lambda text, wrong: inbox.put(ToSay(text, wrong)))
    session.journal = PatientJournal(journal)
    messages = PlayerMessages(session, sound, [*greetings, *([notice] if notice else [])])
    mixer = MixerController(sound, session, journal, messages)
    saver = _saver(options, session, journal, mixer, inbox)
    ports = devices.ports(options, _on_midi(inbox, clock), _on_change(inbox))
    board.port, keys_port = _port_numbers(options, ports)
    pages = PageWriter(Path(options.shelf), session.looper, lambda text, wrong: inbox.put(ToSay(text, wrong)))
    door = CommandDoor(session, sound, mixer, messages, _acts(saver, messages, pages), keys_port)
    clock_in = ClockIn(session.looper, sound.ahead_sec) if options.midi.follow >= 0 else None
    inputs = InputRouting(session, sound, door, board, clock_in, options.midi.follow)
    learning, memory = make_choices(options, chosen, board, session, ports, sound, messages, door, inbox)
    session.clock_out = ClockOut(session.looper) if options.midi.send_clock else session.clock_out
    demo = _demo(options, session, inbox, clock, keys_port)
    front_ends = FrontEnds(
        options, clock.now(), messages.complain, door.give_up, demo, devices.listener(options, inbox)
    )
    outputs = Outputs(clock, session, ports, sound)
    shelf = _shelf_acts(options, session, messages, door, outputs, inbox, mixer)
    tuner = _tuner(session, messages, door, outputs, clock)
    silence = SilenceAtStart(session, ports.silence)
    timers: list[Timer] = [front_ends, shelf.audition, tuner.audition, outputs.target, silence, board, learning]
    timers += [FollowTimer(clock_in, inputs.lead)] if clock_in is not None else []
    engine = Engine(
        Parts(
            options=options,
            clock=clock,
            inbox=inbox,
            session=session,
            sound=sound,
            ports=ports,
            store=SessionStore(journal, saver, Checkpointer(Path(journal.path)), pages, (shelf.close, memory.end)),
            messages=messages,
            mixer=mixer,
            door=door,
            inputs=inputs,
            outputs=outputs,
            front_ends=front_ends,
            latencies=_latencies(options, session, messages),
            timers=timers,
        )
    )
    devices.signals(inbox)
    messages.connect(devices.link(options.address, inbox, clock))
    return engine


def _latencies(options: Options, session: OpenedSession, messages: PlayerMessages) -> InputLatencies:
    latencies = InputLatencies(options.corrections, session.late_sec)
    if latencies.problem:
        messages.greet_with(latencies.problem, wrong=True)
    return latencies


def _acts(saver: TakeSaver, messages: PlayerMessages, pages: PageWriter) -> dict[str, EngineAct]:
    """The engine's own commands, by name, with what carries each out."""
    return {
        **pages.acts(),
        "keep-last-session": lambda args: saver.answer(True),
        "leave-last-session": lambda args: saver.answer(False),
        "leave-free-tempo": lambda args: messages.tempo_offer.refused(),
    }


def _shelf_acts(
    options: Options,
    session: OpenedSession,
    messages: PlayerMessages,
    door: CommandDoor,
    outputs: Outputs,
    inbox: Inbox,
    mixer: MixerController,
) -> ShelfActs:
    """The commands for takes of the shelf, known to the door and silenced with everything else."""
    scheduler = outputs.scheduler
    shelf = ShelfActs(
        options.shelf,
        session,
        messages,
        door,
        lambda ended: Audition(scheduler.put, scheduler.ahead_sec, ended),
        lambda act: inbox.put(ToDo(act)),
        mixer,
    )
    door.acts |= shelf.acts()
    outputs.hush = shelf.hush

    def silent(now: float) -> None:
        outputs.target.hush(now)
        shelf.hush()

    door.on_silence = silent
    return shelf


def _tuner(
    session: OpenedSession, messages: PlayerMessages, door: CommandDoor, outputs: Outputs, clock: Clock
) -> Tuner:
    """The strings to tune by, known to the door and silenced with everything else."""
    scheduler, hush, silent = outputs.scheduler, outputs.hush, door.on_silence
    tuner = Tuner(
        lambda ended: Audition(scheduler.put, scheduler.ahead_sec, ended),
        lambda: session.looper.brief.tuning,
        messages.say,
        clock.now,
    )
    door.acts |= tuner.acts()

    def hush_all() -> None:
        hush()
        tuner.hush()

    def silent_all(now: float) -> None:
        silent(now)
        tuner.hush()

    outputs.hush, door.on_silence = hush_all, silent_all
    return tuner


def _saver(
    options: Options, session: OpenedSession, journal: JournalThread, mixer: MixerController, inbox: Inbox
) -> TakeSaver:
    saver = TakeSaver(Path(options.shelf), journal, session.identity, inbox.put, options.recover)
    for keep in session.take_unsaved():
        saver.save(keep, mixer.mix())
    session.keep = lambda keep: saver.save(keep, mixer.mix())
    return saver


def _on_midi(inbox: Inbox, clock: Clock) -> OnMidi:
    return lambda port, data, delta_sec: inbox.put(MidiArrived(port, data, delta_sec, clock.now()))


def _on_change(inbox: Inbox) -> OnChange:
    return lambda port, sentence: inbox.put(PortChanged(port.role, port.number, port.live, port.shown, sentence))


def _port_numbers(options: Options, ports: PortSet) -> tuple[int, int]:
    """The inputs of the pedal board (-1: it has none of its own) and of the computer keyboard."""
    if not options.midi.controls_in or isinstance(ports, NoPorts):
        return -1, len(options.midi.ins)
    return len(options.midi.ins), len(options.midi.ins) + 1


def _demo(options: Options, session: OpenedSession, inbox: Inbox, clock: Clock, keys_port: int) -> Callable[[], None]:
    """What to call once a front end has joined: the start of the built-in player, if wanted."""
    if not options.perform:
        return lambda: None
    hear = _on_midi(inbox, clock)
    player = DemoPlayer(
        performance(session.looper.brief),
        hear=lambda data, delta_sec: hear(keys_port, data, delta_sec),
        order=lambda name, args: inbox.put(CommandGiven(name, args)),
        end=lambda: inbox.put(CommandGiven("quit", {})),
    )
    return player.begin
