"""Make docs/pictures/rhythm.png again: ``python docs/make_rhythm_picture.py [FILE]``. Needs
matplotlib.

An invented bass line of two bars, played six times with 10 ms of noise: sixteenths, a triplet, and
a grace note in every other pass.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import mido
import numpy as np
from script_options import file_for

from loopdeck.cli.main import main

TICKS, QPM, PASSES = 960, 96, 6
#: (quarter, length, pitch) of the two bars.
LINE = (
    (0, 1 / 2, 28), (3 / 4, 1 / 4, 28), (1, 1 / 2, 31), (3 / 2, 1 / 4, 33), (7 / 4, 1 / 4, 34), (2, 1 / 3, 35), (7 / 3, 1 / 3, 33),
    (8 / 3, 1 / 3, 31), (3, 1, 28), (4, 1 / 2, 28), (9 / 2, 1 / 4, 31), (5, 1 / 2, 33), (11 / 2, 1 / 2, 35), (6, 1 / 4, 40),
    (25 / 4, 1 / 4, 38), (13 / 2, 1 / 2, 35), (7, 1 / 2, 33),
)  # fmt: skip
#: (quarter before, quarter, pitch) of the grace note.
GRACE = (0.09, 3, 26)


def played(path: Path) -> None:
    """Write the playing as a Standard MIDI File."""
    rng = np.random.default_rng(12)
    rows: list[tuple[int, mido.Message]] = []
    for turn in range(PASSES):
        notes = [(quarter, length * 0.9, pitch) for quarter, length, pitch in LINE]
        notes += [(GRACE[1] - GRACE[0], 0.1, GRACE[2])] if turn % 2 else []
        for quarter, length, pitch in notes:
            onset = max((turn * 8 + quarter) * TICKS + rng.normal() * 0.010 * QPM / 60 * TICKS, 0)
            rows.append((round(onset), mido.Message("note_on", note=pitch, velocity=90)))
            rows.append((round(onset + length * TICKS), mido.Message("note_off", note=pitch)))
    rows.sort(key=lambda row: (row[0], row[1].type == "note_on"))
    track, now = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(QPM))]), 0
    for tick, message in rows:
        track.append(message.copy(time=tick - now))
        now = tick
    mido.MidiFile(ticks_per_beat=TICKS, tracks=[track]).save(path)


if __name__ == "__main__":
    out = str(file_for(__doc__, "rhythm.png"))
    with tempfile.TemporaryDirectory() as folder:
        take = Path(folder) / "ferry steps.mid"
        played(take)
        options = ["--tempo", str(QPM), "--meter", "4/4 4/4", "--grid", "auto", "--picture", out]
        sys.exit(main(["quantize", str(take), *options]))
