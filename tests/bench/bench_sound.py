"""How exact the built-in sound is, and what it costs.

    python -m tests.bench sound [--seconds 600] [--hours 1] [--json]

Measured: how many samples the clicks of ``--hours`` lie beside their place (the real engine through
SDL's disk driver); the share of one core that 16 strings take, alone in a process; how often a
PulseAudio server with a null sink runs dry in ``--seconds`` at 128 and at 256 frames, while 8
layers and the player sound and the window draws at 60 frames a second; how far click and grid are
apart on a simulated device that runs 200 ppm fast or slow, with callbacks late by up to a buffer;
how many times faster than it is played ``loopdeck render`` writes a take, as the command says, and
with its start. Needs pulseaudio and Xvfb. Each part can be left out by 0 seconds, hours or minutes.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
import time
import wave
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import MarkRecord, read_journal
from loopdeck.looper.recording import Recording
from loopdeck.looper.transport import Anchor
from loopdeck.process.options import Options, SoundOptions
from loopdeck.protocol.address import new_address
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import Command, KeyPlayed
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take
from loopdeck.synth.events import SoundEvent
from loopdeck.synth.mixer import Mixer
from tests.bench.bench_live import part, start_xvfb
from tests.live.disk_sound import RATE, errors, onsets, play
from tests.live.pulse_server import missing, pulse_server, underruns
from tests.unit.shelf_tools import layer, note_off, note_on
from tests.unit.sound_rig import Rig, play_clicks

AIMS = {
    "click_error_samples": 1.0,
    "underruns_128": 0.0,
    "underruns_256": 0.0,
    "drift_ms_fast": 1.0,
    "drift_ms_slow": 1.0,
}
LEAST = {"render_long_times_real_time": 20.0, "render_short_times_real_time": 20.0}
LAYERS, NOTES, PASS_SEC = 8, 8, 2.0
RENDER_PASS_SEC = 8.0
SETTLED_SEC = 3.0


def clicks(hours: float) -> dict[str, Any]:
    """Every click of so many hours."""
    with tempfile.TemporaryDirectory() as name:
        begun = time.perf_counter()
        off = errors(onsets(play(Path(name), hours * 3600.0)))
        taken = time.perf_counter() - begun
    return {
        "click_hours": hours,
        "clicks": len(off),
        "click_error_samples": int(np.abs(off).max()),
        "click_error_last_samples": int(abs(off[-1])),
        "disk_times_real_time": hours * 3600.0 / taken,
    }


def core(frames: int, voices: int = 16, seconds: float = 20.0) -> dict[str, Any]:
    """The share of one core that so many strings take, each plucked anew every second, and how long
    the slowest buffers take.
    """
    mixer, taken = Mixer(RATE), []
    before = time.process_time()
    for start in range(0, round(seconds * RATE), frames):
        if start % RATE < frames:
            mixer.feed(
                SoundEvent(start, f"layer:{1 + voice % 8}", bytes((0x91 + voice % 8, 28 + voice, 100)))
                for voice in range(voices)
            )
        begun = time.perf_counter()
        mixer.render(start, frames)
        taken.append(time.perf_counter() - begun)
    assert mixer.voices == voices
    return {
        f"core_share_{frames}": (time.process_time() - before) / seconds,
        f"buffer_p999_share_{frames}": float(np.percentile(taken, 99.9)) * RATE / frames,
    }


def drift() -> dict[str, Any]:
    """Click heard against grid, after an hour and the most after settling."""
    figures: dict[str, Any] = {}
    for name, ppm in (("fast", 200.0), ("slow", -200.0)):
        patch = pytest.MonkeyPatch()
        try:
            rig = Rig(patch, 512)
            handed, at, off = play_clicks(rig, ppm, 3600.0, 0.3125)
        finally:
            patch.undo()
        figures[f"drift_ms_{name}"] = float(np.abs(off[at > SETTLED_SEC]).max()) * 1e3
        figures[f"drift_end_ms_{name}"] = float(abs(off[-1])) * 1e3
        wanted = Counter(rig.clock.sample_of(sec) for sec in handed)
        got = [event.sample for event, _ in rig.mixer.fed]
        got += [what.sample for kind, what in rig.sound._renderer._queue if kind == "event"]
        figures[f"clicks_lost_or_doubled_{name}"] = ((wanted - Counter(got)) + (Counter(got) - wanted)).total()
        figures[f"clicks_out_of_order_{name}"] = int((np.diff(got) <= 0).sum())
    return figures


def rendering(minutes: float) -> dict[str, Any]:
    """``loopdeck render`` on a take of so many minutes and on one of a few passes: 8 layers of 64
    notes and a player, with a groove.
    """
    figures: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name:
        shelf, out = Path(name) / "shelf.sqlite", Path(name) / "take.wav"
        for what, passes in (("long", max(round(minutes * 60.0 / RENDER_PASS_SEC), 1)), ("short", 2)):
            with Shelf(shelf) as store:
                number = store.add(big_take(passes))
            words = ["render", str(number), "--shelf", str(shelf), "-o", str(out)]
            begun = time.perf_counter()
            done = subprocess.run(
                [sys.executable, "-m", "loopdeck", *words], check=True, stdout=subprocess.PIPE, text=True
            )
            taken = time.perf_counter() - begun
            own = re.search(r"rendered at ([0-9]+) times", done.stdout)
            assert own is not None
            with wave.open(str(out)) as file:
                seconds = file.getnframes() / file.getframerate()
            figures |= {
                f"render_{what}_seconds": seconds,
                f"render_{what}_times_real_time": float(own[1]),
                f"render_{what}_times_real_time_with_start": seconds / taken,
            }
    return figures


def big_take(passes: int) -> Take:
    """Passes of 4 bars at 120, in each of 8 layers 64 sixteenths, and 64 played ones with every
    pass.
    """
    rng = np.random.default_rng(5)
    layers = tuple(
        layer(number, [(slot * 0.25, 0.22, int(rng.integers(28, 60))) for slot in range(64)])
        for number in range(1, LAYERS + 1)
    )
    step = RENDER_PASS_SEC / 64
    pitches = rng.integers(28, 50, 64 * passes).tolist()
    events = [
        one
        for index, pitch in enumerate(pitches)
        for one in (note_on(index * step, pitch), note_off((index + 0.9) * step, pitch))
    ]
    brief = Brief.default().replace(tempo="120", cycle="4/4 4/4 4/4 4/4", groove="medium", count_in=0)
    return Take(
        name="",
        kept_at="2031-05-06T07:08:09+00:00",
        origin="played",
        recording=Recording(
            brief=brief,
            events=tuple(events),
            layers=layers,
            muted=frozenset(),
            tempo_map=(Anchor(0.0, 0.0, 120.0),),
            passes=passes,
            end_sec=passes * RENDER_PASS_SEC,
        ),
    )


def live(frames: int, seconds: float) -> dict[str, Any]:
    """A session with 8 layers and a player, sound through a real server, and the window."""
    with tempfile.TemporaryDirectory() as name, pulse_server() as (pulse, log):
        folder = Path(name)
        xvfb, display = start_xvfb()
        env = {
            **pulse,
            "DISPLAY": display,
            "SDL_VIDEODRIVER": "x11",
            "SDL_RENDER_DRIVER": "software",
            "XDG_DATA_HOME": name,
        }
        brief = Brief.default().replace(tempo="120", cycle="4/4", scale="E dorian", count_in=0)
        options = Options(
            address=new_address(), journal=str(folder / "live.journal"), shelf=str(folder / "shelf.sqlite"),
            brief=brief.to_dict(), sound=SoundOptions("on", frames),
        )  # fmt: skip
        engine = subprocess.Popen(
            [sys.executable, "-m", "loopdeck.engine"], env=options.environment() | env, stdin=subprocess.DEVNULL
        )
        try:
            link = LinkClient(options.address, role="player", wait_sec=20.0)
            window = part(env, "window", str(folder / "window.json"), options.address, wait=False)
            time.sleep(3.0)
            # What comes before the session is the server's own starting.
            before = underruns(log)
            perform(link, seconds)
            after = underruns(log)
            (folder / "window.stop").touch()
            window.wait(15)
            link.close()
            engine.wait(20)
        finally:
            for process in (engine, xvfb):
                if process.poll() is None:
                    process.terminate()
                    process.wait()
        frame = np.array(json.loads((folder / "window.json").read_text()))
        marks = [one for one in read_journal(folder / "live.journal").records if isinstance(one, MarkRecord)]
        told = next(mark.data for mark in marks if mark.kind == "sound report")
    steady = frame[len(frame) // 10 :]
    return {
        f"live_seconds_{frames}": seconds,
        f"underruns_{frames}": after - before,
        f"late_{frames}": told["late"],
        f"slow_buffers_{frames}": told["slow"],
        f"buffers_{frames}": told["buffers"],
        f"rate_error_ppm_{frames}": told["rate_error"] * 1e6,
        f"frames_per_sec_{frames}": len(steady) / max(float(np.ptp(steady[:, 0])), 1e-9),
    }


def perform(link: LinkClient, seconds: float) -> None:
    """Layer 8 passes, then go on playing for ``seconds``."""
    link.send(Command(name="layer-on"))
    begun, layered, step = time.perf_counter() + 0.1, False, PASS_SEC / NOTES
    index = 0
    while (at := index * step) < LAYERS * PASS_SEC + seconds:
        time.sleep(max(begun + at - time.perf_counter(), 0.0))
        if not layered and at > (LAYERS - 0.5) * PASS_SEC:
            layered = True
            link.send(Command(name="layer-off"))
        pitch = 28 + (index * 7) % 30
        for old, on in (((28 + ((index - 2) * 7) % 30), False), (pitch, True)):
            link.send(KeyPlayed(pitch=old, on=on, velocity=90, played_sec=time.perf_counter(), string=1))
        link.poll()
        index += 1


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=600.0, help="how long it plays at each buffer size")
    parser.add_argument("--hours", type=float, default=1.0, help="of clicks through the disk driver")
    parser.add_argument("--minutes", type=float, default=5.0, help="of a take that is rendered")
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    if args.seconds and missing():
        print(f"loopdeck: this needs {', '.join(missing())}, not installed here.", file=sys.stderr)
        return 2
    figures: dict[str, Any] = {"cores": os.cpu_count(), "load_before": os.getloadavg()[0]}
    for frames in (128, 256):
        figures |= core(frames)
    if args.hours:
        figures |= clicks(args.hours) | drift()
    if args.minutes:
        figures |= rendering(args.minutes)
    if args.seconds:
        for frames in (128, 256):
            figures |= live(frames, args.seconds)
    if args.json:
        print(json.dumps(figures))
        return 0
    for name, value in figures.items():
        most, least = AIMS.get(name), LEAST.get(name)
        aim = f"   aim <= {most:g}" if most is not None else f"   aim >= {least:g}" if least is not None else ""
        missed = (most is not None and value > most) or (least is not None and value < least)
        print(f"{name:42} {value:12.4g}{aim}{'   MISSED' if missed else ''}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
