"""Journals and shelves of an earlier loopdeck still open, and read as they were read then
(tests/unit/data/before).
"""

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from loopdeck.capture.events import Event
from loopdeck.capture.journal import read_journal
from loopdeck.looper.layers import Layer
from loopdeck.process.options import Options
from loopdeck.session.opening import open_session
from loopdeck.session.recover import lost_sessions, recover
from loopdeck.shelf.store import Shelf

DATA = Path(__file__).parent / "data" / "before"


@pytest.fixture
def files(tmp_path: Path) -> Path:
    """The files of before, to be written to."""
    for path in DATA.glob("*.*"):
        shutil.copyfile(path, tmp_path / path.name)
    return tmp_path


def expected() -> dict[str, Any]:
    found: dict[str, Any] = json.loads((DATA / "expected.json").read_text())
    return found


def layers_of(layers: tuple[Layer, ...]) -> list[dict[str, Any]]:
    fields = ["onset_q", "duration_q", "pitch", "velocity"]
    return [
        {
            "number": one.number,
            "notes": [list(row) for row in one.notes[fields].tolist()],
            "bends": [curve.tolist() for curve in one.bends],
        }
        for one in layers
    ]


def events_of(events: tuple[Event, ...]) -> list[list[Any]]:
    return [[event.time_sec, event.port, event.data.hex()] for event in events]


def options(files: Path) -> Options:
    return Options(
        address="unix:/nowhere/link", journal=str(files / "unfinished.journal"), shelf=str(files / "shelf.sqlite"),
        brief={}, resume=True,
    )  # fmt: skip


def test_the_journals_read_as_they_did(files: Path) -> None:
    torn = read_journal(files / "unfinished.journal")
    assert (len(torn.records), torn.cut_at, torn.complete) == (expected()["records"], expected()["cut_at"], False)
    assert read_journal(files / "finished.journal").complete
    assert lost_sessions(files) == [files / "unfinished.journal"]


def test_a_session_of_before_is_taken_up_where_it_stopped(files: Path) -> None:
    wanted = expected()
    session, writer, _ = open_session(options(files), 500.0)
    writer.close()
    assert session.looper.brief.to_dict() == {**session.looper.brief.to_dict(), **wanted["brief"]}
    assert session.looper.pass_index == wanted["pass_index"]
    assert sorted(session.looper.muted) == wanted["muted"]
    assert layers_of(tuple(session.looper.layers())) == wanted["layers"]
    (keep,) = session.take_unsaved()
    (was,) = wanted["unsaved"]
    assert (keep.name, keep.passes) == (was["name"], was["passes"])
    assert events_of(keep.events) == was["events"]
    assert layers_of(keep.layers) == was["layers"]


def test_a_session_of_before_is_recovered(files: Path) -> None:
    row = recover(files / "unfinished.journal", files / "shelf.sqlite")
    with Shelf(files / "shelf.sqlite") as shelf:
        begun = datetime(2026, 3, 1, 20, 15, tzinfo=UTC).astimezone()
        assert f"session of {begun:%Y-%m-%d %H:%M}" in shelf.get(row.whole["number"]).name
    assert lost_sessions(files) == []


def test_the_shelf_reads_as_it_did(files: Path) -> None:
    with Shelf(files / "shelf.sqlite") as shelf:
        (row,) = shelf.find()
        take = shelf.get(row["number"])
        (binned,) = shelf.find(binned=True)
    was = expected()["saved"]
    assert (take.name, take.recording.passes, take.rating, take.tags) == (
        was["name"],
        was["passes"],
        4,
        ("low", "verse"),
    )
    assert take.note == "The second bar drags."
    assert events_of(take.recording.events) == was["events"]
    assert layers_of(take.recording.layers) == was["layers"]
    assert take.recording.mix == {"drums": (-4.0, False)}
    assert binned["name"] == "unsaved one"
