"""``loopdeck play --out`` on a real JACK server: the notes come to another program in time, and
nothing is left sounding.
"""

from pathlib import Path

import numpy as np
import pytest

from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from tests.live.conftest import Bench
from tests.live.connecting import client
from tests.unit.test_play_command import take_of
from tests.waiting import until

PITCHES = [40, 43, 45, 47]


def test_notes_come_in_time_and_end(jack: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", jack["JACK_DEFAULT_SERVER"])
    pytest.importorskip("rtmidi")
    bench = Bench(jack, tmp_path)
    write_smf(tmp_path / "four.mid", piece_of_take(take_of(PITCHES, tempo="240")))
    # Its queue is read, since a callback in Python would hold up JACK's cycle and lose messages.
    ear = client("MidiIn", "bystander", queue_size_limit=1024)
    heard: list[tuple[float, list[int]]] = []

    def ended() -> list[int]:
        while (event := ear.get_message()) is not None:
            heard.append(((heard[-1][0] if heard else 0.0) + event[1], event[0]))
        return [data[1] for _, data in heard if data[0] == 0x80 or (data[0] == 0x90 and not data[2])]

    try:
        ear.open_virtual_port("ear")
        bench.loopdeck("play", str(tmp_path / "four.mid"), "--out", "bystander", "--times", "2", "--transpose", "2")
        until(lambda: len(ended()) >= 2 * len(PITCHES), "the ends of the notes")
    finally:
        ear.close_port()
        bench.close()
    starts = [(sec, data[1]) for sec, data in heard if data[0] == 0x90 and data[2]]
    assert [pitch for _, pitch in starts] == [pitch + 2 for pitch in PITCHES] * 2
    # A crowded machine may hold one back; the run as a whole keeps its tempo.
    assert np.median(np.diff([sec for sec, _ in starts])) == pytest.approx(0.25, abs=0.01)
    assert sorted(ended())[:8] == sorted(pitch for _, pitch in starts)
