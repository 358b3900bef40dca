"""The built-in player's session on a simulated clock: the same session, looper, journal and shelf
as live, in a second or two.

Conventions: seconds on the simulated clock, which starts at 0 and jumps from one thing to the next.
"""

from collections.abc import Callable
from pathlib import Path

from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.capture.journal import CommandRecord, JournalWriter, MidiRecord, read_journal
from loopdeck.engine.demo_session import END_SEC_AFTER, LEAD_IN_SEC, Step, moments, performance
from loopdeck.looper.keep import Keep
from loopdeck.looper.machine import Out
from loopdeck.process.clock import SimClock
from loopdeck.protocol.messages import Message, TakeKept
from loopdeck.session.session import Session, header
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import take_of_keep

#: How long a message takes from the string to us, for the simulated player: what a good interface
#: needs. Common practice, no source.
TRAVEL_SEC = 0.001


def simulate(
    brief: Brief,
    journal_path: Path,
    shelf_path: Path,
    tell: Callable[[Message], None],
    look: Callable[[str, float], None],
    hear: Callable[[Out], None] = lambda out: None,
) -> int:
    """Perform the whole session. Every message for a window goes to ``tell``, everything that
    sounds to ``hear``; ``look(name, now)`` is
    called where a picture is worth taking. Returns the number of the take that was kept."""
    clock = SimClock()
    journal_path.unlink(missing_ok=True)
    numbers: list[int] = []
    with Shelf(shelf_path) as shelf, JournalWriter(journal_path, header(brief, 0.0)) as journal:

        def keep(kept: Keep) -> None:
            take = take_of_keep(kept)
            numbers.append(shelf.add(take))
            journal.mark(
                "kept",
                {"number": numbers[-1], "name": take.name, "when": "", "passes": take.recording.passes, "rating": 0},
            )
            session.tell(
                TakeKept(time_sec=clock.now(), number=numbers[-1], name=take.name, passes=take.recording.passes)
            )

        session = Session(brief, clock.now(), journal, keep)
        for one in session.snapshot():
            tell(one)

        def go_to(sec: float) -> None:
            while (due := session.next_due()) is not None and due <= sec:
                clock.move_to(due)
                session.advance(clock.now())
                pass_on()
            clock.move_to(sec)
            session.advance(sec)
            pass_on()

        def pass_on() -> None:
            for out in session.take_outs():
                hear(out)
            for one in session.take_messages():
                tell(one)

        pictures = moments(brief)
        for step in performance(brief):
            while pictures and pictures[0][0] <= step.sec:
                sec, name = pictures.pop(0)
                go_to(sec)
                look(name, sec)
            _perform(session, step, go_to)
        go_to(clock.now() + END_SEC_AFTER)
        journal.end()
    return numbers[-1]


def look_back(journal_path: Path, tell: Callable[[Message], None], look: Callable[[str, float], None]) -> None:
    """Play a performance that was live through a session again, from its journal, for the pictures
    of it.
    """
    journal = read_journal(journal_path)
    brief = brief_from_dict(journal.header["brief"])
    session = Session(brief, float(journal.header["start_sec"]))
    for one in session.snapshot():
        tell(one)
    pictures: list[tuple[float, str]] = []
    for record in journal.records:
        if not isinstance(record, MidiRecord | CommandRecord):
            continue
        if isinstance(record, CommandRecord) and record.name == "start":
            pictures = [(record.at_sec - LEAD_IN_SEC + sec, name) for sec, name in moments(brief)]
        while pictures and pictures[0][0] <= record.at_sec:
            sec, name = pictures.pop(0)
            session.advance(sec)
            _told(session, tell)
            look(name, sec)
        session.apply(record)
        _told(session, tell)


def _told(session: Session, tell: Callable[[Message], None]) -> None:
    session.take_outs()
    for one in session.take_messages():
        tell(one)


def _perform(session: Session, step: Step, go_to: Callable[[float], None]) -> None:
    if step.kind == "command":
        go_to(step.sec)
        session.command(step.name, step.args, step.sec)
    else:
        arrived = step.sec + TRAVEL_SEC
        go_to(arrived)
        session.midi(0, step.data, step.sec, arrived)
