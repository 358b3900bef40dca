"""An hour of clicks through SDL's disk driver: every one within a sample of its place."""

import time
from pathlib import Path
from typing import TypeVar

import numpy as np

from loopdeck.capture.journal import CommandRecord, JournalWriter, MarkRecord, MidiRecord, read_journal
from loopdeck.protocol.messages import KeyPlayed, LayersChanged, Message, MixerChanged, TakeKept
from loopdeck.shelf.store import Shelf
from tests.live.disk_sound import CYCLE_SAMPLES, PLACES, RATE, DiskEngine, errors, onsets, play
from tests.waiting import PATIENCE_SEC

HOUR_SEC = 3600.0


def test_every_click_of_an_hour_is_at_its_sample(tmp_path: Path) -> None:
    found = onsets(play(tmp_path, HOUR_SEC + 10))
    # Time starts within the first seconds: the pipe holds less than a second of sound, the engine a
    # few buffers.
    assert found[0] < 10 * RATE
    expected = int(HOUR_SEC * RATE / CYCLE_SAMPLES) * len(PLACES)
    assert len(found) >= expected
    off = errors(found[:expected])
    assert np.abs(off).max() <= 1


Told = TypeVar("Told", bound=Message)


def told(engine: DiskEngine, kind: type[Told]) -> Told:
    """What the engine says next of a kind, while its sound is read."""
    until = time.monotonic() + PATIENCE_SEC
    while time.monotonic() < until:
        engine.read(0.1)
        for one in engine.link.poll():
            if isinstance(one, kind):
                return one
    raise AssertionError(f"no {kind.__name__} came")


def levels(engine: DiskEngine) -> dict[str, tuple[float, bool]]:
    return {one.part: (one.db, one.muted) for one in told(engine, MixerChanged).parts}


def forget_kept(path: Path) -> None:
    """As if the engine had died before it could write down that a keep is on the shelf."""
    journal = read_journal(path)
    with JournalWriter(path.with_suffix(".new"), journal.header) as writer:
        for one in journal.records:
            if isinstance(one, MidiRecord):
                writer.midi(one.at_sec, one.stamp_sec, one.arrived_sec, one.port, one.data)
            elif isinstance(one, CommandRecord):
                writer.command(one.at_sec, one.name, one.args)
            elif isinstance(one, MarkRecord) and one.kind != "kept":
                writer.mark(one.kind, one.data)
        writer.flush(sync=False)
        # Without an end mark, as a crash leaves it.
        path.with_suffix(".new").replace(path)


def test_the_mixer_is_kept_with_a_take_and_survives_a_crash(tmp_path: Path) -> None:
    engine = DiskEngine(tmp_path)
    try:
        assert levels(engine)["master"] == (-18.0, False)
        engine.command("level", part="click", by=-4)
        assert levels(engine)["click"] == (-4.0, False)
        engine.command("level", part="master", db=-40)
        assert levels(engine)["master"] == (-40.0, False)
        engine.command("start")
        quiet = np.abs(engine.read(3.0)).max()
        engine.command("sound-mute", part="drums")
        assert levels(engine)["drums"] == (0.0, True)
        for on in (True, False):
            engine.link.send(KeyPlayed(pitch=40, on=on, velocity=90, played_sec=time.perf_counter(), string=1))
            engine.read(0.5)
        engine.command("keep", passes=1)
        assert told(engine, TakeKept).number == 1
        engine.process.kill()
        engine.process.wait()
        engine.kill()
        forget_kept(tmp_path / "disk.journal")
        engine = DiskEngine(tmp_path, resume=True)
        again = levels(engine)
        assert (again["master"], again["click"], again["drums"]) == ((-40.0, False), (-4.0, False), (0.0, True))
        engine.command("start")
        engine.read(0.5)
        assert np.abs(engine.read(3.0)).max() == quiet > 0.0, "it sounds as loud as before"
        engine.end()
    finally:
        engine.kill()
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        assert shelf.get(1).recording.mix == {"click": (-4.0, False), "drums": (0.0, True)}
        assert [row["number"] for row in shelf.find()] == [1], (
            "the keep that nobody knew to be saved was not saved twice"
        )


def strike(engine: DiskEngine) -> None:
    """A note, and then the rest of a cycle and a little more."""
    for on in (True, False):
        engine.link.send(KeyPlayed(pitch=40, on=on, velocity=90, played_sec=time.perf_counter(), string=1))
        engine.read(0.4)
    engine.read(CYCLE_SAMPLES / RATE)


def layers(engine: DiskEngine, count: int) -> list[tuple[int, bool]]:
    """Number and mute of the layers, once there are so many."""
    while len(found := told(engine, LayersChanged).layers) != count:
        pass
    return [(one.number, one.muted) for one in found]


def test_a_layer_has_one_mute_and_a_new_one_sounds_at_its_own_level(tmp_path: Path) -> None:
    engine = DiskEngine(tmp_path)
    try:
        engine.command("start")
        strike(engine)
        engine.command("loop-that")
        assert layers(engine, 1) == [(1, False)]
        engine.command("level", part="layer 1", db=6)
        while levels(engine)["layer:1"] != (6.0, False):
            pass
        # The mixer's mute of a layer is the looper's, so it holds for MIDI, too, and both pages
        # show it.
        engine.command("sound-mute", part="layer 1")
        while layers(engine, 1) != [(1, True)]:
            pass
        engine.command("sound-mute", part="layer 1", on=False)
        while layers(engine, 1) != [(1, False)]:
            pass
        # What an undo takes away and a redo brings back is as loud as before; a new layer of that
        # number is not.
        engine.command("undo")
        layers(engine, 0)
        engine.command("redo")
        layers(engine, 1)
        engine.command("level", part="click", by=0)
        assert levels(engine)["layer:1"] == (6.0, False)
        engine.command("undo")
        layers(engine, 0)
        strike(engine)
        engine.command("loop-that")
        assert levels(engine)["layer:1"] == (0.0, False)
        engine.end()
    finally:
        engine.kill()
