"""The rows of the shelf that are in sight, and the questions that bring them. Pure but for
``requests``.

Theory of operation
    Each step asks ``requests`` for the rows around the chosen take. While an answer is on its way,
    further steps are added up and asked for with the next question, so however fast keys repeat
    there is one question at a time, and the newest place is what is shown. Nothing is remembered of
    the shelf but the rows in sight, and pictures.
"""

from collections import OrderedDict
from dataclasses import dataclass, field
from typing import Any

from loopdeck.process.shelf_client import ShelfAnswer

ROOM = 5
"""Rows in sight."""
PICTURES = 200
#: The rows are asked for anew so often, and while the shelf is still being read.
LOOK_SEC, READING_SEC = 1.0, 0.15
MOST_STEP = 10**9
_NONE: dict[str, Any] = {"rows": [], "first": 0, "at": -1, "total": 0, "complete": False, "left_out": ""}


@dataclass
class ShelfRows:
    """``found`` is the newest page (``Catalogue.page``); ``trouble`` a sentence when the shelf
    cannot be read.
    """

    requests: Any = None
    asked: str = ""
    binned: bool = False
    found: dict[str, Any] = field(default_factory=lambda: dict(_NONE))
    trouble: str = ""
    pictures: OrderedDict[int, dict[str, Any]] = field(default_factory=OrderedDict)
    again_sec: float = 0.0
    """When the rows are to be asked for anew."""
    _step: int = 0
    _waiting: dict[int, int] = field(default_factory=dict)
    """The questions on their way: 0 for the rows, the take for its picture, -1 for others."""
    _rated: dict[int, tuple[int, int]] = field(default_factory=dict)
    """The take and its new rating, by the question on its way that changes it."""

    @property
    def chosen(self) -> dict[str, Any] | None:
        """The chosen take; None where nothing fits."""
        place = self.found["at"] - self.found["first"]
        return self.found["rows"][place] if 0 <= place < len(self.found["rows"]) else None

    def search(self, words: str, binned: bool | None = None) -> None:
        """Other words, or the bin: from the newest take that fits."""
        self.asked = words
        self.binned = self.binned if binned is None else binned
        self.found = {**self.found, "rows": [], "at": -1}
        self._step = 0
        # An answer to the words of before is none to these.
        self._waiting = {number: take for number, take in self._waiting.items() if take}
        self.look(0)

    def look(self, step: int) -> None:
        """Ask for the rows ``step`` places on; later, while an answer is on its way."""
        self._step = max(-MOST_STEP, min(MOST_STEP, self._step + step))
        if 0 in self._waiting.values():
            return
        chosen = self.chosen["number"] if self.chosen is not None else None
        number = self.requests.ask(
            "page", asked=self.asked, binned=self.binned, chosen=chosen, step=self._step, room=ROOM
        )
        self._waiting[number], self._step = 0, 0

    def ask(self, ask: str, **args: Any) -> None:
        """Anything else; what comes of it is a sentence."""
        self._waiting[self.requests.ask(ask, **args)] = -1

    def change(self, ask: str, **args: Any) -> None:
        """Change the chosen take, and look what has become of it."""
        if self.chosen is not None:
            self.ask(ask, number=self.chosen["number"], **args)
            self.look(0)

    def rate(self, rating: int) -> None:
        """Rate the chosen take. It is shown so at once, and until the change has been answered:
        rows that were asked for before do not know of it.
        """
        if self.chosen is not None:
            number = self.chosen["number"]
            asked = self.requests.ask("rate", number=number, rating=rating)
            self._waiting[asked], self._rated[asked] = -1, (number, rating)
            self._show_ratings()
            self.look(0)

    def take(self, answer: ShelfAnswer, now_sec: float) -> tuple[str, bool]:
        """An answer; returns a sentence for the player, or "", and whether something was wrong."""
        take = self._waiting.pop(answer.id, None)
        self._rated.pop(answer.id, None)
        if take is None:
            return "", False
        if answer.ask == "page":
            return self._take_page(answer, now_sec), True
        if answer.ask == "picture":
            if answer.found is not None or answer.wrong:
                self.pictures[take] = answer.found or {"groups": [], "notes": []}
            if len(self.pictures) > PICTURES:
                self.pictures.popitem(last=False)
            return "", False
        self.look(0)
        return answer.wrong or str(answer.found), bool(answer.wrong)

    def _take_page(self, answer: ShelfAnswer, now_sec: float) -> str:
        new, self.trouble = answer.wrong != self.trouble, answer.wrong
        if answer.wrong:
            self.again_sec = now_sec + LOOK_SEC
            self.found = {**_NONE, "complete": True}
            return answer.wrong if new else ""
        left_out = answer.found["left_out"]
        new = left_out != self.found["left_out"]
        self.found = answer.found
        self._show_ratings()
        self.again_sec = now_sec + (LOOK_SEC if answer.found["complete"] else READING_SEC)
        for row in self.found["rows"]:
            number = row["number"]
            if number not in self.pictures and number not in self._waiting.values():
                self._waiting[self.requests.ask("picture", number=number)] = number
        if self._step:
            self.look(0)
        return left_out if new else ""

    def _show_ratings(self) -> None:
        ratings = dict(self._rated.values())
        for row in self.found["rows"]:
            row["rating"] = ratings.get(row["number"], row["rating"])
