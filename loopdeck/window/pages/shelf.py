"""The page of the shelf: takes page by page, found by words, heard, looped, rated, tagged, renamed,
compared, put to the bin and back, and written out. Pure but for ``ShelfRequests``, through which
others read and write.

Up and down choose a take, left and right what is to be done, Enter does it: three switches are
enough for all of it. Some of it has a key of its own as well.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from loopdeck.window.background import sentence
from loopdeck.window.pages.page import PageState, Reply
from loopdeck.window.pages.shelf_rows import MOST_STEP, ROOM, ShelfRows
from loopdeck.window.sent import Entry, Sent, command
from loopdeck.window.shelf_requests import MIDI, WAV, ShelfRequests
from loopdeck.window.view import View

STEPS = {
    "Up": -1, "Down": 1, "Shift+Up": -ROOM, "Shift+Down": ROOM, "PageUp": -ROOM, "PageDown": ROOM, "Home": -MOST_STEP,
    "End": MOST_STEP,
}  # fmt: skip
MOST_RATING = 5
#: At how much of its tempo a take may be heard, in percent; our own choice.
PERCENTS = (100, 90, 80, 70, 60, 50)
#: The window has come up, and what it needs first has been started.
WARM_SEC = 6.0


class ShelfAct(NamedTuple):
    """What Enter does: its word on the belt, and the method."""

    word: str
    do: "Callable[[ShelfPage, View], Reply]"
    #: It needs no take.
    alone: bool = False


@dataclass
class ShelfPage(PageState):
    """``rows`` are those in sight; ``act_at`` is the chosen place of the belt; ``marked`` the take
    that another one is compared with. A take is heard with the ``click`` and at ``percent`` of its
    tempo.
    """

    keys = frozenset({*STEPS, "Left", "Right", "Enter", "Delete", "Shift+Left", "Shift+Right", "Shift+Enter"})

    rows: ShelfRows = field(default_factory=ShelfRows)
    act_at: int = 0
    marked: int | None = None
    click: bool = False
    percent: int = 100
    _open: bool = False
    _entry: Entry | None = None
    _first_sec: float | None = None
    """When the window first asked whether something had come."""

    def acts_here(self, view: View) -> tuple[ShelfAct, ...]:
        """What can be done, in the order of the belt."""
        if self.rows.binned:
            return _BIN
        chosen = self.rows.chosen
        heard = chosen is not None and view.shelf.heard == chosen["number"]
        return (_QUIET if heard else _HEAR, *_ACTS, self._tempo_act, self._click_act)

    @property
    def _click_act(self) -> ShelfAct:
        return ShelfAct(f"click: {'on' if self.click else 'off'}", ShelfPage.turn_click)

    @property
    def _tempo_act(self) -> ShelfAct:
        return ShelfAct(f"tempo: {self.percent} %", ShelfPage.turn_tempo)

    # ---- keys ------------------------------------------------------------------------------------

    def opened(self, view: View, now_sec: float) -> Reply:
        if self.rows.requests is None:
            self.rows.requests = ShelfRequests(lambda: self.shelf)
        self._open = True
        self.rows.look(0)
        return Reply()

    def closed(self, view: View, now_sec: float) -> Reply:
        self._open = False
        return Reply(command("hear-no-take") if view.shelf.heard else [])

    def press(self, key: str, view: View, now_sec: float) -> Reply:
        if key in STEPS:
            self.rows.look(STEPS[key])
            return Reply()
        acts = self.acts_here(view)
        if key in ("Left", "Right"):
            self.act_at = (self.act_at + (1 if key == "Right" else -1)) % len(acts)
            return Reply()
        act = {
            "Shift+Enter": _SEARCH, "Delete": _BACK if self.rows.binned else _REMOVE, "Shift+Left": _WORSE,
            "Shift+Right": _BETTER, "Enter": acts[min(self.act_at, len(acts) - 1)],
        }[key]  # fmt: skip
        if self.rows.chosen is None and not act.alone:
            more = "; search for other words" if self.rows.asked else ""
            return Reply(say=f"There is no take here{more}.", wrong=True)
        return act.do(self, view)

    def entered(self, entry: Entry, view: View, now_sec: float) -> Reply | None:
        text = entry.text.strip()
        if entry.field == "search":
            self._entry = None
            if text != self.rows.asked:
                self.rows.search(text)
        elif entry.field == "tags":
            self.rows.change("tag", words=text.split())
        elif text:
            self.rows.change("rename", name=text)
        else:
            entry.wrong = "A name has at least one letter."
            return None
        return Reply()

    # ---- what Enter does -------------------------------------------------------------------------

    def hear(self, view: View) -> Reply:
        """With the click and at the tempo that are chosen."""
        more: dict[str, Any] = {"click": True} if self.click else {}
        if self.percent != PERCENTS[0]:
            more["percent"] = self.percent
        return Reply(command("hear-take", take=self.number, **more))

    def turn_click(self, view: View) -> Reply:
        """With the click, or without; what is heard begins anew."""
        self.click = not self.click
        return self._anew(view)

    def turn_tempo(self, view: View) -> Reply:
        """The next share of its own tempo."""
        self.percent = PERCENTS[(PERCENTS.index(self.percent) + 1) % len(PERCENTS)]
        return self._anew(view)

    def _anew(self, view: View) -> Reply:
        return self.hear(view) if view.shelf.heard == self.number else Reply()

    @property
    def number(self) -> int:
        """The number of the chosen take; only where there is one."""
        assert self.rows.chosen is not None
        return int(self.rows.chosen["number"])

    def loop(self, playing: str, beside: bool = False) -> Reply:
        """Its loop takes the place of what is heard of it."""
        quiet: list[Sent] = command("hear-no-take")
        return Reply([*quiet, *command("loop-take", take=self.number, playing=playing, beside=beside)])

    def rate(self, by: int) -> Reply:
        """From the best to none, and round."""
        row = self.rows.chosen
        if row is not None and not self.rows.binned:
            self.rows.rate((row["rating"] + by) % (MOST_RATING + 1))
        return Reply()

    def type_line(self, what: str) -> Reply:
        """A line to be typed, with what is there."""
        row = self.rows.chosen
        if what == "search":
            self._entry = Entry("search", self.rows.asked, offered=True, page="shelf", title="words")
            return Reply(entry=self._entry)
        assert row is not None
        text = row["name"] if what == "name" else " ".join(row["tags"])
        return Reply(entry=Entry(what, text, offered=what == "name", page="shelf", title=what))

    def compare(self, view: View) -> Reply:
        """Mark one, then compare another one with it."""
        number, marked = self.number, self.marked
        if marked is None:
            self.marked = number
            return Reply(say=f"Take {number} is marked; choose another one and compare again.")
        self.marked = None
        if marked == number:
            return Reply(say=f"Take {number} is not marked any more.")
        self.rows.ask("compare", number=number, target=marked)
        return Reply()

    def remove(self, view: View) -> Reply:
        """Into the bin; what is heard of it ends."""
        heard = view.shelf.heard == self.number
        self.rows.change("bin")
        return Reply(command("hear-no-take") if heard else [])

    def put_back(self, view: View) -> Reply:
        """Out of the bin."""
        self.rows.change("restore")
        return Reply()

    def write(self, ending: str) -> Reply:
        """Into a file."""
        assert self.rows.chosen is not None
        self.rows.requests.write(self.number, self.rows.chosen["name"], ending)
        return Reply(say=f"Take {self.number} is being written.")

    def turn_bin(self, view: View) -> Reply:
        """The bin, or the shelf again."""
        self.act_at, self.marked, self._entry = 0, None, None
        self.rows.search("", not self.rows.binned)
        return Reply()

    # ---- what comes of it ------------------------------------------------------------------------

    def poll(self, view: View, now_sec: float) -> Reply | None:
        rows = self.rows
        if rows.requests is None:
            self._warm(now_sec)
            return None
        if (done := rows.requests.written()) is not None:
            wrong = done.error is not None
            return Reply(say=sentence(done.error) if wrong else f"It is in {done.value}.", wrong=wrong)
        if (answer := rows.requests.answer()) is not None:
            said, wrong = rows.take(answer, now_sec)
            _tell_kept(view, rows)
            return Reply(say=said, wrong=wrong)
        entry = self._entry
        if self._open and entry is not None and not entry.offered and entry.text.strip() != rows.asked:
            rows.search(entry.text.strip())
            return Reply()
        if self._open and now_sec >= rows.again_sec:
            rows.again_sec = now_sec + 1.0
            rows.look(0)
        return None

    def _warm(self, now_sec: float) -> None:
        """Start the process that reads the shelf once everything else has come up, so that the
        first page is there when it is asked for.
        """
        self._first_sec = now_sec if self._first_sec is None else self._first_sec
        if self.shelf and now_sec >= self._first_sec + WARM_SEC:
            self.rows.requests = ShelfRequests(lambda: self.shelf)
            self.rows.requests.ask("ready")


def _tell_kept(view: View, rows: ShelfRows) -> None:
    """The last keeps, which stand on a panel, have the names and ratings that they have here."""
    known = {row["number"]: row for row in rows.found["rows"]}
    kept = tuple(
        replace(one, name=known[one.number]["name"], rating=known[one.number]["rating"]) if one.number in known else one
        for one in view.shelf.kept
    )
    if kept != view.shelf.kept:
        view.shelf.kept = kept
        view.changed["keeps"] += 1


_HEAR = ShelfAct("hear", ShelfPage.hear)
_QUIET = ShelfAct("stop hearing", lambda page, view: Reply(command("hear-no-take")))
_SEARCH = ShelfAct("search", lambda page, view: page.type_line("search"), alone=True)
_BACK = ShelfAct("put back", ShelfPage.put_back)
_REMOVE = ShelfAct("to the bin", ShelfPage.remove)
_BETTER = ShelfAct("rate", lambda page, view: page.rate(1))
_WORSE = ShelfAct("rate lower", lambda page, view: page.rate(-1))
_ACTS = (
    ShelfAct("loop the best pass", lambda page, view: page.loop("best")),
    ShelfAct("loop the riff", lambda page, view: page.loop("riff")),
    ShelfAct("loop all passes", lambda page, view: page.loop("passes")),
    ShelfAct("loop its layers", lambda page, view: page.loop("layers")),
    ShelfAct("beside the loop", lambda page, view: page.loop("best", beside=True)),
    ShelfAct("practise", lambda page, view: Reply(command("window-practise", take=page.number), open="")),
    _BETTER,
    ShelfAct("tag", lambda page, view: page.type_line("tags")),
    ShelfAct("rename", lambda page, view: page.type_line("name")),
    ShelfAct("compare", ShelfPage.compare),
    ShelfAct("MIDI file", lambda page, view: page.write(MIDI)),
    ShelfAct("sound file", lambda page, view: page.write(WAV)),
    ShelfAct("tab and page", lambda page, view: Reply(command("write-take", take=page.number))),
    _REMOVE,
    ShelfAct("look into the bin", ShelfPage.turn_bin, alone=True),
    _SEARCH,
)
_BIN = (_BACK, _SEARCH, ShelfAct("back to the shelf", ShelfPage.turn_bin, alone=True))
