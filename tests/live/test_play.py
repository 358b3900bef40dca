"""``loopdeck play --out`` on a real JACK server: the notes come to another program in time, and
nothing is left sounding.
"""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from tests.live.conftest import Bench
from tests.unit.test_play_command import take_of

PITCHES = [40, 43, 45, 47]


def test_notes_come_in_time_and_end(jack: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", jack["JACK_DEFAULT_SERVER"])
    rtmidi = pytest.importorskip("rtmidi")
    bench = Bench(jack, tmp_path)
    write_smf(tmp_path / "four.mid", piece_of_take(take_of(PITCHES, tempo="240")))
    ear = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="bystander")
    heard: list[tuple[float, list[int]]] = []
    seconds = [0.0]

    def hear(event: tuple[list[int], float], _data: Any) -> None:
        seconds[0] += event[1]
        heard.append((seconds[0], event[0]))

    try:
        ear.open_virtual_port("ear")
        ear.set_callback(hear)
        bench.loopdeck("play", str(tmp_path / "four.mid"), "--out", "bystander", "--times", "2", "--transpose", "2")
    finally:
        ear.close_port()
        bench.close()
    starts = [(sec, data[1]) for sec, data in heard if data[0] == 0x90 and data[2]]
    assert [pitch for _, pitch in starts] == [pitch + 2 for pitch in PITCHES] * 2
    # A crowded machine may hold one back; the run as a whole keeps its tempo.
    assert np.median(np.diff([sec for sec, _ in starts])) == pytest.approx(0.25, abs=0.01)
    ended = [data[1] for _, data in heard if data[0] == 0x80 or (data[0] == 0x90 and not data[2])]
    assert sorted(ended)[:8] == sorted(pitch for _, pitch in starts)
