"""How exact live playing is, with everything running: JACK, an independent sender, the engine, and
the window drawing at 60 frames a second.

    python -m tests.bench live [--seconds 60] [--hours 8] [--no-listener] [--json]

8 layers of 64 notes sound. Measured: how late what is sent leaves (against a bare sleep-until loop
alone in a process, in the same run); how far input timestamps lie from the sender's own clock once
the constant part is gone; the time a frame takes; the time from the command to the first frame
(against a bare pygame window); memory after a simulated session of 8 hours against after 10
minutes. Needs jackd and Xvfb.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import MidiRecord, read_journal
from loopdeck.process.options import MidiOptions, Options
from loopdeck.protocol.address import new_address
from tests.live.jack_server import jack_server

AIMS = {
    "late_p99_ratio": 1.25,
    "late_p999_ms": 2.0,
    "stamp_error_p99_ms": 1.0,
    "clock_interval_error_p99_ms": 1.0,
    "frame_p95_ms": 8.0,
    "first_frame_ratio": 2.0,
    "memory_growth_mb": 50.0,
}
LAYERS, NOTES, PASS_SEC = 8, 64, 4.0
PARTS = (sys.executable, "-m", "tests.bench.live_parts")


def run(seconds: float, hours: float, listens: bool = True) -> dict[str, Any]:
    """Everything, one after the other."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        display = start_xvfb()
        try:
            with jack_server() as jack:
                env = {
                    **jack,
                    "DISPLAY": display[1],
                    "SDL_VIDEODRIVER": "x11",
                    "SDL_RENDER_DRIVER": "software",
                    "XDG_DATA_HOME": name,
                }
                figures = {**first_frames(folder, env), **play(folder, env, seconds, listens)}
        finally:
            display[0].terminate()
            display[0].wait()
        if hours:
            figures |= memory(folder, env, hours)
        return figures


def start_xvfb() -> tuple[subprocess.Popen[bytes], str]:
    """A screen without a screen."""
    number = 90 + os.getpid() % 400
    process = subprocess.Popen(
        ["Xvfb", f":{number}", "-screen", "0", "1280x720x24"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    time.sleep(1.0)
    return process, f":{number}"


def part(env: dict[str, str], *words: str, wait: bool = True) -> subprocess.Popen[bytes]:
    """One of the measured processes."""
    process = subprocess.Popen([*PARTS, *words], env=env, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
    if wait and process.wait():
        raise SystemExit(f"{words[0]} failed")
    return process


def first_frames(folder: Path, env: dict[str, str]) -> dict[str, Any]:
    """Command to first frame, five times each in turn; the medians. Both find their modules
    compiled, as an installed program does: by one run of each beforehand.
    """
    compiled = {key: value for key, value in env.items() if key != "PYTHONDONTWRITEBYTECODE"}
    compiled["PYTHONPYCACHEPREFIX"] = str(folder / "compiled")
    times: dict[str, list[float]] = {"first-frame": [], "bare-window": []}
    for turn in range(6):
        for role, taken in times.items():
            path = folder / f"{role}-{turn}.json"
            words = (
                ("--api", "jack", "--shelf", str(folder / "s"), "--journal", str(folder / "j0"))
                if role == "first-frame"
                else ()
            )
            begun = time.perf_counter()
            part(compiled, role, str(path), *words)
            taken.append(json.loads(path.read_text()) - begun)
    ours, bare = (float(np.median(times[role][1:])) for role in times)
    return {"first_frame_sec": ours, "bare_window_sec": bare, "first_frame_ratio": ours / bare}


def play(folder: Path, env: dict[str, str], seconds: float, listens: bool) -> dict[str, Any]:
    """The session: 8 passes layered, then ``seconds`` of all of them with the player going on."""
    bare = folder / "bare.json"
    part(env, "bare-sleep", str(bare), "20", "0.005")
    bare_ms = np.array(json.loads(bare.read_text())) * 1e3

    brief = Brief.default().replace(tempo="240", cycle="4/4 4/4 4/4 4/4", scale="E dorian", count_in=0)
    (folder / "feet.toml").write_text(
        "".join(
            f'[[control]]\non = "control change"\nchannel = 16\nnumber = {number}\ncommand = "{command}"\n'
            for number, command in ((20, "layer-on"), (21, "layer-off"))
        )
    )
    options = Options(
        address=new_address(),
        journal=str(folder / "live.journal"),
        shelf=str(folder / "shelf.sqlite"),
        brief=brief.to_dict(),
        midi=MidiOptions(
            api="jack",
            ins=("virtual",),
            outs=("virtual",),
            controls=str(folder / "feet.toml"),
            send_clock=True,
        ),
    )
    engine = part(
        options.environment() | env, "engine", str(folder / "engine.json"), "yes" if listens else "no", wait=False
    )
    time.sleep(2.0)
    window = part(env, "window", str(folder / "window.json"), options.address, wait=False)
    time.sleep(2.0)
    total = LAYERS * PASS_SEC + seconds
    script = folder / "script.json"
    log = folder / "sent.log"
    sender = subprocess.Popen(
        [sys.executable, "-m", "tests.live.sender", "--name", "bench", "--to", "loopdeck in", "--script", str(script), "--log", str(log)],
        env=env, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    time.sleep(2.0)
    steps = [[0.0, "bf147f"], [LAYERS * PASS_SEC - 0.3, "bf157f"]]
    for index in range(int(total / PASS_SEC)):
        for note in range(NOTES):
            sec = index * PASS_SEC + note * PASS_SEC / NOTES + 0.013
            pitch = 28 + (index * 7 + note) % 40
            steps += [[sec, bytes((0x90, pitch, 90)).hex()], [sec + 0.04, bytes((0x80, pitch, 0)).hex()]]
    base = time.perf_counter() + 1.0
    script.with_suffix(".tmp").write_text(json.dumps({"base": base, "steps": sorted(steps)}))
    script.with_suffix(".tmp").rename(script)
    time.sleep(total + 2.0)
    script.with_suffix(".tmp").write_text(json.dumps({"quit": True}))
    script.with_suffix(".tmp").rename(script)
    sender.wait(10)
    (folder / "window.stop").touch()
    window.wait(10)
    engine.wait(15)

    told = json.loads((folder / "engine.json").read_text())
    full = np.array(told["when"]) > base + LAYERS * PASS_SEC
    late_ms = np.array(told["late"])[full] * 1e3
    ticks = np.array(told["ticks"])
    intervals_ms = np.diff(ticks[ticks > base + LAYERS * PASS_SEC]) * 1e3
    frames = np.array(json.loads((folder / "window.json").read_text()))
    frame_ms = frames[frames[:, 0] > base + LAYERS * PASS_SEC, 1] * 1e3
    rate = len(frame_ms) / max(float(np.ptp(frames[frames[:, 0] > base + LAYERS * PASS_SEC, 0])), 1e-9)
    sent = [line.split() for line in log.read_text().splitlines() if " " in line]
    records = [record for record in read_journal(folder / "live.journal").records if isinstance(record, MidiRecord)]
    gave, got = [bytes.fromhex(data) for _, data in sent], [record.data for record in records]
    assert got == gave, f"events were lost: {len(gave)} sent, {len(got)} in the journal"
    error_ms = (np.array([record.stamp_sec for record in records]) - np.array([float(sec) for sec, _ in sent])) * 1e3
    raw_ms = (np.array([record.arrived_sec for record in records]) - np.array([float(sec) for sec, _ in sent])) * 1e3
    return {
        "messages_sent": len(late_ms),
        "bare_p99_ms": quantile(bare_ms, 99),
        "bare_p999_ms": quantile(bare_ms, 99.9),
        "late_p50_ms": quantile(late_ms, 50),
        "late_p99_ms": quantile(late_ms, 99),
        "late_p999_ms": quantile(late_ms, 99.9),
        "late_p99_ratio": quantile(late_ms, 99) / quantile(bare_ms, 99),
        "clock_intervals": len(intervals_ms),
        "clock_interval_error_p99_ms": quantile(np.abs(intervals_ms - 60e3 / 240 / 24), 99),
        "events_received": len(error_ms),
        "stamp_constant_ms": quantile(error_ms, 50),
        "stamp_error_p99_ms": quantile(np.abs(error_ms - np.median(error_ms)), 99),
        "arrival_error_p99_ms": quantile(np.abs(raw_ms - np.median(raw_ms)), 99),
        "frames": len(frame_ms),
        "frames_per_sec": rate,
        "frame_p95_ms": quantile(frame_ms, 95),
    }


def quantile(values: Any, share: float) -> float:
    """A percentile as a plain number."""
    return float(np.percentile(values, share))


def memory(folder: Path, env: dict[str, str], hours: float) -> dict[str, Any]:
    """Resident memory of a long session on a simulated clock."""
    path = folder / "memory.json"
    part(env, "long-session", str(path), str(hours))
    told = json.loads(path.read_text())
    growth = told["at_the_end_mb"] - told["after_10_min_mb"]
    return {"memory_hours": hours, "memory_after_10_min_mb": told["after_10_min_mb"], "memory_growth_mb": growth}


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0, help="how long all layers sound")
    parser.add_argument("--hours", type=float, default=8.0, help="length of the simulated session (0 leaves it out)")
    parser.add_argument(
        "--no-listener", action="store_true", help="without the process that listens for what comes back"
    )
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    figures = run(args.seconds, args.hours, not args.no_listener)
    if args.json:
        print(json.dumps(figures))
        return
    for name, value in figures.items():
        aim = AIMS.get(name)
        print(f"{name:26} {value:10.3f}" + (f"   aim <= {aim:g}{'' if value <= aim else '   MISSED'}" if aim else ""))


if __name__ == "__main__":
    main()
