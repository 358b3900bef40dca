"""What the player is told: from the session to the window, and, when something is wrong, to the
terminal as well.
"""

import sys
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Protocol

from loopdeck.audio.output import SoundOutput
from loopdeck.engine.questions import Questions, TempoOffer
from loopdeck.looper.state import STOPPED
from loopdeck.protocol.messages import Bye, Message, Said, WindowAsked
from loopdeck.session.session import Session


class Link(Protocol):
    """The engine's end of the link, as far as the thread that plays uses it;
    ``protocol.server.LinkServer`` is one.
    """

    def send(self, *messages: Message) -> None:
        """Queue messages for every welcomed client."""
        ...

    def welcome(self, client: int, messages: list[Message]) -> None:
        """Queue what a new client is to know first."""
        ...

    def close(self) -> None:
        """Write what is queued, and hang up."""
        ...


class PlayerMessages:
    """Called in the thread that plays. ``greetings`` are said to the first one who comes.

    ``changed`` gets the session's messages before they are sent, and may add some by telling the
    session more.
    """

    def __init__(self, session: Session, sound: SoundOutput, greetings: list[str]) -> None:
        self._session, self._sound = session, sound
        self._greetings: list[tuple[str, bool]] = [(text, False) for text in greetings]
        self._link: Link | None = None
        self.changed: Callable[[list[Message]], None] = lambda messages: None
        self.questions = Questions(session.tell, self.now)
        self.tempo_offer = TempoOffer(self.questions, self._is_free)

    def connect(self, link: Link) -> None:
        """Send messages to the clients of this link from now on."""
        self._link = link

    def _is_free(self) -> bool:
        looper = self._session.looper
        return looper.state == STOPPED and not looper.layers()

    def now(self) -> float:
        """The session's time, seconds."""
        return self._sound.session_clock.now()

    def say(self, text: str, wrong: bool = False, about: str = "") -> None:
        """Tell the player a sentence; ``about`` as in ``Said``."""
        self._session.tell(Said(time_sec=self.now(), text=text, wrong=wrong, about=about))

    def ask_window(self, name: str, args: dict[str, Any]) -> None:
        """Something of the window's own that a pedal asked for; nothing where there is no
        window.
        """
        if self._link is not None:
            self._link.send(WindowAsked(time_sec=self.now(), name=name, args=args))

    def complain(self, sentence: str) -> None:
        """A sentence that is to be read even where there is no window."""
        with suppress(OSError, ValueError):
            print(f"loopdeck: {sentence}", file=sys.stderr, flush=True)
        self.say(sentence, wrong=True)

    def greet_with(self, text: str, wrong: bool = False) -> None:
        """Something to be said once somebody is there to read it."""
        self._greetings.append((text, wrong))

    def pass_on(self) -> None:
        """Send what the session has to tell."""
        messages = self._session.take_messages()
        if not messages:
            return
        self.changed(messages)
        messages += self._session.take_messages()
        if self._link is not None:
            self._link.send(*self._sound.for_window(messages))

    def welcome(self, client: int) -> None:
        """Tell a client that has just come what there is to know; what was said before is in no
        snapshot.
        """
        # What was told so far is in the snapshot; it must not come a second time after it.
        self.pass_on()
        said = [Said(time_sec=self.now(), text=text, wrong=wrong) for text, wrong in self._greetings]
        self._greetings.clear()
        if self._link is not None:
            self._link.welcome(client, self._sound.for_window([*self._session.snapshot(), *said]))

    def close(self) -> None:
        """Say goodbye to the clients."""
        if self._link is not None:
            self._link.send(Bye(time_sec=self.now()))
            self._link.close()
