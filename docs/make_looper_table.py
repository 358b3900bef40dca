"""Write the tables of commands into docs/looper.md anew: ``python docs/make_looper_table.py``."""

import argparse
from pathlib import Path

from loopdeck.looper.command_docs import tables


def main() -> None:
    """Replace what stands between the marks of each table."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    page = Path(__file__).with_name("looper.md")
    text = page.read_text(encoding="utf-8")
    for name, table in tables().items():
        before, rest = text.split(f"<!-- {name} -->\n")
        after = rest.split(f"<!-- end of {name} -->")[1]
        text = f"{before}<!-- {name} -->\n{table}<!-- end of {name} -->{after}"
    page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
