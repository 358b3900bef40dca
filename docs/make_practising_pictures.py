"""Make the pictures of practising and of a clip in docs/pictures: ``python
docs/make_practising_pictures.py [FOLDER]``. Needs no screen.

A riff of ours is practised by a player on paper: the window's view is told what an engine would
tell it.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import pygame
from script_options import folder_for

from loopdeck.brief.brief import Brief
from loopdeck.practice.practising import Plan
from loopdeck.practice.target import Target, target_of_notes
from loopdeck.protocol.messages import BriefChanged, ClockChanged, DeviceRow, DevicesChanged, NoteEnded, NoteStarted
from loopdeck.window.clip_frame import SHOWN, ClipPainter
from loopdeck.window.clip_play import ClipNote
from loopdeck.window.panel_names import panel_turn
from loopdeck.window.picture import save_picture
from loopdeck.window.target.state import Asked
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

BRIEF = Brief.default().replace(name="low tide", tempo="96", cycle="4/4 4/4", scale="E dorian", count_in="1")
FLAT = [(0.0, 0.0)]
#: Onset and length in quarters, pitch, string.
RIFF = (
    (0.0, 0.9, 28, 4), (1.0, 0.4, 31, 4), (1.5, 0.4, 33, 3), (2.0, 0.9, 35, 3), (3.0, 0.4, 38, 2), (3.5, 0.4, 37, 3),
    (4.0, 1.4, 40, 2), (5.5, 0.4, 38, 2), (6.0, 0.9, 35, 3), (7.0, 0.9, 33, 3),
)  # fmt: skip
#: What the player does: milliseconds off, or another pitch, by number of the note; left out notes.
OFF_MS, OTHER, LEFT_OUT = {1: -70, 4: 85}, {7: 43}, (3,)
DAYS = ((1, 60), (1, 64), (2, 64), (4, 72), (5, 68), (6, 80), (8, 84))


def target() -> Target:
    """The riff as something to practise."""
    rows = [(onset, long, pitch, 90, string, FLAT) for onset, long, pitch, string in RIFF]
    return target_of_notes("low tide", rows, BRIEF.cycle, 96.0)


class Player:
    """A window and somebody who practises in front of it."""

    def __init__(self) -> None:
        self.view, self.ui = View(), UiState()
        self.view.receive(BriefChanged(fields=BRIEF.replace(tempo="84").to_dict()))
        devices = (DeviceRow(role="in", name="pickup", state="connected"), DeviceRow(role="out", name="", state="none"))
        self.view.receive(DevicesChanged(devices=devices))
        self.ui.panel = panel_turn("target")
        self.state = self.view.played.practising
        self.state.asked = Asked(target(), Plan(84, 96))
        self.state.step(self.view, -10.0)
        self.state.history = [{"at": f"2031-05-0{day}", "reached_qpm": float(qpm)} for day, qpm in DAYS]
        self.view.tell("", False, 0.0)

    def sec(self, pass_index: int, at_q: float) -> float:
        return (pass_index * 8.0 + at_q) * 60 / 84

    def begin(self, pass_index: int) -> None:
        self.view.receive(
            ClockChanged(
                state="LISTENING", running=True, pass_index=pass_index, run_pass=pass_index, anchor_sec=0.0, anchor_q=0.0,
                qpm=84.0, pass_start_q=8.0 * pass_index, cycle="4/4 4/4", cycle_q=8.0,
            )
        )  # fmt: skip
        self.state.step(self.view, self.sec(pass_index, 0.0))

    def play(self, pass_index: int, until_q: float, mistakes: bool) -> None:
        for number, (onset, long, pitch, string) in enumerate(RIFF):
            if onset >= until_q or (mistakes and number in LEFT_OUT):
                continue
            at_q = onset + (OFF_MS.get(number, 8) if mistakes else 5) / 1000 * 84 / 60
            self.view.receive(
                NoteStarted(
                    id=100 * pass_index + number, pass_index=pass_index, at_q=at_q, slot_q=onset, velocity=90, string=string,
                    pitch=OTHER.get(number, pitch) if mistakes else pitch, stamp_sec=self.sec(pass_index, at_q),
                )
            )  # fmt: skip
            self.view.receive(NoteEnded(id=100 * pass_index + number, length_q=long))
            self.state.step(self.view, self.sec(pass_index, at_q))


def practising(folder: Path) -> None:
    """In the middle of a pass, and at the end of a run."""
    one = Player()
    one.begin(0)
    one.play(0, 8.0, False)
    one.begin(1)
    one.state.step(one.view, one.sec(1, 0.3))
    one.play(1, 5.9, True)
    now = one.sec(1, 6.3)
    one.state.step(one.view, now)
    save_picture(folder / "practising.png", one.view, now, ui=one.ui)
    one.begin(2)
    one.state.step(one.view, one.sec(2, 0.4))
    one.state.end(one.view, one.sec(2, 0.5))
    one.view.tell("", False, 0.0)
    one.view.receive(
        ClockChanged(
            state="STOPPED", running=False, pass_index=-1, anchor_sec=0.0, anchor_q=0.0, qpm=84.0, pass_start_q=0.0,
            cycle="4/4 4/4", cycle_q=8.0,
        )
    )  # fmt: skip
    save_picture(folder / "practised.png", one.view, one.sec(2, 1.0), theme="slate", ui=one.ui)


def clip(folder: Path) -> None:
    """A frame of a clip."""
    notes = [ClipNote(onset, long, pitch, 90, string) for onset, long, pitch, string in RIFF]
    painter = ClipPainter(BRIEF, notes, (1280, 720), "paper", SHOWN, 96.0, BRIEF.name)
    for at_q in (0.1, 1.1, 1.6, 2.1, 3.1, 3.6, 4.6):
        frame = painter.surface(at_q)
    pygame.image.save(frame, str(folder / "clip.png"))


if __name__ == "__main__":
    pictures = folder_for(__doc__)
    practising(pictures)
    clip(pictures)
