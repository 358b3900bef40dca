"""What understanding a take costs: ``python -m tests.bench analysis [--quick] [--json]``.

- Each report of a take of 5 minutes (a take with planted riffs, ``riff_grammar``), as the command
gives it with ``--json``, from the file to
  the printed line, imports aside: the best of three; aim: under 0.3 s each.
- A million notes quantized on a fixed grid (aim: under 0.5 s), and notes a second with the grid
found (aim: 20,000).
- What repeats in an hour (aim: under 3 s) and in ten hours (time and peak memory of the process).
- After every pass, with ten minutes remembered: the median and the 95th percentile (aim: under 20
ms).
- Ratios to music21 on the same notes in the same run (ours over theirs; below 1 is faster):
``stream.quantize``, and the key by its
  Krumhansl-Schmuckler analysis against our ranked scales.
"""

import argparse
import contextlib
import io
import json
import resource
import sys
import tempfile
import time
import warnings
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import mido
import numpy as np

from loopdeck.analysis.comparison.comparing import compare
from loopdeck.analysis.live_passes import EARLY_Q, LivePasses, PassNotes
from loopdeck.analysis.repeats.live import REMEMBERED_SEC, Recurrences
from loopdeck.analysis.repeats.riffs import find_riffs
from loopdeck.analysis.repeats.text import text_of
from loopdeck.analysis.scale_finder import playing_of, rank
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.analysis.transcription.placing import transcribe_notes
from loopdeck.brief.brief import Brief
from loopdeck.cli.main import main as loopdeck
from loopdeck.rhythm.meter import parse_cycle
from tests.bench.bench_offline import against_music21, best_of, million
from tests.bench.riff_grammar import PlantedTake, planted

AIMS = {"report_sec": 0.3, "million_sec": 0.5, "auto_notes_per_sec": 20_000, "hour_sec": 3.0, "live_ms": 20.0}
TICKS = 480


def write(take: PlantedTake, path: Path) -> str:
    """The take as a Standard MIDI File."""
    return write_notes(take.onset_sec, take.duration_sec, take.pitch, take.bpm, path)


def write_notes(onset_sec: Any, duration_sec: Any, pitch: Any, bpm: float, path: Path) -> str:
    """Notes as a Standard MIDI File at a tempo."""
    ticks_per_sec = bpm * TICKS / 60.0
    notes = list(zip(onset_sec, duration_sec, pitch, strict=True))
    events = [(round(on * ticks_per_sec), 1, int(pitch)) for on, _, pitch in notes]
    events += [(round((on + long) * ticks_per_sec), 0, int(pitch)) for on, long, pitch in notes]
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))])
    now = 0
    for tick, on, pitch in sorted(events):
        track.append(mido.Message("note_on", note=pitch, velocity=80 * on, time=tick - now))
        now = tick
    mido.MidiFile(type=0, ticks_per_beat=TICKS, tracks=[track]).save(path)
    return str(path)


def reports(times: int) -> dict[str, float]:
    """Seconds of each command on 5 minutes."""
    with tempfile.TemporaryDirectory() as folder:
        file = write(planted(5, 5.0), Path(folder) / "take.mid")
        commands: dict[str, list[str]] = {
            "quantize": ["quantize", file, "--json"],
            "quantize --grid auto": ["quantize", file, "--grid", "auto", "--json"],
            "feel": ["feel", file, "--json"],
            "check": ["check", file, "--scale", "E minor pentatonic", "--json"],
            "riffs": ["riffs", file, "--json"],
            "compare": ["compare", file, file, "--json"],
        }

        def run(words: list[str]) -> None:
            with contextlib.redirect_stdout(io.StringIO()):
                code = loopdeck(words)
            if code:
                raise SystemExit(f"loopdeck {' '.join(words)} ended with {code}.")

        figures = {}
        for name, words in commands.items():
            run(words)
            figures[name] = best_of(times, lambda words=words: run(words))
    return figures


def repeats(take: PlantedTake) -> tuple[int, float]:
    """Notes, and seconds to search them."""
    onset_q = take.onset_sec * take.bpm / 60.0
    bars = np.floor(onset_q / 4).astype(int)
    begun = time.perf_counter()
    find_riffs(text_of(take.onset_sec, take.duration_sec, take.pitch, take.pitch * 0, onset_q), bars)
    return len(onset_q), time.perf_counter() - begun


def live() -> dict[str, float]:
    """Milliseconds after each pass of eight quarters, once ten minutes are remembered; with the bar
    lines, as the engine gives them."""
    take = planted(5, 18.0)
    onset_q = take.onset_sec * take.bpm / 60.0
    passes = np.floor(onset_q / 8.0)
    bar = np.maximum(np.floor((onset_q + EARLY_Q) / 4.0), 0.0)
    ear, spent = Recurrences(), []
    for number in np.unique(passes):
        mine = passes == number
        notes = take.onset_sec[mine], take.duration_sec[mine], take.pitch[mine], onset_q[mine]
        bars = bar[mine], onset_q[mine] - 4.0 * bar[mine]
        begun = time.perf_counter()
        ear.heard(*notes, bars)
        if take.onset_sec[mine][0] > ear.remembered_sec:
            spent.append((time.perf_counter() - begun) * 1000.0)
    return {"passes": len(spent), "median_ms": float(np.median(spent)), "p95_ms": float(np.percentile(spent, 95))}


def heard() -> dict[str, float]:
    """The same for all that is said after a pass: the riff, the feel and the scale of the last
    passes.
    """
    take = planted(5, 18.0)
    onset_q = take.onset_sec * take.bpm / 60.0
    passes = np.floor(onset_q / 8.0).astype(int)
    brief = Brief.default().replace(tempo=f"{take.bpm:.3f}", cycle="4/4 4/4", scale="E dorian")
    listener, spent = LivePasses(), []
    for number in np.unique(passes).tolist():
        mine = passes == number
        length_q = take.duration_sec[mine] * take.bpm / 60.0
        places = onset_q[mine] - number * 8.0
        velocity = np.full(int(mine.sum()), 90.0)
        one = PassNotes(
            number, brief.cycle, take.bpm, take.onset_sec[mine], places, length_q, take.pitch[mine], velocity
        )
        begun = time.perf_counter()
        listener.heard(one, brief)
        if take.onset_sec[mine][0] > REMEMBERED_SEC:
            spent.append((time.perf_counter() - begun) * 1000.0)
    return {"median_ms": float(np.median(spent)), "p95_ms": float(np.percentile(spent, 95))}


def grid_found() -> float:
    """Notes a second with the grid found."""
    take = planted(7, 100.0)
    onset_q = take.onset_sec * take.bpm / 60.0
    stretches = (Stretch(parse_cycle("4/4").bar_starts[0], parse_cycle("4/4")),)
    return len(onset_q) / best_of(2, lambda: transcribe_notes(onset_q, stretches))


def by_order() -> float:
    """Seconds to compare 5 minutes with the same at two thirds of the tempo."""
    take = planted(5, 5.0)
    return best_of(3, lambda: compare(take.onset_sec * 1.5, take.pitch, take.onset_sec, take.pitch))


def key_against_music21() -> dict[str, float]:
    """Seconds for the key of 5 minutes."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
    take = planted(5, 5.0)
    onset_q = take.onset_sec * take.bpm / 60.0
    stream = music21.stream.Stream()
    for place, pitch in zip(onset_q.tolist(), take.pitch.tolist(), strict=True):
        stream.insert(place, music21.note.Note(pitch, quarterLength=0.25))
    theirs = best_of(2, lambda: stream.analyze("key.krumhanslschmuckler"))
    playing = playing_of(take.pitch, onset_q, np.full(len(onset_q), 0.25), onset_q % 4 < 0.1, 4.0, True)
    ours = best_of(3, lambda: rank(playing))
    return {"notes": len(onset_q), "theirs_sec": theirs, "ours_sec": ours, "ratio": ours / theirs}


def measured(quick: bool) -> dict[str, Any]:
    """All figures."""
    notes, hour = repeats(planted(5, 104.0))
    figures: dict[str, Any] = {
        "reports_sec": reports(3),
        "compare_by_order_sec": by_order(),
        "million_sec": million()["quantize_sec"],
        "auto_notes_per_sec": grid_found(),
        "hour": {"notes": notes, "sec": hour},
        "live": live(),
        "heard": heard(),
        "aims": AIMS,
    }
    if not quick:
        many, ten = repeats(planted(5, 1_040.0))
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        figures["ten_hours"] = {"notes": many, "sec": ten, "peak_mb": peak}
    with contextlib.suppress(ImportError):
        figures["music21"] = {"quantize": against_music21(), "key": key_against_music21()}
    return figures


def _line(what: str, figure: str, met: bool | None = None) -> str:
    return f"{what:<44}{figure:>16}" + ("" if met is None else "   met" if met else "   MISSED")


def readable(figures: dict[str, Any]) -> str:
    """The figures for people."""
    lines = [
        _line(f"{name}, 5 minutes", f"{seconds * 1000:.0f} ms", seconds < AIMS["report_sec"])
        for name, seconds in [*figures["reports_sec"].items(), ("compare, by order", figures["compare_by_order_sec"])]
    ]
    million_sec, rate, hour = figures["million_sec"], figures["auto_notes_per_sec"], figures["hour"]
    lines.append(
        _line("a million notes, fixed grid", f"{million_sec * 1000:.0f} ms", million_sec < AIMS["million_sec"])
    )
    lines.append(_line("grid found, notes a second", f"{rate:,.0f}", rate >= AIMS["auto_notes_per_sec"]))
    lines.append(
        _line(f"riffs of an hour, {hour['notes']:,} notes", f"{hour['sec']:.2f} s", hour["sec"] < AIMS["hour_sec"])
    )
    p95 = figures["live"]["p95_ms"]
    lines.append(_line("after a pass, ten minutes remembered, median", f"{figures['live']['median_ms']:.1f} ms"))
    lines.append(_line("the same, 95th percentile", f"{p95:.1f} ms", p95 < AIMS["live_ms"]))
    whole = figures["heard"]
    lines.append(_line("all that is said after a pass, median", f"{whole['median_ms']:.1f} ms"))
    lines.append(_line("the same, 95th percentile", f"{whole['p95_ms']:.1f} ms"))
    if "ten_hours" in figures:
        ten = figures["ten_hours"]
        lines.append(
            _line(f"riffs of ten hours, {ten['notes']:,} notes", f"{ten['sec']:.1f} s, {ten['peak_mb']:.0f} MB")
        )
    for name, other in figures.get("music21", {}).items():
        lines.append(_line(f"{name} against music21, ratio", f"{other['ratio']:.6f}"))
    return "\n".join(lines)


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--quick", action="store_true", help="without the ten hours")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    args = parser.parse_args()
    figures = measured(args.quick)
    print(json.dumps(figures) if args.json else readable(figures))


if __name__ == "__main__":
    main()
