"""Make the pages of the riffs in ``docs/riffs``: a picture of each as a sheet, and the booklet page
by page, into ``docs/pictures/pages``.

Usage: ``python docs/make_pages.py``; it needs ``loopdeck[sheet]``.
"""

import argparse
import subprocess
import tempfile
from pathlib import Path

from loopdeck.cli.main import main
from loopdeck.cli.tab import page_of_text
from loopdeck.page.booklet import Style, booklet
from loopdeck.page.engraver import typesetter
from loopdeck.page.making import with_hands
from loopdeck.page.musicxml import INSTRUMENTS

HERE = Path(__file__).parent
RIFFS = sorted((HERE / "riffs").glob("*.txt"))
PAGES = HERE / "pictures" / "pages"
TITLE = "Fourteen Low Riffs"
#: Riffs that show the hands, and how.
HANDS = {"06-three-in-the-well": "fret,pluck", "10-dropped-anchor": "fret,down"}


def make_sheets() -> None:
    """One picture for each riff."""
    for riff in RIFFS:
        more = ["--hands", HANDS[riff.stem]] if riff.stem in HANDS else []
        if main(["sheet", str(riff), "-o", str(PAGES / f"{riff.stem}.png"), *more]):
            raise SystemExit(1)


def make_booklet() -> None:
    """The pages of the booklet as pictures (the command itself writes a PDF)."""
    style = Style(("staff", "tab"), INSTRUMENTS["bass"], lambda page: None)
    source = booklet(TITLE, [with_hands(page_of_text(str(riff))) for riff in RIFFS], style)
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "booklet.ly").write_text(source, encoding="utf-8")
        command = [str(typesetter()), "--png", "-dresolution=80", "--loglevel=WARNING", "booklet.ly"]
        subprocess.run(command, cwd=folder, check=True)
        for old in PAGES.glob("booklet-page*.png"):
            old.unlink()
        for path in sorted(Path(folder).glob("booklet-page*.png")):
            (PAGES / path.name).write_bytes(path.read_bytes())


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__).parse_args()
    PAGES.mkdir(parents=True, exist_ok=True)
    make_sheets()
    make_booklet()
