"""The table of commands as it is printed: in docs/looper.md, docs/controls.md, and on the help
page.
"""

from typing import Any

from loopdeck.brief.spec import BEAT, CYCLE, NOW
from loopdeck.looper.commands import (
    COMMANDS,
    END,
    ENGINE,
    FIELD,
    LOOP,
    LOOPER,
    MEANT,
    NAMED,
    SOUND,
    START,
    STATES,
    CommandSpec,
    names_of,
)

WHEN_WORDS = {
    NOW: "at once",
    BEAT: "next beat",
    CYCLE: "next cycle",
    START: "next cycle*",
    END: "at once**",
    MEANT: "at once**",
    NAMED: "at once**",
    LOOP: "at once***",
    FIELD: "field by field",
}


def _cell_words(command: CommandSpec, state: str) -> str:
    cell = command.cell(state)
    if cell.refusal:
        return f"*{cell.refusal}*"
    return f"{cell.does} ({WHEN_WORDS[cell.when]})"


def states_markdown() -> str:
    """The looper's commands that act differently from state to state, with what they do in each, as
    a Markdown table.
    """
    lines = ["| command | " + " | ".join(STATES) + " |", "| --- |" + " --- |" * len(STATES)]
    for name in names_of(LOOPER):
        command = COMMANDS[name]
        if len(set(command.cells)) > 1:
            cells = [_cell_words(command, state) for state in STATES]
            same = [one if index == 0 or one != cells[index - 1] else "same" for index, one in enumerate(cells)]
            lines.append(f"| `{name}` | " + " | ".join(same) + " |")
    return "\n".join(lines) + "\n"


def _default_words(default: Any) -> str:
    """A default as one writes it in a control map."""
    if isinstance(default, bool):
        return "true" if default else "false"
    return f"{default:g}" if isinstance(default, int | float) else str(default)


def _argument_words(command: CommandSpec) -> str:
    words = []
    for argument in command.arguments:
        default = f"; {_default_words(argument.default)} if left out" if argument.default not in (None, "", {}) else ""
        words.append(f"`{argument.name}`: {argument.does} ({argument.takes}{default})")
    return "; ".join(words)


def commands_markdown(*owners: str) -> str:
    """What every command of these owners does and takes, as a Markdown table."""
    lines = ["| command | does | takes |", "| --- | --- | --- |"]
    for name in names_of(*(owners or (LOOPER, ENGINE, SOUND))):
        command = COMMANDS[name]
        lines.append(f"| `{name}` | {command.does} | {_argument_words(command)} |")
    return "\n".join(lines) + "\n"


def tables() -> dict[str, str]:
    """The tables of docs/looper.md, by the name between whose marks each stands."""
    return {
        "table of commands": commands_markdown(LOOPER),
        "table of states": states_markdown(),
        "table of other commands": commands_markdown(ENGINE, SOUND),
    }
