"""Make the pictures of briefs, moods, devices and pedals in docs/pictures again: ``python
docs/make_choice_pictures.py [FOLDER]``.

No screen is needed: the pages' state is driven by keys as in the window, and drawn by the code that
draws the window. The draw is that of a fixed number, so that the picture stays the same.
"""

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from script_options import folder_for

from loopdeck import configs
from loopdeck.brief.brief import Brief
from loopdeck.engine.pedal_learning import rows_of
from loopdeck.midi.control_files import load_controls
from loopdeck.practice.draw import draw
from loopdeck.protocol.messages import (
    BriefChanged,
    DeviceListChanged,
    DeviceRow,
    DevicesChanged,
    MixerChanged,
    PartRow,
    PedalsChanged,
)
from loopdeck.window import keys
from loopdeck.window.pages.briefs import BriefsPage
from loopdeck.window.pages.mood import MoodPage
from loopdeck.window.picture import save_picture
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

SEED = 41


def main(folder: Path) -> None:
    """Write every picture into ``folder``."""
    with tempfile.TemporaryDirectory() as nowhere:
        # Not the briefs of whoever runs this.
        configs.own_folder = lambda kind: Path(nowhere)
        save_picture(folder / "briefs.png", *_briefs())
    save_picture(folder / "mood.png", *_mood())
    for name, learning in (("devices", None), ("pedals", False), ("learning", True)):
        view, now, size, theme, ui = _devices()
        if learning is not None:
            ui.open_page("pedals", view, now)
            ui.pages["pedals"].at = 1  # type: ignore[attr-defined]
        if learning:
            ui.receive(_learning())
        save_picture(folder / f"{name}.png", view, now, size, theme, ui)


def _view(brief: Brief) -> View:
    view = View()
    view.receive(BriefChanged(fields=brief.to_dict()))
    return view


def _press(ui: UiState, view: View, *names: str) -> None:
    for name in names:
        ui.press(keys.CODES[name], False, view, 0.0)


def _briefs() -> tuple[View, float, tuple[int, int], str, UiState]:
    """The list, with the brief of a bar of four and one that is an eighth short."""
    view, ui = _view(Brief.default().replace(scale="E minor pentatonic")), UiState()
    ui.open_page("briefs", view, 0.0)
    page = ui.pages["briefs"]
    assert isinstance(page, BriefsPage)
    while page.background.busy:
        ui.poll(view, 0.0)
        time.sleep(0.01)
    _press(ui, view, "Down")
    return view, 0.0, (1280, 720), "paper", ui


def _mood() -> tuple[View, float, tuple[int, int], str, UiState]:
    """A dark one, drawn, with the tempo held for the next."""
    found, ui = draw("dark", SEED), UiState(page="mood")
    page = ui.pages["mood"]
    assert isinstance(page, MoodPage)
    page.mood, page.found, page.held, page.at = "dark", found.to_dict(), frozenset({"tempo"}), 2
    return _view(found.brief), 0.0, (1280, 720), "paper", ui


def _devices() -> tuple[View, float, tuple[int, int], str, UiState]:
    view, ui = _view(Brief.default().replace(scale="E dorian")), UiState()
    rows = (("in", "pickup", "connected"), ("out", "loopdeck out", "open to others"), ("controls", "", "none"))
    view.receive(DevicesChanged(devices=tuple(DeviceRow(role=r, name=n, state=s) for r, n, s in rows)))
    view.receive(MixerChanged(device="headphones", parts=(PartRow(part="master", db=-12.0, muted=False),)))
    ui.receive(
        DeviceListChanged(
            ins=("pickup", "pedal board", "keyboard"), outs=("sound module",), sounds=("headphones", "speakers"),
            system="ALSA", virtual=True,
        )
    )  # fmt: skip
    ui.receive(PedalsChanged(name="four-switch", rows=rows_of(load_controls("four-switch"))))
    ui.open_page("devices", view, 0.0)
    _press(ui, view, "Right", "Down")
    return view, 0.0, (1280, 720), "paper", ui


def _learning() -> PedalsChanged:
    return PedalsChanged(
        name="four-switch",
        rows=rows_of(load_controls("four-switch")),
        learning="loop-that",
        heard="CC 80 value 127, channel 1",
        text="CC 80, channel 1, pressed shortly, is 'start, or stop' already. Enter takes it all the same; or press "
        "another switch.",
        wrong=True,
        asks=True,
    )


if __name__ == "__main__":
    main(folder_for(__doc__))
