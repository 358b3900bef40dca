"""The page of pedals: every command a foot can give, with the switch that gives it; Enter learns a
switch for the chosen one, Delete takes its switch away. Pure.
"""

from dataclasses import dataclass, field
from typing import Any, NamedTuple

from loopdeck.looper.commands import BY_FOOT, BY_FOOT_OWNERS, COMMANDS
from loopdeck.protocol.messages import Message, PedalsChanged
from loopdeck.window import keys
from loopdeck.window.pages.page import PageState, Reply
from loopdeck.window.sent import command
from loopdeck.window.view import View

SURE_SEC = 5.0
BIG = 8
#: Commands that make sense by foot with these arguments only, beside those of the keys.
MORE: tuple[tuple[str, dict[str, Any], str], ...] = (
    ("start", {}, ""),
    ("stop", {}, ""),
    ("start-now", {}, ""),
    ("layer-on", {}, ""),
    ("layer-off", {}, ""),
    ("mute-toggle", {}, ""),
    ("clear", {}, ""),
    ("keep", {"passes": 2}, "keep the last two passes"),
    ("keep", {"passes": 4}, "keep the last four passes"),
    ("keep", {"passes": 8}, "keep the last eight passes"),
    ("level", {"by": 3.0}, "everything 3 dB louder"),
    ("level", {"by": -3.0}, "everything 3 dB softer"),
    ("window-line", {"step": 1}, "on an open page: a line down"),
    ("window-line", {"step": -1}, "on an open page: a line up"),
    ("window-value", {"step": 1}, "on an open page: one step to the right"),
    ("window-value", {"step": -1}, "on an open page: one step to the left"),
    ("quit", {}, ""),
)
OTHERS = "More"


class Choice(NamedTuple):
    """A command with its arguments, in words; ``group`` as the keys are grouped."""

    command: str
    args: dict[str, Any]
    words: str
    group: str


def _by_foot(name: str) -> bool:
    return COMMANDS[name].owner in BY_FOOT_OWNERS or name in BY_FOOT


def _choices() -> tuple[Choice, ...]:
    """Every command of the registry that a foot can give."""
    found = []
    for one in keys.BINDINGS:
        if _by_foot(one.act):
            found.append(Choice(one.act, dict(one.args), one.words, one.group))
    found += [Choice(name, args, words or COMMANDS[name].does, OTHERS) for name, args, words in MORE]
    known = {one.command for one in found}
    for name, row in COMMANDS.items():
        free = not any(argument.required for argument in row.arguments)
        if name not in known and free and _by_foot(name) and name not in NOT_BY_FOOT:
            found.append(Choice(name, {}, row.does, OTHERS))
    return tuple(found)


#: Set by measuring an input, by a clock source, or on the very page that learns.
NOT_BY_FOOT = {"late", "pickup", "follow", "sound-mute", "learn-take", "learn-end", "level"}
CHOICES = _choices()


@dataclass
class PedalsPage(PageState):
    """``at`` is the chosen line of CHOICES."""

    keys = frozenset({"Up", "Down", "Shift+Up", "Shift+Down", "Left", "Right", "Enter", "Delete", "Esc"})
    takes = frozenset({PedalsChanged})

    at: int = 0
    pedals: PedalsChanged = field(default_factory=PedalsChanged)
    _sure: tuple[int, float] | None = None

    @property
    def learning(self) -> bool:
        """A switch is being learned."""
        return bool(self.pedals.learning)

    @property
    def choice(self) -> Choice:
        """The chosen command."""
        return CHOICES[self.at]

    def receive(self, message: Message) -> None:
        if isinstance(message, PedalsChanged):
            self.pedals = message

    def switches(self, choice: Choice) -> list[str]:
        """The switches that give a command: ``CC 64 short``."""
        return [
            f"{row.switch} {row.press}"
            for row in self.pedals.rows
            if row.command == choice.command and dict(row.args) == choice.args
        ]

    def closed(self, view: View, now_sec: float) -> Reply:
        return Reply(command("learn-end") if self.learning else [])

    def press(self, key: str, view: View, now_sec: float) -> Reply:
        if self.learning:
            return self._while_learning(key)
        if key == "Esc":
            return Reply(open="")
        if key.endswith(("Up", "Down")):
            step = (1 if key.endswith("Down") else -1) * (BIG if key.startswith("Shift") else 1)
            self.at = (self.at + step) % len(CHOICES)
            return Reply()
        if key in ("Left", "Right"):
            self._turn(1 if key == "Right" else -1)
            return Reply()
        choice = self.choice
        if key == "Enter":
            return Reply(command("learn", command=choice.command, args=choice.args))
        return self._take_away(choice, now_sec)

    def _while_learning(self, key: str) -> Reply:
        if key == "Enter" and self.pedals.asks:
            return Reply(command("learn-take"))
        if key == "Enter":
            return Reply()
        return Reply(command("learn-end"), say="Nothing was learned.")

    def _turn(self, by: int) -> None:
        """To the first line of the next group, or of the one before."""
        groups = list(dict.fromkeys(one.group for one in CHOICES))
        wanted = groups[(groups.index(self.choice.group) + by) % len(groups)]
        self.at = next(at for at, one in enumerate(CHOICES) if one.group == wanted)

    def _take_away(self, choice: Choice, now_sec: float) -> Reply:
        if not self.switches(choice):
            return Reply(say="No switch gives this command.", wrong=True)
        if self._sure is None or self._sure[0] != self.at or now_sec - self._sure[1] > SURE_SEC:
            self._sure = (self.at, now_sec)
            return Reply(say="Press Delete once more to take the switch off this command.")
        self._sure = None
        return Reply(command("unlearn", command=choice.command, args=choice.args))
