"""The table in the docs is the one the machine reads."""

from pathlib import Path

from loopdeck.looper.table import TABLE, WORDS, as_markdown

DOC = Path(__file__).parents[2] / "docs" / "looper.md"


def test_table_in_the_docs_is_the_table_in_the_code() -> None:
    text = DOC.read_text(encoding="utf-8")
    shown = text.split("<!-- table -->\n")[1].split("<!-- end of table -->")[0]
    assert shown.strip() == as_markdown().strip()


def test_every_action_has_its_words() -> None:
    actions = {cell.action for row in TABLE.values() for cell in row if not cell.action[0].isupper()}
    assert actions == set(WORDS)
