"""How fast the page is: text tab of five minutes, MusicXML of an hour, a booklet of 50 riffs.

Usage: ``python -m tests.bench page [--json] [--no-booklet]``. The music is eighths of a scale at 96
without a repeat, from a file to the written page; the best of three runs counts.
"""

import argparse
import contextlib
import io
import json
import random
import tempfile
import time
from pathlib import Path

import mido

from loopdeck.cli.main import main

RIFFS = sorted((Path(__file__).parents[2] / "docs" / "riffs").glob("*.txt"))
_PITCHES = (28, 31, 33, 35, 38, 40, 43)


def make_file(path: Path, seconds: int) -> None:
    """So many seconds of eighths at 96 quarters a minute."""
    chance = random.Random(7)
    file, track = mido.MidiFile(ticks_per_beat=480), mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(96)))
    track.append(mido.MetaMessage("time_signature", numerator=4, denominator=4))
    for _ in range(int(seconds * 96 / 60 * 2)):
        pitch = chance.choice(_PITCHES)
        track.append(mido.Message("note_on", note=pitch, velocity=90))
        track.append(mido.Message("note_off", note=pitch, time=240))
    file.save(str(path))


def took(*arguments: str, times: int = 3) -> tuple[float, float]:
    """The best times of a command, in seconds: by the clock, and of the processor (ours alone)."""
    clock = processor = float("inf")
    for _ in range(times):
        began, used = time.perf_counter(), time.process_time()
        with contextlib.redirect_stdout(io.StringIO()):
            assert main(list(arguments)) == 0
        clock = min(clock, time.perf_counter() - began)
        processor = min(processor, time.process_time() - used)
    return round(clock, 3), round(processor, 3)


def figures(booklet: bool) -> dict[str, tuple[float, float]]:
    """All figures: seconds by the clock, and of the processor."""
    with tempfile.TemporaryDirectory() as folder:
        five, hour = Path(folder) / "five.mid", Path(folder) / "hour.mid"
        make_file(five, 300)
        make_file(hour, 3600)
        found = {
            "tab_5_minutes_sec": took("tab", str(five)),
            "musicxml_hour_sec": took("sheet", str(hour), "-o", str(Path(folder) / "hour.musicxml")),
        }
        if booklet:
            takes = [str(riff) for riff in (RIFFS * 4)[:50]]
            output = str(Path(folder) / "booklet.pdf")
            found["booklet_50_riffs_sec"] = took("sheet", *takes, "--booklet", "Fifty", "-o", output, times=1)
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--no-booklet", action="store_true")
    asked = parser.parse_args()
    rows = figures(not asked.no_booklet)
    print(
        json.dumps(rows)
        if asked.json
        else "\n".join(
            f"{name}: {clock:.2f} by the clock, {used:.2f} of the processor" for name, (clock, used) in rows.items()
        )
    )
