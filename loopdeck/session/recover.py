"""Sessions that ended without warning, and the take that is made of one.

Task
    A journal without an end mark that nobody holds is a session whose engine or machine died. ``lost_sessions`` finds them; ``keep_of_journal``
    plays one through the looper again and takes all of it. ``python -m loopdeck.session.recover JOURNAL SHELF`` puts it on the shelf, in a
    process of its own, since a long session takes seconds and the engine has no time; it prints the take's row as JSON.

Conventions
    The take's time begins with its first pass (or, without one, with its first event). Between a stop and the next start no time ran; on the
    take's one axis of quarters such a pause lasts a whole number of cycles, at whatever tempo fits, so that every pass begins with a cycle.
"""

import json
import sys
from datetime import UTC, datetime
from math import ceil
from pathlib import Path
from typing import Any

from loopdeck.audio.levels import Mix, levels_of_marks
from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.capture.errors import CaptureError
from loopdeck.capture.events import Event
from loopdeck.capture.journal import (
    CommandRecord,
    JournalReader,
    JournalWriter,
    MarkRecord,
    MidiRecord,
    finished,
    in_use,
    read_journal,
)
from loopdeck.looper.keep import Keep
from loopdeck.looper.state import STOPPED
from loopdeck.looper.transport import Anchor
from loopdeck.process.options import SUFFIX
from loopdeck.protocol.messages import ClockChanged
from loopdeck.session.session import CONTROL, Session


def _is_note_on(record: Any) -> bool:
    return isinstance(record, MidiRecord) and record.port < CONTROL and record.data[:1] != b"" and _on(record.data)


def _on(data: bytes) -> bool:
    return len(data) == 3 and data[0] & 0xF0 == 0x90 and data[2] > 0


def lost_sessions(folder: Path, but: Path | None = None) -> list[Path]:
    """The unfinished journals in a folder in which something was played, oldest first, without ``but``. Unreadable files are passed over."""
    found = []
    for path in sorted(folder.glob(f"*{SUFFIX}")):
        try:
            if (but is not None and path.samefile(but)) or finished(path) or in_use(path):
                continue
            with JournalReader(path) as reader:
                if any(_is_note_on(record) for record in reader):
                    found.append(path)
        except (OSError, CaptureError):
            continue
    return found


def when_of(path: Path) -> str:
    """When a session began, for people: ``2026-03-01 20:15``."""
    try:
        with JournalReader(path) as reader:
            return str(reader.header.get("started", ""))[:16].replace("T", " ")
    except (OSError, CaptureError):
        return ""


class _TimeLine:
    """One axis of quarters for a whole session, from the clock messages of its replay."""

    def __init__(self) -> None:
        self.anchors: list[Anchor] = []
        self.first_pass_sec: float | None = None
        self.passes = 0
        self._shift_q = 0.0
        self._stopped: tuple[float, float] | None = None
        self._running = False

    def hear(self, one: ClockChanged) -> None:
        """Take in one clock message."""
        sec = one.time_sec
        if not one.running:
            if self._running and self.anchors:
                last = self.anchors[-1]
                self._stopped = (sec, last.quarter + (sec - last.sec) * last.qpm / 60.0)
            self._running = False
            return
        anchor = Anchor(one.anchor_sec, one.anchor_q, one.qpm)
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
                lead_q = one.pass_start_q - anchor.quarter
                self.first_pass_sec = anchor.sec + lead_q * 60.0 / anchor.qpm

    def _start(self, anchor: Anchor, one: ClockChanged) -> None:
        first_q = one.pass_start_q
        if self._stopped is None:
            self._shift_q = -first_q
            return
        stopped_sec, stopped_q = self._stopped
        lead_q = first_q - anchor.quarter
        cycle_q = one.cycle_q
        pause_q = max(anchor.sec - stopped_sec, 1e-3) * anchor.qpm / 60.0
        start_q = ceil((stopped_q + pause_q + lead_q) / cycle_q) * cycle_q
        self._shift_q = start_q - first_q
        # The tempo of the pause is what makes it come out even.
        quarters = start_q - lead_q - stopped_q
        self.anchors.append(Anchor(stopped_sec, stopped_q, quarters * 60.0 / max(anchor.sec - stopped_sec, 1e-3)))


def keep_of_journal(path: Path) -> Keep | None:
    """Everything that was played in a session, as a keep; None when nothing was. Raises CaptureError, OSError."""
    journal = read_journal(path)
    if not any(_is_note_on(record) for record in journal.records):
        return None
    start_sec = float(journal.header["start_sec"])
    session = Session(brief_from_dict(journal.header["brief"]), start_sec)
    line = _TimeLine()
    events: list[Event] = []
    late: dict[int, float] = {}

    def listen() -> None:
        for one in session.take_messages():
            if isinstance(one, ClockChanged):
                line.hear(one)
        session.take_outs()

    for record in journal.records:
        session.apply(record)
        listen()
        if isinstance(record, MidiRecord) and record.port < CONTROL and 0x80 <= record.data[0] < 0xF0:
            events.append(Event(record.stamp_sec, record.port, record.data))
        elif isinstance(record, CommandRecord) and record.name == "late":
            late[int(record.args.get("port", 0))] = float(record.args.get("sec", 0.0))
    end_sec = session.looper.now_sec
    if session.looper.state != STOPPED:
        # A pass that was being layered when the end came becomes a layer, as it would by a stop.
        session.looper.command(end_sec, "stop")
        session.advance(end_sec)
        listen()
    brief: Brief = session.looper.brief
    zero_sec = line.first_pass_sec if line.first_pass_sec is not None else events[0].time_sec
    anchors = line.anchors or [Anchor(zero_sec, 0.0, brief.tempo.quarters_per_minute)]
    return Keep(
        events=tuple(event._replace(time_sec=event.time_sec - zero_sec) for event in events),
        brief=brief,
        passes=line.passes,
        name=f"session of {when_of(path)}".strip(),
        layers=tuple(session.looper.layers()),
        muted=session.looper.muted,
        tempo_map=tuple(anchor._replace(sec=anchor.sec - zero_sec) for anchor in anchors),
        start_sec=zero_sec,
        end_sec=end_sec,
        late=tuple(sorted(late.items())),
    )


def _mix_of(path: Path) -> Mix:
    """How loud each part was at the end of a session."""
    with JournalReader(path) as reader:
        return levels_of_marks(record for record in reader if isinstance(record, MarkRecord)).mix()


def settle(path: Path, kind: str, data: dict[str, Any]) -> None:
    """Write down what became of a lost session, and that it is done with: it is not offered again, and stays where it is."""
    writer = JournalWriter.resume(path)
    try:
        writer.mark(kind, data)
        writer.end()
    finally:
        writer.close()


def row_of(number: int, name: str, passes: int, rating: int = 0) -> dict[str, Any]:
    """What the window shows of a take that was kept just now."""
    return {"number": number, "name": name, "when": f"{datetime.now():%H:%M}", "passes": passes, "rating": rating}


def recover(path: Path, shelf_path: Path) -> dict[str, Any]:
    """Put a lost session on the shelf as a take; returns its row. Raises CaptureError, ShelfError, OSError."""
    from loopdeck.shelf.store import Shelf
    from loopdeck.shelf.take import RECOVERED, take_of_keep

    keep = keep_of_journal(path)
    if keep is None:
        settle(path, "left", {})
        raise CaptureError(f"Nothing was played in {path}, so there is nothing to keep.")
    take = take_of_keep(keep, RECOVERED, mix=_mix_of(path))
    with Shelf(shelf_path) as shelf:
        number = shelf.add(take, source=path.name)
    row = row_of(number, take.name, take.passes)
    settle(path, "recovered", {**row, "at": datetime.now(UTC).isoformat(timespec="seconds")})
    return row


def main() -> int:
    """``python -m loopdeck.session.recover JOURNAL SHELF``."""
    path, shelf_path = Path(sys.argv[1]), Path(sys.argv[2])
    try:
        print(json.dumps(recover(path, shelf_path)))
    except (ValueError, OSError) as error:
        print(str(error), file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
