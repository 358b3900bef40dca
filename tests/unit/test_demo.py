"""The demo on a simulated clock: the whole job through the session, the journal, the shelf, the
reports and the exports.
"""

from pathlib import Path

import mido
import pygame
import pytest

from loopdeck.brief.brief import load_brief
from loopdeck.capture.journal import read_journal
from loopdeck.cli.main import main
from loopdeck.configs import find
from loopdeck.engine.demo_session import performance
from loopdeck.engine.simulation import simulate
from loopdeck.looper.machine import Out
from loopdeck.session.replay import replay
from loopdeck.shelf.store import Shelf
from tests.unit.looper_tools import check_pairs


def test_demo_says_what_it_kept_and_where_everything_lies(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "demo"
    assert main(["demo", "--fast", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "Kept take 1, 'quay steps': 8 passes" in said
    assert "D#2 (7)" in said, "the wrong note of the riff is not named"
    smf = mido.MidiFile(out / "quay-steps.mid")
    assert smf.type == 1
    meters = [(m.numerator, m.denominator) for track in smf.tracks for m in track if m.type == "time_signature"]
    assert (7, 8) in meters and meters.count((4, 4)) >= 6
    for name in ("riff", "loop"):
        assert str(out / f"{name}.png") in said
        assert pygame.image.load(out / f"{name}.png").get_size() == (1280, 720)


def test_performance_through_the_session_ends_every_note_and_replays_bit_for_bit(tmp_path: Path) -> None:
    brief = load_brief(find("briefs", "crooked-stairs"))
    heard: list[Out] = []
    journal, shelf = tmp_path / "s.journal", tmp_path / "shelf.sqlite"
    simulate(brief, journal, shelf, lambda one: None, lambda name, sec: None, heard.append)
    check_pairs(heard)
    assert {out.part for out in heard} >= {"click", "layer"}
    read = read_journal(journal)
    assert read.complete
    played = [step.data for step in performance(brief) if step.kind == "midi"]
    assert [
        record.data for record in read.records if hasattr(record, "data") and isinstance(record.data, bytes)
    ] == played
    one, two = (replay(read.header, read.records) for _ in range(2))
    assert one.looper.digest() == two.looper.digest()
    # An undo took the sloppy layer away; the riff and the first overdub stand.
    assert [len(layer) for layer in one.looper.layers()] == [14, 4]
    with Shelf(shelf) as open_shelf:
        take = open_shelf.get(1)
    assert take.recording.passes == 8 and len(take.recording.layers) == 2


def test_the_early_downbeat_of_the_riff_is_a_downbeat(tmp_path: Path) -> None:
    brief = load_brief(find("briefs", "crooked-stairs"))
    heard: list[Out] = []
    simulate(brief, tmp_path / "j", tmp_path / "s", lambda one: None, lambda name, sec: None, heard.append)
    bars = [out.time_sec for out in heard if out.data[:2] == bytes((0x99, 76))]
    downs = [out.time_sec for out in heard if out.part == "layer" and out.data[0] == 0x91 and out.data[1] == 28]
    cycle_sec = 7.5 * 60 / 96
    # The riff was looped as it was played in pass 4; from pass 6 on its downbeat stands on every
    # downbeat of the cycle.
    starts = [0.5 + 4 * 60 / 96 + index * cycle_sec for index in range(6, 10)]
    for start in starts:
        assert any(abs(bar - start) < 1e-9 for bar in bars)
        assert sum(abs(down - start) < 1e-9 for down in downs) == 1
