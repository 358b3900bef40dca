"""The command itself: the table, help, wrong words, and errors as one sentence."""

import importlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

from loopdeck.brief.brief import load_brief
from loopdeck.cli import main as cli
from loopdeck.configs import find, find_named, folder, names
from loopdeck.errors import UserError, to_install
from loopdeck.shelf.store import Shelf
from tests.unit.shelf_tools import small_take


def test_every_command_of_the_table_is_there() -> None:
    for name in cli.COMMANDS:
        module = importlib.import_module(f"loopdeck.cli.{name}")
        assert module.HELP and callable(module.run) and callable(module.add_arguments)


@pytest.mark.parametrize("name", sorted(cli.COMMANDS))
def test_every_command_has_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main([name, "--help"])
    assert ended.value.code == 0
    assert "usage: loopdeck" in capsys.readouterr().out


def test_every_command_is_in_the_docs() -> None:
    root = Path(__file__).parents[2]
    pages = [root / "README.md", *sorted((root / "docs").glob("*.md"))]
    text = "\n".join(page.read_text(encoding="utf-8") for page in pages)
    missing = [name for name in cli.COMMANDS if not re.search(rf"loopdeck {name}\b", text)]
    assert not missing, "a command that no page shows does not exist for a player"


def test_unknown_command_exits_with_2(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(["dance"])
    assert ended.value.code == 2
    assert "jam" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("chek 1", "There is no command 'chek': did you mean check? loopdeck --help"),
        ("takes exprt 1", "There is no action 'exprt': did you mean export? loopdeck takes --help"),
        ("check 1 --scail x", "loopdeck check does not know --scail x: did you mean --scale? loopdeck check --help"),
        ("takes rate 1 many", "N takes a whole number, not 'many'; loopdeck takes rate --help"),
        ("jam --sound loud", "--sound takes one of auto, on, off, not 'loud'; loopdeck jam --help"),
        ("quantize 1 -o", "-o/--out/--output needs a value; loopdeck quantize --help"),
        ("check", "TAKE must be given; loopdeck check --help"),
    ],
)
def test_a_slip_on_the_command_line_is_one_sentence(words: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(words.split())
    assert ended.value.code == 2
    assert capsys.readouterr().err == f"loopdeck: {said} tells more.\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["neck", "--scale", "G dorain"], "There is no scale called 'dorain': did you mean dorian?"),
        (["neck", "--scale", "G dorian", "--tuning", "Dropd"], "There is no tuning 'Dropd': did you mean drop D?"),
        (["brief", "show", "crokked stairs"], "no brief of that name: did you mean crooked-stairs?"),
        (["jam", "--controls", "fourswich"], "no control map of that name: did you mean four-switch?"),
        (["jam", "--pickup", "per-strng"], "no pickup profile of that name: did you mean per-string?"),
        (["brief", "draw", "--mood", "drak"], "Nothing is known of the mood 'drak': did you mean dark?"),
        (["vary", "9", "--how", "octave -1", "-o", ""], "A take's name is one line of 1 to 200 letters."),
        (["check", "9", "--picture", ""], "The picture to draw has no name."),
    ],
)
def test_a_mistyped_name_is_refused_with_the_one_that_was_meant(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(words) == 2
    told = capsys.readouterr().err
    assert told.startswith("loopdeck: ") and told.endswith(f"{said}\n") and told.count("\n") == 1


def test_a_mistyped_take_is_named_and_one_in_the_bin_is_said_to_be_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    where = ["--shelf", str(tmp_path / "shelf.sqlite")]
    with Shelf(where[1]) as shelf:
        shelf.add(small_take("first idea"))
        shelf.remove(shelf.add(small_take()))
    assert cli.main(["check", "frist idea", *where]) == 2
    assert capsys.readouterr().err.endswith(": did you mean 'first idea'?\n")
    assert cli.main(["check", "2", *where]) == 2
    assert capsys.readouterr().err.endswith(": it is in the bin, and loopdeck takes restore 2 gets it back.\n")


@pytest.mark.parametrize(
    ("python", "typed"),
    [(".venv/bin/python", ".venv/bin/python"), ("python", "{here}/python"), ("/usr/bin/python3", "/usr/bin/python3")],
)
def test_the_command_that_installs_an_extra_runs_the_same_python(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, python: str, typed: str
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "executable", str(tmp_path / python))
    assert to_install("clip") == f"{typed.format(here=tmp_path)} -m pip install 'loopdeck[clip]'"


def test_help_breaks_no_name_at_its_hyphen(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["loopdeck", "neck", "--help"])
    for columns in range(60, 121, 7):
        monkeypatch.setenv("COLUMNS", str(columns))
        with pytest.raises(SystemExit):
            cli.main(["neck", "--help"])
        out = capsys.readouterr().out
        assert all(name in out for name in names("tunings")), columns


def test_an_error_of_ours_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    module = importlib.import_module("loopdeck.cli.check")

    def broken(args: object) -> int:
        raise KeyError("a mistake")

    monkeypatch.setattr(module, "run", broken)
    with pytest.raises(KeyError):
        cli.main(["check", "x"])


def test_a_missing_file_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", "no/such/file.mid", "--scale", "G dorian"]) == 2
    said = capsys.readouterr().err
    assert said.startswith("loopdeck: ") and said.count("\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full")
@pytest.mark.parametrize(
    ("words", "out", "code"),
    [("--help", "> /dev/full", 2), ("--help", ">&-", 0), ("neck --scale 'E dorian'", ">&-", 0)],
)
def test_output_that_goes_nowhere(words: str, out: str, code: int) -> None:
    """A full disk gets a sentence, also for help; an output closed before the start takes what
    comes.
    """
    line = f"{sys.executable} -m loopdeck {words} {out}"
    done = subprocess.run(line, shell=True, capture_output=True, text=True, check=False)
    assert done.returncode == code
    assert done.stderr.count("\n") == (1 if code else 0), done.stderr


def test_help_imports_nothing_heavy() -> None:
    code = "import sys; from loopdeck.cli.main import main\ntry: main(['--help'])\nexcept SystemExit: pass\n"
    code += "print([m for m in ('numpy', 'mido', 'pygame', 'rtmidi', 'sqlite3') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip().endswith("[]")


@pytest.mark.parametrize("kind", ["briefs", "tunings", "controls"])
def test_configurations_are_found_by_name_and_by_path(kind: str, tmp_path: Path) -> None:
    assert names(kind)
    for name in names(kind):
        assert find(kind, name).parent == folder(kind)
    own = tmp_path / "own.toml"
    own.write_text("")
    assert find(kind, str(own)) == own
    with pytest.raises(UserError, match="of that name; there are "):
        find(kind, "no such thing")


def test_at_least_six_briefs_among_them_the_asked_ones() -> None:
    briefs = [load_brief(find("briefs", name)) for name in names("briefs")]
    assert len(briefs) >= 6
    cycles = {str(brief.cycle) for brief in briefs}
    assert {"4/4", "4/4 4+3/8"} <= cycles and any(cycle.startswith("6/8") for cycle in cycles)
    assert any(not brief.swing.straight and str(brief.grid) == "1/16" for brief in briefs)


def test_a_brief_is_found_by_the_name_that_is_shown() -> None:
    shown = find_named("briefs", "Copper kettle")
    assert shown is not None and shown == find_named("briefs", "copper-kettle")
    assert find_named("briefs", "Copper  ketle") is None
