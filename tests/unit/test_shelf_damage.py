"""A shelf in trouble: killed, full, read only, corrupt, newer, or no shelf at all. Nothing
acknowledged is lost, and the way out is said.
"""

import os
import random
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from loopdeck.errors import UserError
from loopdeck.shelf import sqlite_pages
from loopdeck.shelf.migrations import VERSION
from loopdeck.shelf.rescue import rescue
from loopdeck.shelf.store import Shelf
from tests.unit import shelf_tools as tools
from tests.unit.test_shelf import ROOT, WRITER, version_one

as_root = pytest.mark.skipif(
    not hasattr(os, "geteuid") or not sys.platform.startswith("linux") or os.geteuid() != 0,
    reason="mounting needs root on Linux",
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where a shelf may be made."""
    return tmp_path / "shelf.sqlite"


def run(*words: object, **how: object) -> subprocess.CompletedProcess[str]:
    """The command line, as a player would use it."""
    command = [sys.executable, "-m", "loopdeck", *map(str, words)]
    how = {"cwd": ROOT, "timeout": 360, **how}
    return subprocess.run(command, capture_output=True, text=True, check=False, **how)  # type: ignore[call-overload,no-any-return]


def refused(done: subprocess.CompletedProcess[str]) -> str:
    """Asserts that a command ended in exactly one sentence and code 2; the sentence."""
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    (line,) = done.stderr.splitlines()
    assert line.startswith("loopdeck: ")
    assert line.endswith(".")
    return line


def take(index: int, events: int = 300) -> tools.Take:
    """A take of some kilobytes, all different."""
    playing = tuple(tools.note_on(step * 0.1 + index / 7, 40 + (step * index) % 30) for step in range(events))
    return tools.small_take(f"take {index}").changed(events=playing, tags=(f"tag{index}", "all"))


def filled(path: Path, count: int = 40) -> list[tuple[object, ...]]:
    """A shelf of takes with its log put away; what it holds, in order of number."""
    with Shelf(path) as shelf:
        for index in range(1, count + 1):
            assert shelf.add(take(index)) == index
        return [tools.content(shelf.get(number)) for number in range(1, count + 1)]


# ---- kill ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("after", [1, 7, 25])
def test_kill_in_the_midst_of_adding_loses_nothing_acknowledged(path: Path, after: int) -> None:
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), "w", "100000"], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    told = [int(writer.stdout.readline()) for _ in range(after)]
    writer.kill()
    told += [int(word) for word in writer.stdout.read().split()]
    writer.wait()
    assert told == list(range(1, len(told) + 1))
    with Shelf(path) as shelf:
        for number in told:
            got = shelf.get(number)
            assert tools.content(got) == tools.content(tools.small_take(f"w {number - 1}"))
        # One more may have been on the disk before it could be told of.
        assert len(shelf.find()) - len(told) in (0, 1)
        assert shelf.add(tools.small_take()) == len(shelf.find())
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    db.close()


# ---- full disk -----------------------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 256 KiB."""
    place = tmp_path / "disk"
    place.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=256k", "none", str(place)], check=False)
    if done.returncode:
        pytest.skip("this container may not mount")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def noise(index: int) -> tools.Take:
    """A take that does not get smaller by packing."""
    dice = random.Random(index)
    playing = tuple(tools.Event(dice.random(), 0, dice.randbytes(3)) for _ in range(800))
    return tools.small_take(f"noise {index}").changed(events=playing)


@as_root
def test_a_full_disk_keeps_what_was_there(small_disk: Path) -> None:
    path = small_disk / "shelf.sqlite"
    there: list[int] = []
    with Shelf(path) as shelf:
        with pytest.raises(UserError, match="is full; nothing was changed"):
            for index in range(100):
                there.append(shelf.add(noise(index)))
        assert len(there) > 3
        assert [row["number"] for row in shelf.find()] == there[::-1]
        for number in there:
            assert tools.content(shelf.get(number)) == tools.content(noise(number - 1))
    # Now the last byte is taken; each command says so or works, and loses nothing.
    with (small_disk / "ballast").open("wb", buffering=0) as ballast, pytest.raises(OSError, match="space"):
        while True:
            ballast.write(bytes(64))
    assert "full" in refused(run("takes", "note", "1", "words " * 3000, "--shelf", path))
    assert "full" in refused(run("takes", "export", "1", "-o", small_disk / "out.mid", "--shelf", path))
    assert "full" in refused(run("takes", "list", "--shelf", small_disk / "new.sqlite"))
    assert not any(one.suffix in (".part", ".mid") for one in small_disk.iterdir())
    subprocess.run(["mount", "-o", "remount,size=1m", str(small_disk)], check=True)
    with Shelf(path) as shelf:
        for number in there:
            assert tools.content(shelf.get(number)) == tools.content(noise(number - 1))
        shelf.rate(1, 5)


@as_root
def test_takes_can_be_taken_away_from_a_full_disk(small_disk: Path, tmp_path: Path) -> None:
    path = small_disk / "shelf.sqlite"
    with Shelf(path) as shelf:
        shelf.add(noise(0))
    with (small_disk / "ballast").open("wb", buffering=0) as ballast, pytest.raises(OSError, match="space"):
        while True:
            ballast.write(bytes(4096))
    done = run("takes", "list", "--shelf", path)
    assert done.returncode == 0, done.stderr
    assert "noise 0" in done.stdout
    done = run("takes", "export", "noise 0", "-o", tmp_path / "out.mid", "--shelf", path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out.mid").read_bytes()[:4] == b"MThd"


# ---- read only -----------------------------------------------------------------------------------


@pytest.fixture
def read_only(tmp_path: Path) -> Iterator[Path]:
    """A folder on which nothing can be written, not even by root: made by ``place``, then mounted
    so.
    """
    place = tmp_path / "medium"
    place.mkdir()
    yield place
    subprocess.run(["umount", "-l", str(place)], check=False, capture_output=True)


def seal(place: Path) -> None:
    """Make a folder read only, for root too."""
    for words in (["mount", "--bind", str(place), str(place)], ["mount", "-o", "remount,ro,bind", str(place)]):
        if subprocess.run(words, check=False, capture_output=True).returncode:
            pytest.skip("this container may not mount")


@as_root
def test_a_read_only_shelf_can_be_read_and_says_why_it_is_not_changed(read_only: Path, tmp_path: Path) -> None:
    path = read_only / "shelf.sqlite"
    want = filled(path, 3)
    seal(read_only)
    with Shelf(path) as shelf:
        assert [tools.content(shelf.get(number)) for number in (1, 2, 3)] == want
    for words in (("rate", "1", "4"), ("remove", "1"), ("restore", "1"), ("tag", "1", "x")):
        assert "can only be read" in refused(run("takes", *words, "--shelf", path))
    assert run("takes", "list", "--shelf", path).returncode == 0
    assert run("takes", "export", "2", "-o", tmp_path / "out.mid", "--shelf", path).returncode == 0
    refused(run("takes", "list", "--shelf", read_only / "new.sqlite"))
    refused(run("takes", "list", "--shelf", read_only / "new" / "shelf.sqlite"))
    refused(run("takes", "export", "2", "-o", read_only / "out.mid", "--shelf", path))
    assert sorted(one.name for one in read_only.iterdir()) == ["shelf.sqlite"]


@as_root
def test_read_only_with_takes_still_in_the_log(read_only: Path) -> None:
    path = read_only / "shelf.sqlite"
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), "w", "100000"], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    told = [int(writer.stdout.readline()) for _ in range(3)]
    writer.kill()
    writer.communicate()
    assert (read_only / "shelf.sqlite-wal").stat().st_size
    seal(read_only)
    with Shelf(path) as shelf:
        assert [shelf.get(number).name for number in told] == ["w 0", "w 1", "w 2"]
        with pytest.raises(UserError, match="can only be read"):
            shelf.rate(1, 3)


@as_root
def test_read_only_and_of_an_older_version(read_only: Path) -> None:
    path = read_only / "shelf.sqlite"
    version_one(path)
    seal(read_only)
    with Shelf(path) as shelf:
        assert shelf.get("old").tags == ("ancient",)
        with pytest.raises(UserError, match="can only be read"):
            shelf.remove("old")


AS_NOBODY = """
import contextlib, io, os, sys
from loopdeck.cli.main import main
# Once as root, for an ordinary user may not be able to read where Python's modules lie.
with contextlib.redirect_stdout(io.StringIO()):
    assert main(["takes", "list", *sys.argv[-2:]]) == 0
os.setgroups([]); os.setgid(65534); os.setuid(65534)
sys.exit(main(sys.argv[1:]))
"""


@as_root
def test_somebody_elses_shelf() -> None:
    """As an ordinary user, who may read the file and no more, or not even that."""

    def nobody(*words: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-c", AS_NOBODY, "takes", *map(str, words), "--shelf", str(path)]
        return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=360, check=False)

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shelf.sqlite"
        filled(path, 1)
        Path(folder).chmod(0o755)
        path.chmod(0o644)
        assert "take 1" in nobody("list").stdout
        assert "can only be read" in refused(nobody("rate", "1", "3"))
        path.chmod(0o600)
        assert "cannot be opened" in refused(nobody("list"))
        Path(folder).chmod(0o700)
        refused(nobody("list"))


# ---- corrupt -------------------------------------------------------------------------------------


def overwritten(path: Path, spans: list[tuple[int, int]]) -> None:
    """Nonsense over (offset, length)."""
    dice = random.Random(9)
    with path.open("r+b") as file:
        for offset, length in spans:
            file.seek(offset)
            file.write(dice.randbytes(length))


def rescued(path: Path, want: list[tuple[object, ...]]) -> list[int]:
    """Rescue on the command line; the numbers that came back, each of them bit for bit what it
    was.
    """
    new = path.with_name("rescued.sqlite")
    before = path.read_bytes()
    done = run("takes", "rescue", "--shelf", path, "-o", new)
    assert done.returncode == 0, done.stderr
    assert path.read_bytes() == before
    with Shelf(new) as shelf:
        numbers = sorted(row["number"] for row in shelf.find())
        for number in numbers:
            got = tools.content(shelf.get(number))
            assert got[:10] == want[number - 1][:10]
            assert got[11:] == want[number - 1][11:]
    assert done.stdout.startswith(f"{len(numbers)} take")
    return numbers


def test_a_shelf_without_its_beginning(path: Path) -> None:
    want = filled(path)
    overwritten(path, [(0, 4096)])
    assert "loopdeck takes rescue" in refused(run("takes", "list", "--shelf", path))
    assert rescued(path, want) == list(range(1, 41))


def test_a_shelf_without_the_pages_that_lead_to_the_takes(path: Path) -> None:
    want = filled(path)
    inner = [at for at in range(4096, path.stat().st_size, 4096) if path.read_bytes()[at] == 5]
    assert inner, "a shelf of this size has inner pages"
    overwritten(path, [(at, 4096) for at in inner])
    assert "loopdeck takes rescue" in refused(run("takes", "list", "--shelf", path))
    assert rescued(path, want) == list(range(1, 41))


def test_a_shelf_that_was_cut_off(path: Path) -> None:
    want = filled(path)
    os.truncate(path, path.stat().st_size * 6 // 10 // 4096 * 4096 + 100)
    assert "loopdeck takes rescue" in refused(run("takes", "list", "--shelf", path))
    back = rescued(path, want)
    assert 15 <= len(back) < 40


@pytest.mark.parametrize("seed", range(4))
def test_bytes_overwritten_in_many_places(path: Path, seed: int) -> None:
    want = filled(path)
    dice, size = random.Random(seed), path.stat().st_size
    overwritten(path, [(dice.randrange(4096, size - 40), 40) for _ in range(12)])
    # What is damaged is named, or was not touched; nothing else ever happens.
    with_damage = []
    for number in range(1, 41):
        try:
            with Shelf(path) as shelf:
                assert tools.content(shelf.get(number))[3] == want[number - 1][3]
        except UserError as error:
            with_damage.append(str(error))
    assert with_damage
    assert all("loopdeck takes rescue" in one or "There is no take" in one for one in with_damage)
    new = path.with_name("new.sqlite")
    copied, lost = rescue(path, new)
    assert copied >= 40 - len(with_damage)
    assert copied + lost == 40
    with Shelf(new) as shelf:
        for row in shelf.find():
            got = tools.content(shelf.get(row["number"]))
            assert (got[3], got[15]) == (want[row["number"] - 1][3], want[row["number"] - 1][15])


def test_one_damaged_take_is_named_and_the_others_are_read(path: Path) -> None:
    filled(path, 3)
    db = sqlite3.connect(path)
    db.execute("UPDATE take SET events = x'0201020304' WHERE number = 2")
    db.execute("UPDATE take SET brief = '{' WHERE number = 3")
    db.commit()
    db.close()
    assert run("takes", "show", "1", "--shelf", path).returncode == 0
    for number in (2, 3):
        line = refused(run("takes", "show", number, "--shelf", path))
        assert f"Take {number}" in line
        assert "loopdeck takes rescue" in line
    # The list has all the others, and says which one it leaves out.
    done = run("takes", "list", "--shelf", path)
    assert done.returncode == 0 and "take 1" in done.stdout and "take 3" not in done.stdout
    assert "Left out: take 3" in done.stderr and "loopdeck takes rescue" in done.stderr
    assert rescue(path, path.with_name("new")) == (1, 2)


@pytest.mark.parametrize("more", ['{"first_pass": "x"}', '{"first_pass": true}', '{"views": 5}', '{"first_pass": [1]}'])
def test_what_lies_in_more_is_checked(path: Path, more: str) -> None:
    filled(path, 2)
    db = sqlite3.connect(path)
    db.execute("UPDATE take SET more = ? WHERE number = 2", (more,))
    db.commit()
    db.close()
    with Shelf(path) as shelf:
        assert shelf.get(1).number == 1
        with pytest.raises(UserError, match="Take 2"):
            shelf.get(2)


def test_rescue_keeps_number_bin_rating_and_tags_and_reads_the_log(path: Path) -> None:
    with Shelf(path) as shelf:
        for index in range(1, 6):
            shelf.add(take(index))
        shelf.rate(4, 5)
        shelf.remove(2)
        # The shelf is still open: everything lies in the log.
        assert path.with_name("shelf.sqlite-wal").stat().st_size > path.stat().st_size
        assert rescue(path, path.with_name("one")) == (5, 0)
    overwritten(path, [(0, 100)])
    assert rescue(path, path.with_name("two")) == (5, 0)
    for name in ("one", "two"):
        with Shelf(path.with_name(name)) as shelf:
            assert [row["number"] for row in shelf.find()] == [5, 4, 3, 1]
            assert [row["number"] for row in shelf.find(binned=True)] == [2]
            assert tools.content(shelf.get(4)) == tools.content(replace(take(4), rating=5, tags=("all", "tag4")))
            assert shelf.add(take(9)) == 6


def test_rescue_reads_shelves_of_version_one(path: Path) -> None:
    version_one(path)
    assert rescue(path, path.with_name("new")) == (1, 6)
    with Shelf(path.with_name("new")) as shelf:
        assert shelf.get(7).note == "old words"


def test_a_sound_shelf_is_rescued_whole(path: Path) -> None:
    want = filled(path, 12)
    assert rescued(path, want) == list(range(1, 13))


def test_pages_are_read_as_sqlite_wrote_them(path: Path) -> None:
    """Every kind of value and rows from empty to many pages, against SQLite itself."""
    db = sqlite3.connect(path)
    db.execute("PRAGMA page_size = 1024")
    db.execute("CREATE TABLE t (a, b, c, d)")
    values: list[tuple[object, ...]] = [
        (None, 0, 1, -1), (127, -128, 32767, -(2**23)), (2**31, -(2**47), 2**47, 2**63 - 1), (-(2**63), 0.1, "", b""),
    ]  # fmt: skip
    values += [("ü" * size, b"\xff" * size, size, size / 3) for size in (*range(300, 1100, 37), 5000, 20_000)]
    db.executemany("INSERT INTO t VALUES (?, ?, ?, ?)", values)
    db.commit()
    db.close()
    found = {
        number: tuple(one.decode() if isinstance(one, sqlite_pages.StoredText) else one for one in row)
        for number, row in sqlite_pages.rows(path)
        if len(row) == 4
    }
    assert found == dict(enumerate(values, 1))


def test_rescue_says_what_it_cannot_do(path: Path) -> None:
    new = path.with_name("new.sqlite")
    assert "There is no shelf" in refused(run("takes", "rescue", "--shelf", path, "-o", new))
    path.write_bytes(random.Random(1).randbytes(50_000))
    assert "No take can be read" in refused(run("takes", "rescue", "--shelf", path, "-o", new))
    assert [one.name for one in path.parent.iterdir()] == [path.name]
    new.write_bytes(b"mine")
    assert "exists already" in refused(run("takes", "rescue", "--shelf", path, "-o", new))
    assert new.read_bytes() == b"mine"


# ---- no shelf ------------------------------------------------------------------------------------


def test_what_is_no_shelf(path: Path, tmp_path: Path) -> None:
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40)
    before = path.read_bytes()
    assert "is not a shelf" in refused(run("takes", "list", "--shelf", path))
    assert path.read_bytes() == before
    other = tmp_path / "other.sqlite"
    db = sqlite3.connect(other)
    db.execute("CREATE TABLE recipe (title)")
    db.commit()
    db.close()
    before = other.read_bytes()
    assert "another program" in refused(run("takes", "list", "--shelf", other))
    assert other.read_bytes() == before
    assert "is a folder" in refused(run("takes", "list", "--shelf", tmp_path))
    refused(run("takes", "list", "--shelf", path / "below"))


def test_a_newer_version(path: Path) -> None:
    filled(path, 1)
    db = sqlite3.connect(path)
    db.execute("PRAGMA user_version = 99")
    db.close()
    before = path.read_bytes()
    line = refused(run("takes", "list", "--shelf", path))
    assert "newer loopdeck (its version 99, ours " + str(VERSION) in line
    refused(run("check", "1", "--scale", "G dorian", "--shelf", path))
    assert path.read_bytes() == before
