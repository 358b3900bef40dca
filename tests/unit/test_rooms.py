"""Each room imports only rooms below it; the lowest two import nothing of ours; the pure rooms touch no clock, port, file or screen."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import loopdeck

ROOT = Path(loopdeck.__file__).parent
#: From the top down; rooms of one line do not know each other.
ORDER = (
    {"cli"}, {"engine", "window"}, {"session"}, {"audio"}, {"midi"}, {"process"}, {"protocol"}, {"page"}, {"practice"},
    {"export"}, {"shelf"}, {"looper"}, {"analysis"}, {"bass"}, {"synth"}, {"brief"}, {"capture"}, {"rhythm", "theory"},
)  # fmt: skip
LEVEL = {room: level for level, rooms in enumerate(ORDER) for room in rooms}
#: What a pure room may not import.
IMPURE = {"time", "threading", "socket", "subprocess", "rtmidi", "pygame", "sqlite3", "os", "asyncio", "select"}
PURE = {
    "looper": set(),
    "analysis": set(),
    "bass": set(),
    "brief": set(),
    "rhythm": set(),
    "theory": set(),
    # The journal and the file reader are capture's doors to the disk.
    "capture": {"journal.py", "smf_read.py", "spare.py"},
}


def imports(path: Path) -> Iterator[str]:
    """Every module imported anywhere in a file, also inside functions."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            yield node.module or ""


def files(room: str) -> list[Path]:
    return sorted((ROOT / room).rglob("*.py"))


def test_every_folder_is_a_room() -> None:
    assert {
        path.name for path in ROOT.iterdir() if path.is_dir() and path.name not in ("__pycache__", "_configs")
    } == set(LEVEL)


@pytest.mark.parametrize("room", sorted(LEVEL))
def test_arrows_point_down(room: str) -> None:
    for path in files(room):
        for module in imports(path):
            parts = module.split(".")
            if parts[0] != "loopdeck" or len(parts) < 2 or parts[1] not in LEVEL or parts[1] == room:
                continue
            assert LEVEL[room] < LEVEL[parts[1]], f"{path} imports {module}"


@pytest.mark.parametrize("room", sorted(PURE))
def test_pure_rooms_stay_pure(room: str) -> None:
    for path in files(room):
        if path.name in PURE[room]:
            continue
        found = {module.split(".")[0] for module in imports(path)} & IMPURE
        assert not found, f"{path} imports {found}"


def test_no_file_is_a_warehouse() -> None:
    long = {str(path): lines for path in ROOT.rglob("*.py") if (lines := path.read_text().count("\n")) > 500}
    assert not long
