"""A switch learned while playing, in the engine with fakes: used at once, written, asked for where
it does something already.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from loopdeck.engine.device_memory import read_chosen
from loopdeck.midi.control_files import load_controls
from loopdeck.protocol.messages import NoteEnded, NoteStarted, PedalsChanged, Said
from loopdeck.settings import load_settings
from tests.unit.engine_rig import EngineRig
from tests.unit.test_device_choice import eventually
from tests.unit.test_engine import begun, finish

FOUR = str(Path("configs/controls/four-switch.toml").resolve())


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The player's configuration folder."""
    monkeypatch.setattr("loopdeck.configs.own_folder", lambda kind: tmp_path / "config" / kind)
    monkeypatch.setattr("loopdeck.settings.settings_path", lambda: tmp_path / "config" / "settings.toml")
    return tmp_path / "config"


def told(rig: EngineRig) -> PedalsChanged:
    return [one for one in rig.link.told if isinstance(one, PedalsChanged)][-1]


def pedal(rig: EngineRig, value: int, number: int = 64, port: int = 0) -> None:
    rig.midi(bytes((0xB0, number, value)), port)


def wait(rig: EngineRig, sec: float) -> None:
    rig.run_to(rig.clock.now() + sec)


def press(rig: EngineRig, sec: float = 0.1, number: int = 64) -> None:
    pedal(rig, 127, number)
    wait(rig, sec)
    pedal(rig, 0, number)
    wait(rig, 0.1)


def learn(rig: EngineRig, command: str, **args: Any) -> None:
    rig.command("learn", command=command, args=args)


def state(rig: EngineRig) -> str:
    return str(rig.engine.parts.session.looper.state)


def test_a_switch_is_learned_used_at_once_and_written(tmp_path: Path, own: Path) -> None:
    rig = begun(tmp_path)
    learn(rig, "start-stop")
    assert told(rig).learning == "start-stop" and "Press the switch" in told(rig).text
    pedal(rig, 127)
    assert told(rig).heard == "CC 64 value 127, channel 1"
    wait(rig, 0.1)
    pedal(rig, 0)
    wait(rig, 0.5)
    assert told(rig).learning == "" and told(rig).text == "CC 64, channel 1, pressed shortly: start, or stop."
    assert [(row.switch, row.press, row.command) for row in told(rig).rows] == [("CC 64", "short", "start-stop")]
    assert state(rig) == "STOPPED", "what was pressed to be learned gives no command"
    press(rig)
    assert state(rig) != "STOPPED"
    eventually(lambda: load_settings()[0].controls == "my-pedals", "the settings")
    assert load_controls(str(own / "controls" / "my-pedals.toml")).switches[0].number == 64
    assert told(rig).name == "my-pedals"
    finish(rig)


def test_short_long_and_twice_are_told_apart(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    learn(rig, "start-now"), press(rig, 0.1), wait(rig, 0.5)
    learn(rig, "keep", passes=4), press(rig, 0.8), wait(rig, 0.5)
    learn(rig, "stop"), press(rig, 0.1), press(rig, 0.1), wait(rig, 0.8)
    rows = [(row.press, row.command, dict(row.args)) for row in told(rig).rows]
    assert sorted(rows) == [("double", "stop", {}), ("long", "keep", {"passes": 4}), ("short", "start-now", {})]
    press(rig, 0.1), wait(rig, 0.5)
    assert state(rig) == "LISTENING"
    press(rig, 0.1), press(rig, 0.1), wait(rig, 0.5)
    assert state(rig) == "STOPPED"
    finish(rig)


def test_a_switch_that_does_something_already_is_said_and_asked_for(tmp_path: Path, own: Path) -> None:
    rig = begun(tmp_path, controls=FOUR)
    learn(rig, "undo")
    press(rig, 0.1, 80), wait(rig, 0.5)
    assert told(rig).asks and told(rig).wrong and told(rig).learning == "undo"
    assert told(rig).text.startswith("CC 80, channel 1, pressed shortly, is 'start, or stop' already.")
    # Another switch instead, without an answer.
    press(rig, 0.1, 20), wait(rig, 0.5)
    assert told(rig).learning == "" and ("CC 20", "undo") in [(row.switch, row.command) for row in told(rig).rows]
    # Now the same again, and yes.
    learn(rig, "redo")
    press(rig, 0.1, 80), wait(rig, 0.5)
    rig.command("learn-take")
    rows = [(row.switch, row.press, row.command) for row in told(rig).rows]
    assert ("CC 80", "short", "redo") in rows and ("CC 81", "long", "layer") in rows, "the rest of the map stays"
    assert len([one for one in rows if one[2] == "start-stop"]) == 0
    eventually((own / "controls" / "my-pedals.toml").exists, "the map")
    assert load_controls("four-switch").switches[0].command is not None, "ours is as it was"
    finish(rig)


def test_the_same_again_needs_no_answer(tmp_path: Path) -> None:
    rig = begun(tmp_path, controls=FOUR)
    learn(rig, "start-stop"), press(rig, 0.1, 80), wait(rig, 0.5)
    assert not told(rig).asks and told(rig).learning == ""
    finish(rig)


def test_a_note_is_asked_for_since_it_will_not_be_played(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    learn(rig, "undo")
    rig.midi(bytes((0x99, 36, 90)))
    wait(rig, 0.1)
    rig.midi(bytes((0x89, 36, 0)))
    wait(rig, 0.5)
    assert told(rig).asks and "is a note" in told(rig).text
    rig.command("learn-take")
    assert told(rig).rows[0].switch == "note 36"
    finish(rig)


def test_a_note_held_when_learning_begins_ends_when_it_is_let_go(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    rig.midi(bytes((0x90, 40, 90)))
    learn(rig, "undo")
    rig.midi(bytes((0x80, 40, 0)))
    wait(rig, 0.1)
    started = [one for one in rig.link.told if isinstance(one, NoteStarted)]
    ended = [one for one in rig.link.told if isinstance(one, NoteEnded)]
    assert len(started) == len(ended) == 1 and told(rig).heard == ""
    finish(rig)


def test_chatter_while_learning_is_said_and_nothing_is_lost(tmp_path: Path) -> None:
    rig = begun(tmp_path, controls=FOUR)
    learn(rig, "undo")
    for step in range(12):
        pedal(rig, 127 if step % 2 == 0 else 0)
        wait(rig, 0.03)
    wait(rig, 0.3)
    assert "rattle" in told(rig).text and told(rig).learning == "undo" and len(told(rig).rows) == 7
    wait(rig, 0.6)
    press(rig, 0.2), wait(rig, 0.6)
    assert told(rig).learning == "" and "given more time" in told(rig).text
    finish(rig)


def test_leaving_changes_nothing_and_pedals_are_pedals_again(tmp_path: Path, own: Path) -> None:
    rig = begun(tmp_path, controls=FOUR)
    learn(rig, "undo")
    pedal(rig, 127, 80)
    rig.command("learn-end")
    pedal(rig, 0, 80)
    wait(rig, 1.0)
    assert told(rig).learning == "" and len(told(rig).rows) == 7 and state(rig) == "STOPPED"
    press(rig, 0.1, 80)
    assert state(rig) != "STOPPED"
    finish(rig)
    assert not (own / "controls").exists()


def test_an_act_is_taken_away_again(tmp_path: Path, own: Path) -> None:
    rig = begun(tmp_path)
    learn(rig, "undo"), press(rig, 0.1), wait(rig, 0.5)
    eventually((own / "controls" / "my-pedals.toml").exists, "the map")
    rig.command("unlearn", command="undo")
    assert told(rig).rows == () and "No switch" in told(rig).text
    eventually(lambda: not (own / "controls" / "my-pedals.toml").exists(), "the empty map to go")
    rig.command("unlearn", command="undo")
    assert [one.text for one in rig.link.told if isinstance(one, Said)][-1] == "No switch gives this command."
    finish(rig)


@pytest.mark.parametrize(
    ("command", "args", "wrong"),
    [("fly", {}, "no command"), ("keep", {"passes": 99}, "passes"), ("window-leave", {}, "no command")],
)
def test_what_no_pedal_can_ask_for_is_a_sentence(
    tmp_path: Path, command: str, args: dict[str, Any], wrong: str
) -> None:
    rig = begun(tmp_path)
    learn(rig, command, **args)
    assert wrong in [one.text for one in rig.link.told if isinstance(one, Said)][-1]
    assert told(rig).learning == ""
    finish(rig)


def test_a_folder_that_cannot_be_written_is_said_and_the_switch_works(tmp_path: Path, own: Path) -> None:
    own.write_text("a file where the folder should be")
    rig = begun(tmp_path)
    learn(rig, "start-stop"), press(rig, 0.1), wait(rig, 0.5)

    def said() -> bool:
        rig.turn()
        texts = " ".join(one.text for one in rig.link.told if isinstance(one, Said))
        return "cannot be written" in texts and "cannot be remembered" in texts

    eventually(said, "the sentences")
    press(rig)
    assert state(rig) != "STOPPED"
    finish(rig)


def test_what_was_learned_before_is_joined_and_not_lost(tmp_path: Path, own: Path) -> None:
    rig = begun(tmp_path)
    learn(rig, "undo"), press(rig, 0.1), wait(rig, 0.5)
    finish(rig)
    rig.journal.unlink()
    rig = begun(tmp_path, controls=FOUR)
    learn(rig, "redo"), press(rig, 0.1, 21), wait(rig, 0.5)
    finish(rig)
    numbers = [one.number for one in load_controls(str(own / "controls" / "my-pedals.toml")).switches]
    assert numbers == [80, 81, 82, 83, 21, 64]


def test_a_session_that_is_taken_up_again_has_the_map_learned_in_it(tmp_path: Path) -> None:
    rig = begun(tmp_path)
    learn(rig, "start-stop"), press(rig, 0.1), wait(rig, 0.5)
    eventually(lambda: read_chosen(str(rig.journal)).controls == "my-pedals", "the file beside the journal")
    eventually(lambda: json.loads((rig.journal.with_suffix(".devices")).read_text())["controls"], "it is whole")
    rig.engine.parts.store.journal.abandon()
    rig.engine.parts.store.checkpointer.end(done=False)
    again = EngineRig(tmp_path, resume=True)
    again.engine._begin()
    again.join()
    again.turn()
    assert told(again).rows and told(again).name == "my-pedals"
    press(again)
    assert state(again) != "STOPPED"
    finish(again)
