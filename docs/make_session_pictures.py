"""Make the pictures of the beginning and the end of a session again: ``python
docs/make_session_pictures.py [FOLDER]``. Needs no screen.

Playing before the start is told to the process that listens, and its guess offered as the engine
does; the riffs at the end come from the search of ``loopdeck harvest`` in the journal of the
built-in player's session.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from make_pictures import BRIEF, DEVICES
from script_options import folder_for

from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import JournalWriter
from loopdeck.engine.demo_session import performance
from loopdeck.engine.free_listener import FreeListener
from loopdeck.engine.questions import Questions, TempoOffer
from loopdeck.protocol.messages import BriefChanged
from loopdeck.session.harvest import Harvest
from loopdeck.session.session import Session, header
from loopdeck.window.leaving import Leaving
from loopdeck.window.pages.harvest import HarvestPage
from loopdeck.window.picture import save_picture
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

#: A bar of four that somebody plays before the start at 98: place in quarters, pitch, length.
RIFF = (
    (0.0, 28, 0.6),
    (0.75, 31, 0.2),
    (1.0, 33, 0.4),
    (1.5, 35, 0.4),
    (2.0, 28, 0.4),
    (2.5, 38, 0.4),
    (3.0, 35, 0.4),
    (3.5, 30, 0.4),
)
QPM, BARS = 98.0, 4


def offer(path: Path) -> None:
    """What was played before the start, and the question."""
    brief = Brief.default().replace(**(BRIEF | {"cycle": "4/4"}))
    session, view, listener, quarter = Session(brief, 0.0), View(), FreeListener(), 60.0 / QPM
    view.receive(BriefChanged(fields=brief.to_dict()))
    view.receive(DEVICES)
    for bar in range(BARS):
        for at_q, pitch, length_q in RIFF:
            sec = 1.0 + (4 * bar + at_q) * quarter
            session.midi(0, bytes((0x90, pitch, 90)), sec, sec)
            session.midi(0, bytes((0x80, pitch, 0)), sec + length_q * quarter, sec + length_q * quarter)
    now = 1.0 + 4 * BARS * quarter + 0.9
    for message in session.take_messages():
        view.receive(message)
        listener.receive(message, now - 1.0)
    guess = listener.guess(now)
    assert guess is not None
    TempoOffer(Questions(view.receive, lambda: now), lambda: True).guessed(guess)
    # While the last bar is still to be seen.
    save_picture(path, view, now - 0.8)


def harvest(path: Path) -> None:
    """The last page of the built-in player's session."""
    brief = Brief.default().replace(**BRIEF)
    with tempfile.TemporaryDirectory() as folder:
        journal = Path(folder) / "session.journal"
        writer = JournalWriter(journal, header(brief, 0.0))
        session, view = Session(brief, 0.0, journal=writer), View()
        view.receive(BriefChanged(fields=brief.to_dict()))
        view.receive(DEVICES)
        for step in performance(brief):
            if step.kind == "midi":
                session.midi(0, step.data, step.sec, step.sec)
            else:
                session.command(step.name, step.args, step.sec)
        writer.end()
        writer.close()
        for message in session.take_messages():
            view.receive(message)
        found = Harvest(journal).found
    ui = UiState(page="harvest")
    Leaving(None, ui).stand_still(view)
    page = ui.pages["harvest"]
    assert isinstance(page, HarvestPage)
    page.leave()
    page.found, page.ticked = found, frozenset({found["riffs"][0]["name"]})
    save_picture(path, view, 60.0, ui=ui)


if __name__ == "__main__":
    pictures = folder_for(__doc__)
    offer(pictures / "offer.png")
    harvest(pictures / "harvest.png")
