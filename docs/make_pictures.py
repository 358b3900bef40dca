"""Make the pictures in docs/pictures again: ``python docs/make_pictures.py [FOLDER]``. Needs no
screen.

The pictures are not drawings: the built-in player's session runs through the looper, its news go to
the window's view, and the view is drawn at chosen moments by the same code that draws the window.
"""

import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np
from script_options import folder_for

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.engine.demo_session import performance
from loopdeck.engine.listening import PassListener
from loopdeck.looper.layers import LAYER_DTYPE, Layer
from loopdeck.looper.machine import Looper
from loopdeck.looper.news import Kept
from loopdeck.looper.recording import Recording
from loopdeck.process.shelf_server import ShelfServer
from loopdeck.protocol.messages import (
    BendPoint,
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
    NoteStarted,
    PartRow,
    Question,
    QuestionsPending,
    TakeKept,
)
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take
from loopdeck.window import keys
from loopdeck.window.pages.shelf import ShelfPage
from loopdeck.window.pages.shelf_rows import ROOM
from loopdeck.window.panels import PANELS
from loopdeck.window.pass_picker import PassPicker
from loopdeck.window.picture import save_picture
from loopdeck.window.ui_state import Cursors, UiState
from loopdeck.window.view import View

BRIEF = {
    "name": "quay steps",
    "tempo": "96",
    "cycle": "4/4 4+3/8",
    "swing": "58%",
    "scale": "E dorian",
    "count_in": "1",
}
DEVICES = DevicesChanged(
    devices=(
        DeviceRow(role="in", name="pickup", state="connected"),
        DeviceRow(role="out", name="loopdeck out", state="connected"),
        DeviceRow(role="controls", name="pedal", state="not found, looking"),
    )
)
_SET = {"master": (-12.0, False), "click": (-4.0, False), "drums": (-3.0, False), "layer:1": (0.0, True)}
_WAYS = {"master": "", "click": "sound", "drums": "sound", "live": "both", "layer:1": "sound", "layer:2": "sound"}
LEVELS = MixerChanged(
    device="headphones",
    parts=tuple(
        PartRow(part=part, db=_SET.get(part, (0.0, False))[0], muted=_SET.get(part, (0.0, False))[1], way=way)
        for part, way in _WAYS.items()
    ),
)
QUESTION = Question(
    key="last-session",
    text="The session of 13:40 ended without warning. Keep it as a take?",
    accept=CommandCall(name="keep-last-session"),
    refuse=CommandCall(name="leave-last-session"),
)

TAB = [panel.name for panel in PANELS].index("tab")


class Session:
    """The player's session up to any moment, as the window sees it."""

    def __init__(self, **brief: str) -> None:
        self.brief = Brief.default().replace(**(BRIEF | brief))
        self.looper = Looper(self.brief)
        self.view = View()
        self.listener = PassListener(lambda: 0.0)
        self.steps: Iterator[Any] = iter(performance(self.brief))
        self.coming = next(self.steps, None)
        self.tell(BriefChanged(fields=self.brief.to_dict()))
        self.tell(DEVICES)

    def tell(self, message: Message) -> None:
        """A message of the engine's own, also to the process that listens, and its answer."""
        self.view.receive(message)
        heard = self.listener.receive(message)
        if heard is not None:
            self.view.receive(heard)

    def run_to(self, now: float) -> None:
        """Perform everything up to ``now`` (seconds)."""
        while self.coming is not None and self.coming.sec <= now:
            step = self.coming
            if step.kind == "midi":
                self.looper.midi(step.sec, step.sec, 0, step.data)
            else:
                self.looper.command(step.sec, step.name, **step.args)
            self.coming = next(self.steps, None)
        self.looper.advance(now)
        self.pass_on()

    def pass_on(self) -> None:
        """Give the looper's news to the view, a keep as the engine reports it."""
        for news in self.looper.take_news():
            if isinstance(news, Kept):
                keep = news.keep
                self.tell(TakeKept(number=1, name=keep.name, when="14:02", passes=keep.passes))
            else:
                self.tell(news)

    def place(self, pass_index: int, at_q: float) -> float:
        """When the session reaches a place, in seconds."""
        second = 60 / self.brief.tempo.quarters_per_minute
        first = float(self.brief.cycle.meters[0].quarters) * self.brief.count_in
        return 0.5 + (first + pass_index * float(self.brief.cycle.quarters) + at_q) * second


def main(folder: Path) -> None:
    """Write every picture into ``folder``."""

    def take(name: str, session: Session, now: float, **how: Any) -> None:
        session.run_to(now)
        save_picture(folder / f"{name}.png", session.view, now, **how)
        print(folder / f"{name}.png")

    session = Session()
    take("stopped", session, 0.1)
    take("counting-in", session, session.place(0, -1.3))
    take("listening", session, session.place(1, 5.1))
    # In the third pass the riff has a D sharp, which E dorian does not have.
    take("out-of-scale", session, session.place(2, 5.72))
    # The riff has come three times, and the foot comes down in a moment.
    take("heard", session, session.place(5, 0.9), ui=UiState(panel=2))
    take("layering", session, session.place(6, 6.2))
    take("slate", session, session.place(8, 7.1), theme="slate")
    take("help", session, session.place(8, 7.2), ui=UiState(page="help"))
    take("help-2", session, session.place(8, 7.25), ui=UiState(page="help", cursors=Cursors(help_page=1)))
    take("help-3", session, session.place(8, 7.27), ui=UiState(page="help", cursors=Cursors(help_page=2)))
    take("brief", session, session.place(8, 7.3), ui=UiState(page="brief", cursors=Cursors(brief_line=6)))
    session.tell(LEVELS)
    take("sound", session, session.place(8, 7.35), ui=UiState(page="sound", cursors=Cursors(sound_part="click")))
    take("passes", session, session.place(9, 6.4), ui=_chosen_pass(session))
    take("timing", session, session.place(9, 6.5), ui=UiState(panel=3))
    take("kept", session, session.place(10, 1.4))
    take("pitches", *_pitches())
    view, now = _many_layers()
    for name, how in (
        ("layers", {}),
        ("chosen", {"ui": UiState(chosen=2)}),
        ("neck", {"ui": UiState(panel=1, biggest="name")}),
        ("tab", {"ui": UiState(panel=TAB)}),
        ("tab-slate", {"ui": UiState(panel=TAB, chosen=4), "theme": "slate"}),
        ("800x480", {"size": (800, 480)}),
        ("1920x1080", {"size": (1920, 1080), "ui": UiState(panel=1)}),
    ):
        save_picture(folder / f"{name}.png", view, now, **how)
    save_picture(folder / "shelf.png", view, now, ui=_shelf_page())
    view.receive(QuestionsPending(questions=(QUESTION,)))
    save_picture(folder / "question.png", view, now)
    save_picture(folder / "bends.png", *_bends())
    view, now = _thirty_seconds()
    save_picture(folder / "thirty-seconds.png", view, now, ui=UiState(panel=2))


def _chosen_pass(session: Session) -> UiState:
    """The panel of passes, with one of them chosen by its key."""
    now = session.place(9, 6.4)
    session.run_to(now)
    ui = UiState(panel=2, passes=PassPicker(chosen=4))
    ui.press(keys.CODES["PageUp"], False, session.view, now)
    return ui


def _view(**brief: str) -> View:
    """A view that was told its brief, its connections, and a clock in the third pass."""
    view = View()
    whole = Brief.default().replace(**(BRIEF | brief))
    cycle_q = float(whole.cycle.quarters)
    view.receive(BriefChanged(fields=whole.to_dict()))
    view.receive(DEVICES)
    view.receive(
        ClockChanged(
            state="LISTENING", running=True, pass_index=2, anchor_sec=0.0, anchor_q=2 * cycle_q, qpm=96.0,
            pass_start_q=2 * cycle_q, cycle=str(whole.cycle), cycle_q=cycle_q, run_pass=2,
        )
    )  # fmt: skip
    return view


def _play(view: View, *notes: tuple[Any, ...]) -> None:
    """Notes of the third pass: place, pitch, length in quarters (None: held), milliseconds off, and
    how the pitch moves.
    """
    for number, (slot_q, pitch, length_q, off_ms, *bend) in enumerate(notes):
        at_q = slot_q + off_ms * 96 / 60_000
        view.receive(
            NoteStarted(
                id=number, pass_index=2, at_q=at_q, slot_q=slot_q, pitch=pitch, velocity=90, stamp_sec=at_q * 60 / 96,
                length_q=length_q, bend=tuple(BendPoint(*point) for point in bend),
            )
        )  # fmt: skip


def _many_layers() -> tuple[View, float]:
    """Four layers, one of them muted, and what is played over them."""
    view = _view()
    low = [(at, 0.4, pitch) for at, pitch in ((0, 28), (0.75, 28), (1.5, 31), (2.5, 33), (4, 28), (5, 26 + 5), (6, 33))]
    high = [(at, 1.4, pitch) for at, pitch in ((0, 47), (2, 50), (4, 49), (6, 45))]
    fifths = [(at, 0.9, pitch) for at in (1.0, 3.0, 5.0) for pitch in (40, 47)]
    answer = [(at, 0.2, pitch) for at, pitch in ((3.25, 42), (3.5, 40), (3.75, 38), (6.5, 40), (7.0, 37))]
    layers: list[Sequence[tuple[float, float, int]]] = [low, high, fifths, answer]
    rows = [
        LayerRow(number=n, muted=n == 3, sounding=n != 3, notes=len(notes), pass_index=-1)
        for n, notes in enumerate(layers, 1)
    ]
    view.receive(LayersChanged(layers=tuple(rows)))
    for number, notes in enumerate(layers, 1):
        view.receive(LayerNotes(number=number, notes=tuple(LayerNote(*one, 90) for one in notes)))
    for number, name in enumerate(("tide gate", "the slow answer with the fifths"), 1):
        view.receive(TakeKept(number=number, name=name, when=f"14:0{number}", passes=2 * number, rating=3 - number))
    _play(
        view, (0, 40, 0.4, 0), (0.5, 43, 0.2, 22), (1, 45, 0.4, -24), (2, 39, 0.3, 0), (2.75, 42, 0.2, 0), (4, 28, 0.9, 0),
        (5, 40, None, 0), (5, 47, None, 4),
    )  # fmt: skip
    return view, 5.6 * 60 / 96


#: Name, rating, tags, note, brief, notes of each pass (the place, the pitch), and of a layer.
_SHELF: tuple[tuple[str, int, list[str], str, dict[str, str], tuple[tuple[float, int], ...], tuple[tuple[float, int], ...]], ...] = (
    ("lantern", 2, ["bridge"], "", {"cycle": "4/4", "tempo": "104", "scale": ""}, ((0, 33), (1, 33), (1.5, 36), (2.5, 38), (3, 36)), ()),
    ("rain on slate", 0, [], "", {"cycle": "4+3/8", "tempo": "132", "scale": "E phrygian"},
     ((0, 28), (0.5, 29), (1, 28), (2, 35), (2.5, 33), (3, 29)), ()),
    ("quay steps", 4, [], "second layer could be shorter", {},
     ((0, 40), (0.75, 43), (1.5, 45), (2.5, 47), (4, 40), (5, 43), (5.5, 42), (6.5, 38)), ((0, 28), (2, 31), (4, 28), (6, 33))),
    ("tide gate", 5, ["odd", "riff"], "", {},
     ((0, 28), (0.75, 28), (1.5, 31), (2.5, 33), (4, 28), (5, 31), (6, 33), (7, 35)), ((1, 47), (3, 45), (5, 47))),
    ("low ember", 3, ["slow"], "", {"cycle": "4/4", "tempo": "72", "scale": "G blues"}, ((0, 31), (1.5, 34), (2, 36), (2.5, 37), (3, 36)), ()),
)  # fmt: skip


def _shelf_page() -> UiState:
    """The page of a shelf with five takes; one is chosen."""
    ui = UiState(page="shelf")
    page = ui.pages["shelf"]
    assert isinstance(page, ShelfPage)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shelf.sqlite"
        with Shelf(path) as shelf:
            for name, rating, tags, note, texts, notes, layer in _SHELF:
                brief = Brief.default().replace(**(BRIEF | texts))
                shelf.add(_shelf_take(name, rating, tuple(tags), note, brief, notes, layer))
        server = ShelfServer(path)
        page.rows.found = server.answer("page", {"chosen": 4, "room": ROOM})["found"]
        for number in range(1, len(_SHELF) + 1):
            page.rows.pictures[number] = server.answer("picture", {"number": number})["found"]
    page.act_at = 1
    return ui


def _shelf_take(
    name: str, rating: int, tags: tuple[str, ...], note: str, brief: Brief, notes: Any, layer: Any, passes: int = 4
) -> Take:
    """Four passes of some notes, the last one without the last note; and a layer."""
    second, cycle_q = 60.0 / brief.tempo.quarters_per_minute, float(brief.cycle.quarters)
    events = [
        Event((index * cycle_q + at + later) * second, 0, bytes((status, pitch, 90)))
        for index in range(passes)
        for at, pitch in notes[: len(notes) - (index == passes - 1)]
        + (((cycle_q - 0.5, notes[0][1] + 12),) if index == 2 else ())
        for status, later in ((0x90, 0.0), (0x80, 0.4))
    ]
    rows = np.array([(at, 0.8, pitch, 90, 0, 0, 0) for at, pitch in layer], LAYER_DTYPE)
    still = tuple(np.zeros((1, 2)) for _ in layer)
    layers = (Layer(1, rows, still, -1, 34, 1, tuple(range(len(layer)))),) if layer else ()
    return Take(
        name=name,
        rating=rating,
        tags=tags,
        note=note,
        kept_at="2031-05-06T07:08:09+00:00",
        recording=Recording(
            brief=brief, events=tuple(sorted(events)), layers=layers, passes=passes, end_sec=passes * cycle_q * second
        ),
    )


def _bends() -> tuple[View, float]:
    """A bend, a slide, and vibrato."""
    view = _view()
    _play(
        view,
        (0, 33, 1.4, 0, (0.0, 0.0), (0.25, 0.1), (0.5, 0.6), (0.75, 0.95), (1.0, 0.8), (1.25, 0.3), (1.4, 0.0)),
        (2, 40, 1.6, 0, (0.0, 0.0), (0.4, 0.0), (0.8, 2.0), (1.1, 4.0), (1.6, 4.0)),
        (4, 31, 1.7, 0, *((step / 8, 0.3 * (0, 1, 0, -1)[step % 4]) for step in range(14))),
        (6, 45, 1.2, 0, (0.0, 0.0), (0.4, -0.3), (0.7, -2.0), (1.2, -2.0)),
    )
    return view, 7.4 * 60 / 96


def _thirty_seconds() -> tuple[View, float]:
    """Thirty-seconds on two strings, in a cycle of two bars of four."""
    view = _view(cycle="4/4 4/4")
    pitches = (28, 31, 33, 35, 28, 28, 31, 28)
    _play(view, *((step / 8, pitches[step % 8] + 12 * (step // 16 % 2), 0.1, 0) for step in range(62)))
    return view, 7.8 * 60 / 96


def _pitches() -> tuple[Session, float]:
    """The same riff on lanes of pitches instead of strings."""
    session = Session()
    session.view.set_lanes("pitches")
    return session, session.place(2, 7.2)


if __name__ == "__main__":
    main(folder_for(__doc__))
