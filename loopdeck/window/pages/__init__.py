"""The pages that are opened by a command of their own, by name: ``window-NAME`` opens NAME.

A new page is one line here and one in ``drawing``, and its command in the table of commands.
"""

from collections.abc import Callable

from loopdeck.window.pages.briefs import BriefsPage
from loopdeck.window.pages.devices import DevicesPage
from loopdeck.window.pages.harvest import HarvestPage
from loopdeck.window.pages.mood import MoodPage
from loopdeck.window.pages.page import PageState
from loopdeck.window.pages.pedals import PedalsPage
from loopdeck.window.pages.shelf import ShelfPage

STATES: dict[str, Callable[[], PageState]] = {
    "briefs": BriefsPage,
    "mood": MoodPage,
    "shelf": ShelfPage,
    "harvest": HarvestPage,
    "devices": DevicesPage,
    "pedals": PedalsPage,
}


def new_states() -> dict[str, PageState]:
    """The state of every page, as a window begins with."""
    return {name: make() for name, make in STATES.items()}
