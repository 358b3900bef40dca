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
        path.write_bytes(musicxml(page, hands=hands_of(page, frozenset({"fret", "alternate"}))))
        paths.append(str(path))
    done = subprocess.run(
        [sys.executable, "-c", _VEROVIO, *paths], capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0
    # verovio 6.4 has no place for hammer-ons and pull-offs on a tab staff and says so; nothing else
    # is excused.
    said = [line for line in done.stderr.splitlines() if line and "Adding 'artic' to a 'tabGrp'" not in line]
    assert said == []


@pytest.mark.parametrize("riff", RIFFS[5:12:3], ids=lambda path: path.stem)
def test_lilypond_sets_our_input_without_a_warning(riff: Path, tmp_path: Path) -> None:
    page = read_tab(riff.read_text(encoding="utf-8"))
    hands = hands_of(page, frozenset({"fret", "pluck"}))
    source = sheet(page, ("staff", "tab"), INSTRUMENTS["bass"], hands, True)
    assert engrave(source, tmp_path / "sheet.svg") == []


#: musicxml2ly 2.24 itself makes warnings of vibrato on a single note (01), of endings at the end of
#: a piece (08) and of two falls at once (11).
EXCUSED = ("01-", "08-", "11-")


def test_lilypond_reads_our_musicxml_without_a_warning(tmp_path: Path) -> None:
    converter = Path(typesetter()).with_name("musicxml2ly")
    if not converter.exists():
        pytest.skip("this LilyPond has no musicxml2ly")
    for riff in (one for one in RIFFS[1::2] if not one.stem.startswith(EXCUSED)):
        path = tmp_path / "riff.musicxml"
        path.write_bytes(musicxml(read_tab(riff.read_text(encoding="utf-8"))))
        said = subprocess.run(
            [str(converter), "-o", f"{riff.stem}.ly", str(path)],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
        assert said.returncode == 0
        assert "arning" not in said.stderr, (riff.stem, said.stderr)
    for name in ("06-three-in-the-well",):
        assert engrave((tmp_path / f"{name}.ly").read_text(encoding="utf-8"), tmp_path / "riff.pdf") == []
