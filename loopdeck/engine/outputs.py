"""Where everything goes that sounds: MIDI outputs and the built-in sound, and silencing both; and
the target that is practised, which sounds beside the looper.
"""

from collections.abc import Callable
from contextlib import suppress

from loopdeck.audio.output import SoundOutput
from loopdeck.engine.scheduler import Scheduler
from loopdeck.engine.target_player import TargetPlayer
from loopdeck.looper.state import STOPPED
from loopdeck.looper.through import LIVE_CHANNEL
from loopdeck.looper.voices import Out
from loopdeck.midi.port_set import PortSet
from loopdeck.process.clock import Clock
from loopdeck.protocol.messages import BriefChanged
from loopdeck.session.session import Session


class Outputs:
    """The scheduler and what it sends to."""

    def __init__(self, clock: Clock, session: Session, ports: PortSet, sound: SoundOutput) -> None:
        self._clock, self._session, self._ports, self._sound = clock, session, ports, sound
        #: Ends what else sounds: a take that is being heard.
        self.hush: Callable[[], None] = lambda: None
        self.scheduler = Scheduler(clock, session, self.send, sound.hand, sound.ahead_sec, sound.wake_sec)
        self.target = TargetPlayer(session, self.scheduler.put, self.scheduler.ahead_sec)

    def send(self, out: Out) -> None:
        """A message at its moment, to the MIDI outputs if its part goes there."""
        if self._sound.routes.midi(out.part):
            self._ports.send(out.data)

    def set_program(self, brief: BriefChanged) -> None:
        """What is played live sounds with the brief's program too, as the layers made of it
        will.
        """
        program = int(brief.fields["program"]) - 1
        self.send(Out(brief.time_sec, bytes((0xC0 | LIVE_CHANNEL, program)), "live"))

    def stop_and_silence(self) -> None:
        """Stop time, and end everything that sounds."""
        self.hush()
        now = self._clock.now()
        if self._session.looper.state != STOPPED:
            self._session.command("stop", {}, now)
        self._session.command("silence", {}, now)
        self.target.forget(now)
        self.scheduler.drop_notes()
        self._ports.silence()
        self._sound.silence()

    def silence_after_a_crash(self) -> None:
        """End what sounds, as far as that can still be done."""
        with suppress(Exception):
            self.scheduler.drop_notes()
        with suppress(Exception):
            self._ports.silence()
