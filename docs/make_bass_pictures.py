"""Make the pictures of the neck and of technique again: ``python docs/make_bass_pictures.py
[FOLDER]``. Needs no screen.

The riff is an invented one, played here by numbers through a pickup that sends bends, and read by
the command as any take is.
"""

import sys
import tempfile
from pathlib import Path

import mido

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from script_options import folder_for

from loopdeck.bass.pickup.profile import Cleaning, words_of_cleaning
from loopdeck.brief.brief import Brief
from loopdeck.cli.main import main as loopdeck
from loopdeck.looper.machine import Looper
from loopdeck.looper.news import Kept
from loopdeck.protocol.messages import BriefChanged
from loopdeck.window.panels import PANELS
from loopdeck.window.picture import save_picture
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

TICKS, QPM, RANGE = 960, 96, 12
#: (beat, length, pitch, velocity, string's channel, (seconds after the onset, semitones) ...).
RIFF = (
    (0.0, 0.9, 28, 92, 3, ()),
    (1.0, 1.9, 33, 95, 2, ((0.30, 0.0), (0.33, 1.0), (0.36, 2.0))),
    (3.0, 0.9, 38, 90, 1, ((0.25, 0.0), (0.26, 3.0))),
    (4.0, 1.6, 43, 94, 0, tuple((0.08 + 0.02 * n, 2.0 * min(n / 8, 1.0) - 2.0 * min(max(n - 16, 0) / 8, 1.0)) for n in range(28))),
    (6.0, 0.05, 33, 80, 2, ()),
    (6.5, 0.4, 28, 130, 3, ()),
    (7.0, 0.9, 40, 92, 1, ((0.25, 0.0), (0.26, -2.0))),
    (8.0, 1.8, 36, 94, 2, tuple((0.1 + 0.01 * n, (0.0, 0.2, 0.35, 0.45, 0.5, 0.45, 0.35, 0.2, 0.05, 0.0, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.4, 0.2)[n % 18]) for n in range(95))),
    (10.0, 0.9, 28, 38, 3, ()),
    (11.0, 0.9, 40, 92, 1, ((0.012, -4.0), (0.035, -3.0), (0.06, -2.0), (0.085, -1.0), (0.11, 0.0))),
)  # fmt: skip


def riff(path: Path) -> None:
    """Write the riff as a Standard MIDI File."""
    per_sec = TICKS * QPM / 60
    events: list[tuple[float, int, mido.Message]] = []
    for channel in range(4):
        for order, (control, value) in enumerate(((101, 0), (100, 0), (6, RANGE))):
            events.append((0.0, order, mido.Message("control_change", channel=channel, control=control, value=value)))
    for beat, length, pitch, velocity, channel, bends in RIFF:
        at, end = (beat + 1) * TICKS, (beat + 1 + length) * TICKS
        first = bends[0][1] if bends and bends[0][0] < 0.02 else 0.0
        events.append((at - 1, 4, _bend(channel, first)))
        events.append((at, 5, mido.Message("note_on", channel=channel, note=pitch, velocity=min(velocity, 127))))
        events += [(at + sec * per_sec, 6, _bend(channel, up)) for sec, up in bends if at + sec * per_sec < end]
        events.append((end, 3, mido.Message("note_off", channel=channel, note=pitch)))
    file, last = mido.MidiFile(ticks_per_beat=TICKS), 0
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=round(60e6 / QPM))])
    file.tracks.append(track)
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=max(round(tick), last) - last))
        last = max(round(tick), last)
    file.save(str(path))


def _bend(channel: int, semitones: float) -> mido.Message:
    return mido.Message("pitchwheel", channel=channel, pitch=max(-8192, min(8191, round(semitones / RANGE * 8192))))


#: (second, length, pitch, velocity, channel from 0): a riff through a pickup that sends a new note
#: for every fret.
LIVE = (
    (0.00, 0.24, 40, 90, 1), (0.25, 0.24, 43, 56, 1), (0.55, 0.36, 45, 92, 0), (0.91, 0.03, 46, 62, 0), (0.94, 0.03, 47, 60, 0),
    (0.97, 0.03, 48, 58, 0), (1.00, 0.03, 49, 56, 0), (1.03, 0.30, 50, 54, 0), (1.50, 0.20, 40, 32, 1), (1.75, 0.03, 40, 90, 1),
    (2.00, 0.24, 33, 125, 2), (2.25, 0.24, 36, 60, 2), (2.49, 0.24, 33, 55, 2), (2.75, 0.20, 40, 90, 1), (2.90, 0.03, 52, 20, 1),
    (3.00, 0.25, 28, 95, 3), (3.30, 0.02, 31, 16, 3), (3.50, 0.25, 28, 92, 3),
)  # fmt: skip


def live(folder: Path) -> None:
    """The riff in the window while it is played: how each note was played, and what the clean-up
    took out.
    """
    brief = Brief.default().replace(tempo="60", cycle="4/4", grid="1/16", count_in="0", scale="E minor", name="sluice")
    looper, view, ui = Looper(brief), View(), UiState()
    view.receive(BriefChanged(fields=brief.to_dict()))
    looper.command(0.0, "pickup", channels="1 2 3 4", name="per-string", cleaning=words_of_cleaning(Cleaning()))
    looper.command(0.0, "start-now")
    events = [(at, 1, bytes((0x90 | channel, pitch, level))) for at, _, pitch, level, channel in LIVE]
    events += [(at + length, 0, bytes((0x80 | channel, pitch, 0))) for at, length, pitch, _, channel in LIVE]
    for at, _, data in sorted(events, key=lambda one: (round(one[0], 6), one[1])):
        looper.midi(at, at, 0, data)
    looper.advance(3.95)
    for news in looper.take_news():
        if not isinstance(news, Kept):
            view.receive(news)
    ui.panel = [panel.name for panel in PANELS].index("errors")
    save_picture(folder / "technique-live.png", view, 3.95, ui=ui)


def main(folder: Path) -> None:
    """Write every picture into ``folder``."""
    neck, technique = folder / "neck-of-a-scale.png", folder / "technique.png"
    loopdeck(["neck", "--scale", "G dorian", "--tuning", "drop-d", "--picture", str(neck)])
    with tempfile.TemporaryDirectory() as scratch:
        take = Path(scratch) / "sluice.mid"
        riff(take)
        live(folder)
        loopdeck(["technique", str(take), "--pickup", "per-string", "--scale", "E minor", "--picture", str(technique)])


if __name__ == "__main__":
    main(folder_for(__doc__))
