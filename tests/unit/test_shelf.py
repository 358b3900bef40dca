"""The shelf: what is put on it comes back bit for bit, is found, changed, binned and restored; by
several programs at once.
"""

import json
import sqlite3
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.capture.events import Event
from loopdeck.errors import UserError
from loopdeck.shelf import codec
from loopdeck.shelf.migrations import STEPS, VERSION
from loopdeck.shelf.paths import default_shelf
from loopdeck.shelf.store import Shelf
from tests.unit import shelf_tools as tools


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where a shelf may be made."""
    return tmp_path / "shelf.sqlite"


@settings(max_examples=60, deadline=None)
@given(st.lists(tools.takes(), min_size=1, max_size=3))
def test_every_take_comes_back_bit_for_bit(tmp_path_factory: pytest.TempPathFactory, takes: list) -> None:
    path = tmp_path_factory.mktemp("shelf") / "s.sqlite"
    with Shelf(path) as shelf:
        numbers = [shelf.add(take) for take in takes]
    with Shelf(path) as shelf:
        for number, take in zip(numbers, takes, strict=True):
            back = shelf.get(number)
            assert back.number == number
            assert tools.content(back) == tools.content(take)


def test_minus_zero_and_infinity_keep_their_bits() -> None:
    events = tuple(Event(sec, 3, b"\x90\x30\x40") for sec in (-0.0, float("inf"), 5e-324, 0.1 + 0.2))
    back = codec.unpack_events(codec.pack_events(events))
    assert [event.time_sec.hex() for event in back] == [event.time_sec.hex() for event in events]


def test_a_take_larger_than_any_is_refused_when_it_is_put_there(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(codec, "MAX_BODY", 100)
    take = tools.small_take().changed(events=tuple(tools.note_on(float(sec), 40) for sec in range(50)))
    with Shelf(path) as shelf:
        with pytest.raises(UserError, match="larger than"):
            shelf.add(take)
        assert shelf.find() == []


def test_find_filters(path: Path) -> None:
    with Shelf(path) as shelf:
        shelf.add(replace(tools.small_take("one", scale="G dorian", tempo="96"), rating=2, tags=("Slow", "b")))
        shelf.add(replace(tools.small_take("two", scale="E dorian", tempo="104", cycle="4/4 4+3/8"), rating=5))
        shelf.add(
            replace(tools.small_take("three", scale="", tempo="8th=184", cycle="6/8", mood="Dark water"), rating=3)
        )
        shelf.add(replace(tools.small_take("four", scale="G altered"), note="The BRIDGE, maybe"))

        def names(**asked: object) -> list[str]:
            return [row["name"] for row in shelf.find(**asked)]  # type: ignore[arg-type]

        assert names() == ["four", "three", "two", "one"]
        assert names(tag="slow") == ["one"]
        assert names(tag="slo") == []
        assert names(scale="G dorian") == ["one"]
        assert names(scale="dorian") == ["two", "one"]
        assert names(scale="g") == ["four", "one"]
        assert names(scale="super locrian") == names(scale="Altered") == ["four"]
        assert names(scale="F lydian") == []
        assert names(meter="4/4") == ["four", "two", "one"]
        assert names(meter="4/4 4+3/8") == ["two"]
        assert names(meter="7/8") == ["two"]
        assert names(meter="6/8") == ["three"]
        assert names(tempo=(96, 96)) == ["one"]
        assert names(tempo=(92, 104)) == ["three", "two", "one"]
        assert names(min_rating=3) == ["three", "two"]
        assert names(text="dark") == ["three"]
        assert names(text="bridge") == ["four"]
        assert names(text="t", min_rating=5) == ["two"]
        (row,) = shelf.find(tag="slow")
        assert json.loads(json.dumps(row)) == {
            "number": 1, "name": "one", "kept_at": "2031-05-06T07:08:09+00:00", "origin": "played", "rating": 2,
            "passes": 2, "scale": "G dorian", "cycle": "4/4", "qpm": 96.0, "note": "", "end_sec": 5.0, "tags": ["Slow", "b"],
        }  # fmt: skip


@pytest.mark.parametrize("asked", [{"scale": "H dorian"}, {"scale": "sparkly"}, {"meter": "7/9"}, {"meter": ""}])
def test_find_says_what_is_no_scale_or_meter(path: Path, asked: dict[str, str]) -> None:
    with Shelf(path) as shelf:
        shelf.add(tools.small_take())
        with pytest.raises(ValueError) as error:
            shelf.find(**asked)  # type: ignore[arg-type]
    assert isinstance(error.value, UserError)


def test_every_change(path: Path) -> None:
    with Shelf(path) as shelf:
        number = shelf.add(tools.small_take("Müsli ÄÖ"))
        assert shelf.get("MÜSLI äö").number == number
        assert shelf.rename(number, "  B  ") == number
        assert shelf.rate("b", 5) == number
        assert shelf.tag("b", ["riff", "riff", "low"]) == number
        assert shelf.set_note("b", "two\nlines") == number
        take = shelf.get("b")
        assert (take.name, take.rating, take.tags, take.note) == ("B", 5, ("low", "riff"), "two\nlines")
        shelf.untag("b", ["LOW", "never there"])
        assert shelf.get("b").tags == ("riff",)
    with Shelf(path) as shelf:
        assert shelf.get("b").tags == ("riff",)
        assert tools.content(replace(shelf.get(1), name="Müsli ÄÖ", rating=0, tags=(), note="")) == tools.content(
            tools.small_take("Müsli ÄÖ")
        )


@pytest.mark.parametrize(
    "change",
    [
        lambda shelf: shelf.rename(1, " "),
        lambda shelf: shelf.rename(1, "a\nb"),
        lambda shelf: shelf.rename(1, "x" * 201),
        lambda shelf: shelf.rate(1, 6),
        lambda shelf: shelf.rate(1, -1),
        lambda shelf: shelf.tag(1, ["good", ""]),
        lambda shelf: shelf.tag(1, ["x" * 61]),
        lambda shelf: shelf.set_note(1, "x" * 100_001),
        lambda shelf: shelf.rate(2, 1),
        lambda shelf: shelf.rate("nobody", 1),
        lambda shelf: shelf.remove("²"),
        lambda shelf: shelf.restore(1),
        lambda shelf: shelf.restore(10**30),
        lambda shelf: shelf.get("9" * 40),
    ],
)
def test_wrong_changes_change_nothing(path: Path, change: object) -> None:
    with Shelf(path) as shelf:
        shelf.add(tools.small_take())
        before = tools.content(shelf.get(1))
        with pytest.raises(UserError) as error:
            change(shelf)  # type: ignore[operator]
        assert tools.content(shelf.get(1)) == before
    assert str(error.value).endswith(".")
    assert "\n" not in str(error.value)


def test_a_name_of_digits_is_found_when_no_take_has_that_number(path: Path) -> None:
    with Shelf(path) as shelf:
        shelf.add(tools.small_take("2031"))
        assert shelf.get("2031").number == 1
        shelf.add(tools.small_take("1"))
        assert shelf.get("1").number == 1, "a number comes before a name"


def test_the_newest_of_one_name(path: Path) -> None:
    with Shelf(path) as shelf:
        assert [shelf.add(tools.small_take("same")) for _ in range(3)] == [1, 2, 3]
        assert shelf.number_of("same") == 3
        shelf.remove(3)
        assert shelf.number_of("same") == 2


def test_the_bin(path: Path) -> None:
    with Shelf(path) as shelf:
        for name in ("a", "b"):
            shelf.add(replace(tools.small_take(name), tags=("t",)))
        shelf.remove("a")
        assert [row["name"] for row in shelf.find()] == ["b"]
        assert [row["name"] for row in shelf.find(binned=True)] == ["a"]
        for which in (1, "a"):
            with pytest.raises(UserError, match="no take"):
                shelf.get(which)
        with pytest.raises(UserError, match="no take"):
            shelf.remove(1)
        assert shelf.restore(1) == 1
        assert tools.content(shelf.get("a")) == tools.content(replace(tools.small_take("a"), tags=("t",)))
        assert shelf.find(binned=True) == []


def test_numbers_are_never_used_again(path: Path) -> None:
    with Shelf(path) as shelf:
        assert [shelf.add(tools.small_take()) for _ in range(2)] == [1, 2]
    db = sqlite3.connect(path)
    db.execute("DELETE FROM take")
    db.commit()
    db.close()
    with Shelf(path) as shelf:
        assert shelf.add(tools.small_take()) == 3


WRITER = """
import sys
from loopdeck.shelf.store import Shelf
from tests.unit.shelf_tools import small_take
if len(sys.argv) > 4:
    print("ready", flush=True)
    sys.stdin.readline()
with Shelf(sys.argv[1]) as shelf:
    for index in range(int(sys.argv[3])):
        print(shelf.add(small_take(f"{sys.argv[2]} {index}")), flush=True)
"""
ROOT = Path(__file__).resolve().parents[2]


def test_several_programs_make_and_fill_one_shelf_at_once(path: Path) -> None:
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), str(who), "8", "together"],
            cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for who in range(6)
    ]  # fmt: skip
    for one in running:
        assert one.stdout is not None
        assert one.stdout.readline() == "ready\n"
    for one in running:
        assert one.stdin is not None
        one.stdin.write("go\n")
        one.stdin.flush()
    said = [one.communicate(timeout=360) for one in running]
    assert [one.returncode for one in running] == [0] * 6, said
    told = [{int(word) for word in out.split()} for out, _ in said]
    assert set.union(*told) == set(range(1, 49))
    with Shelf(path) as shelf:
        assert {row["name"] for row in shelf.find()} == {f"{who} {index}" for who in range(6) for index in range(8)}
        for who, numbers in enumerate(told):
            assert {shelf.get(number).name.split()[0] for number in numbers} == {str(who)}


def test_a_shelf_that_another_program_holds_is_named(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loopdeck.shelf.opening.BUSY_SEC", 0.2)
    with Shelf(path) as shelf:
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(UserError, match="another program"):
            shelf.add(tools.small_take())
        other.execute("ROLLBACK")
        other.close()
        assert shelf.add(tools.small_take()) == 1


def version_one(path: Path) -> None:
    """A shelf as the first version wrote it, with a take."""
    take = tools.small_take("old")
    db = sqlite3.connect(path)
    db.executescript(STEPS[0])
    row = (
        7, take.name, take.kept_at, take.origin, 4, "old words", take.recording.passes, take.recording.end_sec,
        json.dumps(take.brief.to_dict()), "G dorian", "4/4", 120.0, json.dumps(take.recording.tempo_map), "[]",
        codec.pack_events(take.recording.events), codec.pack_layers(take.recording.layers, take.recording.muted),
    )  # fmt: skip
    db.execute(f"INSERT INTO take VALUES ({', '.join('?' * len(row))})", row)
    db.execute("INSERT INTO tag VALUES (7, 'ancient')")
    db.execute("PRAGMA user_version = 1")
    db.commit()
    db.close()


def test_a_shelf_of_version_one_is_brought_up(path: Path) -> None:
    version_one(path)
    with Shelf(path) as shelf:
        want = replace(tools.small_take("old"), rating=4, note="old words", tags=("ancient",))
        assert tools.content(shelf.get("old")) == tools.content(want)
        shelf.remove(7)
        shelf.restore(7)
        assert shelf.add(tools.small_take().changed(late={1: 0.004}, key=(-2, True), mix={"click": (-6.0, True)})) == 8
        assert shelf.get(8).recording.late == {1: 0.004}
        assert shelf.get(8).recording.mix == {"click": (-6.0, True)}
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA user_version").fetchone() == (VERSION,)
    db.close()


def test_a_take_of_one_source_is_put_on_the_shelf_once(path: Path) -> None:
    with Shelf(path) as shelf:
        first = shelf.add(tools.small_take(), source="one keep 1")
        assert shelf.add(tools.small_take("again"), source="one keep 1") == first
        assert shelf.add(tools.small_take(), source="one keep 2") == first + 1
        shelf.remove(first)
        assert shelf.add(tools.small_take("again"), source="one keep 1") == first
        # Without a source every take is one of its own.
        assert shelf.add(tools.small_take()) == first + 2 and shelf.add(tools.small_take()) == first + 3


def test_a_brief_from_before_its_newest_fields(path: Path) -> None:
    """Takes kept before a brief knew of clicks, groove and ramp."""
    with Shelf(path) as shelf:
        shelf.add(tools.small_take())
    db = sqlite3.connect(path)
    brief = json.loads(db.execute("SELECT brief FROM take").fetchone()[0])
    db.execute(
        "UPDATE take SET brief = ?",
        (json.dumps({k: v for k, v in brief.items() if k not in ("clicks", "groove", "ramp")}),),
    )
    db.commit()
    db.close()
    with Shelf(path) as shelf:
        assert tools.content(shelf.get(1)) == tools.content(tools.small_take())


def test_an_older_shelf_that_another_program_holds_is_waited_for(path: Path) -> None:
    """SQLite itself gives up at once when the write-ahead log is to be turned on meanwhile."""
    version_one(path)
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    threading.Timer(0.4, lambda: other.execute("COMMIT")).start()
    with Shelf(path) as shelf:
        assert shelf.get(7).name == "old"
    other.close()


def test_a_step_that_fails_leaves_the_old_version(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    version_one(path)
    broken = (*STEPS[:1], STEPS[1] + "; ALTER TABLE nothing ADD COLUMN x")
    monkeypatch.setattr("loopdeck.shelf.migrations.STEPS", broken)
    with pytest.raises(UserError):
        Shelf(path)
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA user_version").fetchone() == (1,)
    assert "binned_at" not in {row[1] for row in db.execute("PRAGMA table_info(take)")}
    db.close()


def test_events_of_the_first_version_are_still_read() -> None:
    """Version 1 of the bytes: ports of one byte, lengths of two. Written out by hand from the
    format's description.
    """
    import struct
    import zlib

    body = struct.pack("<dBH", -0.25, 2, 3) + b"\x90\x2b\x40" + struct.pack("<dBH", 1.5, 0, 2) + b"\xc0\x05"
    want = (Event(-0.25, 2, b"\x90\x2b\x40"), Event(1.5, 0, b"\xc0\x05"))
    assert codec.unpack_events(b"\x01" + zlib.compress(body)) == want


@given(st.binary(max_size=200))
def test_any_bytes_are_a_take_or_a_sentence(data: bytes) -> None:
    import zlib

    for blob in (data, *(bytes((version,)) + zlib.compress(data) for version in (1, 2))):
        for read in (codec.unpack_events, codec.unpack_layers):
            try:
                read(blob)
            except UserError as error:
                assert str(error).endswith(".")


def test_the_usual_shelf_lies_in_the_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    if sys.platform.startswith("linux"):
        assert default_shelf() == tmp_path / "loopdeck" / "shelf.sqlite"
    with Shelf(tmp_path / "new" / "folder" / "s.sqlite") as shelf:
        assert shelf.find() == []
