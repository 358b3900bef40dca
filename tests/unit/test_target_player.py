"""The target that is practised sounds beside the looper, in its passes, and leaves no note
hanging.
"""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.engine.events import MessageArrived
from loopdeck.engine.target_player import CHANNEL
from loopdeck.protocol.messages import LayerNote, TargetSet
from tests.unit.engine_rig import EngineRig

NOTES = (LayerNote(0.0, 0.5, 40, 90), LayerNote(1.0, 1.0, 43, 90), LayerNote(3.5, 2.0, 40, 90))


def practising(rig: EngineRig, sounds: str, notes: tuple[LayerNote, ...] = NOTES) -> None:
    rig.put(MessageArrived(1, TargetSet(notes=notes, cycle_q=4.0, sounds=sounds), rig.clock.now()))


def struck(rig: EngineRig) -> list[tuple[float, int]]:
    """(second, pitch) of the note-ons of the target."""
    return [(round(sec, 2), data[1]) for sec, data in rig.ports.sent if data[0] == 0x90 | CHANNEL and data[2]]


def hanging(rig: EngineRig) -> dict[int, int]:
    """Note-ons without a note-off, by pitch."""
    count: dict[int, int] = {}
    for _, data in rig.ports.sent:
        if data[0] & 0x0F == CHANNEL and data[0] & 0xE0 == 0x80:
            on = data[0] & 0xF0 == 0x90 and data[2] > 0
            count[data[1]] = count.get(data[1], 0) + (1 if on else -1)
    return {pitch: left for pitch, left in count.items() if left}


# The rig's tempo is 120 and its cycle 4/4: a pass takes 2 s.


def test_it_sounds_in_every_pass_on_its_places(tmp_path: Path) -> None:
    rig = EngineRig(tmp_path)
    practising(rig, "always")
    rig.command("start")
    begin = rig.clock.now()
    rig.run_to(begin + 4.1)
    wanted = [(0.0, 40), (0.5, 43), (1.75, 40), (2.0, 40), (2.5, 43), (3.75, 40), (4.0, 40)]
    assert [pitch for _, pitch in struck(rig)] == [pitch for _, pitch in wanted]
    assert [sec - begin for sec, _ in struck(rig)] == pytest.approx([sec for sec, _ in wanted], abs=0.015)
    rig.command("stop")
    rig.run_to(rig.clock.now() + 0.1)
    assert not hanging(rig)


def test_in_turns_it_sounds_in_every_other_pass_of_a_run(tmp_path: Path) -> None:
    rig = EngineRig(tmp_path)
    practising(rig, "turns")
    rig.command("start")
    rig.run_to(rig.clock.now() + 2.5)
    assert len(struck(rig)) == 3
    rig.run_to(rig.clock.now() + 1.7)
    assert len(struck(rig)) == 4, "the third pass is the target's again"
    rig.command("stop")
    rig.command("start")
    rig.run_to(rig.clock.now() + 0.6)
    assert len(struck(rig)) == 6, "a new run begins with the target"


def test_never_is_silent_and_no_target_is_silent(tmp_path: Path) -> None:
    rig = EngineRig(tmp_path)
    practising(rig, "never")
    rig.command("start")
    rig.run_to(rig.clock.now() + 2.5)
    assert not struck(rig)


def test_silence_ends_it_and_so_does_the_window_that_goes(tmp_path: Path) -> None:
    rig = EngineRig(tmp_path)
    rig.join()
    practising(rig, "always")
    rig.command("start")
    rig.run_to(rig.clock.now() + 0.1)
    rig.command("silence")
    rig.run_to(rig.clock.now() + 0.02)
    assert struck(rig) and not hanging(rig)
    rig.run_to(rig.clock.now() + 2.0)
    rig.leave(bye=False)
    rig.run_to(rig.clock.now() + 0.1)
    before = len(struck(rig))
    rig.command("start")
    rig.run_to(rig.clock.now() + 2.0)
    assert not hanging(rig) and len(struck(rig)) == before, "it sounds on for a window that is gone"


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["stop", "start", "silence", "always", "turns", "never", "tempo"]), st.integers(1, 1900)), max_size=8))  # fmt: skip
def test_no_note_hangs_whatever_happens(orders: list[tuple[str, int]]) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        rig = EngineRig(Path(folder))
        practising(rig, "always")
        rig.command("start")
        for order, milliseconds in orders:
            if order in ("always", "turns", "never"):
                practising(rig, order)
            elif order == "tempo":
                rig.command("tempo", tempo="90")
            else:
                rig.command(order)
            for _ in range(milliseconds // 10 + 1):
                rig.clock.move_to(rig.clock.now() + 0.01)
                rig.turn()
        rig.command("stop")
        rig.run_to(rig.clock.now() + 0.05)
        assert not hanging(rig)
