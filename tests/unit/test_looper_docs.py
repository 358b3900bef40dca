"""The tables in the docs are the one the machine reads."""

from pathlib import Path

import pytest

from loopdeck.looper.command_docs import tables
from loopdeck.looper.commands import COMMANDS

DOC = Path(__file__).parents[2] / "docs" / "looper.md"


@pytest.mark.parametrize("name", tables())
def test_table_in_the_docs_is_the_table_in_the_code(name: str) -> None:
    text = DOC.read_text(encoding="utf-8")
    shown = text.split(f"<!-- {name} -->\n")[1].split(f"<!-- end of {name} -->")[0]
    assert shown.strip() == tables()[name].strip()


def test_every_action_that_depends_on_the_state_has_its_words() -> None:
    rows = [command.cells for command in COMMANDS.values() if len(set(command.cells)) > 1]
    assert rows and all(bool(cell.does) == bool(cell.action) for row in rows for cell in row)
