"""The end of a session in the window: the page of its riffs stays, while the engine saves and ends.

Theory of operation
    When the player leaves after having played, the engine is told goodbye as usual, so it saves and
    ends at once; only the window stays, with the page of riffs, until that is closed or has nothing
    to show. Asking to leave once more ends it. Nothing waits for the player's choice: the journal
    holds everything.
"""

from collections.abc import Callable
from dataclasses import replace

from loopdeck.window.harvest_process import SessionFiles
from loopdeck.window.pages.harvest import HarvestPage
from loopdeck.window.timeline import ENDED, ClockReading
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

#: From so many notes on something may have come back.
LEAST_NOTES = 8
PAGE = "harvest"


class Leaving:
    """``active`` from the moment the player leaves until the window ends."""

    def __init__(self, files: SessionFiles | None, ui: UiState) -> None:
        self._ui = ui
        self._page = page = ui.pages[PAGE]
        assert isinstance(page, HarvestPage)
        page.files = files
        self._harvest = page
        self.active = False

    def begins(self, view: View, now_sec: float, say_goodbye: Callable[[], None]) -> bool:
        """The player wants to leave; True when the page of riffs stays instead. ``say_goodbye``
        hangs up on the engine.
        """
        ui, files = self._ui, self._harvest.files
        # Notes are numbered through the session.
        last = view.played.last
        played = last.id + 1 if last is not None else 0
        if self.active or files is None or not files.at_end or view.engine_lost or played < LEAST_NOTES:
            return False
        self.active = True
        self._harvest.leave()
        files.leaving.set()
        say_goodbye()
        self.stand_still(view)
        # What was said of leaving has come to pass.
        view.tell("", False, now_sec)
        ui.quit, ui.entry = False, None
        ui.open_page(PAGE, view, now_sec)
        return True

    def over(self, now_sec: float) -> bool:
        """True when the page is closed, or has nothing to show."""
        over_sec = self._harvest.over_sec
        return self.active and (self._ui.page != PAGE or (over_sec is not None and now_sec >= over_sec))

    def end(self) -> None:
        """The window ends."""
        self._harvest.end()

    @staticmethod
    def stand_still(view: View) -> None:
        """Show that nothing runs or sounds, now that the engine has been told goodbye."""
        clock = view.clock
        view.clock = ClockReading(state=ENDED, cycle=clock.cycle, cycle_q=clock.cycle_q, qpm=clock.qpm)
        view.layers = tuple(replace(row, sounding=False) for row in view.layers)
        view.notices.questions = ()
        view.changed.update(("clock", "layers", "waiting"))
