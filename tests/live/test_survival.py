"""Whatever dies, the other half says so and brings it back, what sounded is silenced, and nothing
played is lost.
"""

import contextlib
import json
import os
import signal
import subprocess
import time
from pathlib import Path

from loopdeck.capture.journal import MidiRecord, read_journal
from tests.live.conftest import Bench, wait_for
from tests.live.test_session import LAYER, LOOP_THAT, START, downbeats, engine_pids, foot, jam, off, on


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
    process.kill()
    process.wait()
    mark = str(bench.journals)
    back: list[int] = []
    try:
        back = wait_for(lambda: processes("jam --rejoin", mark), 10.0, "the return of the watching process")
        assert "gone without a word" in bench.text("jam")
        time.sleep(0.5)
        # The engine lives, silent, and goes on when asked to, by way of the process that was
        # brought back.
        assert Path(f"/proc/{engine}").exists()
        count = len(downbeats(receiver))
        time.sleep(1.2)
        assert len(downbeats(receiver)) == count
        os.kill(back[0], signal.SIGUSR1)
        wait_for(lambda: len(downbeats(receiver)) > count, 5.0, "the click after a start")
        os.kill(back[0], signal.SIGTERM)
        wait_for(lambda: read_journal(next(bench.journals.iterdir())).complete, 10.0, "the end in order")
        wait_for(lambda: not processes("jam --rejoin", mark), 10.0, "the end of the process")
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
    time.sleep(0.2)
    (engine,) = engine_pids(bench, process.pid)
    process.kill()
    os.kill(engine, signal.SIGKILL)
    process.wait()
    (path,) = bench.journals.iterdir()
    assert not read_journal(path).complete
    played = [record.data for record in read_journal(path).records if isinstance(record, MidiRecord)]
    assert played == [data for _, data in sender.sent()]

    asked = jam(bench, "--in", "virtual", log="asked")
    wait_for(lambda: "ended without warning" in bench.text("asked"), 10.0, "the offer")
    asked.terminate()
    assert asked.wait(10) == 0
    kept = jam(bench, "--in", "virtual", "--recover", "keep", log="kept")
    wait_for(lambda: "on the shelf as take 1" in bench.text("kept"), 15.0, "the keeping")
    kept.terminate()
    assert kept.wait(10) == 0
    assert read_journal(path).complete
    listed = json.loads(bench.loopdeck("takes", "list", "--json", "--shelf", str(bench.shelf)).stdout)
    assert len(listed["takes"] if isinstance(listed, dict) else listed) == 1
    again = jam(bench, "--in", "virtual", log="again")
    wait_for(lambda: "loopdeck out" in bench.text("again"), 10.0, "the start")
    time.sleep(1.0)
    again.terminate()
    again.wait(10)
    assert "without warning" not in bench.text("again")


OWN = "loopdeck-mortal"


def mortal_server(env: dict[str, str]) -> subprocess.Popen[bytes]:
    """A JACK server of this test's own, since it is going to die."""
    server = subprocess.Popen(
        ["jackd", "-n", OWN, "-R", "-d", "dummy", "-r", "48000", "-p", "64"],
        env=env,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    listed = ["jack_lsp", "-s", OWN]
    wait_for(
        lambda: subprocess.run(listed, env=env, capture_output=True, check=False).returncode == 0,
        10.0,
        "the server's start",
    )
    return server


def test_the_midi_server_dies_and_comes_back(bench: Bench) -> None:
    bench.env["JACK_DEFAULT_SERVER"] = OWN
    server = mortal_server(bench.env)
    try:
        process = jam(bench, "--in", "virtual")
        wait_for(lambda: "loopdeck out is" in bench.text("jam"), 10.0, "the ports")
        process.send_signal(signal.SIGUSR1)
        server.kill()
        server.wait()
        wait_for(lambda: bench.text("jam").count("JACK has gone") == 2, 4.0, "saying so")
        process.send_signal(signal.SIGUSR2)
        wait_for(lambda: "Layering" in bench.text("jam"), 2.0, "an answer meanwhile")
        # Five seconds of sixteen messages each: a dead server's buffer is full after some 2,300,
        # and whoever sends to it waits for ever.
        time.sleep(2.0)
        server = mortal_server(bench.env)
        wait_for(lambda: bench.text("jam").count("loopdeck out is") == 2, 10.0, "the ports' return")
        receiver = bench.receiver()
        wait_for(lambda: len(downbeats(receiver)) > 1, 5.0, "the click, heard again")
        process.send_signal(signal.SIGTERM)
        assert process.wait(10) == 0
        assert read_journal(next(bench.journals.iterdir())).complete
    finally:
        server.terminate()
        server.wait(10)
