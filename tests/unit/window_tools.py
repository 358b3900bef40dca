"""A view and the messages it was told: for the tests of what the window knows and draws."""

import os
import time

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.protocol.messages import (
    BriefChanged,
    ClockChanged,
    CommandCall,
    DeviceRow,
    DevicesChanged,
    LayerNote,
    LayerNotes,
    LayerRow,
    LayersChanged,
    Message,
    MixerChanged,
    NoteEnded,
    NoteStarted,
    PartRow,
    Question,
    QuestionsPending,
    Said,
    TakeKept,
)
from loopdeck.window import keys
from loopdeck.window.layout import Box
from loopdeck.window.picture import picture
from loopdeck.window.text import Pen
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

QPM = 96.0
CYCLE_Q = 7.5
OFFER = "There is an unfinished session from 13:40 with 212 notes; shall it be kept as a take?"


def brief(**texts: str) -> Brief:
    return Brief.default().replace(**({"tempo": "96", "cycle": "4/4 4+3/8", "scale": "E dorian"} | texts))


def sec(quarters: float) -> float:
    return quarters * 60 / QPM


def row(number: int, muted: bool = False, sounding: bool = True, notes: int = 3, **more: Any) -> LayerRow:
    return LayerRow(number=number, muted=muted, sounding=sounding, notes=notes, **more)


class Told:
    """A view and the messages it was told."""

    def __init__(self, **texts: str) -> None:
        self.view = View()
        self.brief(**texts)
        self.count = 0

    def hear(self, message: Message) -> None:
        self.view.receive(message)

    def brief(self, **texts: str) -> None:
        self.hear(BriefChanged(fields=brief(**texts).to_dict()))

    def clock(self, state: str = "LISTENING", pass_index: int = 0, running: bool = True, **more: Any) -> None:
        data: dict[str, Any] = {
            "state": state, "coming": "", "anchor_sec": 0.0, "anchor_q": 0.0, "qpm": QPM, "cycle": "4/4 4+3/8",
            "pass_start_q": max(pass_index, 0) * CYCLE_Q, "cycle_q": CYCLE_Q, "running": running, "pass_index": pass_index,
        }  # fmt: skip
        self.hear(ClockChanged(**(data | more)))

    def note(
        self, pitch: int, at_q: float, slot_q: float | None = None, length_q: float | None = 0.4, **more: Any
    ) -> int:
        data: dict[str, Any] = {
            "id": self.count, "pass_index": 0, "at_q": at_q, "slot_q": at_q if slot_q is None else slot_q, "pitch": pitch,
            "velocity": 90, "stamp_sec": at_q * 60 / QPM,
        }  # fmt: skip
        self.hear(NoteStarted(**(data | more)))
        if length_q is not None:
            self.hear(NoteEnded(id=self.count, length_q=length_q))
        self.count += 1
        return self.count - 1

    def layers(self, *rows: LayerRow, loops_next: int | None = None) -> None:
        self.hear(LayersChanged(layers=rows, loops_next=loops_next))

    def layer(self, number: int, *notes: tuple[float, float, int]) -> None:
        self.hear(LayerNotes(number=number, notes=tuple(LayerNote(*one) for one in notes)))

    def say(self, text: str, wrong: bool = False, at_sec: float = 0.0, about: str = "") -> None:
        self.hear(Said(text=text, wrong=wrong, time_sec=at_sec, about=about))

    def devices(self, *rows: tuple[str, str, str]) -> None:
        self.hear(DevicesChanged(devices=tuple(DeviceRow(role=r, name=n, state=s) for r, n, s in rows)))

    def ask(self, key: str = "last session", text: str = OFFER) -> None:
        accept, refuse = CommandCall(name="keep-last-session"), CommandCall(name="leave-last-session")
        questions = (*self.view.notices.questions, Question(key=key, text=text, accept=accept, refuse=refuse))
        self.hear(QuestionsPending(questions=questions))


def levels_told(**changed: tuple[float, bool]) -> MixerChanged:
    parts = ["master", "click", "drums", "live", *(f"layer:{n}" for n in range(1, 15))]
    ways = {"master": "", "live": "both", "drums": "midi"}
    rows = tuple(
        PartRow(
            part=part,
            db=changed.get(part, (-18.0, False))[0],
            muted=changed.get(part, (0.0, part == "click"))[1],
            way=ways.get(part, "sound"),
        )
        for part in parts
    )
    return MixerChanged(device="a box", parts=rows)


def scene(strings: str = "standard", waiting: bool = False) -> View:
    """A full window: layers, keeps, devices, a wrong note, an early and a late one."""
    told = Told(tuning=strings, swing="58%")
    told.clock("LAYERING", coming="LISTENING at the next cycle")
    for index, pitch in enumerate((28, 31, 33, 39, 38, 37, 42, 45, 51, 28)):
        told.note(pitch, index * 0.7 + 0.03 * (index % 3 - 1), index * 0.7)
    told.note(40, 7.2, length_q=None)
    rows = [row(n, n % 2 == 0, n % 2 == 1, 14, pass_index=n) for n in range(1, 12)]
    told.layers(*rows)
    for one in rows:
        told.layer(one.number, *((k * 0.5, 0.2, 30 + k * 3 % 17) for k in range(14)))
    for number in range(1, 7):
        name = "a name that is far too long for its place"
        told.hear(TakeKept(number=number, name=name, when="14:02", passes=4, rating=number % 6))
    told.devices(
        ("in", "hexaphonic pickup, port 1", "connected"),
        ("out", "a sound module with a long name", "not found, looking"),
        ("controls", "pedal board", "none"),
    )
    told.say(
        "A sentence that is so long that it has to be written on two lines at the foot of the window, or else "
        "be cut off "
        "somewhere, which would be a pity, since what was wrong should be read to its end.",
        wrong=True,
    )
    if waiting:
        told.ask()
    told.hear(levels_told())
    return told.view


def press(ui: UiState, told: Told, name: str, shift: bool = False, at_sec: float = 0.0) -> list[Any]:
    return ui.press(keys.CODES[name], shift, told.view, at_sec)


def settled(ui: UiState, view: View, page: str, at_sec: float = 0.0) -> list[Any]:
    """Wait until the thread of a page has done what it was asked to; returns what is sent then."""
    background, sent = ui.pages[page].background, []  # type: ignore[attr-defined]
    end = time.monotonic() + 90
    while background.busy:
        assert time.monotonic() < end, "the page's thread does not end"
        sent += ui.poll(view, at_sec)
        time.sleep(0.002)
    return sent


def written(view: View, now: float, ui: UiState, size: tuple[int, int] = (1280, 720)) -> list[tuple[str, Box]]:
    """Everything written onto the window, with the place of its ink."""
    pen = Pen()
    pen.log, pen.log_size = [], size
    picture(view, now, size, ui=ui, pen=pen)
    return pen.log


def sizes_written(view: View, now: float, ui: UiState) -> dict[str, int]:
    """The smallest size in which each text is written onto the window at 1280 x 720, in pixels."""
    sizes: dict[str, int] = {}

    class NotingPen(Pen):
        def piece(self, text: str, size: int, colour: Any) -> Any:
            sizes[text] = min(size, sizes.get(text, size))
            return super().piece(text, size, colour)

    picture(view, now, ui=ui, pen=NotingPen())
    return sizes
