"""``loopdeck takes``: every sub-command, with the shelf named before or after it; JSON alone; wrong
input; export whole or not at all.
"""

import errno
import io
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import mido
import pytest

from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.smf_read import read_smf
from loopdeck.cli.main import main
from loopdeck.shelf.store import Shelf
from tests.unit import shelf_tools as tools

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shelf of three takes; the usual one would lie in an empty folder."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("TZ", "UTC")
    path = tmp_path / "shelf.sqlite"
    with Shelf(path) as shelf:
        shelf.add(replace(tools.small_take("low road", mood="rain"), rating=4, tags=("funk", "slow")))
        shelf.add(tools.small_take("odd one", cycle="4/4 4+3/8", scale="Bb altered", tempo="8th=184"))
        shelf.add(tools.small_take("plain", scale="").changed(muted=frozenset({1})))
    return path


def said(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    """Run a command that must succeed and say nothing on standard error; what it printed."""
    assert main([str(word) for word in words]) == 0
    out = capsys.readouterr()
    assert out.err == ""
    return out.out


def refused(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    """Run a command that must end in one sentence and code 2."""
    assert main([str(word) for word in words]) == 2
    out = capsys.readouterr()
    assert out.out == ""
    (line,) = out.err.splitlines()
    assert line.startswith("loopdeck: ")
    assert line[-1] in ".?"
    return line


def facts(capsys: pytest.CaptureFixture[str], shelf: Path, which: object = 1) -> dict[str, object]:
    """What ``show --json`` says."""
    found: dict[str, object] = json.loads(said(capsys, "takes", "--shelf", shelf, "show", which, "--json"))
    return found


def both_ways(shelf: Path, act: str, *words: object) -> list[tuple[object, ...]]:
    """The command with --shelf before the action word, after it, and at the very end."""
    return [
        ("takes", "--shelf", shelf, act, *words),
        ("takes", act, "--shelf", shelf, *words),
        ("takes", act, *words, "--shelf", shelf),
        ("takes", "--shelf", shelf.with_name("wrong.sqlite"), act, *words, f"--shelf={shelf}"),
    ]


@pytest.mark.parametrize("way", range(4))
def test_every_action_with_the_shelf_named_anywhere(
    way: int, shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def do(act: str, *words: object) -> str:
        return said(capsys, *both_ways(shelf, act, *words)[way])

    assert "low road" in do("list")
    assert "G dorian" in do("show", "1")
    assert do("rename", "1", "high road") == "Take 1 is called 'high road'.\n"
    assert do("rate", "high road", "5") == "Take 1 is rated 5 of 5.\n"
    assert do("tag", "1", "riff", "b") == "Take 1 is tagged riff b.\n"
    assert do("untag", "1", "slow", "b") == "Take 1 is not tagged slow b any more.\n"
    assert do("note", "1", "") == "Take 1 has no note.\n"
    assert do("note", "1", "bring it back") == "Take 1 has its note.\n"
    own = facts(capsys, shelf)
    assert [own[key] for key in ("name", "rating", "tags", "note")] == [
        "high road",
        5,
        ["funk", "riff"],
        "bring it back",
    ]
    assert "restore 1" in do("remove", "1")
    assert "high road" not in do("list")
    assert "high road" in do("list", "--bin")
    assert do("bin") == do("list", "--bin")
    assert do("restore", "1") == "Take 1 is on the shelf again.\n"
    assert "2 tracks" in do("export", "1", "-o", tmp_path / "out.mid")
    assert do("import", tmp_path / "out.mid", "--name", "again").startswith("Take 4, 'again': ")
    assert do("rescue", "-o", tmp_path / "new.sqlite") == f"4 takes copied to {tmp_path / 'new.sqlite'}.\n"
    assert not shelf.with_name("wrong.sqlite").exists()
    assert not (tmp_path / "data").exists()


def test_without_the_option_the_usual_shelf_is_meant(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said(capsys, "takes", "list") == "The shelf is empty.\n"
    if sys.platform.startswith("linux"):
        assert (tmp_path / "data" / "loopdeck" / "shelf.sqlite").exists()


def test_several_takes_come_back_at_once_or_none(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    there = said(capsys, "takes", "remove", "1", "3", "--shelf", shelf)
    assert there == "Takes 1 and 3 are in the bin; loopdeck takes restore 1 3 gets them back.\n"
    assert main(["takes", "restore", "1", "2", "3", "--shelf", str(shelf)]) == 2
    assert "no take 2 in the bin" in capsys.readouterr().err
    assert names(said(capsys, "takes", "bin", "--json", "--shelf", shelf)) == ["plain", "low road"]
    assert (
        said(capsys, "takes", "restore", "3", "1", "3", "--shelf", shelf) == "Takes 3 and 1 are on the shelf again.\n"
    )


def test_an_empty_take_makes_no_empty_file(shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Shelf(shelf) as own:
        own.add(tools.small_take("rest").changed(events=(), layers=()))
    assert main(["takes", "export", "1", "rest", "-o", str(tmp_path / "out"), "--shelf", str(shelf)]) == 2
    assert "Take 4, 'rest', has no notes to write, so" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def names(text: str) -> list[str]:
    """The names in a list of JSON."""
    return [row["name"] for row in json.loads(text)]


@pytest.mark.parametrize(
    ("words", "want"),
    [
        ([], ["plain", "odd one", "low road"]),
        (["--tag", "FUNK"], ["low road"]),
        (["--scale", "G dorian"], ["low road"]),
        (["--scale", "altered"], ["odd one"]),
        (["--scale", "b♭"], ["odd one"]),
        (["--meter", "4/4"], ["plain", "odd one", "low road"]),
        (["--meter", "4+3/8"], ["odd one"]),
        (["--tempo", "92"], ["odd one"]),
        (["--tempo", "8th=184"], ["odd one"]),
        (["--tempo", "100-130"], ["plain", "low road"]),
        (["--tempo", "dotted-quarter=60-dotted-quarter=62"], ["odd one"]),
        (["--min-rating", "4"], ["low road"]),
        (["--text", "RAIN"], ["low road"]),
        (["--text", "o", "--meter", "4+3/8", "--tempo", "90-93"], ["odd one"]),
        (["--text", "never"], []),
        (["--bin"], []),
    ],
)
def test_list_filters(shelf: Path, words: list[str], want: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert names(said(capsys, "takes", "list", "--json", *words, "--shelf", shelf)) == want
    text = said(capsys, "takes", "list", *words, "--shelf", shelf)
    assert [name for name in ("plain", "odd one", "low road") if name in text] == want
    if not want:
        assert text == ("The bin is empty.\n" if "--bin" in words else "No take on the shelf fits.\n")


def test_json_is_all_that_is_printed(shelf: Path) -> None:
    """In a process of its own, so that a library's greeting would show."""
    for words in (["list"], ["show", "1"]):
        command = [sys.executable, "-m", "loopdeck", "takes", *words, "--json", "--shelf", str(shelf)]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=360, check=True)
        assert done.stderr == ""
        assert json.loads(done.stdout)


def test_show(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = facts(capsys, shelf, "plain")
    assert own["layers"] == [{"number": 1, "notes": 2, "muted": True}]
    assert (own["number"], own["passes"], own["seconds"], own["events"], own["notes"]) == (3, 2, 4.0, 4, 2)
    assert own["brief"] == tools.small_take(scale="").brief.to_dict()
    text = said(capsys, "takes", "show", "plain", "--shelf", shelf)
    assert "1 (2 notes, muted)" in text
    assert "2 passes, 4.0 s" in text
    # Dates are told in the time of the place.
    kept = datetime.fromisoformat("2031-05-06T07:08:09+00:00").astimezone()
    assert f"{kept:%Y-%m-%d %H:%M}, played" in text


def test_list_stays_in_columns(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Shelf(shelf) as own:
        own.rename(3, "ä" * 200)
    lines = said(capsys, "takes", "list", "--shelf", shelf).rstrip().splitlines()
    column = lines[0].index("kept")
    assert {line[column : column + 10] for line in lines if "2031" in line} == {"2031-05-06"}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["show", "9"], "There is no take '9'"),
        (["show", "nobody"], "There is no take 'nobody'"),
        (["rate", "1", "6"], "between 0 and 5"),
        (["rate", "1", "-1"], "between 0 and 5"),
        (["rename", "1", ""], "one line of 1 to 200"),
        (["tag", "1", "a\tb"], "A tag is one line"),
        (["restore", "1"], "no take 1 in the bin"),
        (["restore", "low road"], "by its number"),
        (["restore", "²"], "by its number"),
        (["list", "--tempo", "fast"], "is not a tempo"),
        (["list", "--tempo", "90-"], "tempo"),
        (["list", "--tempo", "130-100"], "from the lower to the higher"),
        (["list", "--tempo", "1000"], "1000"),
        (["list", "--meter", "7/9"], "7/9"),
        (["list", "--meter", "0/4"], "0/4"),
        (["list", "--meter", "3++4/8"], "3++4/8"),
        (["list", "--scale", "G dorain"], "dorain"),
        (["list", "--min-rating", "6"], "between 0 and 5"),
        (["export", "1", "-o", "/nowhere/at/all.mid"], "/nowhere/at/all.mid"),
        (["import", "/nowhere/at/all.mid"], "/nowhere/at/all.mid"),
        (["import", __file__], "test_takes_command.py"),
    ],
)
def test_wrong_input(shelf: Path, words: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert says in refused(capsys, "takes", *words, "--shelf", shelf)


@pytest.mark.parametrize("words", [[], ["dance"], ["rate", "1", "many"], ["export", "1"], ["list", "extra"]])
def test_wrong_words_get_one_sentence(shelf: Path, words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as error:
        main(["takes", "--shelf", str(shelf), *words])
    assert error.value.code == 2
    err = capsys.readouterr().err
    assert err.startswith("loopdeck: ") and err.count("\n") == 1 and err.endswith("--help tells more.\n")


def test_an_export_that_fails_leaves_nothing_behind(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "place"
    place.mkdir()
    refused(capsys, "takes", "export", "9", "-o", place, "--shelf", shelf)
    refused(capsys, "takes", "export", "9", "-o", place / "out.mid", "--shelf", shelf)
    refused(capsys, "takes", "export", "1", "-o", place / "sub" / "out.mid", "--shelf", shelf)
    (place / "file").write_bytes(b"mine")
    refused(capsys, "takes", "export", "1", "-o", place / "file" / "out.mid", "--shelf", shelf)
    assert [one.name for one in place.iterdir()] == ["file"]


def test_a_full_disk_leaves_no_empty_folder(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(path: Path, _piece: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", str(path))

    monkeypatch.setattr("loopdeck.export.smf.write_smf", full)
    told = refused(capsys, "takes", "export", "1", "2", "-o", tmp_path / "band", "--shelf", shelf)
    assert "No space left on device" in told and not (tmp_path / "band").exists()


def test_several_takes_are_exported_and_removed_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shelf, folder = tmp_path / "several.sqlite", tmp_path / "band"
    with Shelf(shelf) as opened:
        for name in ("tide gate", "../sly: one", "third"):
            opened.add(tools.small_take(name))
    assert main(["takes", "export", "1", "2", "tide gate", "--out", str(folder), "--shelf", str(shelf)]) == 0
    assert capsys.readouterr().out.count("\n") == 2
    assert sorted(path.name for path in folder.iterdir()) == ["1 tide gate.mid", "2 sly- one.mid"]
    # One take alone goes into a folder too.
    assert main(["takes", "export", "3", "-o", str(folder), "--shelf", str(shelf)]) == 0
    assert main(["takes", "export", "3", "-o", f"{tmp_path}/fresh/", "--shelf", str(shelf)]) == 0
    assert (folder / "3 third.mid").exists() and (tmp_path / "fresh" / "3 third.mid").exists()
    capsys.readouterr()
    assert main(["takes", "export", "3", "-o", f"{tmp_path}/one.mid/", "--shelf", str(shelf)]) == 2
    assert "is not a folder" in capsys.readouterr().err
    # One that is not there: nothing is written, and nothing removed.
    assert main(["takes", "export", "1", "9", "-o", str(tmp_path / "new"), "--shelf", str(shelf)]) == 2
    assert main(["takes", "remove", "1", "9", "--shelf", str(shelf)]) == 2
    assert not (tmp_path / "new").exists()
    assert main(["takes", "export", "1", "2", "-o", str(tmp_path / "one.mid"), "--shelf", str(shelf)]) == 2
    assert "do not go into one file" in capsys.readouterr().err
    assert main(["takes", "remove", "3", "1", "--shelf", str(shelf)]) == 0
    assert capsys.readouterr().out.startswith("Takes 3 and 1 are in the bin")
    with Shelf(shelf) as opened:
        assert [row["number"] for row in opened.find()] == [2]


@pytest.mark.parametrize("name", ["riff.mp3", "riff"])
def test_an_ending_that_is_not_written_is_refused(
    shelf: Path, tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    refused(capsys, "takes", "export", "1", "-o", tmp_path / name, "--shelf", shelf)
    refused(capsys, "render", "1", "-o", tmp_path / name, "--shelf", shelf)
    assert not (tmp_path / name).exists()


def test_letters_a_terminal_has_none_for_and_a_full_disk_end_in_order(tmp_path: Path) -> None:
    shelf = tmp_path / "greek.sqlite"
    with Shelf(shelf) as opened:
        opened.add(tools.small_take("καλημέρα"))
    command = [sys.executable, "-m", "loopdeck", "takes", "list", "--shelf", str(shelf)]
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=360, env=environment, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "????????" in done.stdout
    if Path("/dev/full").exists():
        with open("/dev/full", "w") as full:
            done = subprocess.run(
                command, cwd=ROOT, stdout=full, stderr=subprocess.PIPE, text=True, timeout=360, check=False
            )
        assert done.returncode == 2
        assert done.stderr == "loopdeck: What was to be printed could not be written: No space left on device.\n"


def test_a_name_cannot_steer_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shelf = tmp_path / "sly.sqlite"
    with Shelf(shelf) as opened:
        opened.add(tools.small_take("tide \x1b[2J\x07gate"))
    for words in (["takes", "list"], ["takes", "show", "1"], ["quantize", "1"], ["check", "1"]):
        assert main([*words, "--shelf", str(shelf)]) == 0
        assert "\x1b" not in capsys.readouterr().out


LIMITED = """
import resource, sys
from loopdeck.cli.main import main
resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="limits of Linux")
def test_an_export_that_finds_no_room_keeps_the_file_that_was_there(shelf: Path, tmp_path: Path) -> None:
    place = tmp_path / "place"
    place.mkdir()
    (place / "out.mid").write_bytes(b"what was there")
    command = [
        sys.executable,
        "-c",
        LIMITED,
        "takes",
        "export",
        "1",
        "-o",
        str(place / "out.mid"),
        "--shelf",
        str(shelf),
    ]
    # The shelf may not be written to either: nobody has to, to read it.
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=360, check=False)
    assert done.returncode == 2, done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert [one.name for one in place.iterdir()] == ["out.mid"]
    assert (place / "out.mid").read_bytes() == b"what was there"


def test_export_to_a_full_device_says_so(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    if not Path("/dev/full").is_char_device():
        pytest.skip("there is no /dev/full here")
    assert "/dev/full" in refused(capsys, "takes", "export", "1", "-o", "/dev/full", "--shelf", shelf)
    assert Path("/dev/full").is_char_device()


def test_export_through_a_link_writes_where_it_leads(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link.mid").symlink_to(tmp_path / "real" / "out.mid")
    for _ in range(2):
        said(capsys, "takes", "export", "1", "-o", tmp_path / "link.mid", "--shelf", shelf)
        assert (tmp_path / "link.mid").is_symlink()
    assert (tmp_path / "real" / "out.mid").read_bytes()[:4] == b"MThd"


def test_straight_export(shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said(capsys, "takes", "export", "1", "--straight", "-o", tmp_path / "out.mid", "--shelf", shelf)
    found = read_smf(tmp_path / "out.mid")
    notes = pair(found.events, found.end_sec).array
    assert set((found.quarters(notes["onset_sec"]) * 4 % 1).round(6)) == {0.0}


def test_import_of_a_file_of_many_tracks_and_its_way_back(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = mido.MidiFile(type=1, ticks_per_beat=96)
    for index in range(300):
        file.tracks.append(
            mido.MidiTrack([mido.Message("note_on", note=40 + index % 40, velocity=70, time=index),
                            mido.Message("note_off", note=40 + index % 40, time=48)])
        )  # fmt: skip
    file.save(tmp_path / "many.mid")
    assert said(capsys, "takes", "import", tmp_path / "many.mid", "--shelf", shelf) == "Take 4, 'many': 300 notes.\n"
    assert facts(capsys, shelf, "many")["origin"] == "imported"
    said(capsys, "takes", "export", "many", "-o", tmp_path / "back.mid", "--shelf", shelf)
    back = mido.MidiFile(tmp_path / "back.mid")
    assert len(back.tracks) == 301


def test_import_names(shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said(capsys, "takes", "export", "1", "-o", tmp_path / "x.mid", "--shelf", shelf)
    assert "one line of 1 to 200" in refused(
        capsys, "takes", "import", tmp_path / "x.mid", "--name", "a\nb", "--shelf", shelf
    )
    assert "one line of 1 to 200" in refused(
        capsys, "takes", "import", tmp_path / "x.mid", "--name", " ", "--shelf", shelf
    )
    (tmp_path / "x.mid").rename(tmp_path / "a\x1b[2Jb\n.mid")
    said(capsys, "takes", "import", tmp_path / "a\x1b[2Jb\n.mid", "--shelf", shelf)
    assert facts(capsys, shelf, 4)["name"] == "a?[2Jb?"


def test_output_that_is_not_read_to_its_end_is_no_error(shelf: Path) -> None:
    command = [sys.executable, "-m", "loopdeck", "takes", "show", "1", "--shelf", str(shelf)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert isinstance(running.stdout, io.IOBase)
        running.stdout.close()
        assert running.stderr is not None
        assert running.stderr.read() == b""


def test_the_page_on_the_shelf_names_every_action_and_filter(capsys: pytest.CaptureFixture[str]) -> None:
    page = (ROOT / "docs" / "shelf.md").read_text()
    with pytest.raises(SystemExit):
        main(["takes", "--help"])
    actions = re.findall(r"^    ([a-z]+) ", capsys.readouterr().out, re.M)
    assert len(actions) >= 12
    for action in actions:
        assert re.search(rf"takes {action}\b|`{action}\b", page), action
    with pytest.raises(SystemExit):
        main(["takes", "list", "--help"])
    for option in set(re.findall(r"^  (--[a-z-]+)", capsys.readouterr().out, re.M)):
        assert option in page
