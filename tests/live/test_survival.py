"""Whatever dies, the other half says so and brings it back, what sounded is silenced, and nothing
played is lost.
"""

import contextlib
import json
import os
import signal
import time
from pathlib import Path

from loopdeck.capture.journal import MidiRecord, read_journal
from tests.live.conftest import Bench, wait_for
from tests.live.jack_server import start_jackd
from tests.live.test_session import (
    LAYER,
    LOOP_THAT,
    START,
    downbeats,
    engine_pids,
    foot,
    jam,
    journal_so_far,
    off,
    on,
    silent,
)
from tests.waiting import PATIENCE_SEC, end_server


def processes(words: str, mark: str) -> list[int]:
    """Running processes with these words in their command line and a mark in their environment."""
    found = []
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            with contextlib.suppress(OSError):
                line = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
                if words in line and mark in (folder / "environ").read_bytes().decode(errors="replace"):
                    found.append(int(folder.name))
    return found


def test_the_watching_process_killed_and_brought_back(bench: Bench) -> None:
    process = jam(bench, "--in", "virtual")
    sender = bench.sender("player", "loopdeck in")
    receiver = bench.receiver()
    sender.play([(0.0, foot(START)), (0.25, on(28)), (0.5, off(28)), (1.2, foot(LOOP_THAT))])
    sender.finish()
    (engine,) = engine_pids(bench, process.pid)
    wait_for(lambda: downbeats(receiver), "the click")
    before = len(receiver.heard())
    process.kill()
    process.wait()
    mark = str(bench.journals)
    back: list[int] = []
    try:
        back = wait_for(lambda: processes("jam --rejoin", mark), "the return of the watching process")
        wait_for(lambda: "gone without a word" in bench.text("jam"), "saying so")
        wait_for(lambda: silent(receiver.heard()[before:]), "silence")
        # The engine lives, silent, and goes on when asked to, by way of the process that was
        # brought back.
        assert Path(f"/proc/{engine}").exists()
        count = len(downbeats(receiver))
        time.sleep(1.2)
        assert len(downbeats(receiver)) == count
        os.kill(back[0], signal.SIGUSR1)
        wait_for(lambda: len(downbeats(receiver)) > count, "the click after a start")
        os.kill(back[0], signal.SIGTERM)
        wait_for(lambda: read_journal(bench.journal()).complete, "the end in order")
        wait_for(lambda: not processes("jam --rejoin", mark), "the end of the process")
    finally:
        for pid in {*back, engine}:
            with contextlib.suppress(OSError):
                os.kill(pid, signal.SIGKILL)
    assert bench.text("jam").count("gone without a word") == 1


def test_both_halves_killed_and_the_next_start_keeps_the_session(bench: Bench) -> None:
    process = jam(bench, "--in", "virtual")
    sender = bench.sender("player", "loopdeck in")
    sender.play(
        [(0.0, foot(START)), (0.25, on(28)), (0.5, off(28)), (1.25, on(31)), (1.3, foot(LAYER)), (1.5, off(31))]
    )
    sender.finish()
    wait_for(lambda: journal_so_far(bench) == [data for _, data in sender.sent()], "the journal")
    (engine,) = engine_pids(bench, process.pid)
    # At once, as when the power goes: neither may find the other gone.
    os.kill(engine, signal.SIGSTOP)
    process.kill()
    process.wait()
    os.kill(engine, signal.SIGKILL)
    path = bench.journal()
    assert not read_journal(path).complete
    played = [record.data for record in read_journal(path).records if isinstance(record, MidiRecord)]
    assert played == [data for _, data in sender.sent()]

    asked = jam(bench, "--in", "virtual", log="asked")
    wait_for(lambda: "ended without warning" in bench.text("asked"), "the offer")
    asked.terminate()
    assert asked.wait(PATIENCE_SEC) == 0
    kept = jam(bench, "--in", "virtual", "--recover", "keep", log="kept")
    wait_for(lambda: "on the shelf as take 1" in bench.text("kept"), "the keeping")
    kept.terminate()
    assert kept.wait(PATIENCE_SEC) == 0
    assert read_journal(path).complete
    listed = json.loads(bench.loopdeck("takes", "list", "--json", "--shelf", str(bench.shelf)).stdout)
    assert len(listed["takes"] if isinstance(listed, dict) else listed) == 1
    again = jam(bench, "--in", "virtual", log="again")
    wait_for(lambda: "loopdeck out" in bench.text("again"), "the start")
    time.sleep(1.0)
    again.terminate()
    again.wait(PATIENCE_SEC)
    assert "without warning" not in bench.text("again")


#: A JACK server of the last test's own, since it is going to die.
OWN = ("loopdeck-mortal", "loopdeck-mortal-2", "loopdeck-mortal-3")


def test_the_midi_server_dies_and_comes_back(bench: Bench) -> None:
    server, env = start_jackd(*OWN)
    name = bench.env["JACK_DEFAULT_SERVER"] = env["JACK_DEFAULT_SERVER"]
    try:
        process = jam(bench, "--in", "virtual")
        process.send_signal(signal.SIGUSR1)
        server.kill()
        server.wait()
        wait_for(lambda: bench.text("jam").count("JACK has gone") == 2, "saying so")
        process.send_signal(signal.SIGUSR2)
        wait_for(lambda: "Layering" in bench.text("jam"), "an answer meanwhile")
        # Time runs on meanwhile.
        time.sleep(2.0)
        server, _ = start_jackd(name)
        wait_for(lambda: bench.text("jam").count("loopdeck out is open") >= 2, "the ports' return")
        receiver = bench.receiver()
        wait_for(lambda: len(downbeats(receiver)) > 1, "the click, heard again")
        process.send_signal(signal.SIGTERM)
        assert process.wait(PATIENCE_SEC) == 0
        assert read_journal(bench.journal()).complete
    finally:
        end_server(server)
