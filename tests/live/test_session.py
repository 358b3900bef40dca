"""A whole session over real MIDI ports: an independent sender plays and steers, an independent
receiver listens.

The sender and the receiver are processes of their own that share nothing with loopdeck but the JACK
server and ``perf_counter``, which is one clock for all processes of a machine.
"""

import os
import signal
import statistics
import subprocess
import time
from pathlib import Path

import mido
import pytest

from loopdeck.capture.journal import MidiRecord, read_journal
from loopdeck.engine.__main__ import PROCESS_NAME
from loopdeck.looper.voices import Out
from tests.live.conftest import Bench, Receiver, wait_for
from tests.unit.looper_tools import check_pairs

BRIEF = """
name = "test bench"
tempo = "240"
cycle = "4/4"
grid = "1/16"
swing = "1:1"
strength = 100
scale = "E dorian"
count_in = 0
"""
#: One pass of four quarters at 240 a minute.
PASS_SEC = 1.0
#: Control changes of the map below.
START, STOP, LAYER, LOOP_THAT, KEEP, UNDO = 20, 21, 22, 23, 24, 25
CONTROLS = "".join(
    f'[[control]]\non = "control change"\nchannel = 16\nnumber = {number}\ncommand = "{command}"\n{extra}\n'
    for number, command, extra in (
        (START, "start", ""),
        (STOP, "stop", ""),
        (LAYER, "layer", ""),
        (LOOP_THAT, "loop-that", ""),
        (KEEP, "keep", "args = { passes = 4 }"),
        (UNDO, "undo", ""),
    )
)


def foot(control: int) -> bytes:
    return bytes((0xBF, control, 127))


def on(pitch: int) -> bytes:
    return bytes((0x90, pitch, 96))


def off(pitch: int) -> bytes:
    return bytes((0x80, pitch, 0))


def jam(bench: Bench, *words: str, log: str = "jam") -> subprocess.Popen[str]:
    """loopdeck without a window, steered by MIDI alone."""
    (bench.folder / "brief.toml").write_text(BRIEF)
    (bench.folder / "controls.toml").write_text(CONTROLS)
    process = bench.spawn(
        "-m", "loopdeck", "jam", "--headless", "--api", "jack", "--out", "virtual",
        "--brief", str(bench.folder / "brief.toml"), "--controls", str(bench.folder / "controls.toml"),
        "--journal", str(bench.journals), "--shelf", str(bench.shelf), *words,
        log=log,
    )  # fmt: skip
    return process


def layer_ons(receiver: Receiver) -> list[tuple[float, int]]:
    """(seconds, pitch) of the note-ons heard on the layers' channels."""
    return [(sec, data[1]) for sec, data in receiver.heard() if data[0] & 0xF0 == 0x90 and 1 <= data[0] & 0x0F != 9]


def downbeats(receiver: Receiver) -> list[float]:
    """When the bar's click was heard."""
    return [sec for sec, data in receiver.heard() if data[:2] == bytes((0x99, 76))]


def everything_ended(receiver: Receiver) -> None:
    """Every note-on heard was followed by its note-off, in turn."""
    notes = [Out(sec, data, "heard") for sec, data in receiver.heard() if data[0] & 0xE0 == 0x80]
    assert notes
    check_pairs(notes)


def test_play_loop_layer_keep_export(bench: Bench) -> None:
    process = jam(bench, "--in", "virtual")
    sender = bench.sender("player", "loopdeck in")
    receiver = bench.receiver()
    steps = [(0.0, foot(START))]
    # Pass 0: two notes, a little late and a little early; the first downbeat of pass 1 comes 20 ms
    # early.
    steps += [(0.26, on(28)), (0.40, off(28)), (0.485, on(35)), (0.60, off(35)), (0.98, on(31)), (1.2, off(31))]
    steps += [(1.40, foot(LOOP_THAT))]  # pass 0 becomes a layer
    steps += [(1.80, foot(LAYER)), (2.30, on(40)), (2.45, off(40)), (2.80, foot(LAYER))]  # pass 2 is layered
    steps += [(4.25, foot(UNDO)), (5.30, foot(KEEP)), (5.70, foot(STOP))]
    base = sender.play(steps)
    sender.finish()
    wait_for(lambda: "Stopped" in bench.text("jam") or len(downbeats(receiver)) >= 6, 5.0, "the last pass")
    start = downbeats(receiver)[0]
    assert start - base < 0.05

    places = [(round((sec - start) / 0.0625) * 0.0625, pitch) for sec, pitch in layer_ons(receiver)]
    errors = [abs((sec - start) - place) for (sec, _), (place, _) in zip(layer_ons(receiver), places, strict=True)]
    # The receiver is a process of its own: on a busy machine a single note reaches it late.
    assert statistics.median(errors) < 0.005 and max(errors) < 0.03, "a layer's note sounded beside its slot"
    # The riff: 28 on the second sixteenth-quarter, 35 on the third quarter; 31 is pass 1's downbeat
    # and pass 0 has none of its own, so the layer gives it from the pass after the player's own
    # stroke on. Then the overdub on pass 3 until the undo.
    assert [one for one in places if one[0] < 2.0] == [(1.5, 35)]
    assert [one for one in places if 2.0 <= one[0] < 3.0] == [(2.0, 31), (2.25, 28), (2.5, 35)]
    assert [one for one in places if 3.0 <= one[0] < 4.0] == [(3.0, 31), (3.25, 28), (3.3125, 40), (3.5, 35)]
    assert [one for one in places if 5.0 <= one[0] < 5.7] == [(5.0, 31), (5.25, 28), (5.5, 35)]
    everything_ended(receiver)

    process.send_signal(signal.SIGTERM)
    assert process.wait(10) == 0
    take = mido.MidiFile(exported(bench))
    assert take.type == 1 and take.ticks_per_beat == 960
    pitches = [
        message.note for track in take.tracks for message in track if message.type == "note_on" and message.velocity
    ]
    assert pitches.count(40) == 1 and pitches.count(28) >= 2
    # What was sent is in the journal to the last byte, and its times differ from the sender's by
    # less than 5 ms.
    journal = read_journal(next(bench.journals.iterdir()))
    assert journal.complete
    heard = [(record.stamp_sec, record.data) for record in journal.records if isinstance(record, MidiRecord)]
    sent = sender.sent()
    assert [data for _, data in heard] == [data for _, data in sent]
    assert max(abs(there - here) for (there, _), (here, _) in zip(heard, sent, strict=True)) < 0.005


def exported(bench: Bench) -> Path:
    """The newest take of the shelf as a Standard MIDI File."""
    path = bench.folder / "take.mid"
    bench.loopdeck("takes", "export", "1", "-o", str(path), "--shelf", str(bench.shelf))
    return path


def test_sender_unplugged_and_back(bench: Bench) -> None:
    first = bench.sender("basso", None)
    process = jam(bench, "--in", "basso")
    receiver = bench.receiver()
    wait_for(lambda: "connected" in bench.text("jam"), 10.0, "the first connection")
    first.play([(0.0, foot(START)), (0.3, on(40))])
    first.finish()
    first.process.kill()  # the cable goes while a note is held
    wait_for(lambda: "basso" in bench.text("jam") and "look" in bench.text("jam"), 4.0, "saying that the input is gone")
    count = len(downbeats(receiver))
    wait_for(lambda: len(downbeats(receiver)) >= count + 2, 4.0, "the click going on meanwhile")
    said = bench.text("jam").count("connected")
    second = bench.sender("basso", None)
    wait_for(lambda: bench.text("jam").count("connected") > said, 5.0, "the reconnection")
    # A quarter of a pass after a downbeat, so that the pass it is played in is the last one
    # finished when the foot comes down.
    second.play([(0.0, on(43)), (0.1, off(43)), (1.0, foot(LOOP_THAT))], downbeats(receiver)[-1] + 2 * PASS_SEC + 0.25)
    second.finish()
    wait_for(lambda: 43 in [pitch for _, pitch in layer_ons(receiver)], 4.0, "the loop of what was played after it")
    process.send_signal(signal.SIGINT)
    assert process.wait(10) == 0
    everything_ended(receiver)


def engine_pids(bench: Bench, parent: int) -> list[int]:
    """The engines among the children of the supervising process: those that play, or are about to,
    and no spare one.
    """
    listed = subprocess.run(
        ["ps", "-o", "pid=,comm=", "--ppid", str(parent)], capture_output=True, text=True, check=False
    )
    return [int(pid) for pid, name in map(str.split, listed.stdout.splitlines()) if name == PROCESS_NAME]


def test_engine_killed_and_brought_back(bench: Bench) -> None:
    process = jam(bench, "--in", "virtual")
    sender = bench.sender("player", "loopdeck in")
    receiver = bench.receiver()
    notes = [(0.25, on(28)), (0.5, off(28))]
    sender.play([(0.0, foot(START)), *notes, (1.3, foot(LOOP_THAT))])
    sender.finish()
    wait_for(lambda: len(layer_ons(receiver)) >= 2, 5.0, "the loop")
    sender.play([(0.0, on(33)), (0.05, off(33))])
    sender.finish()
    time.sleep(0.2)  # the 100 ms that may be lost, doubled
    (engine,) = engine_pids(bench, process.pid)
    os.kill(engine, signal.SIGKILL)
    wait_for(lambda: receiver.log.read_text().count("connected") >= 2, 10.0, "the engine's return")
    after = receiver.log.read_text().rsplit("connected", 1)[1]
    wait_for(
        lambda: "b178" in receiver.log.read_text().rsplit("connected", 1)[1],
        5.0,
        "all sound off on the first layer's channel",
    )
    assert "engine" in bench.text("jam"), after
    (back,) = engine_pids(bench, process.pid)
    assert back != engine
    # The layer is still there: it sounds again after a start.
    heard = len(layer_ons(receiver))
    again = bench.sender("second", "loopdeck in")
    again.play([(0.0, foot(START)), (2.5, foot(STOP))])
    again.finish()
    assert 28 in [pitch for _, pitch in layer_ons(receiver)[heard:]]
    process.send_signal(signal.SIGTERM)
    assert process.wait(10) == 0
    journal = read_journal(next(bench.journals.iterdir()))
    data = [record.data for record in journal.records if isinstance(record, MidiRecord)]
    assert on(33) in data and off(33) in data, "what was played before the kill is lost"


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_silences_and_loses_nothing(bench: Bench, how: signal.Signals) -> None:
    process = jam(bench, "--in", "virtual")
    sender = bench.sender("player", "loopdeck in")
    receiver = bench.receiver()
    sender.play([(0.0, foot(START)), (0.1, on(30)), (0.9, off(30)), (1.2, foot(LOOP_THAT))])
    sender.finish()
    wait_for(lambda: 30 in [pitch for _, pitch in layer_ons(receiver)], 5.0, "the loop")
    process.send_signal(how)
    assert process.wait(10) == 0
    everything_ended(receiver)
    assert read_journal(next(bench.journals.iterdir())).complete


def test_unknown_port_is_one_sentence(bench: Bench) -> None:
    done = bench.loopdeck("jam", "--headless", "--api", "jack", "--in", "no such port", check=False)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1 and "no such port" in done.stderr


def test_ports_lists_them(bench: Bench) -> None:
    bench.sender("basso", None)
    assert "basso" in bench.loopdeck("ports", "--api", "jack").stdout
