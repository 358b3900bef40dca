"""Each room imports only rooms below it; the lowest two import nothing of ours; the pure rooms
touch no clock, port, file or screen.
"""

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import loopdeck

ROOT = Path(loopdeck.__file__).parent
#: From the top down; rooms of one line do not know each other.
ORDER = (
    {"cli"}, {"engine", "window"}, {"session"}, {"audio"}, {"midi"}, {"process"}, {"page"}, {"practice"}, {"export"},
    {"shelf"}, {"looper"}, {"analysis"}, {"bass"}, {"synth"}, {"capture"}, {"brief"}, {"protocol"}, {"rhythm", "theory"},
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
    "capture": {"journal_files.py", "journal_reader.py", "journal_writer.py", "smf_read.py", "disk_room.py"},
}


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imports(path: Path) -> Iterator[str]:
    """Every module imported anywhere in a file, also inside functions."""
    for node in ast.walk(tree_of(path)):
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
def test_every_room_says_what_it_is_for_and_where_to_begin(room: str) -> None:
    words = " ".join((ast.get_docstring(tree_of(ROOT / room / "__init__.py")) or "").split())
    assert "Begin with ``" in words
    there = {path.stem for path in (ROOT / room).iterdir()}
    named = set(re.findall(r"``([a-z_]+)``", words)) - {"add_arguments", "run"}
    assert named and named <= there, "a module that does not exist"


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
        modules = set(imports(path))
        found = {module.split(".")[0] for module in modules} & IMPURE
        # Of the protocol the messages only: they are pure, the sockets beside them are not.
        found |= {one for one in modules if one.startswith("loopdeck.protocol") and one != "loopdeck.protocol.messages"}
        assert not found, f"{path} imports {found}"


# ---- size by thing -------------------------------------------------------------------------------


class Size(NamedTuple):
    """What a class holds: attributes that are annotated in its body or assigned to ``self``, its
    methods, and its lines.
    """

    fields: int
    methods: int
    lines: int


MOST = Size(fields=15, methods=25, lines=300)
MOST_FUNCTION_LINES = 60
#: A brief is a table: a row, with its spec, for everything a player sets, and each row is a key of
#: its file, of its message and of the command that changes it. Parts in between would spell those
#: keys twice; so its rows are not counted, its methods and lines are.
TABLES = {"brief/brief.py Brief"}


def _targets(node: ast.AST) -> list[ast.expr]:
    if isinstance(node, ast.Assign):
        return node.targets
    return [node.target] if isinstance(node, ast.AnnAssign | ast.AugAssign) else []


def size_of(node: ast.ClassDef) -> Size:
    methods = [part for part in node.body if isinstance(part, ast.FunctionDef | ast.AsyncFunctionDef)]
    fields = {
        part.target.id for part in node.body if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name)
    }
    targets = (
        part for method in methods for inner in ast.walk(method) for one in _targets(inner) for part in ast.walk(one)
    )
    for part in targets:
        if isinstance(part, ast.Attribute) and isinstance(part.value, ast.Name) and part.value.id == "self":
            fields.add(part.attr)
    return Size(len(fields), len(methods), (node.end_lineno or node.lineno) - node.lineno + 1)


def nodes(kind: type[ast.ClassDef] | type[ast.FunctionDef]) -> Iterator[tuple[str, Any]]:
    for path in sorted(ROOT.rglob("*.py")):
        for node in ast.walk(tree_of(path)):
            if isinstance(node, kind):
                yield f"{path.relative_to(ROOT).as_posix()} {node.name}", node


def test_no_two_public_classes_share_a_name() -> None:
    places: dict[str, list[str]] = {}
    for place, _ in nodes(ast.ClassDef):
        path, name = place.split()
        places.setdefault(name, []).append(path)
    twins = {name: paths for name, paths in places.items() if len(paths) > 1 and not name.startswith("_")}
    assert not twins, "give the rarer one the field's word"


def test_no_class_holds_too_much() -> None:
    sizes = {name: size_of(node) for name, node in nodes(ast.ClassDef)}
    assert set(sizes) >= TABLES
    for name, size in sizes.items():
        counted = size._replace(fields=0) if name in TABLES else size
        assert all(has <= may for has, may in zip(counted, MOST, strict=True)), f"{name}: {size}; at most {MOST}"


def test_no_function_is_too_long() -> None:
    long = [name for name, node in nodes(ast.FunctionDef) if node.end_lineno - node.lineno + 1 > MOST_FUNCTION_LINES]
    assert not long
