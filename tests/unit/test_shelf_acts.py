"""Takes of the shelf in the engine: looped again from the journal's own notes, heard beside the
loop, and gone in a sentence.
"""

import threading
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from loopdeck.audio.routes import mixer_part
from loopdeck.capture.journal_reader import read_journal
from loopdeck.capture.journal_records import CommandRecord
from loopdeck.engine.audition import Audition
from loopdeck.process.shelf_client import GONE, ShelfAnswer, ShelfClient
from loopdeck.protocol.messages import Said, ShelfChanged
from loopdeck.shelf.store import Shelf
from tests.unit.engine_rig import EngineRig
from tests.unit.test_looping import played
from tests.waiting import until


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[EngineRig]:
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        shelf.add(played(layer=False))
        shelf.add(played())
    one = EngineRig(tmp_path)
    one.engine._begin()
    one.join()
    yield one
    one.engine._finish()


def turn_until(rig: EngineRig, what: str, text: str) -> None:
    """Turns without time passing, until a sentence was said or a take is heard (the process that
    reads takes its time).
    """
    until = time.monotonic() + 60
    while not any(
        (isinstance(one, Said) and text in one.text) or (isinstance(one, ShelfChanged) and one.name == text)
        for one in rig.link.told
    ):
        assert time.monotonic() < until, f"waited in vain for {what}"
        rig.turn()
        time.sleep(0.01)


def notes(rig: EngineRig, channel: int) -> list[tuple[float, int]]:
    return [(round(sec, 2), data[1]) for sec, data in rig.ports.sent if data[0] == 0x90 | channel]


def test_a_take_is_the_loop_again_and_the_journal_has_its_notes(rig: EngineRig) -> None:
    rig.command("loop-take", take="quay steps", playing="passes")
    turn_until(rig, "the loop", "The loop is all 4 passes of quay steps, 2 layers; undo takes it back.")
    assert [len(layer) for layer in rig.engine.parts.session.looper.layers()] == [28, 21]
    rig.engine.parts.store.journal.wait_synced(10**6, 0.5)
    records = [one for one in read_journal(rig.journal).records if isinstance(one, CommandRecord)]
    assert [len(layer["notes"]) for layer in records[-1].args["layers"]] == [28, 21]
    rig.command("undo")
    assert rig.engine.parts.session.looper.layers() == []


def test_layers_come_back_at_the_levels_they_were_kept_with(rig: EngineRig, tmp_path: Path) -> None:
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        mixed = played(passes=2, odd=1).changed(mix={"layer:1": (-12.0, False), "live": (-3.0, False)})
        number = shelf.add(mixed)
    sound = rig.sound.levels
    for part, db in (("layer 1", -20.0), ("layer 2", -20.0), ("live", -1.0)):
        rig.command("level", part=part, db=db)
    rig.command("loop-take", take=number, playing="passes")
    turn_until(rig, "the loop", "The loop is all 2 passes of quay steps, 2 layers; undo takes it back.")
    levels = [sound.of(part)[0] for part in ("layer:1", "layer:2", "live")]
    assert levels == [-12.0, -3.0, -1.0], "its playing is a layer now, and what is played is left alone"
    # Beside the loop: the next places; later layers are not taken for those that came back.
    rig.command("loop-take", take=number, playing="layers", beside=True)
    turn_until(rig, "the layer", "Beside the loop: the layers of quay steps, 1 layer; undo takes it back.")
    rig.link.told.clear()
    assert [sound.of(f"layer:{index}")[0] for index in (1, 2, 3)] == [-12.0, -3.0, -12.0]
    rig.command("undo")
    rig.command("loop-take", take=1, playing="layers", beside=True)
    turn_until(rig, "no layer", "take what was played")
    rig.command("loop-take", take=1, playing="best")
    turn_until(rig, "the loop of another", "of quay steps, 1 layer; undo")
    assert sound.of("layer:1")[0] == 0.0


def test_an_undo_of_a_looped_take_brings_back_the_levels_too(rig: EngineRig, tmp_path: Path) -> None:
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        mixed = played(passes=2, odd=1).changed(mix={"layer:1": (-12.0, False), "live": (-3.0, False)})
        number = shelf.add(mixed)
    sound = rig.sound.levels
    rig.command("loop-take", take=1, playing="best")
    turn_until(rig, "the first loop", "of quay steps, 1 layer; undo")
    rig.command("level", part="layer 1", db=-20.0)
    rig.command("loop-take", take=number, playing="passes")
    turn_until(rig, "the second loop", "The loop is all 2 passes of quay steps, 2 layers; undo takes it back.")
    assert [sound.of(part)[0] for part in ("layer:1", "layer:2")] == [-12.0, -3.0]
    rig.command("undo")
    assert sound.of("layer:1")[0] == -20.0
    rig.command("redo")
    assert [sound.of(part)[0] for part in ("layer:1", "layer:2")] == [-12.0, -3.0]
    rig.command("level", part="layer 1", db=-5.0)
    rig.command("vary", how="octave +1", layer=1)
    rig.command("level", part="layer 1", db=-6.0)
    rig.command("undo")
    assert sound.of("layer:1")[0] == -6.0, "what the player has set since stays, where nobody else set it"


def test_a_take_that_was_not_looped_after_all_gives_no_other_layer_its_level(rig: EngineRig, tmp_path: Path) -> None:
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        number = shelf.add(played(passes=1, odd=9, layer=False).changed(mix={"live": (-9.0, False)}))
    rig.command("start")
    rig.run_to(100.05)
    rig.command("loop-take", take=number, playing="best")
    turn_until(rig, "the loop to come", "The next cycle is")
    rig.command("undo")
    turn_until(rig, "no loop to come", "The loop stays as it is.")
    for index in range(7):
        rig.run_to(100.1 + index * 0.2)
        rig.midi(bytes((0x90, 40, 90)))
        rig.run_to(100.2 + index * 0.2)
        rig.midi(bytes((0x80, 40, 0)))
    rig.run_to(102.3)
    rig.command("loop-that")
    assert [len(layer) for layer in rig.engine.parts.session.looper.layers()] == [7]
    assert rig.sound.levels.of("layer:1")[0] == 0.0


def test_what_a_take_holds_never_ends_the_thread_that_brings_it(
    rig: EngineRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(answer: ShelfAnswer) -> None:
        raise RuntimeError("a take as nobody has seen it")

    monkeypatch.setattr("loopdeck.engine.shelf_acts.prepare", fail)
    rig.command("loop-take", take=1, playing="best")
    turn_until(rig, "the loop", "of quay steps, 1 layer; undo")


def test_click_and_drums_of_a_take_are_click_and_drums_in_the_built_in_sound(tmp_path: Path) -> None:
    take = played(layer=False)
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        shelf.add(take.changed(brief=take.brief.replace(groove="medium")))
    rig = EngineRig(tmp_path, route="both")
    rig.engine._begin()
    rig.join()
    rig.command("hear-take", take=1, click=True)
    turn_until(rig, "the take", "quay steps")
    rig.run_to(rig.clock.now() + 1.2)
    rig.command("hear-no-take")
    ons = [out for out in rig.sound.handed if out.data[0] & 0xF0 == 0x90]
    heard = {(mixer_part(out.part, out.data[0] & 0x0F), out.data[0] & 0x0F) for out in ons}
    assert heard == {("live", 14), ("click", 9), ("drums", 9)}
    rig.run_to(rig.clock.now() + 0.2)
    held = {data[1] for _, data in rig.ports.sent if data[0] == 0x99} - {
        data[1] for _, data in rig.ports.sent if data[0] == 0x89
    }
    assert not held
    rig.engine._finish()


def test_a_take_is_heard_with_the_click_and_slower(rig: EngineRig) -> None:
    rig.command("hear-take", take=1, click=True, percent=50)
    turn_until(rig, "the take", "quay steps")
    begun = rig.clock.now()
    rig.run_to(begun + 4.4)
    heard = notes(rig, 14)
    # A pass at 120 takes two seconds, at half of that four; the click is heard on every count.
    assert [pitch for _, pitch in heard][:7] == [40, 43, 45, 47, 50, 49, 43]
    gaps = [later - sooner for (sooner, _), (later, _) in pairwise(heard[:7])]
    assert gaps == pytest.approx([0.75, 0.5, 0.25, 0.5, 0.5, 0.75], abs=0.03)
    clicks = notes(rig, 9)
    assert [pitch for _, pitch in clicks][:4] == [76, 37, 37, 37]
    assert [later - sooner for (sooner, _), (later, _) in pairwise(clicks[:4])] == pytest.approx([1.0] * 3, abs=0.02)


def test_a_take_is_heard_while_nothing_runs_and_while_time_runs_and_silence_ends_it(rig: EngineRig) -> None:
    rig.command("hear-take", take=1)
    turn_until(rig, "the take", "quay steps")
    begun = rig.clock.now()
    rig.run_to(begun + 2.2)
    heard = notes(rig, 14)
    # A pass at 120 takes two seconds; its seven notes lie where they were played.
    assert [pitch for _, pitch in heard][:7] == [40, 43, 45, 47, 50, 49, 43]
    gaps = [later - sooner for (sooner, _), (later, _) in pairwise(heard[:7])]
    assert gaps == pytest.approx([0.375, 0.25, 0.125, 0.25, 0.25, 0.375], abs=0.015)
    rig.command("start")
    rig.run_to(begun + 4.0)
    assert len(notes(rig, 14)) > len(heard)
    rig.command("silence")
    silent = len(notes(rig, 14))
    rig.run_to(begun + 7.0)
    assert len(notes(rig, 14)) == silent
    held = {data[1] for _, data in rig.ports.sent if data[0] == 0x9E} - {
        data[1] for _, data in rig.ports.sent if data[0] == 0x8E
    }
    assert not held
    assert [one.heard for one in rig.link.told if isinstance(one, ShelfChanged)][-2:] == [1, 0]
    assert not any(
        isinstance(one, CommandRecord) and one.name.startswith("hear") for one in read_journal(rig.journal).records
    )


def test_it_ends_by_itself_and_what_is_not_there_gets_a_sentence(rig: EngineRig, tmp_path: Path) -> None:
    rig.command("hear-take", take=1)
    turn_until(rig, "the take", "quay steps")
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        shelf.remove(1)
    begun = rig.clock.now()
    # Removed while it plays: it is heard to its end, and only then no longer there.
    rig.run_to(begun + 8.3)
    assert len(notes(rig, 14)) == 28
    rig.command("hear-take", take=1)
    turn_until(rig, "the refusal", "There is no take '1'")
    rig.command("loop-take", take="no such")
    turn_until(rig, "the refusal", "There is no take 'no such'")
    rig.command("loop-take", take="quay steps", playing="all")
    turn_until(
        rig, "the refusal", "The command 'loop-take', playing: passes, best, riff or layers would be right, not 'all'."
    )


def test_when_the_process_that_reads_dies_it_is_said_and_the_next_question_starts_another(tmp_path: Path) -> None:
    answers: list[ShelfAnswer] = []
    came = threading.Semaphore(0)

    def take(answer: ShelfAnswer) -> None:
        answers.append(answer)
        came.release()

    client = ShelfClient(tmp_path / "shelf.sqlite", take)
    client.ask("page")
    assert came.acquire(timeout=360) and answers[-1].found["total"] == 0
    assert client._child is not None
    client._child.kill()
    client.ask("compare", number=1, target=2)
    assert came.acquire(timeout=360)
    until = time.monotonic() + 60
    while answers[-1].wrong == GONE or answers[-1].ask != "page":
        assert time.monotonic() < until
        client.ask("page")
        assert came.acquire(timeout=360)
    client.close()


def hear_a_long_take(rig: EngineRig, tmp_path: Path) -> None:
    """Take 1 sixteen times over, 128 s long, is on the shelf and is being heard."""
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        take = shelf.get(1)
        again = [
            one._replace(time_sec=one.time_sec + 8.0 * turn) for turn in range(16) for one in take.recording.events
        ]
        number = shelf.add(take.changed(name="a long evening", events=tuple(again), passes=64, end_sec=128.0))
    rig.command("hear-take", take=number)
    turn_until(rig, "the take", "a long evening")


def test_a_long_take_comes_in_pieces_and_all_of_it_is_heard(rig: EngineRig, tmp_path: Path) -> None:
    hear_a_long_take(rig, tmp_path)
    audition = rig.engine.parts.timers[1]
    assert isinstance(audition, Audition)
    until = time.monotonic() + 60
    while len(audition._rows) < 1 + 2 * 28 * 16:
        assert time.monotonic() < until, "the rest does not come"
        rig.turn()
        time.sleep(0.01)
    begun = rig.clock.now()
    while rig.clock.now() < begun + 129.0:
        rig.clock.move_to(rig.clock.now() + 0.02)
        rig.turn()
    assert len(notes(rig, 14)) == 28 * 16 and not audition.hearing


def test_a_take_that_cannot_be_heard_cuts_none_short_that_is(rig: EngineRig, tmp_path: Path) -> None:
    hear_a_long_take(rig, tmp_path)
    rig.command("hear-take", take="no such")
    turn_until(rig, "the refusal", "There is no take 'no such'")
    audition = rig.engine.parts.timers[1]
    assert isinstance(audition, Audition)

    def all_there() -> bool:
        rig.turn()
        return len(audition._rows) >= 1 + 2 * 28 * 16

    until(all_there, "the rest of it", 60.0)
