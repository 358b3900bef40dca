"""A session made again from its journal.

Task
    The same records give the same session. ``replay`` feeds them; ``Replay`` also remembers what
    the looper does not: which keeps no record says were saved, how loud everything was, how many
    records could not be used.

What happens to a bad record
    One that is of no use on its face (``records``) is passed over. One that makes the looper fail
    leaves a session half changed, so everything is played again without it; after ``MOST_AGAIN`` of
    those the rest of the failing ones is passed over as they come.
"""

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from typing import Any, TypeVar

from loopdeck.audio.levels import MARK, Levels, levels_of_marks
from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.capture.journal import MarkRecord, Record
from loopdeck.errors import UserError
from loopdeck.looper.keep import Keep
from loopdeck.looper.state import STOPPED
from loopdeck.protocol.fields import MessageError
from loopdeck.protocol.messages import Message, TakeKept, message_from
from loopdeck.session.keep_identity import keep_identity
from loopdeck.session.records import is_usable
from loopdeck.session.session import Session

MOST_AGAIN = 20
#: No clock of a session has got further than a century.
LATEST_SEC = 3.2e9
#: The kind of mark by which a journal notes that a keep is on the shelf.
KEPT = "kept"


class Replay:
    """A session on its way through its journal.

    ``session`` is not to be played on before ``finish``.
    """

    def __init__(self, head: Mapping[str, Any], kind: type[Session] = Session) -> None:
        """Begin with a journal's header.

        Raises UserError if it is not the header of a session.
        """
        try:
            brief, start_sec = brief_from_dict(head["brief"]), float(head["start_sec"])
            if not abs(start_sec) <= LATEST_SEC:  # no number at all, too
                raise ValueError
        except (KeyError, TypeError, AttributeError, ValueError, OverflowError) as error:
            raise UserError("The journal's header does not say what its session started from.") from error
        self._begin(kind, brief, start_sec)

    def _begin(self, kind: type[Session], brief: Brief, start_sec: float) -> None:
        self.session = kind(brief, start_sec, keep=self._keep)
        self.levels = Levels()
        self.skipped = 0
        self._unsaved: dict[str, Keep] = {}
        self._saved: set[str] = set()

    @property
    def unsaved(self) -> tuple[Keep, ...]:
        """The keeps of which no record says that they are on the shelf, in the order they were
        made.
        """
        return tuple(self._unsaved.values())

    def feed(self, record: Record) -> None:
        """One record, as it took effect then.

        What the session sent and told meanwhile is dropped, but for ``hear``.
        """
        if isinstance(record, MarkRecord):
            self._mark(record)
        elif is_usable(record, self.session.looper.now_sec):
            self.session.apply(record)
            # Hours of clicks are not to pile up while nobody sends them.
            self.session.take_outs()
            self.hear(self.session.take_messages())
        else:
            self.skipped += 1

    def hear(self, messages: list[Message]) -> None:
        """What the session told because of a record."""

    def stop(self) -> float:
        """Time stopped when the session broke off: a pass that was being layered becomes a layer,
        and what was to be kept at its end is kept.

        Returns when that was. Goes into the session's journal, where it has one.
        """
        at_sec = self.session.looper.now_sec
        if self.session.looper.state != STOPPED:
            self.session.command("stop", {}, at_sec)
        self.session.command("silence", {}, at_sec)
        self.session.take_outs()
        self.hear(self.session.take_messages())
        return at_sec

    def _keep(self, keep: Keep) -> None:
        identity = keep_identity(keep)
        if identity not in self._saved:
            self._unsaved.setdefault(identity, keep)

    def _mark(self, mark: MarkRecord) -> None:
        if mark.kind == KEPT:
            identity = mark.data.get("identity")
            if not isinstance(identity, str):
                # An earlier loopdeck wrote down keeps in the order they were made, and nothing
                # else.
                identity = next(iter(self._unsaved), "")
            self._saved.add(identity)
            self._unsaved.pop(identity, None)
            row = {key: value for key, value in mark.data.items() if key != "identity"}
            with suppress(MessageError):
                self.session.tell(message_from(TakeKept, row))
        elif mark.kind == MARK:
            self.levels = levels_of_marks((mark,), self.levels)


AnyReplay = TypeVar("AnyReplay", bound=Replay)


def replay_records(begin: Callable[[], AnyReplay], records: Callable[[], Iterable[Record]]) -> AnyReplay:
    """Feed all records to what ``begin`` makes; both are called again when a record makes the
    looper fail.
    """
    failing: set[int] = set()
    while True:
        found = begin()
        last = len(failing) >= MOST_AGAIN
        failed = _feed_all(found, records(), failing, last)
        if failed is None:
            found.skipped += len(failing)
            return found
        failing.add(failed)


def _feed_all(found: Replay, records: Iterable[Record], without: set[int], last: bool) -> int | None:
    """Feed the records; returns the number of the first that fails, None when none does (or with
    ``last``, when they are passed over).
    """
    for number, record in enumerate(records):
        if number in without:
            continue
        try:
            found.feed(record)
        except Exception:
            if not last:
                return number
            found.skipped += 1
    return None


def replay(
    head: Mapping[str, Any],
    records: Iterable[Record],
    keep: Callable[[Keep], None] | None = None,
    kind: type[Session] = Session,
) -> Session:
    """The session that a journal's records tell of, as it stood after the last one. ``keep`` gets
    the keeps that no record says were saved.

    Raises UserError if the header is not that of a session.
    """
    rows = tuple(records)
    found = replay_records(lambda: Replay(head, kind), lambda: rows)
    found.session.keep = keep
    for one in found.unsaved:
        if keep is not None:
            keep(one)
    return found.session
