"""The page of a session's riffs: searched in everything that was played, ticked, put on the shelf.

It is opened by a key at any time, and by itself when the player leaves after having played; then
closing it ends the window. The search is that of ``loopdeck harvest``, in a process of its own.
Pure but for that process.
"""

from dataclasses import dataclass, field
from typing import Any

from loopdeck.window.background import Background, Done, sentence
from loopdeck.window.harvest_process import HarvestProcess, SessionFiles
from loopdeck.window.keys import BY_KEY
from loopdeck.window.pages.page import PageState, Reply
from loopdeck.window.view import View

#: How long the page stays by itself at the end, where nothing was found.
NOTHING_SEC = 2.5
KEYS = frozenset({"Up", "Down", "Left", "Right", "Enter"})
#: What keys do as usual while leaving: the theme, the full screen, and Esc closes.
AT_THE_END = frozenset({"F4", "F11", "Esc"})
NOWHERE = "This window knows no journal, so it cannot search the session; loopdeck harvest can."
SEARCHING = "Searching what you played. Esc leaves without waiting: the journal keeps everything."


@dataclass
class HarvestPage(PageState):
    """``found`` is what ``loopdeck harvest --json`` prints, None before; ``ticked`` and ``kept``
    are letters of riffs; ``leaving``: the session is over, and the window ends with the page.
    """

    keys = KEYS

    files: SessionFiles | None = None
    found: dict[str, Any] | None = None
    problem: str = ""
    at: int = 0
    ticked: frozenset[str] = frozenset()
    kept: dict[str, int] = field(default_factory=dict)
    leaving: bool = False
    over_sec: float | None = None
    """While leaving: when the window ends by itself, since there is nothing to choose from."""
    background: Background = field(default_factory=Background)
    _process: HarvestProcess | None = None

    @property
    def riffs(self) -> list[dict[str, Any]]:
        """What was found, best first."""
        return self.found["riffs"] if self.found is not None else []

    def opened(self, view: View, now_sec: float) -> Reply:
        if self.files is None:
            return Reply(say=NOWHERE, wrong=True, open="")
        if not self.background.busy:
            self.end()
            self.found, self.problem, self.at = None, "", 0
            self.ticked, self.kept = frozenset(), {}
            self._process = process = HarvestProcess(self.files)
            self.background.start("search", process.search)
        return Reply()

    def leave(self) -> None:
        """The session is over; the window ends with the page. No key opens another one in its
        place.
        """
        self.leaving = True
        self.keys = KEYS | BY_KEY.keys() - AT_THE_END

    def press(self, key: str, view: View, now_sec: float) -> Reply:
        if key == "F12":
            return Reply(open="")
        if key not in KEYS:
            return Reply()
        if not self.riffs:
            # While it is still searched the page says so itself.
            searching = self.found is None and not self.problem
            return Reply(say="" if searching else "There is no riff to choose.")
        if key in ("Up", "Down"):
            self.at = (self.at + (1 if key == "Down" else -1)) % len(self.riffs)
            return Reply()
        letter = self.riffs[self.at]["name"]
        if key in ("Left", "Right"):
            self.ticked = self.ticked - {letter} if key == "Left" else self.ticked | {letter}
            return Reply()
        return self._keep()

    def _keep(self) -> Reply:
        """Enter: what is ticked goes to the shelf."""
        letters = [riff["name"] for riff in self.riffs if riff["name"] in self.ticked - self.kept.keys()]
        if not letters:
            return Reply(say="Tick what you want to keep with →, then Enter puts it on the shelf.", wrong=True)
        if self.background.busy or self._process is None:
            return Reply()
        process = self._process
        self.background.start("keep", lambda: process.keep(letters))
        return Reply()

    def poll(self, view: View, now_sec: float) -> Reply | None:
        done = self.background.poll()
        if done is None:
            return None
        if done.error is not None:
            return self._failed(done, now_sec)
        if done.job == "search":
            self.found = done.value
            if self.leaving and not self.riffs:
                self.over_sec = now_sec + NOTHING_SEC
            return Reply()
        return self._kept(done.value)

    def _failed(self, done: Done, now_sec: float) -> Reply:
        assert done.error is not None
        if done.job == "search":
            self.problem = sentence(done.error)
            self.over_sec = now_sec + NOTHING_SEC if self.leaving else None
            return Reply()
        return Reply(say=sentence(done.error), wrong=True)

    def _kept(self, rows: list[dict[str, Any]]) -> Reply:
        self.kept |= {row["riff"]: row["number"] for row in rows}
        words = [f"riff {row['riff']} as take {row['number']}" for row in rows]
        said = ", ".join(words)
        return Reply(say=f"On the shelf: {said}.")

    def says(self) -> list[str]:
        """Sentences for the page."""
        if self.problem:
            return [self.problem]
        if self.found is None:
            return [SEARCHING]
        return [str(one) for one in self.found["says"]]

    def end(self) -> None:
        """The window ends: so does the search; a keep that has begun is waited for."""
        if self._process is not None:
            self._process.end()
            self._process = None
