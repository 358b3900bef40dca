"""Tuning by ear while a session runs: key or pedal turns from string to string; nothing hangs,
nothing reaches the journal.
"""

from pathlib import Path

import pytest

from loopdeck.engine.tuner import string_rows
from loopdeck.window import keys
from tests.unit.engine_rig import EngineRig


class Tuning:
    """An engine that is given commands, and what it sends."""

    def __init__(self, tmp_path: Path) -> None:
        self.rig = EngineRig(tmp_path)
        self.rig.engine._begin()

    def do(self, name: str, **args: object) -> None:
        self.rig.command(name, **args)
        self.run(0.2)

    def run(self, sec: float) -> None:
        self.rig.run_to(self.rig.clock.now() + sec)

    def sounding(self) -> set[int]:
        held: set[int] = set()
        for _, data in self.rig.ports.sent:
            if data[0] & 0xF0 == 0x90 and data[2]:
                held.add(data[1])
            elif data[0] & 0xE0 == 0x80:
                held.discard(data[1])
        return held


def test_rows_of_a_string_hold_it_and_its_octave() -> None:
    rows = string_rows(28, True)
    assert rows[0][2][1] == 28 and rows[1] == (1.0, "live", bytes((0x90, 40, 60)))
    on = sum(1 for row in rows if row[2][0] == 0x90)
    assert on == len(rows) / 2
    assert all(row[2][1] == 28 for row in string_rows(28, False))


def test_from_string_to_string_and_off(tmp_path: Path) -> None:
    """The open strings of the usual four: E1 28, A1 33, D2 38, G2 43."""
    tuning = Tuning(tmp_path)
    for pitch in (28, 33, 38, 43):
        tuning.do("tune")
        assert tuning.sounding() == {pitch}
        tuning.run(1.5)
        assert tuning.sounding() == {pitch, pitch + 12}
    tuning.do("tune")
    assert not tuning.sounding()


def test_a_tuning_with_fewer_strings_ends_no_tuning(tmp_path: Path) -> None:
    tuning = Tuning(tmp_path)
    tuning.do("brief", fields={"tuning": "six-string"})
    tuning.do("tune")
    tuning.do("brief", fields={"tuning": "four-string"})
    for pitch in (28, 33):
        tuning.do("tune")
        assert tuning.sounding() == {pitch}


def test_octave_off_a_named_string_and_silence(tmp_path: Path) -> None:
    tuning = Tuning(tmp_path)
    tuning.do("tune", string=2)
    tuning.do("tune-octave", on=False)
    tuning.run(2.0)
    assert tuning.sounding() == {38}
    tuning.do("silence")
    assert not tuning.sounding()
    tuning.do("tune", string=9)
    assert not tuning.sounding()
    tuning.do("tune", string=1)
    tuning.rig.engine.parts.outputs.stop_and_silence()
    tuning.run(0.2)
    assert not tuning.sounding()


@pytest.mark.parametrize("act", ["tune", "window-vary", "window-left-handed"])
def test_there_is_a_key(act: str) -> None:
    assert any(binding.act == act for binding in keys.BINDINGS)
