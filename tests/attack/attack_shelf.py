"""Damaged and hostile shelves: one bad take is one bad take, every refusal is a sentence, and
nothing takes for ever.
"""

import contextlib
import io
import json
import os
import random
import shutil
import sqlite3
import tempfile
import zlib
from functools import cache
from pathlib import Path
from typing import Any

from loopdeck.cli.main import main
from loopdeck.errors import UserError
from loopdeck.shelf import codec
from loopdeck.shelf.rescue import rescue
from loopdeck.shelf.store import Shelf
from tests.attack.attack import Attack
from tests.unit import shelf_tools as tools

TAKES = 6
PAGE = 4096


def _take(index: int) -> tools.Take:
    """A take of a few kilobytes with a layer, a rating and tags."""
    dice = random.Random(index)
    playing = [
        event
        for step in range(dice.randrange(20, 400))
        for event in (
            tools.note_on(step * 0.21 + dice.uniform(0, 0.02), dice.randrange(28, 60)),
            tools.note_off(step * 0.21 + 0.2, 40),
        )
    ]
    return tools.small_take(f"take {index}").changed(
        events=tuple(playing), tags=(f"tag{index}", "all"), rating=index % 6
    )


@cache
def _sound() -> tuple[bytes, dict[int, tuple[object, ...]]]:
    """The bytes of a sound shelf, and what is in it by number; one a process."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shelf.sqlite"
        with Shelf(path) as shelf:
            for index in range(1, TAKES + 1):
                shelf.add(_take(index))
            there = {number: tools.content(shelf.get(number)) for number in range(1, TAKES + 1)}
        return path.read_bytes(), there


def _sentence(error: UserError) -> str:
    text = str(error)
    assert text.endswith(".") and "\n" not in text and len(text) < 1000, text
    return text


def _command(*words: str) -> int:
    """The command line in this process; anything but a code of 0, or 2 with one sentence,
    raises.
    """
    out, errors = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        code = main(words)
    assert code in (0, 2), code
    if code == 2:
        assert errors.getvalue().startswith("loopdeck: ") and errors.getvalue().count("\n") == 1, errors.getvalue()
    return code


def _looked_at(path: Path, numbers: range) -> None:
    """Everything a player does with a shelf first."""
    _command("takes", "list", "--shelf", str(path))
    for number in numbers:
        _command("takes", "show", str(number), "--shelf", str(path))
    number = str(numbers[len(numbers) // 2])
    _command("check", number, "--shelf", str(path), "--json")
    _command("quantize", number, "--shelf", str(path), "--json")
    _command("takes", "export", number, "--shelf", str(path), "-o", str(path.with_name("out.mid")))


def _damage(data: bytes, rng: random.Random) -> tuple[bytes, set[int], bool]:
    """The bytes with one thing done to them, the pages (from 0) it was done to, and whether those
    may be gone as a whole.
    """
    kind, broken, hurt = rng.randrange(6), bytearray(data), set()
    pages = len(data) // PAGE
    if kind <= 2:
        for _ in range(rng.randint(1, 4)):
            # Half of the time where it hurts most: in the schema and the heads of pages.
            at = rng.randrange(len(data)) if rng.random() < 0.5 else rng.randrange(pages) * PAGE + rng.randrange(120)
            broken[at] ^= 1 << rng.randrange(8)
            hurt.add(at // PAGE)
    elif kind == 3:
        at, size = rng.randrange(len(data)), rng.choice((16, 100, 512, PAGE))
        broken[at : at + size] = rng.randbytes(len(broken[at : at + size]))
        hurt |= set(range(at // PAGE, (at + size) // PAGE + 1))
    elif kind == 4:
        one, other = rng.randrange(pages), rng.randrange(pages)
        broken[one * PAGE : (one + 1) * PAGE] = data[other * PAGE : (other + 1) * PAGE]
        hurt.add(one)
    else:
        at = rng.randrange(1, len(data))
        del broken[at:]
        hurt |= set(range(at // PAGE, pages))
    return bytes(broken), hurt, kind > 2


def damaged(rng: random.Random, folder: Path) -> float:
    """Damage a shelf, look at it, rescue it: the number of takes lost that did not lie where it was
    damaged.
    """
    data, there = _sound()
    path, new = folder / "shelf.sqlite", folder / "new.sqlite"
    broken, hurt, gone = _damage(data, rng)
    path.write_bytes(broken)
    _looked_at(path, range(1, TAKES + 1))
    path.write_bytes(broken)
    try:
        copied, _lost = rescue(path, new)
    except UserError as error:
        _sentence(error)
        copied = 0
    good = 0
    if copied:
        with Shelf(new) as shelf:
            rows = shelf.find() + shelf.find(binned=True)
            assert len(rows) == copied and not shelf.damaged
            good = sum(tools.content(shelf.get(row["number"])) == there.get(row["number"]) for row in rows)
    # The rows of all these takes fit on one leaf, so a page that is gone can cost them all; some
    # flipped bits cost a few.
    assert gone or good >= TAKES - 3 * len(hurt), (good, sorted(hurt))
    return float(TAKES - good)


@cache
def _bomb() -> bytes:
    """A hundred megabytes in a hundred kilobytes."""
    return bytes((codec.VERSION,)) + zlib.compress(bytes(100 << 20), 9)


def _poison(rng: random.Random) -> tuple[str, Any]:
    """A column of a take and what nobody ever wrote there."""
    huge = "9" * 5000
    deep = "[" * 100_000
    texts = [
        "",
        "\x00",
        "\x1b[2J",
        "null",
        "{}",
        "[]",
        deep,
        '{"tempo": 1e999}',
        f"[{huge}]",
        "x" * 100_000,
        "\ud7ff",
        "NaN",
    ]
    blobs = [
        b"",
        b"\x02",
        b"\x02\x00",
        os.urandom(40),
        _bomb(),
        codec._pack(deep.encode()),
        codec._pack(b"[{}]"),
        codec._pack(b"null"),
    ]
    numbers = [-1, 2**62, 10**9, 1e300, -1e300, None, "seven", b"blob", "", float("inf")]
    meters = [
        '[["0", "1/0"]]',
        '[["1/0", "4/4"]]',
        '[["1e999999999", "4/4"]]',
        '[["0", "64/1"], ["0", "1/32"]]',
        '[[0, "4/4"]]',
        '[["-5", "4/4"]]',
    ]
    tempi = [
        "[[0, 0, 0]]",
        "[[0, 0, -5]]",
        "[[0, 0, 1e308]]",
        "[[1, 1, 60], [0, 0, 60]]",
        "[[NaN, 0, 60]]",
        "[[0, 1e18, 60]]",
    ]
    briefs = [
        '{"cycle": "1/0"}', '{"strength": "' + huge + '"}', '{"tempo": true}', '{"colour": 1}', "7", '{"tuning": "nobody\'s"}',
        '{"cycle": "' + "4/4 " * 10_000 + '"}', '{"scale": "' + "E " * 20_000 + '"}', '{"name": "\\u001b]0;x"}',
    ]  # fmt: skip
    columns: dict[str, list[Any]] = {
        "name": [*texts, *numbers], "kept_at": [*texts, *numbers], "origin": [*texts, 3], "rating": [5.5, "x", b"5"],
        "note": [*texts, *numbers], "passes": numbers, "end_sec": numbers, "brief": [*texts, *briefs], "scale": [*texts, 3],
        "cycle": [*texts, 4], "qpm": numbers, "tempo_map": [*texts, *tempi], "meters": [*texts, *meters], "events": [*blobs, "text", 5],
        "layers": [*blobs, "text", 5], "binned_at": ["", 5, b"x"], "late": [*texts, "[[0, 1e300]]", '[["x", 1]]'],
        "signature": [*texts, "[99, 2]", "[0]", "[-7.5, 0]"], "mix": [*texts, '{"live": [NaN, 0]}'], "source": [*numbers],
        "run_pass": numbers, "first_bar": numbers,
    }  # fmt: skip
    column = rng.choice(sorted(columns))
    return column, rng.choice(columns[column])


def _hostile_layers(rng: random.Random) -> bytes:
    """Layers whose notes are anything that JSON has."""
    note = [rng.choice((0.0, -1e9, 1e300, 2.5)), rng.choice((1.0, 1e12, -3)), rng.choice((40, 127)), 90, 0, 0, 1]
    row = {
        "number": rng.choice((1, -5, 10**9)), "notes": [note] * rng.choice((0, 1, 3000)), "bends": [[[0.0, 0.0]]] * rng.choice((0, 1, 3000)),
        "pass": 0, "program": rng.choice((34, 0, 999)), "channel": rng.choice((1, 99, -1)), "ids": [], "muted": False,
    }  # fmt: skip
    return codec._pack(json.dumps([row] * rng.choice((1, 2))).encode())


def crafted(rng: random.Random, folder: Path) -> None:
    """A shelf with something in it that nobody ever wrote: the other takes are listed, shown,
    exported and rescued.
    """
    data, there = _sound()
    path, new = folder / "shelf.sqlite", folder / "new.sqlite"
    path.write_bytes(data)
    bad = rng.randrange(1, TAKES + 1)
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA ignore_check_constraints = ON")
        for _ in range(rng.randint(1, 3)):
            column, value = ("layers", _hostile_layers(rng)) if rng.random() < 0.2 else _poison(rng)
            with contextlib.suppress(sqlite3.IntegrityError):
                db.execute(f"UPDATE take SET {column} = ? WHERE number = ?", (value, bad))
        db.commit()
    _looked_at(path, range(1, TAKES + 1))
    shutil.copyfile(path, folder / "again.sqlite")
    copied, _ = rescue(folder / "again.sqlite", new)
    assert copied >= TAKES - 1
    with Shelf(new) as shelf:
        for number, want in there.items():
            if number != bad:
                assert tools.content(shelf.get(number)) == want


_SCHEMAS = (
    "ALTER TABLE take RENAME TO hidden; CREATE VIEW take AS WITH RECURSIVE n(number) AS (SELECT 1 UNION ALL "
    "SELECT number + 1 FROM n)"
    " SELECT number, 'x' AS name FROM n",
    "CREATE TRIGGER t AFTER UPDATE ON take BEGIN DELETE FROM take; END",
    "CREATE VIEW tag2 AS SELECT * FROM tag",
    "DROP TABLE tag",
    "ALTER TABLE take RENAME COLUMN rating TO stars",
    "ALTER TABLE take DROP COLUMN mix",
    "ALTER TABLE take ADD COLUMN bomb AS (zeroblob(100000000)) VIRTUAL",
    "PRAGMA user_version = -3",
    "PRAGMA user_version = 1",
    "DROP TABLE tag; CREATE VIEW tag AS WITH RECURSIVE n(take) AS (SELECT 1 UNION ALL SELECT take FROM n) "
    "SELECT take, 'w' AS word FROM n",
)


def schema(rng: random.Random, folder: Path) -> None:
    """A shelf whose tables are not what they seem: refused in one sentence, in no time, and never
    changed by what it brings along.
    """
    data, there = _sound()
    path, new = folder / "shelf.sqlite", folder / "new.sqlite"
    path.write_bytes(data)
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.executescript(rng.choice(_SCHEMAS))
    _looked_at(path, range(1, TAKES + 1))
    _command("takes", "rate", "1", "3", "--shelf", str(path))
    with contextlib.suppress(UserError):
        copied, _ = rescue(path, new)
        assert copied == len(there)


ATTACKS = (
    Attack("shelf: crafted", "one bad take is one bad take", crafted, 25, 3000),
    Attack("shelf: damaged", "what the damage spared is rescued", damaged, 25, 3000, figure="takes lost of 6"),
    Attack("shelf: strange schema", "a shelf's own schema does nothing to who opens it", schema, 10, 200),
)
