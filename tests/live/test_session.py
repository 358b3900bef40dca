"""A whole session over real MIDI ports: an independent sender plays and steers, an independent
receiver listens.

The sender and the receiver are processes of their own that share nothing with loopdeck but the JACK
server and ``perf_counter``, which is one clock for all processes of a machine.
"""

import os
import signal
import statistics
import subprocess
from pathlib import Path

import mido
import pytest

from loopdeck.capture.journal import MidiRecord, read_journal
from loopdeck.engine.__main__ import PROCESS_NAME
from loopdeck.looper.voices import Out
from tests.live.conftest import Bench, Receiver, Sender, wait_for
from tests.unit.looper_tools import check_pairs
from tests.waiting import PATIENCE_SEC

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
    """loopdeck without a window, steered by MIDI alone, once its output is there."""
    (bench.folder / "brief.toml").write_text(BRIEF)
    (bench.folder / "controls.toml").write_text(CONTROLS)
    process = bench.spawn(
        "-m", "loopdeck", "jam", "--headless", "--api", "jack", "--out", "virtual",
        "--brief", str(bench.folder / "brief.toml"), "--controls", str(bench.folder / "controls.toml"),
        "--journal", str(bench.journals), "--shelf", str(bench.shelf), *words,
        log=log,
    )  # fmt: skip
    wait_for(lambda: "loopdeck out is open" in bench.text(log), "the ports")
    return process


def layer_ons(receiver: Receiver) -> list[tuple[float, int]]:
    """(seconds, pitch) of the note-ons heard on the layers' channels."""
    return [(sec, data[1]) for sec, data in receiver.heard() if data[0] & 0xF0 == 0x90 and 1 <= data[0] & 0x0F != 9]


def downbeats(receiver: Receiver) -> list[float]:
    """When the bar's click was heard."""
    return [sec for sec, data in receiver.heard() if data[:2] == bytes((0x99, 76))]


def silent(heard: list[tuple[float, bytes]]) -> bool:
    """Whether all sound was ended on every channel."""
    wanted = {bytes((0xB0 | channel, 120, 0)) for channel in range(16)}
    return wanted <= {data for _, data in heard}


def everything_ended(receiver: Receiver) -> None:
    """Every note-on heard was followed by its note-off, in turn, once the receiver has heard it."""

    def notes() -> list[Out]:
        # In order; the receiver's times may be set right by less than a moment as it goes along.
        heard = [data for _, data in receiver.heard() if data[0] & 0xE0 == 0x80]
        return [Out(float(number), data, "heard") for number, data in enumerate(heard)]

    wait_for(lambda: 2 * sum(one.data[0] & 0x10 == 0x10 for one in notes()) == len(notes()) > 0, "as many ends")
    check_pairs(notes())


STEPS = [
    (0.0, foot(START)),
    # Pass 0: two notes, a little late and a little early; the first downbeat of pass 1 comes 20 ms
    # early.
    *((0.26, on(28)), (0.40, off(28)), (0.49, on(35)), (0.60, off(35)), (0.98, on(31)), (1.2, off(31))),
    # It becomes a layer.
    (1.40, foot(LOOP_THAT)),
    # Pass 2 is layered.
    *((1.80, foot(LAYER)), (2.32, on(40)), (2.45, off(40)), (2.80, foot(LAYER))),
    *((4.15, foot(UNDO)), (5.30, foot(KEEP)), (5.70, foot(STOP))),
]
#: What sounds of it, in seconds from the first downbeat: 28 on the second quarter, 35 on the third;
#: 31 is pass 1's downbeat and pass 0 has none of its own, so the layer gives it from the pass after
#: the player's own stroke on. In pass 3 the overdub, until the undo.
SOUNDING = [
    *((1.5, 35), (2.0, 31), (2.25, 28), (2.5, 35)),
    *((3.0, 31), (3.25, 28), (3.3125, 40), (3.5, 35)),
    *((4.0, 31), (4.25, 28), (4.5, 35), (5.0, 31), (5.25, 28), (5.5, 35)),
]


def played(bench: Bench) -> list[MidiRecord]:
    """What was played, as the journal has it."""
    journal = read_journal(bench.journal())
    assert journal.complete
    return [record for record in journal.records if isinstance(record, MidiRecord)]


def played_in_time(bench: Bench) -> tuple[Bench, Sender, Receiver]:
    """A session in which the steps above were played, each within 10 ms of its moment, and reached
    the engine within 50 ms, all of them; it has ended. Where the machine held one up, or JACK lost
    one (up to two of 1,410 in ``bench_live``, with any version), another session is begun.
    """
    for number in range(12):
        one = bench.another(f"session {number}")
        process = jam(one, "--in", "virtual")
        sender, receiver = one.sender("player", "loopdeck in"), one.receiver()
        base = sender.play(STEPS)
        sender.finish()
        wait_for(lambda one=one: "Stopped" in one.text("jam"), "the stop")
        everything_ended(receiver)
        process.send_signal(signal.SIGTERM)
        assert process.wait(PATIENCE_SEC) == 0
        one.close()
        heard = played(one)
        if [there.data for there in heard] != [data for _, data in STEPS]:
            continue
        late = [
            (there.stamp_sec - base - sec, there.arrived_sec - base - sec)
            for there, (sec, _) in zip(heard, STEPS, strict=True)
        ]
        if all(abs(stamp) < 0.01 and arrived < 0.05 for stamp, arrived in late):
            return one, sender, receiver
    pytest.fail("in none of twelve sessions all that was sent was in the journal, and in time")


def test_play_loop_layer_keep_export(bench: Bench) -> None:
    one, sender, receiver = played_in_time(bench)
    # The journal's times are the sender's, to 5 ms.
    apart = [abs(there.stamp_sec - here) for there, (here, _) in zip(played(one), sender.sent(), strict=True)]
    assert statistics.median(apart) < 0.005

    sounded = layer_ons(receiver)
    start = statistics.median(sec - number * PASS_SEC for number, sec in enumerate(downbeats(receiver)))
    assert [pitch for _, pitch in sounded] == [pitch for _, pitch in SOUNDING]
    # A crowded machine may hold one of them back, or the downbeat; how late what leaves is at worst
    # is measured in bench_live.
    late = [sec - start - place for (sec, _), (place, _) in zip(sounded, SOUNDING, strict=True)]
    assert statistics.median(map(abs, late)) < 0.005, late

    take = mido.MidiFile(exported(one))
    assert take.type == 1 and take.ticks_per_beat == 960
    pitches = [
        message.note for track in take.tracks for message in track if message.type == "note_on" and message.velocity
    ]
    assert pitches.count(40) == 1 and pitches.count(28) >= 2


def exported(bench: Bench) -> Path:
    """The newest take of the shelf as a Standard MIDI File."""
    path = bench.folder / "take.mid"
    bench.loopdeck("takes", "export", "1", "-o", str(path), "--shelf", str(bench.shelf))
    return path


def test_sender_unplugged_and_back(bench: Bench) -> None:
    first = bench.sender("basso", None)
    process = jam(bench, "--in", "basso")
    receiver = bench.receiver()
    wait_for(lambda: "connected" in bench.text("jam"), "the first connection")
    first.play([(0.0, foot(START)), (0.3, on(40))])
    first.finish()
    first.process.kill()  # the cable goes while a note is held
    wait_for(lambda: "basso" in bench.text("jam") and "look" in bench.text("jam"), "saying that the input is gone")
    count = len(downbeats(receiver))
    wait_for(lambda: len(downbeats(receiver)) >= count + 2, "the click going on meanwhile")
    said = bench.text("jam").count("connected")
    second = bench.sender("basso", None)
    wait_for(lambda: bench.text("jam").count("connected") > said, "the reconnection")
    second.play([(0.0, on(43)), (0.1, off(43))])
    second.finish()
    # The pass it was played in is over when the foot comes down.
    count = len(downbeats(receiver))
    wait_for(lambda: len(downbeats(receiver)) >= count + 2, "the next pass")
    second.play([(0.0, foot(LOOP_THAT))])
    wait_for(lambda: 43 in [pitch for _, pitch in layer_ons(receiver)], "the loop of what was played after it")
    process.send_signal(signal.SIGINT)
    assert process.wait(PATIENCE_SEC) == 0
    everything_ended(receiver)


def engine_pids(bench: Bench, parent: int) -> list[int]:
    """The engines among the children of the supervising process: those that play, or are about to,
    and no spare one.
    """
    listed = subprocess.run(
        ["ps", "-o", "pid=,comm=", "--ppid", str(parent)], capture_output=True, text=True, check=False
    )
    return [int(pid) for pid, name in map(str.split, listed.stdout.splitlines()) if name == PROCESS_NAME]


def journal_so_far(bench: Bench) -> list[bytes]:
    """What was played, as far as it is in the journal."""
    journal = read_journal(bench.journal())
    return [record.data for record in journal.records if isinstance(record, MidiRecord)]


def test_engine_killed_and_brought_back(bench: Bench) -> None:
    process = jam(bench, "--in", "virtual")
    sender = bench.sender("player", "loopdeck in")
    receiver = bench.receiver()
    notes = [(0.25, on(28)), (0.5, off(28))]
    sender.play([(0.0, foot(START)), *notes, (1.3, foot(LOOP_THAT))])
    sender.finish()
    wait_for(lambda: len(layer_ons(receiver)) >= 2, "the loop")
    sender.play([(0.0, on(33)), (0.05, off(33))])
    wait_for(lambda: off(33) in journal_so_far(bench), "the journal")
    (engine,) = engine_pids(bench, process.pid)
    os.kill(engine, signal.SIGKILL)
    wait_for(lambda: receiver.log.read_text().count("connected") >= 2, "the engine's return")
    wait_for(
        lambda: "b178" in receiver.log.read_text().rsplit("connected", 1)[1],
        "all sound off on the first layer's channel",
    )
    wait_for(lambda: "The engine is back" in bench.text("jam"), "saying so")
    (back,) = engine_pids(bench, process.pid)
    assert back != engine
    # The layer is still there: it sounds again after a start.
    heard = len(layer_ons(receiver))
    again = bench.sender("second", "loopdeck in")
    again.play([(0.0, foot(START))])
    wait_for(lambda: 28 in [pitch for _, pitch in layer_ons(receiver)[heard:]], "the layer")
    again.play([(0.0, foot(STOP))])
    again.finish()
    process.send_signal(signal.SIGTERM)
    assert process.wait(PATIENCE_SEC) == 0
    data = journal_so_far(bench)
    assert on(33) in data and off(33) in data, "what was played before the kill is lost"


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_silences_and_loses_nothing(bench: Bench, how: signal.Signals) -> None:
    process = jam(bench, "--in", "virtual")
    sender = bench.sender("player", "loopdeck in")
    receiver = bench.receiver()
    sender.play([(0.0, foot(START)), (0.1, on(30)), (0.9, off(30)), (1.2, foot(LOOP_THAT))])
    sender.finish()
    wait_for(lambda: 30 in [pitch for _, pitch in layer_ons(receiver)], "the loop")
    process.send_signal(how)
    assert process.wait(PATIENCE_SEC) == 0
    everything_ended(receiver)
    assert read_journal(bench.journal()).complete


def test_unknown_port_is_one_sentence(bench: Bench) -> None:
    done = bench.loopdeck("jam", "--headless", "--api", "jack", "--in", "no such port", check=False)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1 and "no such port" in done.stderr


def test_ports_lists_them(bench: Bench) -> None:
    bench.sender("basso", None)
    assert "basso" in bench.loopdeck("ports", "--api", "jack").stdout
