"""What an engine needs of the built-in sound, and the silent one: everything goes on,
silently, by the machine's own clock.
"""

from collections.abc import Callable, Iterable
from typing import Any, Protocol

from loopdeck.audio.levels import Levels
from loopdeck.audio.routes import Routes
from loopdeck.looper.voices import Out
from loopdeck.process.clock import Clock, PerfClock
from loopdeck.protocol.messages import Message, MixerChanged


class SoundOutput(Protocol):
    """The built-in sound of a session.

    Seconds are those of ``clock``; host seconds are ``time.perf_counter``'s.
    """

    #: How far ahead of its second everything has to be handed over, and how long before that the
    #: looper is woken (0: as the engine likes).
    ahead_sec: float
    wake_sec: float
    levels: Levels
    routes: Routes

    @property
    def present(self) -> bool:
        """False when nothing can ever be heard from it."""
        ...

    @property
    def session_clock(self) -> Clock:
        """The session's clock."""
        ...

    def begin(self, say: Callable[[str, bool], None]) -> None:
        """Let it sound. ``say(sentence, wrong)`` may be called from other threads."""
        ...

    def hand(self, out: Out) -> None:
        """Take a message of the looper, before it is due."""
        ...

    def begin_sec(self, at_sec: float) -> float:
        """When a command that may let time begin, given at ``at_sec``, takes effect."""
        ...

    def silence(self) -> None:
        """Forget what waits and cut off what sounds."""
        ...

    def apply(self, name: str, args: dict[str, Any]) -> tuple[str, bool]:
        """A command of the mixer; returns a sentence for the player, and whether something was
        wrong.
        """
        ...

    def set(self, levels: Levels) -> None:
        """Set the levels as they were before."""
        ...

    def state(self, now: float) -> MixerChanged:
        """The mixer's state, as the window is told it."""
        ...

    def rest(self) -> float | None:
        """The thread that plays has done what was due; returns when to come again, if that
        matters.
        """
        ...

    def switch(self, wanted: str) -> str:
        """Play through another device; a sentence where that cannot be, else "" and what comes of
        it is said.
        """
        ...

    def report(self) -> dict[str, Any]:
        """How it went, for the journal; {} for nothing to tell."""
        ...

    def end(self) -> None:
        """Close the device."""
        ...

    def skip_to(self, sec: float) -> None:
        """Before it begins: let the clock be at least ``sec``."""
        ...

    def of_host(self, host_sec: float) -> float:
        """The session second of a moment of the host's."""
        ...

    def for_window(self, messages: Iterable[Message]) -> list[Message]:
        """Messages with their times in the host's seconds, which the window knows."""
        ...


class NoSound:
    """No built-in sound: ``why`` not, or "" if nobody asked for any. ``clock`` is the session's."""

    ahead_sec = wake_sec = 0.0
    present = False

    def __init__(self, why: str = "", clock: Clock | None = None) -> None:
        self._why = why or "The built-in sound is off in this session."
        self._clock = clock or PerfClock()
        self.levels = Levels()
        self.routes = Routes("midi")

    @property
    def session_clock(self) -> Clock:
        """The machine's clock."""
        return self._clock

    def begin(self, say: Callable[[str, bool], None]) -> None:
        """Do nothing: no sound begins."""

    def hand(self, out: Out) -> None:
        """Drop the message: nothing sounds."""

    def begin_sec(self, at_sec: float) -> float:
        """The same second: nothing has to be waited for."""
        return at_sec

    def silence(self) -> None:
        """Do nothing: it is silent."""

    def apply(self, name: str, args: dict[str, Any]) -> tuple[str, bool]:
        """Say that nothing can be set."""
        return "There is no built-in sound to make louder, softer or silent.", True

    def set(self, levels: Levels) -> None:
        """Keep the levels, for the takes of a session that had a sound before."""
        self.levels = levels

    def state(self, now: float) -> MixerChanged:
        """Say why nothing sounds."""
        return MixerChanged(time_sec=now, why=self._why)

    def rest(self) -> float | None:
        """None: nothing to look after."""
        return None

    def switch(self, wanted: str) -> str:
        """Say that it cannot be done in this session."""
        return "There is no built-in sound in this session; the device is taken at the next start."

    def report(self) -> dict[str, Any]:
        """{}: nothing to tell."""
        return {}

    def end(self) -> None:
        """Do nothing: no device is open."""

    def skip_to(self, sec: float) -> None:
        """The machine's clock goes on by itself: a session that is taken up again is never ahead of
        it on the same machine.
        """

    def of_host(self, host_sec: float) -> float:
        """Unchanged: the session's seconds are the host's."""
        return host_sec

    def for_window(self, messages: Iterable[Message]) -> list[Message]:
        """Unchanged: the session's seconds are the host's."""
        return list(messages)
