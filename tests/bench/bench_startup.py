"""What starting up costs: ``python -m tests.bench startup [--json] [--runs N]``.

``loopdeck jam``, from the command to the first frame of the window, against a bare pygame window of
the same size, on SDL's dummy screen: the median of each, run in turn, and their ratio. Aim: at most
2.

``loopdeck check`` on a small file, from start to exit, against a bare interpreter that imports
numpy and mido: the median of each, run in turn so that a busy machine slows both, and their ratio.
Aim: at most 1.5. Both find their modules compiled, as those of an installed program are: the
compiled ones lie in a folder of their own, filled by one run of each beforehand.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import mido

ROOT = Path(__file__).resolve().parents[2]
RUNS = 15
AIM, WINDOW_AIM = 1.5, 2.0


def seconds(command: list[str], compiled: str) -> float:
    """How long a process takes, from its start to its end.

    ``compiled``: the folder of compiled modules.
    """
    env = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = compiled
    begun = time.perf_counter()
    subprocess.run(command, cwd=ROOT, env=env, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - begun


def small_file(path: Path) -> None:
    """Eight bars of eighths."""
    track = mido.MidiTrack()
    for index in range(64):
        track.append(mido.Message("note_on", note=40 + (index * 5) % 13, velocity=90))
        track.append(mido.Message("note_off", note=40 + (index * 5) % 13, time=240))
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(path)


#: Tells when a frame has been shown: by the clock that all processes of a machine share, on
#: standard error.
_BARE = """
import time, sys, pygame
pygame.display.init(); pygame.font.init()
screen = pygame.display.set_mode((1280, 720))
screen.fill((244, 239, 227)); pygame.display.update()
print("frame", time.perf_counter(), file=sys.stderr)
"""
_JAM = """
import importlib.util, sys, time

class Watch:
    def find_spec(self, name, path=None, target=None):
        if name != "loopdeck.window.window":
            return None
        sys.meta_path.remove(self)
        spec = importlib.util.find_spec(name)
        load = spec.loader.exec_module
        def exec_module(module):
            load(module)
            frame = module.Window._frame
            def first(window, now):
                frame(window, now)
                print("frame", time.perf_counter(), file=sys.stderr)
                module.Window._frame = frame
                window.ui.quit = True
            module.Window._frame = first
        spec.loader.exec_module = exec_module
        return spec

sys.meta_path.insert(0, Watch())
from loopdeck.cli.main import main
sys.exit(main(["jam"]))
"""


def first_frame_sec(code: str, compiled: str, home: str) -> float:
    """From the start of a process to its first frame."""
    env = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    env |= {
        "PYTHONPYCACHEPREFIX": compiled, "SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy", "HOME": home,
        "XDG_DATA_HOME": f"{home}/data", "XDG_RUNTIME_DIR": home, "PYTHONPATH": str(ROOT),
    }  # fmt: skip
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=env, capture_output=True, text=True, check=True, timeout=60
    )
    shown = next(line.split()[1] for line in done.stderr.splitlines() if line.startswith("frame "))
    return float(shown) - begun


def measure_window(runs: int) -> dict[str, float]:
    """Medians in seconds from command to first frame, and their ratio."""
    with tempfile.TemporaryDirectory() as folder:
        for code in (_JAM, _BARE):
            first_frame_sec(code, folder, folder)
        pairs = [(first_frame_sec(_JAM, folder, folder), first_frame_sec(_BARE, folder, folder)) for _ in range(runs)]
    jam_sec, bare_sec = (statistics.median(column) for column in zip(*pairs, strict=True))
    return {
        "jam_first_frame_sec": jam_sec,
        "pygame_first_frame_sec": bare_sec,
        "window_ratio": jam_sec / bare_sec,
        "window_aim": WINDOW_AIM,
        "window_met": jam_sec / bare_sec <= WINDOW_AIM,
    }


def measure(runs: int) -> dict[str, float]:
    """Medians in seconds, and the ratio of the first to the second; ``met`` says whether that is
    within the aim.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "small.mid"
        small_file(path)
        check = [sys.executable, "-m", "loopdeck", "check", str(path), "--scale", "E dorian"]
        bare = [sys.executable, "-c", "import numpy, mido"]
        seconds(check, folder)
        seconds(bare, folder)
        pairs = [(seconds(check, folder), seconds(bare, folder)) for _ in range(runs)]
    check_sec, bare_sec = (statistics.median(column) for column in zip(*pairs, strict=True))
    ratio = check_sec / bare_sec
    return {
        "check_sec": check_sec,
        "bare_sec": bare_sec,
        "ratio": ratio,
        "aim": AIM,
        "met": ratio <= AIM,
        "runs": runs,
    }


def main() -> int:
    """Measure and print, whether or not the aim is met."""
    parser = argparse.ArgumentParser(description="What loopdeck check costs to start.")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    parser.add_argument("--runs", type=int, default=RUNS, metavar="N", help=f"pairs of runs (default {RUNS})")
    args = parser.parse_args()
    runs = max(args.runs, 1)
    found = measure(runs) | measure_window(runs)
    if args.json:
        print(json.dumps(found))
    else:
        print(f"loopdeck check   {found['check_sec']:.3f} s")
        print(f"numpy and mido   {found['bare_sec']:.3f} s")
        print(f"ratio            {found['ratio']:.2f}    (aim: at most {AIM}, {'met' if found['met'] else 'MISSED'})")
        print(f"loopdeck jam     {found['jam_first_frame_sec']:.3f} s to the first frame")
        print(f"bare pygame      {found['pygame_first_frame_sec']:.3f} s to the first frame")
        met = "met" if found["window_met"] else "MISSED"
        print(f"ratio            {found['window_ratio']:.2f}    (aim: at most {WINDOW_AIM:g}, {met})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
