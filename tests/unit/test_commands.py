"""One table of commands: no command with a wrong name, type, range or number gets through any
door.
"""

import ast
import math
from pathlib import Path
from typing import Any

import pytest

import loopdeck
from loopdeck.capture.journal import CommandRecord
from loopdeck.errors import UserError
from loopdeck.looper.commands import COMMANDS, LOOPER, WINDOW, CommandError, check_command
from loopdeck.looper.machine import Looper
from loopdeck.midi.control_files import controls_from_toml
from loopdeck.session.session import Session
from tests.unit.looper_tools import brief

HUGE = 10**400
POISON: list[tuple[str, dict[str, Any]]] = [
    ("late", {"port": math.inf}), ("late", {"port": 3.5}), ("late", {"sec": math.nan}), ("late", {"sec": HUGE}),
    ("late", {"port": -1}), ("late", {"port": HUGE}), ("nudge", {"ms": HUGE}), ("nudge", {"ms": "x"}), ("nudge", {"ms": 201}),
    ("nudge", {"ms": True}), ("follow", {"qpm": math.nan}), ("follow", {"qpm": 0}), ("follow", {}), ("follow", {"qpm": 120, "ms": math.inf}),
    ("start", {"bars": 2147483648}), ("start", {"bars": -1}), ("start", {"bars": 1.5}), ("keep", {"passes": 0}), ("keep", {"passes": "2"}),
    ("keep", {"passes": 17}), ("keep", {"name": 3}), ("keep", {"name": "a\nb"}), ("keep", {"name": "x" * 500}), ("mute", {"layer": 0}),
    ("mute", {"layer": "one"}), ("mute", {"layer": [1]}), ("mute", {"layer": HUGE}), ("brief", {"fields": 0}), ("brief", {"fields": {}}),
    ("brief", {"fields": {"tempo": math.nan}}), ("brief", {"fields": {"tempo": {}}}), ("brief", {"fields": {"colour": "red"}}),
    ("brief", {"fields": {"cycle": "1/0"}}), ("brief", {"fields": {"strength": HUGE}}), ("brief", {}), ("tempo", {}), ("tempo", {"tempo": math.inf}),
    ("tempo", {"tempo": [1]}), ("clicks", {"clicks": 10**9}), ("groove", {"groove": "loud"}), ("ramp", {"ramp": 3}), ("tap", {"sec": math.inf}),
    ("count-in", {"bars": 3}), ("thru", {"port": "0"}), ("thru", {"on": 1}), ("undo", {"steps": 2}), ("dance", {}), ("", {}),
]  # fmt: skip
SOUND_POISON: list[tuple[str, dict[str, Any]]] = [
    ("level", {"part": "click", "db": math.nan}), ("level", {"part": "click", "db": 13}), ("level", {"part": "click"}),
    ("level", {"part": "trumpet", "db": 0}), ("level", {"part": True, "db": 0}), ("level", {"by": HUGE}), ("sound-mute", {"on": "no"}),
    ("quit", {"now": True}), ("window-help", {}),
]  # fmt: skip


@pytest.mark.parametrize(("name", "args"), POISON + SOUND_POISON)
def test_a_poisoned_command_is_one_sentence(name: str, args: dict[str, Any]) -> None:
    with pytest.raises(CommandError) as caught:
        check_command(name, args)
    sentence = str(caught.value)
    assert sentence.endswith(".") and "\n" not in sentence and len(sentence) < 700
    if args and name in COMMANDS and COMMANDS[name].owner != WINDOW:
        assert name in sentence and (caught.value.argument in sentence)


@pytest.mark.parametrize("name", [None, 3, ["start"], {"start": 1}, "x" * 5000])
def test_a_name_that_is_none(name: Any) -> None:
    with pytest.raises(CommandError, match="There is no command"):
        check_command(name, {})


@pytest.mark.parametrize("args", [3, "ms", ["ms"]])
def test_arguments_that_are_no_table(args: Any) -> None:
    with pytest.raises(CommandError, match="must be a table"):
        check_command("nudge", args)


@pytest.mark.parametrize(("name", "args"), POISON)
def test_the_looper_answers_and_does_not_change(name: str, args: dict[str, Any]) -> None:
    looper = Looper(brief())
    looper.command(0.0, "start")
    looper.advance(1.0)
    before = looper.digest()
    assert looper.command(1.0, name, **args).endswith(".")
    assert looper.digest() == before
    assert looper.take_news()[-1].wrong


class Written:
    """A journal that remembers what was written."""

    def __init__(self) -> None:
        self.commands: list[tuple[str, dict[str, Any]]] = []

    def command(self, at_sec: float, name: str, args: dict[str, Any]) -> None:
        self.commands.append((name, args))

    def midi(self, *_: Any) -> None:
        raise AssertionError


@pytest.mark.parametrize(("name", "args"), POISON)
def test_nothing_poisoned_is_written_down(name: str, args: dict[str, Any]) -> None:
    written = Written()
    session = Session(brief(), journal=written)
    assert session.command(name, args, 0.0).endswith(".")
    assert written.commands == []
    session.command("keep", {"passes": 2}, 1.0)
    assert written.commands == [("keep", {"passes": 2, "name": ""})]


@pytest.mark.parametrize(("name", "args"), POISON)
def test_a_record_that_was_poisoned_long_ago_is_passed_over(name: str, args: dict[str, Any]) -> None:
    session = Session(brief())
    session.apply(CommandRecord(0.0, "start", {}))
    session.apply(CommandRecord(0.5, name, args))
    session.apply(CommandRecord(1.0, "stop", {}))
    assert session.looper.state == "STOPPED" and session.looper.now_sec == 1.0


@pytest.mark.parametrize(
    ("line", "argument"),
    [
        ('command = "nudge"\nargs = { ms = "x" }', "ms"),
        ('command = "late"\nargs = { port = inf }', "port"),
        ('command = "nudge"\nargs = { ms = 1' + "0" * 400 + " }", "ms"),
        ('command = "follow"\nargs = { qpm = nan }', "qpm"),
        ('command = "start"\nargs = { bars = 2147483648 }', "bars"),
        ('command = "late"\nargs = { sec = nan }', "sec"),
        ('long = { command = "undo", stopped = { command = "start", args = { bars = -2 } } }', "bars"),
        ('command = "level"\nargs = { part = "tuba", db = 1 }', "part"),
    ],
)
def test_a_pedal_map_is_checked_when_it_is_loaded(line: str, argument: str) -> None:
    text = '[[control]]\non = "control change"\nnumber = 20\n' + line
    with pytest.raises(UserError) as caught:
        controls_from_toml(text, "feet.toml")
    sentence = str(caught.value)
    assert sentence.startswith("feet.toml, line 4: The command '") and argument in sentence and "\n" not in sentence


def test_integers_of_thousands_of_digits_in_a_map() -> None:
    with pytest.raises(UserError, match=r"feet\.toml"):
        controls_from_toml('[[control]]\non = "note"\nnumber = 1' + "0" * 6000 + '\ncommand = "undo"', "feet.toml")


#: Calls that name a command: where it stands among the arguments, or as which keyword.
NAMING: dict[str, int | str] = {
    "command": 0, "_command": 0, "do": 0, "order": 0, "CommandGiven": 0, "CommandCall": "name", "Command": "name",
    "Binding": 1,
}  # fmt: skip


def _named(call: ast.Call) -> str | None:
    """The command that a call names in so many letters; None for any other call."""
    function = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    where = NAMING.get(function)
    if isinstance(where, str):
        found = next((one.value for one in call.keywords if one.arg == where), None)
    else:
        found = call.args[where] if where is not None and len(call.args) > where else None
    return found.value if isinstance(found, ast.Constant) and isinstance(found.value, str) else None


def test_every_command_that_the_code_gives_stands_in_the_table() -> None:
    named = [
        (path.name, name)
        for path in sorted(Path(loopdeck.__file__).parent.rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and (name := _named(node)) is not None
    ]
    assert len(named) > 100
    assert [one for one in named if one[1] not in COMMANDS] == []


def test_of_some_arguments_one_must_be_given() -> None:
    with pytest.raises(CommandError, match="'level' needs db or by"):
        check_command("level", {"part": "click"})
    assert check_command("level", {"by": -3})["by"] == -3


def test_every_looper_command_has_a_cell_for_every_state() -> None:
    assert all(bool(command.cells) == (command.owner == LOOPER) for command in COMMANDS.values())
    assert all(len(command.cells) in (0, 5) for command in COMMANDS.values())
