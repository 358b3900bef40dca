"""The process that reads a shelf for others: ``python -m loopdeck.process.shelf_server SHELF``.

Theory of operation
    Engine and window must not wait for a disk or for arithmetic, so each has one of these when it
    first needs one, and talks to it over pipes (``shelf_client``). A question is a line of JSON
    ``{"id", "ask", "args"}``, its answer a line ``{"id", "found"}`` or ``{"id", "wrong"}`` with a
    sentence. Pages and changes are answered before pictures, pictures newest first, and between
    them the catalogue is read on, a slice at a time. It ends when its input does.
"""

import gc
import json
import sys
import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from loopdeck.errors import UserError
from loopdeck.export.heard import rows_to_hear
from loopdeck.practice.changed import at_tempo
from loopdeck.rhythm.tempo import FASTEST_QPM, SLOWEST_QPM
from loopdeck.shelf.catalogue import Catalogue
from loopdeck.shelf.cycle_picture import cycle_picture
from loopdeck.shelf.looping import loop_and_levels
from loopdeck.shelf.side_by_side import side_by_side
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take

#: Questions that may wait while others are answered, and how many of them are worth an answer.
LATER, MOST_LATER = ("picture",), 24
PICTURES_KEPT = 512
#: Messages to be heard are handed over in pieces, which the engine takes in without being held up.
PIECE = 400


class ShelfServer:
    """Answers questions on one shelf; the shelf is opened at the first one."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._shelf: Shelf | None = None
        self._catalogue: Catalogue | None = None
        self._pictures: OrderedDict[int, dict[str, Any]] = OrderedDict()
        self._heard: dict[str, Any] = {}
        self._asks: dict[str, Callable[..., Any]] = {
            "ready": lambda: True, "page": self._page, "picture": self._picture, "rate": self._rate, "rename": self._rename, "tag": self._tag,
            "bin": self._bin, "restore": self._restore, "compare": self._compare, "loop": self._loop, "hear": self._hear,
        }  # fmt: skip

    def answer(self, ask: str, args: dict[str, Any]) -> dict[str, Any]:
        """``{"found": ...}``, or ``{"wrong": sentence}``."""
        try:
            return {"found": self._asks[ask](**args)}
        except UserError as error:
            return {"wrong": str(error)}
        except Exception as error:  # one bad take must not end the process
            return {"wrong": f"The shelf could not answer ({type(error).__name__}); nothing was changed."}

    def read_on(self) -> bool:
        """Read a slice more of the catalogue, or look through more of it for what was asked last;
        False when there is no more to do.
        """
        catalogue = self._catalogue
        if catalogue is None:
            return False
        if catalogue.complete:
            return catalogue.look_on()
        # Rows by the hundred thousand form no rings: looking for some among them while they come,
        # or ever after, takes up to a tenth of a second.
        gc.disable()
        try:
            catalogue.load()
        except UserError:
            # The next page says so.
            self._catalogue = None
        if self._catalogue is None or catalogue.complete:
            gc.freeze()
            gc.enable()
        return self._catalogue is not None

    # ---- the shelf -------------------------------------------------------------------------------

    def _opened(self) -> Shelf:
        if self._shelf is None:
            self._shelf = Shelf(self._path)
        return self._shelf

    def _listed(self) -> Catalogue:
        if self._catalogue is None:
            self._catalogue = Catalogue(self._opened())
            self._catalogue.load()
        return self._catalogue

    def _page(self, **args: Any) -> dict[str, Any]:
        catalogue = self._listed()
        if catalogue.refresh():
            self._pictures.clear()
        found = catalogue.page(**args)
        return {**found, "left_out": self._opened().left_out() if found["complete"] else ""}

    def _picture(self, number: int) -> dict[str, Any]:
        if number not in self._pictures:
            self._pictures[number] = cycle_picture(self._opened().get_any(number))
            if len(self._pictures) > PICTURES_KEPT:
                self._pictures.popitem(last=False)
        return self._pictures[number]

    # ---- changing --------------------------------------------------------------------------------

    def _rate(self, number: int, rating: int) -> str:
        self._opened().rate(number, rating)
        self._listed().change(number, rating=rating)
        return f"Take {number} is rated {rating} of 5."

    def _rename(self, number: int, name: str) -> str:
        self._opened().rename(number, name)
        self._listed().change(number, name=name.strip())
        return f"Take {number} is called {name.strip()}."

    def _tag(self, number: int, words: list[str]) -> str:
        """These are its tags now."""
        row = self._listed().row(number)
        before = set(row.tags) if row is not None else set()
        wanted = sorted({word.strip() for word in words if word.strip()})
        if new := [word for word in wanted if word not in before]:
            self._opened().tag(number, new)
        if gone := sorted(before - set(wanted)):
            self._opened().untag(number, gone)
        self._listed().change(number, tags=tuple(wanted))
        return f"Take {number} is tagged {' '.join(wanted)}." if wanted else f"Take {number} has no tags."

    def _bin(self, number: int) -> str:
        self._opened().remove(number)
        self._listed().change(number, binned=True)
        return f"Take {number} is in the bin."

    def _restore(self, number: int) -> str:
        self._opened().restore(number)
        self._listed().change(number, binned=False)
        return f"Take {number} is on the shelf again."

    # ---- taking down -----------------------------------------------------------------------------

    def _compare(self, number: int, target: int) -> str:
        shelf = self._opened()
        return side_by_side(shelf.get(number), shelf.get(target))

    def _loop(self, take: str, playing: str, beside: bool) -> dict[str, Any]:
        loop, levels = loop_and_levels(self._opened().get(take), playing, beside)
        return {"loop": loop, "levels": levels}

    def _hear(self, take: str, first: int = 0, click: bool = False, percent: int = 100) -> dict[str, Any]:
        """The messages of a take from the ``first`` on, at most ``PIECE`` of them; ``left``: how
        many come after them.
        """
        if first == 0:
            found = self._opened().get(take)
            rows, length = rows_to_hear(_at_percent(found, percent), click)
            plain = [(sec, part, data.hex()) for sec, part, data in rows]
            self._heard = {"number": found.number, "name": found.name, "length": length, "rows": plain}
        rows_left = self._heard.get("rows", [])[first:]
        return {**self._heard, "rows": rows_left[:PIECE], "left": max(0, len(rows_left) - PIECE)}


def _at_percent(take: Take, percent: int) -> Take:
    """The take at ``percent`` of its tempo, within the range of tempi."""
    if percent == 100:
        return take
    points = take.tempo().points
    qpm = ([point for point in points if point[1] <= 0] or points[:1])[-1][2]
    return at_tempo(take, min(max(qpm * percent / 100.0, SLOWEST_QPM), FASTEST_QPM))


def main(argv: list[str] | None = None) -> int:
    """Answer until the input ends."""
    words = sys.argv[1:] if argv is None else argv
    server, asked = ShelfServer(Path(words[0])), SimpleQueue[str | None]()
    threading.Thread(target=_read, args=(asked,), daemon=True).start()
    later: deque[dict[str, Any]] = deque()
    more = False
    while True:
        try:
            line = asked.get(block=not (later or more))
        except Empty:
            if later:
                _tell(server, later.pop())
            more = server.read_on()
            continue
        if line is None:
            return 0
        question = json.loads(line)
        if question["ask"] in LATER:
            put_off(later, question)
        else:
            _tell(server, question)
        more = True


def _read(asked: "SimpleQueue[str | None]") -> None:
    for line in sys.stdin:
        asked.put(line)
    asked.put(None)


def put_off(later: deque[dict[str, Any]], question: dict[str, Any]) -> None:
    """Answer it after the others. Of too many the oldest is given up: its answer has nothing in it,
    so that it may be asked again.
    """
    if len(later) >= MOST_LATER:
        _write({"id": later.popleft()["id"]})
    later.append(question)


def _tell(server: ShelfServer, question: dict[str, Any]) -> None:
    _write({"id": question["id"], **server.answer(question["ask"], question["args"])})


def _write(answer: dict[str, Any]) -> None:
    print(json.dumps(answer, separators=(",", ":")), flush=True)


if __name__ == "__main__":
    sys.exit(main())
