"""The file of corrections: what is stored comes back, what is broken is one sentence, and the
engine is told what to take off.
"""

import json
from pathlib import Path

import pytest

from loopdeck.engine.input_latency import Correction, InputLatencies, load_corrections, plain_name, store_correction
from loopdeck.errors import UserError


def test_what_is_stored_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "corrections.json"
    assert load_corrections(path) == {}
    bass = Correction(4.25, "loop", "2031-05-06T07:08:09+00:00", 4.25, 0.3, {28: 11.0, 40: 6.5})
    assert store_correction(path, "five strings: MIDI 1 24:0", bass) == ""
    store_correction(path, "Blasinstrument ♭", Correction(0.0, "tap"))
    found = load_corrections(path)
    assert found == {"five strings: MIDI 1": bass, "Blasinstrument ♭": Correction(0.0, "tap")}
    assert [one.name for one in path.parent.iterdir()] == ["corrections.json"]


def test_measuring_again_keeps_what_it_does_not_know(tmp_path: Path) -> None:
    path = tmp_path / "corrections.json"
    inputs = {"a": {"correction_ms": 9, "by_pitch": {"28": 12.0}, "colour": "green"}}
    path.write_text(json.dumps({"version": 1, "inputs": inputs}))
    store_correction(path, "a", Correction(3.0))
    again = load_corrections(path)["a"]
    assert (again.correction_ms, again.by_pitch, again.more) == (3.0, {28: 12.0}, {"colour": "green"})


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("{", "it is damaged; line 1 is not JSON"),
        ("[1]", "it has no table of inputs"),
        ('{"version": 2, "inputs": {}}', "it has version 2, and this loopdeck reads version 1"),
        ('{"version": 1, "inputs": {"a": {}}}', "the input 'a' has no sensible numbers"),
        ('{"version": 1, "inputs": {"a": {"correction_ms": NaN}}}', "the input 'a' has no sensible numbers"),
        ('{"version": 1, "inputs": {"a": {"correction_ms": true}}}', "the input 'a' has no sensible numbers"),
        ('{"version": 1, "inputs": {"a": 3}}', "the input 'a' has no sensible numbers"),
        ('{"version": 1, "inputs": {"a": {"correction_ms": -1}}}', "is corrected by more than 1000 ms or less than 0"),
        ("[" * 100_000, "it is damaged"),
    ],
)
def test_a_broken_file_is_one_sentence(tmp_path: Path, text: str, why: str) -> None:
    path = tmp_path / "corrections.json"
    path.write_text(text)
    with pytest.raises(UserError) as caught:
        load_corrections(path)
    sentence = str(caught.value)
    assert why in sentence and sentence.endswith("measure again to replace them.") and "\n" not in sentence
    # The engine says so and takes nothing off; measuring puts the file aside.
    late = InputLatencies(str(path))
    assert late.problem == sentence and late.order(0, "a") is None
    assert store_correction(path, "a", Correction(2.0)).endswith("it was put aside as corrections.json.broken.")
    assert path.with_name("corrections.json.broken").read_text() == text
    assert load_corrections(path)["a"].correction_ms == 2.0


def test_the_numbers_of_alsa_are_no_part_of_a_name() -> None:
    assert plain_name("Keys 25:Keys 25 MIDI 1 24:0") == "Keys 25:Keys 25 MIDI 1"
    assert plain_name("loopdeck in") == "loopdeck in"


def test_what_the_engine_is_told_to_take_off(tmp_path: Path) -> None:
    path = tmp_path / "corrections.json"
    store_correction(path, "bass", Correction(12.5))
    late = InputLatencies(str(path))
    assert late.problem == ""
    assert late.order(0, "bass 20:0") == {"port": 0, "sec": 0.0125}
    # It comes back: nothing changes. Another one in its place: nothing is taken off any more.
    assert late.order(0, "bass 21:0") is None
    assert late.order(1, "keys") is None
    assert late.order(0, "keys") == {"port": 0, "sec": 0.0}
    assert InputLatencies("").order(0, "bass") is None
    # A session that goes on is told only what has changed since: it was measured anew, or
    # forgotten.
    assert InputLatencies(str(path), {0: 0.0125}).order(0, "bass") is None
    assert InputLatencies(str(path), {}).order(0, "keys") is None
    assert InputLatencies(str(path), {0: 0.0125}).order(0, "keys") == {"port": 0, "sec": 0.0}
