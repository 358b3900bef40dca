"""Make the pictures of docs/analysis.md again: ``python docs/make_analysis_pictures.py [FOLDER]``.
Needs the extra ``loopdeck[report]``.

An invented player, sixteenths swung at 60 %, 15 ms behind the click, rushing into beat four, with a
C# that is not in E minor pentatonic.
"""

import sys
import tempfile
from pathlib import Path

import mido
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from script_options import folder_for

from loopdeck.cli.main import main
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.swing import parse_swing
from tests.bench.feel_players import play

#: One bar of the riff, by its sixteenths: pitches, None for a rest.
RIFF = (28, None, 31, 33, 35, None, 37, 35, 28, 38, None, 37, 35, 33, 31, None)


def take(path: Path) -> str:
    """Eight passes of the riff as a file."""
    rng = np.random.default_rng(5)
    played = play(rng, parse_cycle("4/4"), 8, parse_swing("60% 1/16"), "1/16", sigma_ms=8.0, constant_ms=15.0)
    place = np.round(played.written_q * 4).astype(int) % 16
    onset_q = played.onset_q - np.where(place == 12, 14 * 96 / 60_000, 0)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=625_000)])
    events = []
    for at, which in zip(onset_q.tolist(), place.tolist(), strict=True):
        pitch = RIFF[which]
        if pitch is not None:
            tick = max(round(at * 960), 0)
            events += [(tick, 1, pitch, 104 if which % 4 == 0 else 84), (tick + 200, 0, pitch, 0)]
    now = 0
    for tick, on, pitch, velocity in sorted(events):
        track.append(mido.Message("note_on" if on else "note_off", note=pitch, velocity=velocity, time=tick - now))
        now = tick
    mido.MidiFile(type=0, ticks_per_beat=960, tracks=[track]).save(path)
    return str(path)


if __name__ == "__main__":
    out = folder_for(__doc__)
    with tempfile.TemporaryDirectory() as folder:
        riff = take(Path(folder) / "heron-steps.mid")
        main(["feel", riff, "--picture", str(out / "feel.png")])
        print()
        main(["check", riff, "--scale", "E minor pentatonic", "--picture", str(out / "scale.png")])
