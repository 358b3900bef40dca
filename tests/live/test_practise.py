"""``loopdeck practise`` on a real JACK server: a player who answers every click of the command's
output is judged clean, and the tempo rises.
"""

import json
from pathlib import Path

import pytest

from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from loopdeck.practice.progress import read_progress
from tests.live.conftest import Bench
from tests.live.connecting import client, connect
from tests.unit.test_play_command import take_of
from tests.waiting import until

PITCH = 43


def test_an_echo_of_the_click_is_a_clean_pass(
    jack: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", jack["JACK_DEFAULT_SERVER"])
    pytest.importorskip("rtmidi")
    bench = Bench(jack, tmp_path)
    write_smf(tmp_path / "four.mid", piece_of_take(take_of([PITCH] * 4, tempo="150")))
    out, ear = client("MidiOut", "pupil"), client("MidiIn", "pupil ear")
    try:
        process = bench.spawn(
            "-m", "loopdeck", "practise", str(tmp_path / "four.mid"), "--from-tempo", "150", "--to-tempo", "158", "--step", "8",
            "--passes", "1", "--in", "virtual", "--out", "virtual", "--no-sound", "--headless", "--json", "--shelf", str(bench.shelf), log="practise",
        )  # fmt: skip

        def answered() -> bool:
            """Answer every click that has come; whether the command has ended."""
            while (event := ear.get_message()) is not None:
                if event[0][0] == 0x99 and event[0][2]:
                    out.send_message([0x90, PITCH, 90])
                    out.send_message([0x80, PITCH, 0])
            return process.poll() is not None

        connect(out, "loopdeck in", "out")
        connect(ear, "loopdeck out", "in")
        until(answered, "the end of the practice", pause_sec=0.001)
        found = json.loads((tmp_path / "practise.out").read_text())
        assert process.returncode == 0 and found["done"], bench.text("practise")
        assert [one["qpm"] for one in found["passes"] if one["clean"]][-1] == 158
        assert len(read_progress(bench.shelf).runs) == 1
    finally:
        ear.close_port()
        out.close_port()
        bench.close()
