"""Pedals: MIDI messages of a pedal board turned into commands, by a map in a TOML file.

Task
    A map lists switches; each names the message it sends and what presses of it do: at the press,
    at the release, or told apart by how one presses (short, long, double). docs/controls.md
    describes the file.

Conventions
    Pure: ``Pedals`` is fed ``(seconds, message)`` and told the time by ``tick``; both return the
    orders that follow, in order. Times are seconds, of any one clock. Channels count from 1 in a
    map, as musicians count, numbers from 0 as manuals of pedals do, but programs from 1 as General
    MIDI does. The lengths of a long press (0.6 s), of the pause within a double press (0.35 s) and
    of the debounce (25 ms) are common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

KINDS = ("note", "control change", "program change")
_STATUS = {"note": (0x80, 0x90), "control change": (0xB0,), "program change": (0xC0,)}


class Act(NamedTuple):
    """What a press does: a command with its arguments; another one while time stands, if
    ``stopped`` names it.
    """

    command: str
    args: Mapping[str, Any]
    stopped: "Act | None" = None


class Order(NamedTuple):
    """An act, and the moment it is meant to happen: that of the press, the release, or the end of
    waiting for a second press.
    """

    time_sec: float
    act: Act
    label: str


@dataclass(frozen=True)
class Switch:
    """One switch of a map. ``channel`` 0 is any, else 1 to 16; ``command`` acts at the press."""

    label: str
    on: str
    number: int
    channel: int = 0
    threshold: int = 64
    debounce_sec: float = 0.025
    long_sec: float = 0.6
    double_sec: float = 0.35
    latching: bool = False
    command: Act | None = None
    release: Act | None = None
    short: Act | None = None
    long: Act | None = None
    double: Act | None = None

    def matches(self, data: bytes) -> bool:
        """True for a message of this switch, whatever its value."""
        if len(data) < 2 or data[0] & 0xF0 not in _STATUS[self.on]:
            return False
        number = data[1] + 1 if self.on == "program change" else data[1]
        return number == self.number and self.channel in (0, (data[0] & 0x0F) + 1)


@dataclass(frozen=True)
class ControlMap:
    """The switches of a pedal board. ``about`` says in words which board it is for."""

    name: str
    switches: tuple[Switch, ...]
    about: str = ""


@dataclass
class _SwitchState:
    """The state of one switch.

    ``wants`` is what was heard while waiting for the contacts to come to rest.
    """

    switch: Switch
    down: bool = False
    wants: bool = False
    value: int = -1
    quiet_until: float = float("-inf")
    pressed_sec: float = 0.0
    #: This press has had its effect (as a long or a double one): its release is not a short press.
    spent: bool = True
    #: Until then a press is the second one of a double press.
    second_until: float | None = None
    #: The short press that is held back until then.
    short_due: float | None = None
    orders: list[Order] = field(default_factory=list)

    def hear(self, sec: float, data: bytes) -> None:
        switch = self.switch
        if switch.on == "program change":
            # A program change has no end, so it is a press and its release at once.
            if sec >= self.quiet_until:
                self._resolve(sec, True)
                self._resolve(sec, False)
            return
        value = data[2] if len(data) > 2 else 0
        level = value >= max(switch.threshold, 1) and data[0] & 0xF0 != 0x80
        again = level and (switch.on == "note" or value == self.value)
        self.value = value
        self.wants = level
        if sec < self.quiet_until:
            return
        if level == self.down:
            if again and not switch.latching:
                # A pedal that tells of presses only: the one before has been let go.
                self._resolve(sec, False)
                self._resolve(sec, True)
            return
        self._resolve(sec, level)

    def _resolve(self, sec: float, level: bool) -> None:
        self.down = level
        self.quiet_until = sec + self.switch.debounce_sec
        if level or self.switch.latching:
            self._press(sec)
        if not level and not self.switch.latching:
            self._release(sec)

    def _press(self, sec: float) -> None:
        switch = self.switch
        if self.second_until is not None and sec <= self.second_until:
            self.second_until = self.short_due = None
            self.spent = True
            self._order(sec, switch.double)
            return
        self._flush_short(sec)
        self.pressed_sec, self.spent = sec, False
        self.second_until = sec + switch.double_sec if switch.double and (switch.latching or not switch.short) else None
        self._order(sec, switch.command)

    def _release(self, sec: float) -> None:
        switch = self.switch
        self._order(sec, switch.release)
        if self.spent:
            return
        self.spent = True
        if switch.double is None:
            self._order(sec, switch.short)
            return
        self.second_until = sec + switch.double_sec
        self.short_due = self.second_until if switch.short else None

    def tick(self, now: float) -> None:
        switch = self.switch
        if self.wants != self.down and now >= self.quiet_until and switch.on != "program change":
            self._resolve(self.quiet_until, self.wants)
        if switch.long and self.down and not self.spent and now >= self.pressed_sec + switch.long_sec:
            self.spent = True
            self._order(self.pressed_sec + switch.long_sec, switch.long)
        if self.short_due is not None and now > self.short_due:
            self._flush_short(now)

    def _flush_short(self, sec: float) -> None:
        if self.short_due is not None:
            self._order(min(self.short_due, sec), self.switch.short)
            self.short_due = None

    def _order(self, sec: float, act: Act | None) -> None:
        if act is not None:
            self.orders.append(Order(sec, act, self.switch.label))

    def due(self) -> float | None:
        moments = []
        if self.wants != self.down and self.switch.on != "program change":
            moments.append(self.quiet_until)
        if self.switch.long and self.down and not self.spent:
            moments.append(self.pressed_sec + self.switch.long_sec)
        if self.short_due is not None:
            moments.append(self.short_due + 1e-6)
        return min(moments, default=None)


class Pedals:
    """The state of all switches of a map."""

    def __init__(self, controls: ControlMap) -> None:
        self.controls = controls
        self._states = [_SwitchState(switch) for switch in controls.switches]

    def message(self, sec: float, data: bytes) -> tuple[bool, list[Order]]:
        """A MIDI message that came at ``sec``: was it a switch's (then it is not to be played), and
        what follows from it.
        """
        orders = self.tick(sec)
        found = False
        for state in self._states:
            if state.switch.matches(data):
                found = True
                state.hear(sec, data)
                orders += self._taken(state)
        return found, orders

    def tick(self, now: float) -> list[Order]:
        """The orders that have fallen due by waiting."""
        orders: list[Order] = []
        for state in self._states:
            state.tick(now)
            orders += self._taken(state)
        return sorted(orders, key=lambda order: order.time_sec)

    def next_due(self) -> float | None:
        """When ``tick`` will have something to do; None when nothing is being waited for."""
        return min((due for state in self._states if (due := state.due()) is not None), default=None)

    def let_go(self) -> None:
        """The pedal board has gone: forget what is held down, without any effect."""
        self._states = [_SwitchState(switch) for switch in self.controls.switches]

    @staticmethod
    def _taken(state: _SwitchState) -> list[Order]:
        orders, state.orders = state.orders, []
        return orders
