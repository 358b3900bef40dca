"""Write the looper's table into docs/looper.md anew: ``python docs/make_looper_table.py``."""

from pathlib import Path

from loopdeck.looper.table import as_markdown

START, END = "<!-- table -->\n", "<!-- end of table -->"


def main() -> None:
    """Replace what stands between the two marks."""
    page = Path(__file__).with_name("looper.md")
    text = page.read_text(encoding="utf-8")
    before, rest = text.split(START)
    page.write_text(before + START + as_markdown() + END + rest.split(END)[1], encoding="utf-8")


if __name__ == "__main__":
    main()
