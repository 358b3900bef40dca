"""What lies on a shelf, held ready to be looked through: thousands of takes, page by page.

Theory of operation
    The takes' words are read once, newest first, a slice at a time (``load``), so that the first
    page is there at once and whoever asks in between waits for one slice at most. From then on
    every page and every search is answered from memory. What this program changes is changed here
    as well; what another one has changed is noticed by SQLite's own count, and everything is read
    again in slices while the old rows go on answering.

Conventions
    A search is words with spaces between: all of them must stand in the name, note, tags, mood,
    technique, scale, cycle, tempo or number, capital letters not minded; a word of nothing but
    ``*`` asks for a rating of so many at least. Positions count from 0, the newest take.
"""

from bisect import bisect_left
from collections.abc import Sequence
from typing import Any, NamedTuple

from loopdeck.shelf.store import Shelf

SLICE = 50
#: A search looks at so many takes before it answers for the first time.
AT_ONCE = 4_000


class CatalogueRow(NamedTuple):
    """One take as it is listed.

    ``feeling``: the brief's mood and technique; ``words`` is what a search looks in, ``qpm``
    quarters a minute.
    """

    number: int
    name: str
    kept_at: str
    rating: int
    passes: int
    scale: str
    cycle: str
    qpm: float
    tags: tuple[str, ...]
    note: str
    binned: bool
    feeling: str
    words: str = ""


def _row(found: dict[str, Any]) -> CatalogueRow:
    feeling = f"{found['mood']}\n{found['technique']}"
    fields = {name: found[name] for name in CatalogueRow._fields if name in found}
    return _with_words(CatalogueRow(**{**fields, "tags": tuple(found["tags"]), "feeling": feeling}))


def _with_words(row: CatalogueRow) -> CatalogueRow:
    texts = (row.name, row.note[:1000], row.feeling, *row.tags, row.scale, row.cycle, f"{row.qpm:g}", str(row.number))
    return row._replace(words="\n".join(texts).casefold())


class _Search:
    """The places of the rows that fit, as far as they have been looked at; among those of
    ``within`` where every row that fits is one of them.
    """

    def __init__(self, asked: str, binned: bool, within: "_Search | None" = None) -> None:
        words = asked.casefold().split()
        self.asked, self.binned = asked, binned
        self._rating = max((len(word) for word in words if not word.strip("*")), default=0)
        self._words = [word for word in words if word.strip("*")]
        self._within = within
        self._seen = 0
        self.places: list[int] = []

    def holds(self, asked: str, binned: bool) -> bool:
        """Whether every row that fits these words fits this search, too."""
        return binned is self.binned and "*" not in self.asked and asked.startswith(self.asked)

    def look(self, rows: Sequence[CatalogueRow], most: int | None = None) -> list[int]:
        """The places of what fits; with ``most``, look at no more than so many rows that were not
        looked at before.
        """
        if self._within is not None:
            before = self._within.look(rows, most)
            end = len(before) if most is None else min(len(before), self._seen + most)
            fit = before[self._seen : end]
        else:
            end = len(rows)
            fit = [place for place in range(self._seen, end) if rows[place].binned is self.binned]
        self._seen = end
        if self._rating:
            fit = [place for place in fit if rows[place].rating >= self._rating]
        for word in self._words:
            fit = [place for place in fit if word in rows[place].words]
        self.places += fit
        return self.places

    def done(self, rows: Sequence[CatalogueRow]) -> bool:
        """Whether all rows were looked at."""
        if self._within is None:
            return self._seen == len(rows)
        return self._within.done(rows) and self._seen == len(self._within.places)


class Catalogue:
    """The rows of one shelf. Raises UserError where the shelf cannot be read."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self.rows: list[CatalogueRow] = []
        #: What is read now; the rows themselves, but while a shelf that was changed is read again.
        self._coming = self.rows
        self._below: int | None = None
        self._loading = True
        self._version = shelf.version()
        self._forget_searches()
        shelf.damaged.clear()

    @property
    def complete(self) -> bool:
        """True when every take has been read."""
        return not self._loading

    def load(self, count: int = SLICE) -> None:
        """Read so many takes more, if there are any."""
        if not self._loading:
            return
        found, self._below = self.shelf.listing(self._below, count)
        self._coming += map(_row, found)
        if self._below is None:
            self._loading = False
        if not self._loading:
            self._show(self._coming)

    def look_on(self) -> bool:
        """Look through some more takes for the words that were asked last, before anybody asks
        again; False when all were looked at.
        """
        if self._search.done(self.rows):
            return False
        self._search.look(self.rows, AT_ONCE)
        return True

    def refresh(self) -> bool:
        """Begin to read anew when another program has changed the shelf; True when one has."""
        version = self.shelf.version()
        if version == self._version:
            return False
        self.reread()
        self._version = version
        return True

    def reread(self) -> None:
        """Begin to read anew; a slice is read at once, for a take that has just come."""
        self.shelf.damaged.clear()
        self._loading, self._below = True, None
        # New rows until they have caught up; the old ones answer meanwhile.
        self._coming = []
        found, self._below = self.shelf.listing(None, SLICE)
        self._coming += map(_row, found)
        self._loading = self._below is not None
        if not self._loading:
            self._show(self._coming)
            return
        oldest = self._coming[-1].number if self._coming else 0
        self._show([*self._coming, *(row for row in self.rows if row.number < oldest)])

    def change(self, number: int, **fields: Any) -> None:
        """This program has changed a take."""
        for rows in (self.rows, *([self._coming] if self._coming is not self.rows else [])):
            place = bisect_left(rows, -number, key=lambda row: -row.number)
            if place < len(rows) and rows[place].number == number:
                rows[place] = _with_words(rows[place]._replace(**fields))
        self._forget_searches()

    def row(self, number: int) -> CatalogueRow | None:
        """The row of a take that has been read."""
        place = bisect_left(self.rows, -number, key=lambda row: -row.number)
        return self.rows[place] if place < len(self.rows) and self.rows[place].number == number else None

    def page(
        self, asked: str = "", binned: bool = False, chosen: int | None = None, step: int = 0, room: int = 7
    ) -> dict[str, Any]:
        """The rows around a take: ``step`` places on from ``chosen`` (None: from the newest), with
        at most ``room`` rows in sight.

        ``rows``; ``first``, the place of the first of them, and ``at``, of the chosen one (-1:
        nothing fits), among ``total`` that fit; ``complete``: False while there may be more,
        because the shelf is still read or only its newest takes were looked at.
        """
        search = self._searched(asked, binned)
        # Where nothing is chosen yet, what is found among the newest is enough for the moment.
        places = search.look(self.rows, AT_ONCE if chosen is None else None)
        total = len(places)
        at = 0
        if chosen is not None:
            at = bisect_left(places, -chosen, key=lambda place: -self.rows[place].number)
        at = max(0, min(total - 1, at + step)) if total else -1
        first = max(0, min(at - room // 2, total - room))
        rows = [self.rows[place] for place in places[first : first + room]]
        return {
            "rows": [{**row._asdict(), "words": "", "feeling": "", "note": row.note[:300]} for row in rows],
            "first": first, "at": at, "total": total, "complete": self.complete and search.done(self.rows),
        }  # fmt: skip

    def _show(self, rows: list[CatalogueRow]) -> None:
        if rows is not self.rows:
            self.rows = rows
            self._forget_searches()

    def _forget_searches(self) -> None:
        self._everything = {binned: _Search("", binned) for binned in (False, True)}
        self._search = self._everything[False]

    def _searched(self, asked: str, binned: bool) -> _Search:
        """The search for these words; narrower than the one before where that was the beginning."""
        before = self._search
        if (before.asked, before.binned) != (asked, binned):
            within = before if before.holds(asked, binned) else self._everything[binned]
            self._search = _Search(asked, binned, within) if asked else self._everything[binned]
        return self._search
