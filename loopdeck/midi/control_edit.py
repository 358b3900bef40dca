"""Changing a control map: giving a press of a switch another act, taking one away, and writing the
map as TOML. ``control_files`` reads what is written here. Pure.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from loopdeck.errors import UserError
from loopdeck.midi.control_files import MAX_SWITCHES
from loopdeck.midi.controls import Act, ControlMap, Switch
from loopdeck.midi.learning import DOUBLE, LONG, RATTLE_SEC, SHORT, Learned, SwitchMessage, name_of
from loopdeck.settings import toml_value

#: The acts of a switch in the order of the file, and how one presses for them.
ACTS = {"command": SHORT, "release": "let go", "short": SHORT, "long": LONG, "double": DOUBLE}


def switch_of(controls: ControlMap | None, sent: SwitchMessage) -> Switch | None:
    """The switch of a map that hears this message; None for none."""
    for one in controls.switches if controls is not None else ():
        if (one.on, one.number) == (sent.on, sent.number) and one.channel in (0, sent.channel):
            return one
    return None


def act_at(switch: Switch | None, press: str) -> Act | None:
    """What a press of it does already; None for nothing."""
    if switch is None:
        return None
    found: Act | None = switch.command if press == SHORT and switch.command is not None else getattr(switch, press)
    return found


def with_act(controls: ControlMap, learned: Learned, act: Act) -> ControlMap:
    """The map with this act on the learned press. Raises UserError where there is no room.

    What is pressed shortly and does nothing else acts at the press; with a long or a double press
    beside it, when it is let go.
    """
    old = switch_of(controls, learned.sent)
    sent = learned.sent
    switch = old or Switch(
        label=name_of(sent),
        on=sent.on,
        number=sent.number,
        channel=sent.channel,
        threshold=1 if sent.on == "note" else 64,
        debounce_sec=RATTLE_SEC if learned.rattles else Switch.debounce_sec,
        latching=learned.latching,
    )
    acts = {name: getattr(switch, name) for name in ACTS}
    if learned.press == SHORT:
        acts["command"], acts["short"] = act, None
    else:
        acts[learned.press] = act
    switch = replace(switch, **_in_place(acts, learned.lets_go and not switch.latching))
    others = tuple(one for one in controls.switches if one is not old)
    if old is None and len(others) >= MAX_SWITCHES:
        raise UserError(f"The control map has {MAX_SWITCHES} switches, which are the most.")
    place = controls.switches.index(old) if old is not None else len(others)
    return replace(controls, switches=(*others[:place], switch, *others[place:]))


def _in_place(acts: dict[str, Act | None], lets_go: bool) -> dict[str, Any]:
    """A short press at the press where nothing else is told apart from it, else at the release."""
    short = acts["command"] or acts["short"]
    apart = lets_go and (acts["long"] is not None or acts["double"] is not None)
    return {**acts, "command": None if apart else short, "short": short if apart else None}


def without_act(controls: ControlMap, command: str, args: Mapping[str, Any]) -> ControlMap:
    """The map without what gives this command; switches that do nothing then are left out."""
    kept = []
    for switch in controls.switches:
        acts = {name: getattr(switch, name) for name in ACTS}
        left: dict[str, Any] = {
            name: None if one is not None and same_act(one, command, args) else one for name, one in acts.items()
        }
        if any(left.values()):
            kept.append(replace(switch, **left))
    return replace(controls, switches=tuple(kept))


def same_act(act: Act, command: str, args: Mapping[str, Any]) -> bool:
    """Whether an act gives this command with these arguments."""
    return act.command == command and dict(act.args) == dict(args)


def joined(first: ControlMap, second: ControlMap) -> ControlMap:
    """All switches of the first map, and those of the second that it does not have."""
    more = tuple(
        one
        for one in second.switches
        if not any(
            (one.on, one.number) == (other.on, other.number)
            and (one.channel == other.channel or 0 in (one.channel, other.channel))
            for other in first.switches
        )
    )
    return replace(first, switches=(*first.switches, *more)[:MAX_SWITCHES])


# ---- writing -------------------------------------------------------------------------------------


def controls_to_toml(controls: ControlMap) -> str:
    """The text of the map's file; ``controls_from_toml`` reads the same map back."""
    lines = [f"name = {toml_value(controls.name)}", f"about = {toml_value(controls.about)}"]
    for switch in controls.switches:
        lines += ["", "[[control]]", *_switch_lines(switch)]
    return "\n".join(lines) + "\n"


def _switch_lines(switch: Switch) -> list[str]:
    usual = Switch(switch.label, switch.on, switch.number, threshold=1 if switch.on == "note" else 64)
    values: dict[str, Any] = {"label": switch.label, "on": switch.on}
    if switch.channel:
        values["channel"] = switch.channel
    values["number"] = switch.number
    for key, name, scale in (
        ("threshold", "threshold", 1),
        ("debounce_ms", "debounce_sec", 1000),
        ("long_ms", "long_sec", 1000),
        ("double_ms", "double_sec", 1000),
    ):
        if getattr(switch, name) != getattr(usual, name):
            values[key] = round(getattr(switch, name) * scale)
    if switch.latching:
        values["latching"] = True
    lines = [f"{key} = {toml_value(value)}" for key, value in values.items()]
    return lines + [
        f"{name} = {_act_text(act)}" for name in ACTS if (act := getattr(switch, name)) is not None
    ]  # fmt: skip


def _act_text(act: Act) -> str:
    if not act.args and act.stopped is None:
        return toml_value(act.command)
    parts = [f"command = {toml_value(act.command)}"]
    if act.args:
        parts.append(f"args = {toml_value(act.args)}")
    if act.stopped is not None:
        parts.append(f"stopped = {_act_text(act.stopped)}")
    return f"{{ {', '.join(parts)} }}"
