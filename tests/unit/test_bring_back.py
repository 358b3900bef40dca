"""A kept take comes back as the loop: its layers and its brief in one step, and one undo takes it
back.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from loopdeck.capture.journal_reader import JournalReader
from loopdeck.capture.journal_records import CommandRecord
from loopdeck.capture.journal_writer import JournalWriter
from loopdeck.looper.commands import CommandError, check_command
from loopdeck.looper.given_layers import MOST_NOTES, check_layers, given_from
from loopdeck.session.replay import replay
from loopdeck.session.session import Session, header
from tests.unit.looper_tools import Player, brief

LOW: dict[str, Any] = {"notes": [[0.0, 0.5, 28, 100, 0, 4], [1.02, 0.5, 31, 90, 0, 4]], "program": 34}
HIGH: dict[str, Any] = {
    "notes": [[2.5, 0.25, 45, 80, 0, 1]], "bends": {"0": [[0.0, 0.0], [0.1, 1.0]]}, "program": 34, "muted": True,
}  # fmt: skip
FIELDS = {"tempo": "60", "cycle": "4+3/8", "scale": "E phrygian"}


def layers_of(player: Player) -> list[tuple[int, int]]:
    return [(layer.number, len(layer)) for layer in player.looper.layers()]


def test_while_time_stands_it_is_there_at_once_and_one_undo_takes_it_back() -> None:
    player = Player()
    player.command(0.0, "start")
    player.note(1.0)
    player.command(4.1, "loop-that")
    player.command(5.0, "stop")
    before = player.looper.brief.to_dict()
    said = player.command(6.0, "bring-back", layers=[LOW, HIGH], fields=FIELDS, name="quay steps")
    assert said == "The loop is quay steps, 2 layers; undo takes it back."
    assert layers_of(player) == [(1, 2), (2, 1)] and player.looper.muted == {2}
    brought = player.looper.brief.to_dict()
    assert {name: brought[name] for name in FIELDS} == FIELDS
    player.command(6.1, "undo")
    assert layers_of(player) == [(1, 1)] and player.looper.brief.to_dict() == before
    player.command(6.2, "redo")
    assert layers_of(player) == [(1, 2), (2, 1)] and player.looper.brief.to_dict() == brought
    assert player.looper.muted == {2}


def test_while_time_runs_loop_cycle_and_tempo_change_together_with_the_next_cycle() -> None:
    player = Player()
    player.command(0.0, "start")
    player.note(1.0)
    player.command(4.1, "loop-that")
    player.command(5.0, "bring-back", layers=[LOW], fields=FIELDS, name="quay steps")
    assert layers_of(player) == [(1, 1)] and str(player.looper.brief.cycle) == "4/4"
    player.until(8.0)
    assert layers_of(player) == [(1, 2)] and str(player.looper.brief.cycle) == "4+3/8"
    assert player.looper.transport.qpm == 60.0
    player.until(30.0)
    sounded = [out.time_sec - 4.0 for out in player.outs if out.part == "layer" and out.data[0] & 0xF0 == 0x90]
    sounded = [sec for sec in sounded if sec >= 0.0]
    # 3.5 quarters at 60 are a cycle; the second note is moved to its slot.
    assert sounded[:4] == pytest.approx([0.0, 1.0, 3.5, 4.5])


def test_an_undo_while_time_runs_waits_for_the_cycle_too_and_another_calls_it_off() -> None:
    player = Player()
    player.command(0.0, "bring-back", layers=[LOW], fields={"cycle": "2/4"})
    player.command(0.5, "start")
    assert player.command(1.0, "undo") == "The loop changes back with the next cycle."
    assert layers_of(player) == [(1, 2)]
    assert player.command(1.1, "undo") == "The loop stays as it is."
    player.until(3.0)
    assert layers_of(player) == [(1, 2)]
    player.command(3.0, "undo")
    player.until(5.0)
    assert layers_of(player) == [] and str(player.looper.brief.cycle) == "4/4"


def test_what_waits_for_the_cycle_is_there_after_a_stop_and_undo_calls_it_off_before() -> None:
    player = Player()
    player.command(0.0, "start")
    player.command(1.0, "bring-back", layers=[LOW], fields=FIELDS)
    assert player.command(1.5, "undo") == "The loop stays as it is."
    player.command(1.6, "bring-back", layers=[LOW], fields=FIELDS)
    player.command(2.0, "stop")
    assert layers_of(player) == [(1, 2)] and str(player.looper.brief.cycle) == "4+3/8"


def test_beside_the_loop_the_brief_stays_and_numbers_go_on() -> None:
    player = Player()
    player.command(0.0, "bring-back", layers=[LOW])
    player.command(0.1, "bring-back", layers=[HIGH, LOW], beside=True)
    assert [layer.number for layer in player.looper.layers()] == [1, 2, 3]
    player.command(0.2, "undo")
    assert layers_of(player) == [(1, 2)]


def test_layering_ends_with_the_loop_it_was_for() -> None:
    player = Player()
    player.command(0.0, "layer-on")
    player.note(1.0)
    player.command(2.0, "bring-back", layers=[LOW], fields=FIELDS)
    player.until(12.0)
    assert layers_of(player) == [(1, 2)] and player.looper.state == "LISTENING"


@pytest.mark.parametrize(
    "layers",
    [
        [], "notes", [{}], [{"notes": []}], [{"notes": [[0, 1, 40, 90, 0]]}], [{"notes": [[0, 1, 128, 90, 0, 0]]}],
        [{"notes": [[float("nan"), 1, 40, 90, 0, 0]]}], [{"notes": [[0, -1, 40, 90, 0, 0]]}],
        [{"notes": [[0, 1, 40, 90, 0, 0]], "bends": {"1": [[0, 0]]}}], [{"notes": [[0, 1, 40, 90, 0, 0]], "bends": {"0": []}}],
        [{"notes": [[0, 1, 40, 90, 0, 0]], "bends": {"0": [[1, 0], [0, 0]]}}], [{"notes": [[0, 1, 40, 90, 0, 0]], "program": 0}],
        [{"notes": [[0, 1, True, 90, 0, 0]]}], [{"notes": [[0, 1, 40, 90, 0, 0]] * (MOST_NOTES // 2 + 1)}] * 2,
        [{"notes": [[0, 1, 40, 90, 0, 0]], "more": 1}],
    ],
)  # fmt: skip
def test_what_is_no_layer_is_refused_in_a_sentence_and_changes_nothing(layers: Any) -> None:
    with pytest.raises(CommandError, match=r"^The command 'bring-back', layers: .*\.$"):
        check_command("bring-back", {"layers": layers})
    player = Player()
    digest = player.looper.digest()
    player.command(0.0, "bring-back", layers=layers)
    assert player.looper.digest() == digest


def test_a_layer_goes_out_and_comes_back_the_same() -> None:
    player = Player()
    player.command(0.0, "bring-back", layers=[LOW, HIGH])
    (low, high) = player.looper.layers()
    assert check_layers([given_from(low, False), given_from(high, True)]) == check_layers([LOW, HIGH])


def test_a_replay_of_its_journal_is_the_same_session_without_any_shelf(tmp_path: Path) -> None:
    start = brief()
    path = tmp_path / "one.journal"
    journal = JournalWriter(path, header(start, 0.0))
    session = Session(start, 0.0, journal=journal)
    odd = {"notes": [[0.1 + 0.2, 1 / 3, 40, 90, 0, 4]], "program": 34}
    for sec, name, args in (
        (0.0, "start", {}),
        (0.7, "bring-back", {"layers": [odd, HIGH], "fields": FIELDS, "name": "quay steps"}),
        (5.3, "loop-that", {}),
        (7.9, "undo", {}),
        (9.4, "redo", {}),
        (30.0, "stop", {}),
    ):
        if name == "loop-that":
            session.midi(0, bytes((0x90, 41, 99)), 5.01, 5.02)
            session.midi(0, bytes((0x80, 41, 0)), 5.11, 5.12)
        session.command(name, args, sec)
    journal.close()
    records = list(JournalReader(path))
    assert any(isinstance(one, CommandRecord) and one.name == "bring-back" for one in records)
    again = replay(header(start, 0.0), records)
    again.advance(session.looper.now_sec)
    assert again.looper.digest() == session.looper.digest()
    (layer, *_) = again.looper.layers()
    assert json.dumps(layer.notes["onset_q"].tolist()) == "[0.30000000000000004]"
