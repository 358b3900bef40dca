"""Sessions that ended without warning, and the take that is made of one.

Task
    A journal without an end mark that nobody holds is a session whose engine or machine died.
    ``lost_sessions`` finds them; ``recover`` plays one through the looper again and puts it on the
    shelf. ``python -m loopdeck.session.recover JOURNAL SHELF`` does that in a process of its own,
    since a long session takes seconds and the engine has no time; it prints what ``Recovered``
    holds as JSON.

Conventions
    The take's time begins with its first pass (or, without one, with its first event). Between a
    stop and the next start no time ran; on the take's one axis of quarters such a pause lasts a
    whole number of cycles, so that every pass begins with a cycle: its longest silence at whatever
    tempo fits, the rest at the tempo before it.
"""

import json
import sys
from collections.abc import Mapping
from contextlib import suppress
from datetime import UTC, datetime
from itertools import pairwise
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.capture.journal import (
    JournalReader,
    JournalWriter,
    MidiRecord,
    Record,
    UnfinishedJournal,
    finished,
    in_use,
    read_journal,
)
from loopdeck.errors import UserError
from loopdeck.looper.keep import Keep
from loopdeck.looper.recorder import FREE
from loopdeck.process.options import SUFFIX
from loopdeck.protocol.messages import ClockChanged, Message
from loopdeck.rhythm.anchor import Anchor, forward
from loopdeck.session.keep_identity import keep_identity
from loopdeck.session.records import is_usable
from loopdeck.session.replay import Replay, replay_records
from loopdeck.session.session import CONTROL, Session
from loopdeck.session.state_file import remove_state

if TYPE_CHECKING:
    from loopdeck.shelf.take import Take


def _is_note_on(record: Any) -> bool:
    return isinstance(record, MidiRecord) and record.port < CONTROL and record.data[:1] != b"" and _on(record.data)


def _on(data: bytes) -> bool:
    return len(data) == 3 and data[0] & 0xF0 == 0x90 and data[2] > 0


def lost_sessions(folder: Path, but: Path | None = None) -> list[Path]:
    """The unfinished journals in a folder in which something was played, oldest first, without
    ``but``. Unreadable files are passed over.
    """
    found = []
    for path in sorted(folder.glob(f"*{SUFFIX}")):
        try:
            if (but is not None and path.samefile(but)) or finished(path) or in_use(path):
                continue
            with JournalReader(path) as reader:
                if any(_is_note_on(record) for record in reader):
                    found.append(path)
        except (OSError, UserError):
            continue
    return found


def when_of(path: Path) -> str:
    """When a session began, for people, in local time: ``2026-03-01 20:15``."""
    try:
        with JournalReader(path) as reader:
            started = str(reader.header.get("started", ""))
    except (OSError, UserError):
        return ""
    with suppress(ValueError, OverflowError, OSError):
        return f"{datetime.fromisoformat(started).astimezone():%Y-%m-%d %H:%M}"
    return started[:16].replace("T", " ")


def said_when(when: str, now: datetime) -> str:
    """The same as one would say it at ``now``: ``20:15``, ``yesterday, 20:15``, ``1 March, 20:15``,
    ``1 March 2026, 20:15``; as it stands where it is not a time.
    """
    try:
        begun = datetime.fromisoformat(when)
    except ValueError:
        return when
    days = (now.date() - begun.date()).days
    if days in (0, 1):
        return f"{'' if days == 0 else 'yesterday, '}{begun:%H:%M}"
    year = f" {begun.year}" if begun.year != now.year else ""
    return f"{begun.day} {begun:%B}{year}, {begun:%H:%M}"


class _TimeLine:
    """One axis of quarters for a whole session, from the clock messages of its replay."""

    def __init__(self) -> None:
        self.anchors: list[Anchor] = []
        self.first_pass_sec: float | None = None
        self.passes = 0
        self._shift_q = 0.0
        self._stopped: tuple[float, float] | None = None
        self._running = False
        self._played: list[float] = []

    def struck(self, sec: float) -> None:
        """Take in when a note began."""
        if not self._running:
            self._played.append(sec)

    def hear(self, one: ClockChanged) -> None:
        """Take in one clock message."""
        sec = one.time_sec
        if not one.running:
            if self._running and self.anchors:
                self._played.clear()
                last = self.anchors[-1]
                self._stopped = (sec, last.quarter_at(sec))
            self._running = False
            return
        anchor = one.anchor
        if not self._running:
            self._start(anchor, one)
            self._running = True
        moved = anchor._replace(quarter=anchor.quarter + self._shift_q)
        if not self.anchors or moved.sec > self.anchors[-1].sec:
            self.anchors.append(moved)
        elif moved.sec == self.anchors[-1].sec:
            self.anchors[-1] = moved
        if one.pass_index >= 0:
            self.passes = max(self.passes, one.pass_index + 1)
            if self.first_pass_sec is None:
                self.first_pass_sec = anchor.sec_at(one.pass_start_q)

    def _start(self, anchor: Anchor, one: ClockChanged) -> None:
        first_q = one.pass_start_q
        if self._stopped is None:
            self._shift_q = -first_q
            return
        stopped_sec, stopped_q = self._stopped
        lead_q = first_q - anchor.quarter
        cycle_q = one.cycle_q
        pause_sec = max(anchor.sec - stopped_sec, 1e-3)
        qpm = self.anchors[-1].qpm if self._played else anchor.qpm
        start_q = ceil((stopped_q + pause_sec * qpm / 60.0 + lead_q) / cycle_q) * cycle_q
        self._shift_q = start_q - first_q
        self.anchors += self._pause(Anchor(stopped_sec, stopped_q, qpm), stopped_sec + pause_sec, start_q - lead_q)

    def _pause(self, stopped: Anchor, end_sec: float, end_q: float) -> list[Anchor]:
        """The pause from ``stopped`` on: what was played in it keeps the tempo, and its longest
        silence lasts as long as makes the pause come out even."""
        played = sorted(sec for sec in self._played if stopped.sec < sec < end_sec)
        moments = [stopped.sec, *played, end_sec]
        _, begin, end = max((later - sec, sec, later) for sec, later in pairwise(moments))
        begin_q = stopped.quarter_at(begin)
        after_q = end_q - (end_sec - end) * stopped.qpm / 60.0
        silence = Anchor(begin, begin_q, (after_q - begin_q) * 60.0 / (end - begin))
        anchors = [silence] if begin == stopped.sec else [stopped, silence]
        return anchors if end == end_sec else [*anchors, Anchor(end, after_q, stopped.qpm)]


class _Story(Replay):
    """A session as it is told by its journal: everything that was played, on one line of time."""

    def __init__(self, head: Mapping[str, Any]) -> None:
        try:
            super().__init__(head)
        except UserError:
            # What was played is worth more than the brief it was played in.
            self._begin(Session, Brief.default(), 0.0)
            self.skipped = 1
        self.line = _TimeLine()
        self.events: list[Event] = []

    def feed(self, record: Record) -> None:
        """One record; events are taken down whatever becomes of it in the looper."""
        if isinstance(record, MidiRecord) and record.port < CONTROL and is_usable(record, record.at_sec):
            if (
                not self.events
                and self.session.looper.pass_index == FREE
                and not is_usable(record, self.session.looper.now_sec)
            ):
                # The header's start was wrong; time begins here.
                self.session.looper.advance(record.at_sec)
            if 0x80 <= record.data[0] < 0xF0:
                self.events.append(Event(record.stamp_sec, record.port, record.data))
                if _on(record.data):
                    self.line.struck(record.stamp_sec)
        super().feed(record)

    def hear(self, messages: list[Message]) -> None:
        """Follow the clock."""
        for one in messages:
            if isinstance(one, ClockChanged):
                self.line.hear(one)

    def whole(self, name: str) -> Keep | None:
        """All of it as a keep; None when no note was played."""
        if not any(_on(event.data) for event in self.events):
            return None
        looper = self.session.looper
        zero_sec = self.line.first_pass_sec if self.line.first_pass_sec is not None else self.events[0].time_sec
        anchors = self.line.anchors or [Anchor(zero_sec, 0.0, looper.brief.tempo.quarters_per_minute)]
        return Keep(
            events=tuple(event._replace(time_sec=event.time_sec - zero_sec) for event in self.events),
            brief=looper.brief,
            passes=self.line.passes,
            name=name,
            layers=tuple(looper.layers()),
            muted=looper.muted,
            tempo_map=forward(anchor._replace(sec=anchor.sec - zero_sec) for anchor in anchors),
            start_sec=zero_sec,
            end_sec=looper.now_sec - zero_sec,
            late=dict(sorted(self.session.late_sec.items())),
        )


def _read(unfinished: UnfinishedJournal) -> _Story:
    story = replay_records(lambda: _Story(unfinished.reader.header), unfinished.start_again)
    story.skipped += unfinished.reader.unreadable
    # A pass that was being layered when the end came becomes a layer, and what was to be kept when
    # it ended is kept.
    story.stop()
    return story


def keep_of_journal(path: Path) -> Keep | None:
    """Everything that was played in a session, as a keep; None when nothing was. Raises UserError,
    OSError.
    """
    with UnfinishedJournal(path) as unfinished:
        return _read(unfinished).whole(_name(path))


def take_of_journal(path: Path) -> "Take | None":
    """Everything that was played in a session, as a take that is on no shelf; None when nothing
    was. The journal is only read, also while
    somebody still writes it. Raises UserError, OSError."""
    from loopdeck.shelf.take import RECOVERED, take_of_keep

    journal = read_journal(path)
    story = replay_records(lambda: _Story(journal.header), lambda: journal.records)
    story.stop()
    whole = story.whole(_name(path))
    return take_of_keep(whole, RECOVERED) if whole is not None else None


def _name(path: Path) -> str:
    when = when_of(path)
    return f"session of {when}" if when else path.stem


def mark_done(path: Path, kind: str, data: dict[str, Any]) -> None:
    """Write down what became of a lost session, and that it is done with: it is not offered again,
    and stays where it is.
    """
    with UnfinishedJournal(path) as unfinished:
        for _record in unfinished.reader:
            pass
        if not unfinished.reader.complete:
            writer = unfinished.go_on(JournalWriter)
            try:
                writer.mark(kind, data)
                writer.end()
            finally:
                writer.close()
    remove_state(path)


def row_of(number: int, name: str, passes: int, rating: int = 0) -> dict[str, Any]:
    """What the window shows of a take that was kept just now."""
    return {"number": number, "name": name, "when": f"{datetime.now():%H:%M}", "passes": passes, "rating": rating}


def source_of(session_id: str, identity: str) -> str:
    """What the shelf knows a keep by, so that it never takes one twice: its session and its
    identity there.
    """
    return f"{session_id} keep {identity}"


class Recovered(NamedTuple):
    """What came of a lost session: the row of the take of all of it, of those it had kept and not
    saved, and how many records were of no use.
    """

    whole: dict[str, Any]
    kept: list[dict[str, Any]]
    skipped: int


def recover(path: Path, shelf_path: Path) -> Recovered:
    """Put a lost session on the shelf: as a take of all of it, and each keep that was not saved as
    a take of its own.

    Raises UserError when nothing was played; OSError.
    """
    from loopdeck.shelf.store import Shelf
    from loopdeck.shelf.take import RECOVERED, take_of_keep

    with UnfinishedJournal(path) as unfinished:
        story = _read(unfinished)
        whole, session_id = story.whole(_name(path)), unfinished.reader.identity
        if unfinished.reader.complete:
            # What was put aside when the disk was full has made it whole.
            raise UserError(f"{path} ended in order; its takes are on the shelf.")
    if whole is None:
        mark_done(path, "left", {})
        raise UserError(f"Nothing was played in {path}, so there is nothing to keep.")
    mix = story.levels.mix()
    kept = []
    with Shelf(shelf_path) as shelf:
        for keep in story.unsaved:
            take = take_of_keep(keep, mix=mix)
            number = shelf.add(take, source=source_of(session_id, keep_identity(keep)))
            kept.append({**row_of(number, take.name, take.recording.passes), "identity": keep_identity(keep)})
        take = take_of_keep(whole, RECOVERED, mix=mix)
        number = shelf.add(take, source=f"{session_id} session")
    row = row_of(number, take.name, take.recording.passes)
    mark_done(path, "recovered", {**row, "kept": kept, "at": datetime.now(UTC).isoformat(timespec="seconds")})
    for one in kept:
        del one["identity"]
    return Recovered(row, kept, story.skipped)


def main() -> int:
    """``python -m loopdeck.session.recover JOURNAL SHELF``."""
    path, shelf_path = Path(sys.argv[1]), Path(sys.argv[2])
    try:
        print(json.dumps(recover(path, shelf_path)._asdict()))
    except (UserError, OSError) as error:
        print(str(error), file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
