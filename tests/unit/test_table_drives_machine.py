"""Whoever changes a moment in the table of commands changes what the machine does, whichever
command it is.
"""

from typing import Any

import pytest

from loopdeck.brief.spec import BEAT, CYCLE, NOW
from loopdeck.looper.commands import COMMANDS, END, FIELD, LOOP, LOOPER, START, names_of
from tests.unit.looper_tools import Player

MOMENTS = (NOW, BEAT, CYCLE, START, END, LOOP, FIELD)
#: Arguments for the commands that need some.
ARGS: dict[str, dict[str, Any]] = {
    "loop-pass": {"number": 1}, "bring-back": {"layers": []}, "solo": {"layer": 1}, "delete": {"layer": 1},
    "tempo": {"tempo": 90}, "brief": {"fields": {"cycle": "3/4"}}, "follow": {"qpm": 120}, "vary": {"how": "octave +1"},
    "loop-free": {"fields": {"tempo": 100}, "note": 0, "qpm": 100},
}  # fmt: skip
#: What can be seen to change at the moment of the table, and from what to what.
SEEN = {
    "undo": (1, 0), "clear": (1, 0), "delete": (1, 0), "mute": (False, True), "tempo": ("120", "90"), "half": ("4/4", "2/4"),
    "double": ("4/4", "4/4 4/4"), "stop": ("LISTENING", "STOPPED"), "layer-on": ("LISTENING", "LAYERING"),
}  # fmt: skip


def playing(name: str, when: str, monkeypatch: pytest.MonkeyPatch, layered: bool = True) -> Player:
    """In pass 2, with a note in each of two passes, and the table changed for this command."""
    command = COMMANDS[name]
    cells = tuple(cell._replace(when=when) if cell.action else cell for cell in command.cells)
    monkeypatch.setitem(COMMANDS, name, command._replace(cells=cells))
    player = Player()
    player.command(0.0, "start-now")
    player.note(1.0)
    player.note(5.0)
    if layered:
        player.looper.command(player.sec(5.3), "loop-pass", number=1)
    return player


def seen(player: Player, name: str) -> Any:
    looper = player.looper
    if name in ("half", "double"):
        return str(looper.brief.cycle)
    if name in ("stop", "layer-on"):
        return looper.state
    if name == "mute":
        return bool(looper.muted)
    return str(looper.brief.tempo) if name == "tempo" else len(looper.layers())


@pytest.mark.parametrize("when", MOMENTS)
def test_every_command_can_be_done_at_every_moment(when: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in names_of(LOOPER):
        player = playing(name, when, monkeypatch)
        assert player.looper.command(player.sec(5.5), name, **ARGS.get(name, {})).endswith(".") or name == "follow"
        player.until(13.0)


@pytest.mark.parametrize("when", [NOW, CYCLE])
@pytest.mark.parametrize("name", SEEN)
def test_at_once_is_at_once_and_the_next_cycle_is_the_next(
    name: str, when: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, after = SEEN[name]
    player = playing(name, when, monkeypatch, layered=name not in ("half", "double"))
    assert seen(player, name) == before
    player.command(5.5, name, **ARGS.get(name, {}))
    # A pass that runs keeps its length, whatever the table says.
    waits = when == CYCLE or name in ("half", "double")
    player.until(7.9)
    assert seen(player, name) == (before if waits else after)
    player.until(8.1)
    assert seen(player, name) == after
