"""What the player does with the window: keys in, messages for the engine out, and the window's own
state.

Conventions: ``press`` and ``release`` return the messages to send. Keys come by their codes (see
``keys``). Times are seconds on the common monotonic clock. Pure: the window translates events and
moves messages, nothing else.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from loopdeck.brief.brief import SPECS
from loopdeck.looper.commands import BY_FOOT, COMMANDS, WINDOW
from loopdeck.protocol.messages import Message
from loopdeck.window import acts, keys, levels, line_keys
from loopdeck.window.keyboard import Keyboard
from loopdeck.window.note_view import BIGGEST
from loopdeck.window.pages import new_states
from loopdeck.window.pages.page import PageState, Reply
from loopdeck.window.pass_picker import PassPicker
from loopdeck.window.sent import Entry, Sent
from loopdeck.window.sent import command as _command
from loopdeck.window.view import View

LEAVE_SEC = 3.0


@dataclass
class Cursors:
    """Where the player is on the help, the brief page and the sound page."""

    help_page: int = 0
    brief_line: int = 0
    sound_part: str = levels.MASTER


@dataclass
class UiState:
    """The window's own state. ``quit`` and ``turns`` (of "theme" and "full" screen) are for the
    window to act on.
    """

    page: str = ""
    """"" while playing, "help", "brief", "sound", or one of ``pages``."""
    panel: int = 0
    """Which of the panels stands below, counted round and round."""
    biggest: str = BIGGEST[0]
    """What is biggest on a note."""
    chosen: int | None = None
    """The number of the chosen layer; None means all of them."""
    passes: PassPicker = field(default_factory=PassPicker)
    keyboard: Keyboard = field(default_factory=Keyboard)
    cursors: Cursors = field(default_factory=Cursors)
    entry: Entry | None = None
    varied: str = ""
    """How something was varied last: the engine may know no such way, and then it is corrected."""
    quit: bool = False
    turns: Counter[str] = field(default_factory=Counter)
    changed: int = 0
    stay: bool = False
    """Asked to stay although the engine is gone."""
    pages: dict[str, PageState] = field(default_factory=new_states)
    _leave_asked_sec: float | None = None

    def plays(self, view: View) -> bool:
        """True when the letter keys play notes."""
        return self.keyboard.plays(view)

    # ---- keys ------------------------------------------------------------------------------------

    def press(self, code: int, shift: bool, view: View, now_sec: float) -> list[Sent]:
        """A key goes down."""
        self.changed += 1
        name = keys.key_name(code, shift)
        if self.entry is not None:
            return self._edit(name, view, now_sec)
        if (taken := self._on_page(name, view, now_sec)) is not None:
            return taken
        if name == "Esc" and self.page:
            return self.open_page("", view, now_sec)
        binding = keys.BY_KEY.get(name)
        if view.played.practising.run is not None:
            binding = keys.PRACTISING.get(name, binding)
        if binding is not None:
            return self._act(binding, view, now_sec)
        return self.keyboard.press(code, shift, view, now_sec)

    def release(self, code: int, now_sec: float) -> list[Sent]:
        """A key goes up: the note it began ends, whatever page is open now."""
        return self.keyboard.release(code, now_sec)

    def release_all(self, now_sec: float) -> list[Sent]:
        """The window no longer hears the keyboard: every note it began ends."""
        return self.keyboard.release_all(now_sec)

    def typed(self, text: str) -> None:
        """Letters for the line being typed."""
        if self.entry is not None:
            self.entry.wrong = ""
            before = "" if self.entry.offered else self.entry.text
            self.entry.offered = False
            self.entry.text = (before + "".join(c for c in text if c.isprintable()))[:80]
            self.changed += 1

    def take_turns(self) -> Counter[str]:
        """How often the theme and the full screen were turned since this was asked last; the neck
        stays as it is turned.
        """
        return Counter({name: self.turns.pop(name, 0) for name in ("theme", "full")})

    # ---- acts ------------------------------------------------------------------------------------

    def _act(self, binding: keys.Binding, view: View, now_sec: float) -> list[Sent]:
        act, args, command = binding.act, binding.args, COMMANDS[binding.act]
        if command.owner != WINDOW:
            # What is chosen here goes with every command that can be told.
            if self.chosen is not None and command.takes("layer"):
                args = {**args, "layer": self.chosen}
            if command.takes("passes"):
                args = {**args, "passes": self.passes.kept}
            ended = self.release_all(now_sec) if act == "silence" else []
            return [*ended, *_command(act, **args)]
        if (name := act.removeprefix("window-")) in self.pages:
            return self.open_page("" if self.page == name else name, view, now_sec)
        for state in self.pages.values():
            if act in state.acts:
                return self._reply(state.act(act, args, view, now_sec), view, now_sec)
        if (key := line_keys.BY_FOOT.get((act, max(-1, min(1, args.get("step", 0)))))) is not None:
            if self.entry is not None and key == "Enter":
                return self._send_entry(self.entry, view, now_sec)
            return self._on_page(key, view, now_sec) or []
        return acts.ACTS[name](self, view, now_sec, **args)

    def asked(self, name: str, args: Mapping[str, Any], view: View, now_sec: float) -> list[Sent]:
        """A pedal asks something of the window, by the name and arguments of the command table."""
        if name not in BY_FOOT:
            return []
        self.changed += 1
        return self._act(keys.Binding(key="", act=name, group="", args=dict(args)), view, now_sec)

    def answer(self, view: View, now_sec: float, yes: bool) -> list[Sent]:
        """Answer the question that waits, or whether to stay although the engine is gone."""
        if view.engine_lost:
            self.stay, self.quit = yes, not yes
            return []
        question = view.waiting()
        if question is None:
            view.tell("Nothing waits for an answer.", True, now_sec)
            return []
        view.notices.answer(question)
        view.changed["waiting"] += 1
        answer = question.accept if yes else question.refuse
        return _command(answer.name, **answer.args)

    def leave(self, view: View, now_sec: float) -> list[Sent]:
        """Leave, if this was asked for just before."""
        if view.engine_lost or (self._leave_asked_sec is not None and now_sec - self._leave_asked_sec < LEAVE_SEC):
            self.quit = True
            return []
        self._leave_asked_sec = now_sec
        view.tell("Press F12 once more to leave.", False, now_sec)
        return []

    # ---- the pages and typing --------------------------------------------------------------------

    def _on_page(self, name: str, view: View, now_sec: float) -> list[Sent] | None:
        """A key for the page that is open; None where that takes no such key."""
        on_lines, state = line_keys.ON_PAGE.get(self.page), self.pages.get(self.page)
        if on_lines is not None and line_keys.takes(name):
            return on_lines(self, name, view)
        if state is not None and name in state.keys:
            return self._reply(state.press(name, view, now_sec), view, now_sec)
        return None

    def open_page(self, name: str, view: View, now_sec: float) -> list[Sent]:
        """Open a page, "" for none, in place of the one that is open."""
        before, self.page = self.pages.get(self.page), name
        sent = self._reply(before.closed(view, now_sec), view, now_sec) if before is not None else []
        if name in self.pages:
            sent += self._reply(self.pages[name].opened(view, now_sec), view, now_sec)
        return sent

    def _reply(self, reply: Reply, view: View, now_sec: float) -> list[Sent]:
        """Do what a page wants."""
        self.entry = reply.entry or self.entry
        if reply.say:
            view.tell(reply.say, reply.wrong, now_sec)
        if reply.open is None or reply.open == self.page:
            return reply.sent
        return reply.sent + self.open_page(reply.open, view, now_sec)

    def receive(self, message: Message) -> None:
        """A message of the engine, for the pages that take it."""
        for state in self.pages.values():
            if type(message) in state.takes:
                state.receive(message)
                self.changed += 1

    def poll(self, view: View, now_sec: float) -> list[Sent]:
        """What the pages have to say by themselves; called before each frame."""
        sent: list[Sent] = []
        for state in self.pages.values():
            if (reply := state.poll(view, now_sec)) is not None:
                self.changed += 1
                sent += self._reply(reply, view, now_sec)
        return sent

    def _edit(self, name: str, view: View, now_sec: float) -> list[Sent]:
        entry = self.entry
        if entry is None:
            return []
        if name != "Enter":
            entry.wrong = ""
        if name == "Backspace":
            entry.text, entry.offered = entry.text[:-1], False
        elif name == "Shift+Backspace":
            entry.text = ""
        elif name in ("Esc", "F2", "F12"):
            self.entry = None
        elif name == "Enter":
            return self._send_entry(entry, view, now_sec)
        return []

    def _send_entry(self, entry: Entry, view: View, now_sec: float) -> list[Sent]:
        """Send what was typed; a value that the field cannot have stays to be corrected, with the
        reason.
        """
        text = entry.text.strip()
        if entry.page:
            reply = self.pages[entry.page].entered(entry, view, now_sec)
            self.entry = None if reply is not None else entry
            return [] if reply is None else self._reply(reply, view, now_sec)
        if entry.field == "vary":
            self.entry, self.varied = None, text
            layer = {} if self.chosen is None else {"layer": self.chosen}
            return _command("vary", how=text, **layer) if text else []
        if entry.field == "name":
            self.entry = None
            last = {} if entry.last is None else {"last": entry.last}
            return _command("keep", passes=self.passes.kept, name=text, **last)
        spec = SPECS[entry.field]
        try:
            value = spec.text(spec.read(text))
        except ValueError as error:
            # The line begins with the name of the field already.
            entry.wrong = str(error).removeprefix(f"{entry.field}: ")
            return []
        self.entry = None
        return _command("brief", fields={entry.field: value})
