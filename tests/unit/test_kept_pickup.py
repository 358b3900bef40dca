"""A take knows the pickup it was played with: reports need not be told, and nothing counts
twice.
"""

import json
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest

from loopdeck.bass.pickup.profile import Cleaning, words_of_cleaning
from loopdeck.brief.brief import Brief
from loopdeck.cli.main import main
from loopdeck.export.score import score_of_take
from loopdeck.looper.heard import Heard, Views, text_of_views, views_of_text
from loopdeck.looper.machine import Looper
from loopdeck.looper.news import Kept
from loopdeck.page.making import page_of
from loopdeck.shelf.material import material_of
from loopdeck.shelf.pickup_view import as_kept
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take, take_of_keep

BRIEF = Brief.default().replace(tempo="120", cycle="4/4", count_in="0", scale="E aeolian")
PLAIN = tuple((at / 4 + 0.05, 0.2, pitch, 90) for at, pitch in enumerate((28, 43, 33, 28, 43, 38)))


def kept(ghost: bool = True, layered: bool = True, bring_back: bool = False) -> Take:
    """A take of one pass through a per-string pickup that is two periods late, with a ghost at 1.7
    s, and looped.
    """
    looper = Looper(BRIEF)
    looper.command(
        0.0, "pickup", channels="1 2 3 4", periods=2.0, name="per-string", cleaning=words_of_cleaning(Cleaning())
    )
    looper.command(0.0, "start-now")
    string = {43: 0, 38: 1, 33: 2, 28: 3, 47: 0}
    rows = [*PLAIN, *([(1.7, 0.03, 47, 20)] if ghost else [])]
    events = [(at, bytes((0x90 | string[pitch], pitch, level))) for at, _, pitch, level in rows]
    events += [(at + length, bytes((0x80 | string[pitch], pitch, 0))) for at, length, pitch, _ in rows]
    for at, data in sorted(events, key=lambda one: (one[0], one[1][0] & 0x10)):
        looper.midi(at, at, 0, data)
    looper.advance(2.1)
    if bring_back:
        looper.command(2.15, "restore-note")
    if layered:
        looper.command(2.2, "loop-that")
    looper.command(2.3, "keep")
    return take_of_keep(next(news.keep for news in looper.take_news() if isinstance(news, Kept)))


def test_the_layer_and_the_playing_are_not_counted_twice() -> None:
    take = kept()
    assert len(take.recording.layers[0]) == 6
    view = as_kept(material_of(take))
    assert view is not None
    assert len(view.material) == 6
    assert [one.why for one in view.removed] == ["ghost"]
    # As they were judged live: the low E two of its periods (41.203 Hz, ISO 16) earlier than it
    # came.
    assert view.material.notes.array["onset_sec"][0] == pytest.approx(0.05 - 2 / 41.203, abs=1e-4)
    assert view.material.notes.array["string"].tolist()[:2] == [4, 1]


def test_what_was_brought_back_live_is_in_view_afterwards() -> None:
    view = as_kept(material_of(kept(bring_back=True, layered=False)))
    assert view is not None and len(view.material) == 7 and not view.removed


def test_a_take_without_a_pickup_knows_none() -> None:
    looper = Looper(BRIEF)
    looper.command(0.0, "start-now")
    looper.midi(0.1, 0.1, 0, bytes((0x90, 40, 90)))
    looper.command(2.3, "keep")
    take = take_of_keep(next(news.keep for news in looper.take_news() if isinstance(news, Kept)))
    assert take.recording.views == "" and as_kept(material_of(take)) is None
    np.testing.assert_array_equal(take.judged_sec, take.notes().array["onset_sec"])


def test_reports_look_through_the_pickup_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = tmp_path / "shelf.db"
    with Shelf(where) as shelf:
        shelf.add(kept(layered=False))

    def notes(*more: str) -> list[dict[str, object]]:
        assert main(["technique", "1", "--json", "--shelf", str(where), *more]) == 0
        return list(json.loads(capsys.readouterr().out)["notes"])

    assert len(notes()) == 6 and notes()[0]["string"] == 4
    assert len(notes("--pickup", "none")) == 7
    assert len(notes("--bring-back", "6")) == 7
    assert len(notes("--pickup", "per-string")) == 6
    assert main(["quantize", "1", "--json", "--shelf", str(where)]) == 0
    assert len(json.loads(capsys.readouterr().out)["notes"]) == 6


def test_the_text_of_views() -> None:
    found = Views(
        {0: Heard((1, 2, 3, 4), 3.0, 1.9, "mine", Cleaning(), 12.0)},
        ((1.5, 40),),
        ((0.5, 43, "hammer-on", ("accent",)),),
    )
    assert views_of_text(text_of_views(found)) == found
    for text in ("", "[]", "{", '{"inputs": {"0": {}}, "back": []}', '{"inputs": 3}', "null"):
        assert views_of_text(text) == Views()


def test_takes_show_lists_what_was_taken_out_and_brings_it_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    where = str(tmp_path / "shelf.db")
    with Shelf(where) as shelf:
        shelf.add(kept(layered=False))

    def say(*words: str) -> str:
        assert main(["takes", *words, "--shelf", where]) == 0
        return capsys.readouterr().out

    found = json.loads(say("show", "1", "--json"))
    assert found["pickup"]["name"] == "per-string" and found["brought_back"] == 0
    assert [(one["index"], one["pitch"], one["why"]) for one in found["removed"]] == [(6, 47, "ghost")]
    assert "ghost" in say("show", "1")
    assert "1 note brought back" in say("bring-back", "1", "6")
    found = json.loads(say("show", "1", "--json"))
    assert found["removed"] == [] and found["brought_back"] == 1
    assert "taken out again" in say("bring-back", "1", "6", "--undo")
    assert len(json.loads(say("show", "1", "--json"))["removed"]) == 1
    assert main(["takes", "bring-back", "1", "2", "--shelf", where]) != 0
    assert "was not taken out" in capsys.readouterr().err


def test_technique_corrected_by_hand_is_kept_and_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = str(tmp_path / "shelf.db")
    with Shelf(where) as shelf:
        shelf.add(kept(layered=False))

    def notes(*more: str) -> list[dict[str, object]]:
        assert main(["technique", "1", "--json", "--shelf", where, *more]) == 0
        return list(json.loads(capsys.readouterr().out)["notes"])

    assert notes()[4]["reached"] == "pluck"
    assert notes("--set", "4=hammer-on,accent")[4]["reached"] == "hammer-on"
    again = notes()
    assert again[4]["marks"] == ["accent"] and again[4]["by_hand"] and "by_hand" not in again[3]
    # Another pickup moves onsets a little: it is the same note.
    assert notes("--pickup", "none")[4]["reached"] == "hammer-on"
    assert main(["tab", "1", "--shelf", where]) == 0
    assert "h" in capsys.readouterr().out.lower()
    with Shelf(where) as shelf:
        page = page_of(material_of(shelf.get(1)))
    assert sum("hammer-on" in note.marks for bar in page.bars for note in bar.notes) == 1
    assert notes("--set", "4=plain")[4]["marks"] == []
    assert "by_hand" not in notes("--set", "4=auto")[4]
    for wrong in (
        "4=auto,plain",
        "4=plain,accent",
        "4=slide,hammer-on",
        "4",
        "99=plain",
        "4=loud",
        "=plain",
        "x=plain",
    ):
        assert main(["technique", "1", "--shelf", where, "--set", wrong]) != 0
        assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_the_playing_of_a_take_with_a_pickup_is_rendered_with_its_hammer_ons() -> None:
    looper = Looper(BRIEF)
    looper.command(0.0, "pickup", channels="1 2 3 4", name="per-string")
    looper.command(0.0, "start-now")
    for at, length, pitch, level in ((0.0, 0.5, 40, 90), (0.5, 0.4, 43, 50), (1.0, 0.4, 40, 90), (1.5, 0.4, 40, 90)):
        looper.midi(at, at, 0, bytes((0x91, pitch, level)))
        looper.midi(at + length, at + length, 0, bytes((0x81, pitch, 0)))
    looper.advance(2.1)
    looper.command(2.3, "keep")
    take = take_of_keep(next(news.keep for news in looper.take_news() if isinstance(news, Kept)))
    named = [
        event.data for event in score_of_take(take, 48_000, parts=("playing",)).events if event.data[0] & 0xF0 == 0xB0
    ]
    assert [data[2] for data in named if data[1] == 84] == [40]


def test_an_imported_take_knows_the_pickup_it_was_played_with(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    shelf, path = ["--shelf", str(tmp_path / "shelf.sqlite")], str(tmp_path / "played.mid")
    track = mido.MidiTrack()
    for note, velocity, ticks in [(40, 90, 400), (43, 12, 20), (41, 88, 400), (40, 92, 400)]:
        track.append(mido.Message("note_on", note=note, velocity=velocity, channel=1, time=40))
        track.append(mido.Message("note_off", note=note, channel=1, time=ticks))
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(path)

    def asked(*words: str) -> dict[str, Any]:
        assert main([*words, *shelf, "--json"]) == 0
        found: dict[str, Any] = json.loads(capsys.readouterr().out)
        return found

    asked("takes", "import", path, "--pickup", "per-string")
    shown = asked("takes", "show", "1")
    assert shown["pickup"] == {"name": "per string", "constant_ms": 0.0, "periods": 2.0}
    assert [(one["index"], one["why"]) for one in shown["removed"]] == [(1, "ghost")]
    assert asked("technique", "1") == asked("technique", path, "--pickup", "per-string")
    assert main(["takes", "bring-back", "1", "1", *shelf]) == 0
    capsys.readouterr()
    assert len(asked("technique", "1")["notes"]) == 4
    assert main(["takes", "import", path, "--pickup", "no such", *shelf]) == 2
    assert capsys.readouterr().err.count("\n") == 1
