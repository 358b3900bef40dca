"""Our MusicXML engraved by verovio and, like our input for it, by LilyPond, without a word of
warning.
"""

import subprocess
import sys
from pathlib import Path

import pytest

from loopdeck.page.engraver import engrave, typesetter
from loopdeck.page.hands import hands_of
from loopdeck.page.lily import sheet
from loopdeck.page.musicxml import INSTRUMENTS, musicxml
from loopdeck.page.tab_read import read_tab

RIFFS = sorted((Path(__file__).parents[2] / "docs" / "riffs").glob("*.txt"))

_VEROVIO = """
import sys, verovio
toolkit = verovio.toolkit()
ok = all(toolkit.loadData(open(path, encoding="utf-8").read()) and toolkit.renderToSVG(1) for path in sys.argv[1:])
sys.exit(0 if ok else 1)
"""


def test_verovio_engraves_our_musicxml_without_a_warning(tmp_path: Path) -> None:
    pytest.importorskip("verovio")
    paths = []
    for riff in RIFFS:
        page = read_tab(riff.read_text(encoding="utf-8"))
        path = tmp_path / f"{riff.stem}.musicxml"
        hands = hands_of(page, frozenset({"fret", "alternate"}))
        path.write_bytes(musicxml(page, hands=hands))
        alone = path.with_suffix(".tab.musicxml")
        alone.write_bytes(musicxml(page, ("tab",), hands=hands))
        paths += [str(path), str(alone)]
    done = subprocess.run(
        [sys.executable, "-c", _VEROVIO, *paths], capture_output=True, text=True, check=False, timeout=360
    )
    assert done.returncode == 0
    assert done.stderr.split("\n") == [""]


@pytest.mark.parametrize("riff", RIFFS[5:12:3], ids=lambda path: path.stem)
def test_lilypond_sets_our_input_without_a_warning(riff: Path, tmp_path: Path) -> None:
    page = read_tab(riff.read_text(encoding="utf-8"))
    hands = hands_of(page, frozenset({"fret", "pluck"}))
    source = sheet(page, ("staff", "tab"), INSTRUMENTS["bass"], hands, True)
    assert engrave(source, tmp_path / "sheet.svg") == []


#: What musicxml2ly 2.24 makes of right input. Of a repeat with endings it leaves the sign in the
#: first ending (``musicxml.py``, ``Barline.to_lily_object``: the markers come in the order in which
#: they were found, not in that of their keys); each part of a bend that comes back is a fall of its
#: own (``musicxml_bend_to_lily_event``), and LilyPond has one a note.
LIMITS = {"08-two-doors": "unprocessed marker", "11-every-sign": "bend-after-event"}
READ = (
    "01-harbour-steps",
    "02-tram-line-seven",
    "06-three-in-the-well",
    "08-two-doors",
    "10-dropped-anchor",
    "11-every-sign",
)
SET = ("01-harbour-steps", "11-every-sign")


def test_lilypond_reads_our_musicxml_without_a_warning(tmp_path: Path) -> None:
    converter = Path(typesetter()).with_name("musicxml2ly")
    if not converter.exists():
        pytest.skip("this LilyPond has no musicxml2ly")
    for riff in (one for one in RIFFS if one.stem in READ):
        path = tmp_path / "riff.musicxml"
        path.write_bytes(musicxml(read_tab(riff.read_text(encoding="utf-8"))))
        said = subprocess.run(
            [str(converter), "-o", f"{riff.stem}.ly", str(path)],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=False,
            timeout=360,
        )
        assert said.returncode == 0
        warnings = [line for line in said.stderr.splitlines() if "arning" in line]
        if riff.stem in SET:
            warnings += engrave((tmp_path / f"{riff.stem}.ly").read_text(encoding="utf-8"), tmp_path / "riff.pdf")
        limit = LIMITS.get(riff.stem)
        assert [line for line in warnings if limit is None or limit not in line] == [], riff.stem
