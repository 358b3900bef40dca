"""The page of devices: the instrument, the output, the pedals' input and the sound device, each
with what there is to choose from; what is chosen is in use at once, and at the next start. Pure.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

from loopdeck.protocol.messages import DeviceListChanged, Message, PedalsChanged
from loopdeck.window.pages.page import PageState, Reply
from loopdeck.window.sent import command
from loopdeck.window.view import View

IN, OUT, CONTROLS, SOUND, LEARN = "in", "out", "controls", "sound", "learn"
OWN = "virtual"
OWN_NAMES = {IN: "loopdeck in", OUT: "loopdeck out", CONTROLS: "loopdeck controls"}
TITLES = {IN: "instrument", OUT: "MIDI out", CONTROLS: "pedals", SOUND: "sound"}


class Role(NamedTuple):
    """A line on the left. ``number`` counts inputs or outputs of several."""

    role: str
    number: int
    title: str
    value: str
    state: str = ""


class Option(NamedTuple):
    """A line on the right: the ``name`` to ask for, how it reads, and whether it is in use."""

    name: str
    title: str
    in_use: bool


@dataclass
class DevicesPage(PageState):
    """``at`` is the line on the left, ``inside`` the line on the right, None while one is on the
    left.
    """

    keys = frozenset({"Up", "Down", "Left", "Right", "Enter"})
    takes = frozenset({DeviceListChanged, PedalsChanged})

    at: int = 0
    inside: int | None = None
    there: DeviceListChanged = field(default_factory=DeviceListChanged)
    pedals: PedalsChanged = field(default_factory=PedalsChanged)

    def receive(self, message: Message) -> None:
        if isinstance(message, DeviceListChanged):
            self.there = message
        elif isinstance(message, PedalsChanged):
            self.pedals = message

    # ---- what there is ---------------------------------------------------------------------------

    def roles(self, view: View) -> list[Role]:
        """The lines on the left."""
        found = []
        for role in (IN, OUT):
            rows = [one for one in view.gear.devices if one.role == role]
            for number, one in enumerate(rows):
                title = TITLES[role] if len(rows) == 1 else f"{TITLES[role]} {number + 1}"
                found.append(Role(role, number, title, one.name or "none", one.state))
        own = next((one for one in view.gear.devices if one.role == CONTROLS and one.state != "none"), None)
        value, state = (own.name, own.state) if own is not None else ("on the instrument's input", "")
        found.append(Role(CONTROLS, 0, TITLES[CONTROLS], value, state))
        found.append(
            Role(
                SOUND, 0, TITLES[SOUND], view.gear.levels.device or "none", "" if view.gear.levels.device else "silent"
            )
        )
        learned = f"map: {self.pedals.name}" if self.pedals.name else "no map yet"
        return [*found, Role(LEARN, 0, "learn", "a pedal, by pressing it", learned)]

    def role(self, view: View) -> Role:
        """The chosen line."""
        roles = self.roles(view)
        return roles[max(0, min(self.at, len(roles) - 1))]

    def options(self, view: View) -> list[Option]:
        """What there is for the chosen line."""
        role = self.role(view)
        if role.role == LEARN:
            return []
        if role.role == SOUND:
            now = view.gear.levels.device
            return [Option("", "the system's choice", False)] + [
                Option(name, name, name == now) for name in self.there.sounds
            ]
        names = self.there.outs if role.role == OUT else self.there.ins
        found = [Option(name, name, name == role.value) for name in names]
        if self.there.virtual:
            own = OWN_NAMES[role.role]
            found.append(Option(OWN, f"a port of our own: {own}", role.value == own))
        none = "on the instrument's input" if role.role == CONTROLS else "none"
        return [*found, Option("", none, role.value == none)] if self.there.system else []

    def why_none(self, view: View) -> str:
        """What is to be said where there is nothing to choose from; "" where there is."""
        role = self.role(view)
        if role.role == LEARN:
            return "Enter opens the list of commands: choose one, press the switch, briefly, long or twice, and it is learned."
        if role.role == SOUND:
            return "" if self.there.sounds else "There is no sound device to choose."
        return "" if self.there.system else (
            "No MIDI system answered when loopdeck started. Restart loopdeck when there is one."
        )  # fmt: skip

    # ---- keys ------------------------------------------------------------------------------------

    def opened(self, view: View, now_sec: float) -> Reply:
        self.inside = None
        return Reply()

    def press(self, key: str, view: View, now_sec: float) -> Reply:
        options = self.options(view)
        if key in ("Up", "Down"):
            self._step(1 if key == "Down" else -1, view, options)
            return Reply()
        if key == "Left":
            self.inside = None
            return Reply()
        if self.role(view).role == LEARN:
            return Reply(open="pedals")
        if self.inside is None or self.inside >= len(options):
            self._enter(options)
            return Reply(say=self.why_none(view), wrong=True)
        return self._take(options[self.inside], view) if key == "Enter" else Reply()

    def _step(self, by: int, view: View, options: list[Option]) -> None:
        if self.inside is not None and options:
            self.inside = (min(self.inside, len(options) - 1) + by) % len(options)
        else:
            self.inside, self.at = None, (self.at + by) % len(self.roles(view))

    def _enter(self, options: list[Option]) -> None:
        used = next((at for at, one in enumerate(options) if one.in_use), 0)
        self.inside = used if options else None

    def _take(self, option: Option, view: View) -> Reply:
        role = self.role(view)
        self.inside = None
        if option.in_use:
            return Reply(say=f"{option.title} is in use already.")
        return Reply(command("device", role=role.role, name=option.name, number=role.number))
