"""How long a frame takes: the real window under Xvfb, software rendering, 8 layers of 64 notes, 64
notes played a pass, 60 frames a second.

``python -m tests.bench frames [--seconds 10] [--size 1280x720] [--panel tab] [--json]``. Prints
mean, p95 and p99 of the time to draw and show a frame, in milliseconds, and the frames a second;
beside it the processor's time of the same, which other work on the machine hardly touches. The
window's process is measured inside, the engine runs in another one.
"""

import argparse
import json
import os
import subprocess
import sys
import time
from typing import Any

import numpy as np

AIM_P95_MS = 8.0
LAYERS, NOTES = 8, 64
QPM = 120.0
CYCLE = "4/4 4/4"


def child(address: str, seconds: float, width: int, height: int, panel: str) -> None:
    """The window; prints the seconds its frames took, and those of the processor, as JSON."""
    os.environ["PYGAME_HIDE_SUPPORT_PROMPT"] = "1"
    from loopdeck.window import window
    from loopdeck.window.panels import PANELS

    window.window_size = lambda desktop: (width, height)
    one = window.Window(address, fullscreen=False, theme="paper", revive=None)
    one.ui.panel = [each.name for each in PANELS].index(panel)
    begun = time.perf_counter()
    frame, cpu_sec = one._frame, list[float]()

    def timed(now: float) -> None:
        before = time.thread_time()
        frame(now)
        cpu_sec.append(time.thread_time() - before)
        one.ui.quit = time.perf_counter() - begun > seconds

    one._frame = timed  # type: ignore[method-assign]
    one.run()
    sys.stdout.write(json.dumps([one.frame_sec, cpu_sec]))


def engine(address: str, seconds: float) -> None:
    """A scripted engine: a clock that runs, layers that stand, and a player who plays 64 notes a
    pass, some of them wrong.
    """
    from loopdeck.brief.brief import Brief
    from loopdeck.protocol.messages import (
        BriefChanged,
        ClockChanged,
        LayerNote,
        LayerNotes,
        LayerRow,
        LayersChanged,
        Message,
        NoteEnded,
        NoteStarted,
    )
    from loopdeck.protocol.server import LinkServer

    start = time.perf_counter()
    brief = Brief.default().replace(tempo=str(int(QPM)), cycle=CYCLE, scale="E dorian", swing="58%")
    cycle_q = float(brief.cycle.quarters)

    def clock(pass_index: int) -> Any:
        return ClockChanged(
            time_sec=start, state="LAYERING", anchor_sec=start, anchor_q=0.0, qpm=QPM, pass_start_q=pass_index * cycle_q,
            cycle=CYCLE, cycle_q=cycle_q, running=True, pass_index=pass_index,
        )  # fmt: skip

    rows = tuple(
        LayerRow(number=n + 1, muted=n % 3 == 2, sounding=n % 3 != 2, notes=NOTES, channel=n, program=34)
        for n in range(LAYERS)
    )
    outline = tuple(LayerNote(cycle_q * k / NOTES, 0.1, 28 + (k * 7) % 24) for k in range(NOTES))
    welcome: list[Message] = [BriefChanged(fields=brief.to_dict()), clock(0), LayersChanged(layers=rows)]
    welcome += [LayerNotes(number=n + 1, notes=outline) for n in range(LAYERS)]
    server = LinkServer(
        address, lambda c, m: None, lambda c, role: server.welcome(c, welcome), lambda c, role, bye: None
    )
    end = start + seconds
    step = 60 / QPM * cycle_q / NOTES
    count = 0
    while time.perf_counter() < end:
        due = start + count * step
        time.sleep(max(0.0, due - time.perf_counter()))
        pass_index, slot = divmod(count, NOTES)
        if slot == 0:
            server.send(clock(pass_index), LayersChanged(layers=rows))
        at_q = slot * cycle_q / NOTES + 0.02 * (slot % 5 - 2)
        server.send(
            NoteStarted(
                id=count, at_q=at_q, slot=slot, slot_q=slot * cycle_q / NOTES, pitch=28 + (slot * 5) % 20, velocity=90,
                stamp_sec=due, pass_index=pass_index,
            ),
            NoteEnded(id=count, length_q=0.1),
        )  # fmt: skip
        count += 1
    server.close()


def main() -> int:
    """Measure and report."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--size", default="1280x720")
    parser.add_argument("--panel", default="layers", help="the panel that is shown (default: layers)")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--child", default="", help=argparse.SUPPRESS)
    args = parser.parse_args()
    width, height = (int(part) for part in args.size.split("x"))
    if args.child:
        child(args.child, args.seconds, width, height, args.panel)
        return 0
    from loopdeck.protocol.address import forget_address, new_address
    from tests.window.screen import Screen, missing

    if missing():
        print(f"loopdeck: this needs {', '.join(missing())}, which are not installed.", file=sys.stderr)
        return 2
    screen = Screen()
    address = new_address()
    pid = os.fork()
    if pid == 0:
        engine(address, args.seconds + 6)
        os._exit(0)
    try:
        time.sleep(0.5)
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.bench_frames", "--child", address, "--seconds", str(args.seconds), "--size", args.size,
             "--panel", args.panel],
            env=screen.env | {"SDL_VIDEODRIVER": "x11", "SDL_RENDER_DRIVER": "software"},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
    finally:
        os.kill(pid, 15)
        os.waitpid(pid, 0)
        screen.close()
        forget_address(address)
    # The first second fills the caches and is shown apart.
    frames, cpu = (np.array(times) * 1000 for times in json.loads(done.stdout))
    steady = frames[60:]
    result = {
        "size": args.size,
        "panel": args.panel,
        "layers": LAYERS,
        "notes_per_layer": NOTES,
        "frames_per_second": round(len(frames) / args.seconds, 1),
        "frame_mean_ms": round(float(steady.mean()), 2),
        "frame_p95_ms": round(float(np.percentile(steady, 95)), 2),
        "frame_p99_ms": round(float(np.percentile(steady, 99)), 2),
        "frame_max_ms": round(float(steady.max()), 2),
        "frame_cpu_mean_ms": round(float(cpu[60:].mean()), 2),
        "frame_cpu_p95_ms": round(float(np.percentile(cpu[60:], 95)), 2),
        "first_frame_ms": round(float(frames[0]), 2),
        "aim_p95_ms": AIM_P95_MS,
    }
    if args.json:
        print(json.dumps(result))
    else:
        for name, value in result.items():
            print(f"{name:20} {value}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
