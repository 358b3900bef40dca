"""The players' page is what the code says, and a shell is offered what there is."""

import os
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

from loopdeck.brief.brief import SPECS
from loopdeck.cli.main import main

ROOT = Path(__file__).resolve().parents[2]


def test_the_page_is_current() -> None:
    page = runpy.run_path(str(ROOT / "docs" / "make_players_page.py"))
    text = (ROOT / "docs" / "players.md").read_text(encoding="utf-8")
    assert page["written"](text) == text, "run python docs/make_players_page.py"
    assert all(f"| `{name}` |" in text for name in SPECS)


@pytest.mark.parametrize(
    ("command", "names"),
    [
        ("jam", ("tide-mill", "rust-moth")),
        ("jam", ("four-switch",)),
        ("quantize", ("dorian", "altered")),
        ("finger", ("drop-d",)),
    ],
)
def test_help_names_what_there_is(
    command: str, names: tuple[str, ...], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", ["loopdeck", command, "--help"])
    with pytest.raises(SystemExit):
        main([command, "--help"])
    text = " ".join(capsys.readouterr().out.split()).replace("- ", "-")
    assert [name for name in names if name not in text] == []


def completed(line: str, tmp_path: Path) -> list[str]:
    """What bash would offer at the end of a line, asked the way argcomplete's own hook for bash
    asks.
    """
    answer = tmp_path / "answer"
    environment = {
        **os.environ, "_ARGCOMPLETE": "1", "_ARGCOMPLETE_IFS": "\n", "COMP_LINE": line, "COMP_POINT": str(len(line)),
        "COMP_TYPE": "9", "_ARGCOMPLETE_STDOUT_FILENAME": str(answer), "XDG_DATA_HOME": str(tmp_path), "_ARGCOMPLETE_SHELL": "bash",
    }  # fmt: skip
    subprocess.run(
        [sys.executable, "-m", "loopdeck"], cwd=ROOT, env=environment, timeout=360, check=False, capture_output=True
    )
    return [word.strip() for word in answer.read_text().split("\n")]


def test_a_shell_completes_commands_options_and_values(tmp_path: Path) -> None:
    pytest.importorskip("argcomplete")
    assert completed("loopdeck quan", tmp_path) == ["quantize"]
    assert "--straight" in completed("loopdeck quantize x --str", tmp_path)
    assert "1/8T" in "".join(completed("loopdeck quantize x --grid 1/8", tmp_path))
    assert any("power-chords" in word for word in completed("loopdeck vary 1 --how pow", tmp_path))
    assert any("rust-moth" in word for word in completed("loopdeck jam --brief ru", tmp_path))
