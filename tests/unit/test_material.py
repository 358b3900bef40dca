"""The material of a take: the playing and the layers as one row of notes."""

from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import numpy as np
import pytest

from loopdeck.analysis import timing
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.looper.recording import Recording
from loopdeck.looper.transport import Anchor
from loopdeck.rhythm.meter import Cycle, parse_meter
from loopdeck.rhythm.tempo import TempoMap
from loopdeck.shelf.material import material_of
from loopdeck.shelf.take import Take, take_of_file
from tests.unit.shelf_tools import layer, note_off, note_on, small_take


def test_playing_and_layers_stand_in_order_of_onset_then_pitch() -> None:
    # At 120 a quarter is half a second; the layer's notes lie at 0.015 and 1.24 s.
    found = material_of(small_take())
    assert found.notes.array["pitch"].tolist() == [43, 31, 46, 34]
    assert found.source.tolist() == [0, 1, 0, 1]
    assert found.onset_q == pytest.approx([0.02, 0.03, 2.04, 2.48])
    assert found.duration_q == pytest.approx([0.78, 0.5, 0.56, 0.25])
    assert found.notes.array["onset_sec"] == pytest.approx([0.01, 0.015, 1.02, 1.24])
    assert found.bars.tolist() == [1, 1, 1, 1] and found.pitched.all()


@pytest.mark.parametrize(
    ("which", "sources"), [({"layers": False}, [0, 0]), ({"played": False}, [1, 1]), ({}, [0, 1, 0, 1])]
)
def test_each_can_be_read_alone(which: dict[str, bool], sources: list[int]) -> None:
    assert material_of(small_take(), **which).source.tolist() == sources


def test_notes_of_one_onset_stand_in_order_of_pitch() -> None:
    take = small_take().changed(events=(note_on(1.0, 50), note_on(1.0, 40), note_off(2.0, 40), note_off(2.0, 50)))
    assert material_of(take, layers=False).notes.array["pitch"].tolist() == [40, 50]


def test_a_layer_that_is_the_playing_is_not_counted_twice() -> None:
    """The second pass of four notes was made a layer: alone it stands in pass two, with the playing
    only once.
    """
    events = tuple(
        event
        for sec, pitch in ((0.0, 40), (1.01, 41), (2.02, 42), (3.5, 43))
        for event in (note_on(sec, pitch), note_off(sec + 0.2, pitch))
    )
    take = small_take().changed(events=events, layers=(layer(1, [(0.04, 0.4, 42), (3.0, 0.4, 43)]),))
    assert material_of(take).source.tolist() == [0, 0, 0, 0]
    alone = material_of(take, played=False)
    assert alone.source.tolist() == [1, 1]
    assert alone.onset_q == pytest.approx([4.04, 7.0])
    assert alone.bars.tolist() == [2, 2]


def test_a_note_that_happens_to_lie_on_another_is_its_own() -> None:
    """One of three notes lies where the playing has the same pitch: that makes no pass of it."""
    take = small_take().changed(layers=(layer(1, [(0.02, 0.5, 43), (1.0, 0.5, 44), (2.0, 0.5, 45)]),))
    assert material_of(take).source.tolist() == [0, 1, 1, 1, 0]


def test_a_take_of_layers_alone_has_notes() -> None:
    take = small_take().changed(events=())
    found = material_of(take)
    assert found.source.tolist() == [1, 1] and found.onset_q == pytest.approx([0.03, 2.48])


def test_what_lies_beyond_a_shorter_cycle_is_silent() -> None:
    take = small_take(cycle="2/4")
    assert material_of(take, played=False).onset_q == pytest.approx([0.03])


def test_a_layer_keeps_its_moments_at_another_tempo() -> None:
    take = small_take()
    found = material_of(take, tempo=TempoMap([(0.0, 0.0, 60.0)]))
    assert found.notes.array["onset_sec"] == pytest.approx([0.01, 0.015, 1.02, 1.24])
    assert found.onset_q == pytest.approx([0.01, 0.015, 1.02, 1.24])


def test_a_tempo_that_changes_places_layers_by_its_map() -> None:
    """Four quarters at 120 and then 60: a layer of the second pass, in seconds."""
    events = (note_on(2.5, 40), note_off(3.0, 40))
    anchors = (Anchor(0.0, 0.0, 120.0), Anchor(2.0, 4.0, 60.0))
    take = small_take().changed(events=events, tempo_map=anchors, layers=(layer(1, [(0.5, 1.0, 40), (3.0, 1.0, 41)]),))
    alone = material_of(take, played=False)
    assert alone.notes.array["onset_sec"] == pytest.approx([2.5, 5.0])
    assert alone.notes.array["duration_sec"] == pytest.approx([1.0, 1.0])
    assert material_of(take).source.tolist() == [0, 1]


def test_bends_of_a_layer_are_in_seconds() -> None:
    take = small_take().changed(layers=(layer(1, [(1.0, 1.0, 40)], {0: [(0.0, 0.0), (0.5, 2.0)]}),))
    found = material_of(take, played=False)
    assert np.allclose(found.notes.bends[0], [(0.0, 0.0), (0.25, 2.0)])


def test_drums_of_a_file_are_not_pitched_and_keep_their_index(tmp_path: Path) -> None:
    import mido

    track = mido.MidiTrack(
        [
            mido.Message("note_on", channel=9, note=36, velocity=90, time=0),
            mido.Message("note_on", channel=0, note=40, velocity=90, time=0),
            mido.Message("note_off", channel=9, note=36, time=480),
            mido.Message("note_off", channel=0, note=40, time=0),
        ]
    )
    mido.MidiFile(tracks=[track]).save(tmp_path / "both.mid")
    found = material_of(take_of_file(tmp_path / "both.mid"))
    assert found.notes.array["pitch"].tolist() == [36, 40]
    assert found.pitched.tolist() == [False, True]


def test_channel_ten_of_live_playing_is_an_instrument() -> None:
    take = small_take().changed(events=(Event(0.0, 0, bytes((0x99, 40, 90))),))
    assert material_of(take, layers=False).pitched.tolist() == [True]


def test_an_empty_take_has_nothing() -> None:
    take = Take(
        name="nothing", kept_at="2031-05-06T07:08:09+00:00", recording=Recording(brief=Brief.default(), events=())
    )
    found = material_of(take)
    assert len(found) == 0 and found.onset_q.shape == found.bars.shape == found.source.shape == (0,)


def test_every_note_has_its_count_in_the_meter_of_its_bar() -> None:
    events = tuple(
        event for sec in (0.0, 0.76, 2.01, 2.74, 3.74) for event in (note_on(sec, 40), note_off(sec + 0.1, 40))
    )
    take = small_take(cycle="4/4 4+3/8").changed(events=events, layers=())
    found = material_of(take)
    # At 120 a quarter lasts half a second: beats 1 and 2 and of 4/4, then eighths 1 and 4 of 7/8,
    # and the next cycle.
    assert [(int(bar), found.count_of(index)) for index, bar in enumerate(found.bars)] == [
        (1, "1"),
        (1, "2 and"),
        (2, "1"),
        (2, "4"),
        (3, "1"),
    ]


def test_the_meter_of_each_of_many_bars_is_looked_up_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    meters = [parse_meter(f"{2 + k * k % 3}/4") for k in range(200)]
    starts = accumulate((meter.quarters for meter in meters[:-1]), initial=Fraction(0))
    stretches = tuple(Stretch(start, Cycle((meter,))) for start, meter in zip(starts, meters, strict=True))
    asked, begun = [], timing._bars_begun
    monkeypatch.setattr(timing, "_bars_begun", lambda *length: asked.append(length) or begun(*length))
    found = replace(material_of(small_take()), stretches=stretches)
    assert [found.meter_of(bar) for bar in range(1, 201)] == meters
    assert found.meter_of(0) == meters[0] and found.meter_of(999) == meters[-1]
    assert len(asked) == 199
