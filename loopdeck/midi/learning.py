"""A switch learned by pressing it: from the messages of one press to which switch it is and how it
was pressed.

Task
    ``Learner`` is fed the messages of the inputs and told the time. The first message of a press
    says which switch is meant; what follows tells a short press, a long one and two in a row apart,
    and what kind of switch it is: one that springs back, one that stays down, one that tells of
    presses only. Contacts that rattle are waited out; a pedal that moves through many values is
    none.

Conventions
    Pure. Seconds of any one clock. The lengths of a long press and of a double one are those of
    ``controls.Switch``; that a switch which is still down after STAYS_SEC stays down by itself, and
    that a pedal with more than MOST_VALUES values is not a switch, is our own choice.
"""

from dataclasses import dataclass
from typing import NamedTuple

from loopdeck.midi.controls import Switch
from loopdeck.theory.pitch import pitch_name

SHORT, LONG, DOUBLE = "short", "long", "double"
LONG_SEC, DOUBLE_SEC, DEBOUNCE_SEC = Switch.long_sec, Switch.double_sec, Switch.debounce_sec
#: A switch whose contacts rattle for longer than usual gets so much time to rest.
RATTLE_SEC = 0.1
STAYS_SEC = 3.0
MOST_VALUES = 6
#: More changes of a contact in so short a time are none of a foot.
MOST_CHANGES, CHANGES_SEC = 5, 0.6
#: After a second press so much is waited: contacts that rattle go on.
REST_SEC = 0.3
#: What rattled or moved has to be at rest for so long before a press is believed.
DEAF_SEC = 0.5
_KINDS = {0x80: "note", 0x90: "note", 0xB0: "control change", 0xC0: "program change"}


class SwitchMessage(NamedTuple):
    """One message of a pedal. ``number`` and ``channel`` count as in a control map."""

    on: str
    number: int
    channel: int
    value: int

    @property
    def words(self) -> str:
        """What it sends, for the player: ``CC 64 value 127, channel 1``."""
        if self.on == "program change":
            return f"program {self.number}, channel {self.channel}"
        if self.on == "note":
            name = pitch_name(self.number)
            return f"note {self.number} ({name}) velocity {self.value}, channel {self.channel}"
        return f"CC {self.number} value {self.value}, channel {self.channel}"


def sent_of(data: bytes) -> SwitchMessage | None:
    """A message that a switch could send; None for any other, and for the channel's own modes
    (control changes 120 to 127, MIDI 1.0).
    """
    kind = _KINDS.get(data[0] & 0xF0) if data else None
    if kind is None or len(data) < 2 or (kind == "control change" and data[1] >= 120):
        return None
    value = data[2] if len(data) > 2 else 0
    if data[0] & 0xF0 == 0x80:
        value = 0
    number = data[1] + 1 if kind == "program change" else data[1]
    return SwitchMessage(kind, number, (data[0] & 0x0F) + 1, value)


class Learned(NamedTuple):
    """A switch, and how it was pressed. ``latching``: it stays down by itself; ``lets_go``: it
    tells when it is let go; ``rattles``: its contacts need RATTLE_SEC to rest.
    """

    sent: SwitchMessage
    press: str
    latching: bool = False
    lets_go: bool = True
    rattles: bool = False


@dataclass
class Learner:
    """Waits for one press. ``result`` is None until it is known; ``sent`` the last message of the
    switch; ``says`` a sentence on what is waited for, or what is wrong.
    """

    sent: SwitchMessage | None = None
    result: Learned | None = None
    says: str = ""
    wrong: bool = False
    _first: SwitchMessage | None = None
    _down: bool = False
    _wants: bool = False
    _quiet_until: float = float("-inf")
    _pressed_sec: float = 0.0
    _second_until: float | None = None
    _changes: tuple[float, ...] = ()
    _values: frozenset[int] = frozenset()
    _rattles: bool = False
    _ready: tuple[float, Learned] | None = None
    """What it will be when nothing more comes until then."""
    _deaf_until: float = float("-inf")

    @property
    def begun(self) -> bool:
        """A press has begun."""
        return self._first is not None

    # ---- hearing ---------------------------------------------------------------------------------

    def hear(self, sec: float, data: bytes) -> bool:
        """A message; True when it was a switch's (or could be), and is to do nothing else.

        What is let go and is not the switch that is learned was pressed before: a note that is held
        must end.
        """
        found = sent_of(data)
        if found is None:
            return False
        pressed = found.on == "program change" or found.value >= (1 if found.on == "note" else 64)
        if self.result is not None:
            return pressed
        self.tick(sec)
        if sec < self._deaf_until:
            # It has not come to rest yet.
            self._deaf_until = sec + DEAF_SEC
            return pressed
        if self._first is None or (found.on, found.number, found.channel) != self._first[:3]:
            if pressed and not self._down:
                self._begin(sec, found)
            return pressed
        before, self.sent = self.sent, found
        if not self._moves(sec, found):
            # A pedal that tells of presses only sends the same again.
            again = pressed and self._down and (found.on == "note" or before == found)
            self._change(sec, pressed, again)
        return True

    def _begin(self, sec: float, found: SwitchMessage) -> None:
        self.sent = self._first = found
        self._values, self._changes = frozenset({found.value}), ()
        self.says, self.wrong = "", False
        if found.on == "program change":
            self._second_until = sec + DOUBLE_SEC
            return
        self._wants = True
        self._resolve(sec, True)

    def _moves(self, sec: float, found: SwitchMessage) -> bool:
        """Whether it is a pedal that moves, and no switch; then it is forgotten."""
        self._values |= {found.value}
        if found.on != "control change" or len(self._values) <= MOST_VALUES:
            return False
        self._forget(sec, f"CC {found.number} moves through many values, as a pedal for volume does; press a switch.")
        return True

    def _change(self, sec: float, pressed: bool, again: bool) -> None:
        if self._first is not None and self._first.on == "program change":
            self._finish(DOUBLE, lets_go=False)
            return
        again = again and self._wants
        self._wants = pressed
        if sec < self._quiet_until:
            return
        if again and self._ready is None:
            # It says nothing of being let go: this is the second press.
            near = sec - self._pressed_sec <= DOUBLE_SEC
            self._finish(DOUBLE if near else SHORT, sec, lets_go=False)
        elif pressed != self._down:
            self._resolve(sec, pressed)

    def _resolve(self, sec: float, down: bool) -> None:
        """The contact is at rest in another place."""
        self._down = down
        self._quiet_until = sec + (RATTLE_SEC if self._rattles else DEBOUNCE_SEC)
        self._changes = (*(one for one in self._changes if one > sec - CHANGES_SEC), sec)
        if len(self._changes) > MOST_CHANGES:
            assert self._first is not None
            self._rattles = True
            self._forget(
                sec,
                f"The contacts of {name_of(self._first)} rattle; they are given more time to rest: press it once more.",
            )
        elif self._ready is not None:
            return
        elif down and self._second_until is not None and sec - self._pressed_sec < RATTLE_SEC:
            # No foot presses twice so fast: it is one press of contacts that rattle.
            self._rattles, self._second_until = True, None
            self._quiet_until = sec + RATTLE_SEC
        elif down and self._second_until is not None and sec <= self._second_until:
            self._finish(DOUBLE, sec)
        elif down:
            self._pressed_sec = sec
        elif sec - self._pressed_sec >= STAYS_SEC:
            self._finish(SHORT, latching=True)
        elif sec - self._pressed_sec >= LONG_SEC:
            self._finish(LONG)
        else:
            self._second_until = sec + DOUBLE_SEC

    def _finish(self, press: str, sec: float | None = None, latching: bool = False, lets_go: bool = True) -> None:
        """It is known, or (``sec``) will be when nothing more comes."""
        assert self._first is not None
        found = Learned(self._first, press, latching, lets_go, self._rattles)
        if sec is None:
            self.result = found
        else:
            self._ready = (sec + REST_SEC, found)

    def _forget(self, sec: float, says: str) -> None:
        """Start over, once nothing has come for a while."""
        self._deaf_until = sec + DEAF_SEC
        self._first, self._down, self._wants, self._second_until = None, False, False, None
        self._ready = None
        self._quiet_until = float("-inf")
        self.says, self.wrong = says, True

    # ---- waiting ---------------------------------------------------------------------------------

    def tick(self, now: float) -> None:
        """Decide what has become certain by waiting."""
        if self.result is not None or self._first is None:
            return
        if self._wants != self._down and now >= self._quiet_until:
            self._resolve(self._quiet_until, self._wants)
        if self._ready is not None:
            if now >= self._ready[0]:
                self.result = self._ready[1]
        elif self._first is None:
            return
        elif self._second_until is not None and now > self._second_until and not self._down:
            self._finish(SHORT, lets_go=self._first.on != "program change")
        elif self._down and now >= self._pressed_sec + STAYS_SEC:
            self.says = "Is your foot off? Then press it once more. If not, Esc leaves."
        elif self._down and now >= self._pressed_sec + LONG_SEC:
            self.says = "Held: let it go."

    def next_due(self) -> float | None:
        """When ``tick`` may have something to do."""
        if self.result is not None or self._first is None:
            return None
        moments = [self._ready[0]] if self._ready is not None else []
        if self._wants != self._down:
            moments.append(self._quiet_until)
        if self._ready is not None:
            return min(moments)
        if self._second_until is not None and not self._down:
            moments.append(self._second_until + 1e-6)
        if self._down:
            moments += [self._pressed_sec + one for one, words in ((LONG_SEC, "Held"), (STAYS_SEC, "Is your")) if not self.says.startswith(("Is your", words))]  # fmt: skip
        return min(moments, default=None)


def name_of(sent: SwitchMessage) -> str:
    """A switch by its message, without the value: ``CC 64, channel 1``."""
    kind = {"control change": "CC", "program change": "program"}.get(sent.on, sent.on)
    return f"{kind} {sent.number}, channel {sent.channel}"
