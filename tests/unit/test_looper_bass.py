"""The bass in the looper: layers varied while they sound, strings and delays of a pickup."""

from pathlib import Path

import pytest

from loopdeck.bass.pickup.delay import Fitted
from loopdeck.bass.pickup.profile import Cleaning, Delay, cleaning_of_words
from loopdeck.bass.variations.ways import WAYS
from loopdeck.brief.brief import Brief
from loopdeck.cli.jam import _pickup
from loopdeck.errors import UserError
from loopdeck.looper.machine import Looper
from loopdeck.protocol.messages import LayerNotes
from loopdeck.shelf.calibration import store_delay
from tests.unit.engine_rig import EngineRig

BRIEF = Brief.default().replace(tempo="120", cycle="4/4", count_in="0", scale="E aeolian")
QUARTER = 0.5


def looped(pitches: tuple[int, ...] = (40, 43, 45, 47)) -> Looper:
    """A looper whose first pass is a layer of quarters."""
    looper = Looper(BRIEF)
    looper.command(0.0, "start-now")
    for beat, pitch in enumerate(pitches):
        looper.midi(beat * QUARTER + 0.01, beat * QUARTER + 0.01, 0, bytes((0x91, pitch, 90)))
        looper.midi(beat * QUARTER + 0.3, beat * QUARTER + 0.3, 0, bytes((0x81, pitch, 0)))
    looper.command(2.05, "loop-that")
    return looper


def pitches(looper: Looper) -> list[list[int]]:
    return [layer.notes["pitch"].tolist() for layer in looper.layers()]


def test_a_layer_is_varied_in_its_place_and_undo_brings_it_back() -> None:
    looper = looped()
    assert "octave" in looper.command(2.1, "vary", how="octave +1")
    assert pitches(looper) == [[52, 55, 57, 59]]
    assert looper.layers()[0].number == 1
    looper.command(2.2, "vary", how="thin 50")
    assert len(pitches(looper)[0]) == 2
    looper.command(2.3, "undo")
    looper.command(2.4, "undo")
    assert pitches(looper) == [[40, 43, 45, 47]]
    looper.command(2.5, "redo")
    assert pitches(looper) == [[52, 55, 57, 59]]


def test_a_note_that_ends_late_does_not_bring_the_layer_of_before_into_view() -> None:
    looper = Looper(BRIEF)
    looper.command(0.0, "start-now")
    looper.midi(1.5, 1.5, 0, bytes((0x91, 47, 90)))
    looper.command(2.05, "loop-that")
    looper.command(2.1, "vary", how="octave +1")
    looper.take_news()
    looper.midi(2.2, 2.2, 0, bytes((0x81, 47, 0)))
    shown = [note.pitch for one in looper.take_news() if isinstance(one, LayerNotes) for note in one.notes]
    assert pitches(looper) == [[59]] and 47 not in shown
    looper.command(2.3, "undo")
    (back,) = looper.layers()
    assert back.notes["duration_q"].tolist() == pytest.approx([1.4]), "it has ended all the same"


def test_power_chords_are_a_layer_beside_the_riff_and_sound() -> None:
    looper = looped()
    looper.command(2.1, "vary", how="power-chords following")
    assert len(looper.layers()) == 2
    roots = looper.layers()[0].notes["pitch"]
    assert {int(pitch - root) % 12 for root in roots for pitch in looper.layers()[1].notes["pitch"]} >= {0, 7}
    looper.take_outs()
    looper.advance(4.0)
    channel = looper.layers()[1].channel
    assert any(out.data[0] == (0x90 | channel) for out in looper.take_outs())
    looper.command(4.1, "undo")
    assert len(looper.layers()) == 1


@pytest.mark.parametrize(
    "how", ["", "louder", "transpose", "swing 90%", "last-bar 7", "retune drop-q", "octave +9", "pedal X", "reshape"]
)
def test_what_varies_nothing_changes_nothing(how: str) -> None:
    looper = looped()
    before = looper.layers()
    assert looper.command(2.1, "vary", how=how)
    assert looper.layers() == before


def test_there_must_be_one_layer() -> None:
    looper = Looper(BRIEF)
    assert looper.command(0.0, "vary", how="octave +1") == "There is no layer to vary."
    assert "which" in _with_two().command(9.0, "vary", how="thirds", layer="all")


def _with_two() -> Looper:
    looper = looped()
    looper.command(2.1, "vary", how="octaves")
    return looper


def test_a_pickup_names_strings_and_judges_low_notes_earlier() -> None:
    """E1 is 41.203 Hz (ISO 16, equal temperament), so two of its periods are 48.5 ms."""
    looper = Looper(BRIEF)
    looper.command(0.0, "pickup", channels="1 2 3 4", periods=2.0)
    looper.command(0.0, "start-now")
    looper.midi(0.0485, 0.0485, 0, bytes((0x93, 28, 90)))
    looper.midi(0.4, 0.4, 0, bytes((0x83, 28, 0)))
    looper.midi(1.0 + 0.0204, 1.0 + 0.0204, 0, bytes((0x90, 43, 90)))
    looper.midi(1.4, 1.4, 0, bytes((0x80, 43, 0)))
    looper.midi(1.5, 1.5, 1, bytes((0x93, 28, 90)))
    looper.command(2.05, "loop-that")
    notes = looper.layers()[0].notes
    assert notes["string"].tolist() == [4, 1, 0]
    assert notes["onset_q"].tolist() == pytest.approx([0.0, 2.0, 3.0], abs=0.001)


def test_a_pickup_says_how_far_its_bends_go() -> None:
    looper = Looper(BRIEF)
    looper.command(0.0, "pickup", bend_range=12)
    looper.command(0.0, "start-now")
    looper.midi(0.1, 0.1, 0, bytes((0x90, 40, 90)))
    looper.midi(0.2, 0.2, 0, bytes((0xE0, 0, 96)))
    looper.midi(0.4, 0.4, 0, bytes((0x80, 40, 0)))
    looper.command(2.05, "loop-that")
    assert looper.layers()[0].bends[0][-1, 1] == pytest.approx(6.0, abs=0.01)


@pytest.mark.parametrize("channels", ["0", "1 1", "17", "one", "1,2", "1 2 3 4 5 6 7 8 9 10 11 12 13"])
def test_channels_that_are_none(channels: str) -> None:
    looper = Looper(BRIEF)
    digest = looper.digest()
    assert "channels" in looper.command(0.0, "pickup", channels=channels).lower()
    assert looper.digest() == digest


def test_jam_reads_the_profile_at_its_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    found = _pickup("per-string")
    assert cleaning_of_words(found.pop("cleaning")) == Cleaning()
    late = {"constant_ms": 0.0, "periods": 2.0}
    assert found == {"channels": "1 2 3 4", **late, "bend_range": 2.0, "name": "per-string"}
    assert _pickup("keyboard") == {} == _pickup(None)
    with pytest.raises(UserError, match="no pickup profile of that name"):
        _pickup("nothing-like-it")
    fitted = Fitted(Delay(3.5, 1.9), 8.0, 200, 28.0, 1.0)
    store_delay("per-string", fitted)
    assert _pickup("per-string")["constant_ms"] == 3.5


def test_an_engine_with_a_pickup_tells_the_looper_before_the_first_note(tmp_path: Path) -> None:
    rig = EngineRig(tmp_path, pickup={"channels": "1 2 3 4", "constant_ms": 0.0, "periods": 2.0, "bend_range": 12.0})
    rig.engine._begin()
    heard = rig.engine.parts.session.looper._core.recorder.pickups
    assert heard[0].channels == (1, 2, 3, 4)
    assert heard[0].late_sec(28) == pytest.approx(0.0485, abs=0.0001)


def onsets(looper: Looper) -> list[float]:
    return [round(float(one), 3) for layer in looper.layers() for one in layer.notes["onset_q"]]


@pytest.mark.parametrize(
    ("how", "field", "value"),
    [
        ("swing 62%", "swing", "62%"),
        ("last-bar 3/4", "cycle", "3/4"),
        ("retune drop-d", "tuning", "drop D"),
        ("reshape drop-d", "tuning", "drop D"),
    ],
)
def test_what_is_of_the_whole_loop_changes_where_the_cycle_begins_and_is_undone(
    how: str, field: str, value: str
) -> None:
    looper = looped((28, 43, 45, 47))
    before, old, places = pitches(looper), looper.brief.to_dict()[field], onsets(looper)
    said = looper.command(2.2, "vary", how=how)
    assert "next cycle" in said
    assert looper.brief.to_dict()[field] == old and pitches(looper) == before
    looper.advance(4.01)
    assert looper.brief.to_dict()[field] == value
    # In drop D (facts of the tuning) the shape on the lowest string sounds a whole step lower.
    wanted = {"last-bar 3/4": [[28, 43, 45]], "reshape drop-d": [[26, 43, 45, 47]]}.get(how, before)
    assert pitches(looper) == wanted
    looper.command(4.1, "undo")
    looper.advance(8.1)
    assert looper.brief.to_dict()[field] == old
    assert pitches(looper) == before and onsets(looper) == places


def test_ways_asked_for_before_one_cycle_start_are_all_done_and_undone_at_once() -> None:
    looper = looped((28, 43, 45, 47))
    before, fields = pitches(looper), looper.brief.to_dict()
    looper.command(2.2, "vary", how="reshape drop-d")
    looper.command(2.4, "vary", how="swing 62%")
    # What changes one layer at once is there before the cycle begins, and the others keep it.
    looper.command(2.6, "vary", how="octave +1")
    looper.advance(4.01)
    assert (looper.brief.to_dict()["tuning"], looper.brief.to_dict()["swing"]) == ("drop D", "62%")
    assert pitches(looper) != before and len(pitches(looper)[0]) == 4
    assert min(pitches(looper)[0]) >= 38
    looper.command(4.1, "undo")
    looper.advance(8.1)
    assert looper.brief.to_dict() == fields
    looper.command(8.2, "undo")
    assert pitches(looper) == before
    looper.command(8.3, "vary", how="swing 62%")
    looper.command(8.4, "vary", how="swing straight")
    assert looper.command(8.5, "undo") == "The loop stays as it is."


def test_a_layer_of_which_nothing_is_left_takes_no_way_with_it() -> None:
    given = [[[beat, 0.5, 40, 90, 0, 0] for beat in range(4)], [[3.25, 0.25, 52, 90, 0, 0]]]
    layers = [{"notes": notes, "program": 34, "muted": False, "qpm": 120.0} for notes in given]
    looper = Looper(BRIEF)
    looper.command(0.0, "bring-back", layers=layers, name="")
    looper.command(0.0, "start-now")
    looper.command(0.5, "vary", how="last-bar 3/4")
    looper.command(0.6, "vary", how="swing 62%")
    looper.advance(2.1)
    assert [len(layer) for layer in looper.layers()] == [3]
    assert (looper.brief.to_dict()["cycle"], looper.brief.to_dict()["swing"]) == ("3/4", "62%")


def _state(looper: Looper) -> tuple[object, ...]:
    """What is heard and drawn of the loop: every note, bend, program and mute, and the brief."""
    layers = [
        (one.number, one.notes.tolist(), [bend.tolist() for bend in one.bends], one.program, one.channel)
        for one in looper.layers()
    ]
    return layers, looper.muted, looper.brief.to_dict()


@pytest.mark.parametrize("running", [True, False])
@pytest.mark.parametrize("how", [way.example for way in WAYS.values()])
def test_undo_brings_back_every_way_to_the_bit_and_redo_the_varied_loop(how: str, running: bool) -> None:
    looper = _with_two()
    looper.command(2.2, "mute", layer=1)
    looper.midi(2.3, 2.3, 0, bytes((0xE1, 0, 96)))
    if not running:
        looper.command(2.4, "stop")
    before = _state(looper)
    looper.command(2.5, "vary", how=how, layer=2)
    looper.advance(4.2)
    varied = _state(looper)
    assert varied != before or how == "into E phrygian"
    for at, command, wanted in ((4.3, "undo", before), (8.3, "redo", varied), (12.3, "undo", before)):
        looper.command(at, command)
        looper.advance(at + 4.0)
        assert _state(looper) == wanted, command


def test_a_loop_that_is_to_come_is_not_varied_before_it_has_come() -> None:
    looper = looped()
    looper.command(2.2, "vary", how="retune drop-d")
    looper.advance(4.01)
    looper.command(4.1, "undo")
    assert looper.command(4.2, "vary", how="swing 62%") == "Another loop comes with the next cycle; vary it then."


def test_swing_moves_the_off_beats_of_every_layer() -> None:
    """2:1 puts the second of a pair at two thirds of it (facts of swing)."""
    looper = Looper(BRIEF.replace(grid="1/8", strength="0"))
    looper.command(0.0, "start-now")
    for half in range(8):
        looper.midi(half / 4, half / 4, 0, bytes((0x90, 40, 90)))
        looper.midi(half / 4 + 0.1, half / 4 + 0.1, 0, bytes((0x80, 40, 0)))
    looper.command(2.05, "loop-that")
    looper.command(2.1, "stop")
    assert "next cycle" not in looper.command(2.2, "vary", how="swing 2:1")
    assert onsets(looper) == pytest.approx([place + off * 2 / 3 for place in range(4) for off in (0, 1)], abs=0.002)


def test_all_layers_are_transposed_with_the_scale_of_the_brief() -> None:
    looper = _with_two()
    looper.command(2.4, "stop")
    looper.command(2.5, "vary", how="transpose +5", layer="all")
    assert pitches(looper) == [[45, 48, 50, 52], [57, 60, 62, 64]]
    assert str(looper.brief.scale) == "A aeolian"
    looper.command(2.6, "undo")
    assert str(looper.brief.scale) == "E aeolian" and pitches(looper)[0] == [40, 43, 45, 47]


def test_the_same_ways_replay_to_the_same() -> None:
    digests = []
    for _ in range(2):
        looper = looped()
        looper.command(2.2, "vary", how="reshape drop-d")
        looper.advance(6.5)
        digests.append(looper.digest())
    assert digests[0] == digests[1]
