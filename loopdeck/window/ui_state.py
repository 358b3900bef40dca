"""What the player does with the window: keys in, messages for the engine out, and the window's own
state.

Conventions: ``press`` and ``release`` return the messages to send. Keys come by their codes (see
``keys``). Times are seconds on the common monotonic clock. Pure: the window translates events and
moves messages, nothing else.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from loopdeck.looper.commands import BY_FOOT
from loopdeck.protocol.messages import Command, KeyPlayed
from loopdeck.window import briefpage, keys, levels
from loopdeck.window.note_view import BIGGEST
from loopdeck.window.view import View

Sent = Command | KeyPlayed
LEAVE_SEC = 3.0
MAX_KEPT = 16


def _command(name: str, /, **args: Any) -> list[Sent]:
    return [Command(name=name, args=args)]


def _key(held: tuple[int, int], on: bool, velocity: int, now_sec: float) -> Sent:
    return KeyPlayed(pitch=held[0], on=on, velocity=velocity, string=held[1], played_sec=now_sec)


@dataclass
class Entry:
    """A line being typed: ``field`` of the brief, or "name" for a keep."""

    field: str
    text: str = ""
    wrong: str = ""
    """What is wrong with it, once it was sent off."""
    offered: bool = False
    """The text is the value in force: the first letter typed takes its place, Backspace edits it."""


@dataclass
class UiState:
    """The window's own state. ``quit``, ``theme_turns`` and ``full_turns`` are for the window to
    act on.
    """

    page: str = ""
    """"" while playing, "help", "brief" or "sound"."""
    help_page: int = 0
    panel: int = 0
    """Which of the panels stands below, counted round and round."""
    biggest: str = BIGGEST[0]
    """What is biggest on a note."""
    chosen: int | None = None
    """The number of the chosen layer; None means all of them."""
    keep_passes: int = 1
    keys_play: bool | None = None
    """Letter keys play: True or False as the player wants it, None: while there is no instrument.
    """
    thru: bool = True
    brief_line: int = 0
    sound_part: str = levels.MASTER
    entry: Entry | None = None
    quit: bool = False
    theme_turns: int = 0
    full_turns: int = 0
    changed: int = 0
    stay: bool = False
    """Asked to stay although the engine is gone."""
    held: dict[int, tuple[int, int]] = field(default_factory=dict)
    _leave_asked_sec: float | None = None

    def plays(self, view: View) -> bool:
        """True when the letter keys play notes."""
        return not view.has_input() if self.keys_play is None else self.keys_play

    # ---- keys -----------------------------------------------------------------------------------------------------------

    def press(self, code: int, shift: bool, view: View, now_sec: float) -> list[Sent]:
        """A key goes down."""
        self.changed += 1
        name = keys.key_name(code, shift)
        if self.entry is not None:
            return self._edit(name, view, now_sec)
        on_page = {"brief": self._on_brief_page, "sound": self._on_sound_page}.get(self.page)
        if on_page is not None and (name.removeprefix("Shift+") in ("Up", "Down", "Left", "Right") or name == "Enter"):
            return on_page(name, view)
        if name == "Esc" and self.page:
            self.page = ""
            return []
        binding = keys.BY_KEY.get(name)
        if binding is not None:
            return self._act(binding, view, now_sec)
        return self._note_on(code, shift, view, now_sec)

    def release(self, code: int, now_sec: float) -> list[Sent]:
        """A key goes up: the note it began ends, whatever page is open now."""
        held = self.held.pop(code, None)
        return [] if held is None else [_key(held, False, 0, now_sec)]

    def release_all(self, now_sec: float) -> list[Sent]:
        """The window no longer hears the keyboard: every note it began ends."""
        return [sent for code in list(self.held) for sent in self.release(code, now_sec)]

    def typed(self, text: str) -> None:
        """Letters for the line being typed."""
        if self.entry is not None:
            self.entry.wrong = ""
            before = "" if self.entry.offered else self.entry.text
            self.entry.offered = False
            self.entry.text = (before + "".join(c for c in text if c.isprintable()))[:80]
            self.changed += 1

    # ---- notes ----------------------------------------------------------------------------------------------------------

    def _note_on(self, code: int, shift: bool, view: View, now_sec: float) -> list[Sent]:
        if view.brief is None or not self.plays(view) or code in self.held:
            return []
        found = keys.pitch_of(code, view.brief.tuning.strings)
        if found is None:
            return []
        self.held[code] = found
        return [_key(found, True, keys.ACCENT if shift else keys.VELOCITY, now_sec)]

    # ---- acts -----------------------------------------------------------------------------------------------------------

    def _act(self, binding: keys.Binding, view: View, now_sec: float) -> list[Sent]:
        act, args = binding.act, binding.args
        if act in ("mute", "unmute"):
            return _command(act, layer="all" if self.chosen is None else self.chosen)
        if act == "vary" and self.chosen is not None:
            return _command(act, **args, layer=self.chosen)
        if act == "keep":
            return _command("keep", passes=self.keep_passes)
        if not act.startswith("window-"):
            if act == "silence":
                self.held.clear()
            return _command(act, **args)
        return getattr(self, "_" + act.removeprefix("window-").replace("-", "_"))(view, now_sec, **args) or []

    def asked(self, name: str, args: Mapping[str, Any], view: View, now_sec: float) -> list[Sent]:
        """A pedal asks something of the window, by the name and arguments of the command table."""
        if name not in BY_FOOT:
            return []
        self.changed += 1
        return self._act(keys.Binding(key="", act=name, group="", args=dict(args)), view, now_sec)

    def _choose(self, view: View, now_sec: float, step: int) -> None:
        """Through the layers from the newest down to the oldest, with "all" between the ends."""
        stops: list[int | None] = [None, *(row.number for row in reversed(view.layers))]
        at = stops.index(self.chosen) if self.chosen in stops else 0
        self.chosen = stops[(at + step) % len(stops)]

    def _passes(self, view: View, now_sec: float, step: int) -> None:
        self.keep_passes = max(1, min(MAX_KEPT, self.keep_passes + step))
        what = "pass" if self.keep_passes == 1 else f"{self.keep_passes} passes"
        view.tell(f"F5 keeps the last {what}.", False, now_sec)

    def _name(self, view: View, now_sec: float) -> None:
        self.entry = Entry("name")

    def _accept(self, view: View, now_sec: float) -> list[Sent]:
        return self._answer(view, now_sec, True)

    def _refuse(self, view: View, now_sec: float) -> list[Sent]:
        return self._answer(view, now_sec, False)

    def _answer(self, view: View, now_sec: float, yes: bool) -> list[Sent]:
        if view.engine_lost:
            self.stay, self.quit = yes, not yes
            return []
        question = view.waiting()
        if question is None:
            view.tell("Nothing waits for an answer.", True, now_sec)
            return []
        view.answered(question)
        answer = question.accept if yes else question.refuse
        return _command(answer.name, **answer.args)

    def _count_in(self, view: View, now_sec: float) -> list[Sent]:
        bars = view.brief.count_in if view.brief is not None else 0
        return _command("count-in", bars=(bars + 1) % 3)

    def _click(self, view: View, now_sec: float, step: int) -> list[Sent]:
        level = view.brief.click_level if view.brief is not None else 80
        return _command("brief", fields={"click_level": max(0, min(127, level + step))})

    def _help(self, view: View, now_sec: float) -> None:
        if self.page != "help":
            self.page, self.help_page = "help", 0
        elif self.help_page + 1 < keys.HELP_PAGES:
            self.help_page += 1
        else:
            self.page = ""

    def _brief(self, view: View, now_sec: float) -> None:
        self.page = "" if self.page == "brief" else "brief"

    def _sound(self, view: View, now_sec: float) -> None:
        self.page = "" if self.page == "sound" else "sound"

    def _panel(self, view: View, now_sec: float, step: int) -> None:
        self.panel = self.panel + step

    def _biggest(self, view: View, now_sec: float) -> None:
        self.biggest = BIGGEST[(BIGGEST.index(self.biggest) + 1) % len(BIGGEST)]
        view.tell(f"Biggest on a note: its {self.biggest}.", False, now_sec)

    def _solo(self, view: View, now_sec: float) -> list[Sent]:
        if self.chosen is None:
            view.tell("Choose a layer with the arrows up and down, then Home solos it.", True, now_sec)
            return []
        return _command("solo", layer=self.chosen)

    def _delete(self, view: View, now_sec: float) -> list[Sent]:
        if self.chosen is None:
            return _command("clear")
        return _command("delete", layer=self.chosen)

    def _lanes(self, view: View, now_sec: float) -> None:
        view.set_lanes("pitches" if view.lanes_kind == "strings" else "strings")

    def _theme(self, view: View, now_sec: float) -> None:
        self.theme_turns += 1

    def _full(self, view: View, now_sec: float) -> None:
        self.full_turns += 1

    def _keys(self, view: View, now_sec: float) -> list[Sent]:
        self.keys_play = not self.plays(view)
        view.tell("The letter keys play notes." if self.keys_play else "The letter keys are silent.", False, now_sec)
        view.changed["devices"] += 1
        return [] if self.keys_play else self.release_all(now_sec)

    def _thru(self, view: View, now_sec: float) -> list[Sent]:
        self.thru = not self.thru
        return _command("thru", on=self.thru)

    def _leave(self, view: View, now_sec: float) -> None:
        if view.engine_lost or (self._leave_asked_sec is not None and now_sec - self._leave_asked_sec < LEAVE_SEC):
            self.quit = True
            return
        self._leave_asked_sec = now_sec
        view.tell("Press F12 once more to leave.", False, now_sec)

    # ---- the pages and typing -----------------------------------------------------------------------------------------------

    def _on_brief_page(self, name: str, view: View) -> list[Sent]:
        shift = name.startswith("Shift+")
        key = name.removeprefix("Shift+")
        if key in ("Up", "Down"):
            self.brief_line = (self.brief_line + (1 if key == "Down" else -1)) % len(briefpage.LINES)
            return []
        line = briefpage.LINES[self.brief_line]
        now = view.brief_texts.get(line.field, "")
        if key == "Enter":
            self.entry = Entry(line.field, "" if now is None else str(now), offered=True)
            return []
        return _command(
            "brief", fields={line.field: briefpage.step(line.field, now, 1 if key == "Right" else -1, shift)}
        )

    def _on_sound_page(self, name: str, view: View) -> list[Sent]:
        lines = [line.part for line in view.sound_lines()]
        if not lines:
            return []
        # A layer may have gone since it was chosen.
        at = lines.index(self.sound_part) if self.sound_part in lines else 0
        key = name.removeprefix("Shift+")
        if key in ("Up", "Down"):
            self.sound_part = lines[(at + (1 if key == "Down" else -1)) % len(lines)]
            return []
        if key == "Enter":
            return _command("sound-mute", part=lines[at])
        return _command("level", part=lines[at], by=levels.step(1 if key == "Right" else -1, name != key))

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
            return self._send_entry(entry, view)
        return []

    def _send_entry(self, entry: Entry, view: View) -> list[Sent]:
        """Send what was typed; what is no value of its field stays to be mended, with what is
        wrong behind it.
        """
        text = entry.text.strip()
        if entry.field == "name":
            self.entry = None
            return _command("keep", passes=self.keep_passes, name=text)
        if view.brief is not None:
            try:
                view.brief.replace(**{entry.field: text})
            except ValueError as error:
                entry.wrong = str(error)
                return []
        self.entry = None
        value: Any = int(text) if text.isdecimal() and entry.field not in ("tempo", "cycle", "scale") else text
        return _command("brief", fields={entry.field: value})
