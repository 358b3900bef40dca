"""The thread that plays wakes the others where nothing is due, and not too late; what it handed
over by then is written.
"""

import itertools
from pathlib import Path

from loopdeck.capture.journal import JournalWriter, MidiRecord, read_journal
from loopdeck.engine.journal_thread import MOST_HELD, JournalThread
from loopdeck.engine.quiet_moments import MOST_SEC, QUIET_SEC, PatientJournal, QuietMoments


def test_others_are_woken_where_nothing_is_due_for_a_while() -> None:
    moments = QuietMoments()
    assert moments.now(10.0, None) and moments.now(10.0, 10.0 + 2 * QUIET_SEC)
    assert not moments.now(10.0, 10.0 + QUIET_SEC / 2)


def test_others_wait_only_so_long_where_something_is_always_due() -> None:
    moments, woken = QuietMoments(), []
    for index in range(200):
        now = 10.0 + index * 0.0005
        if moments.now(now, now + QUIET_SEC / 4):
            woken.append(now)
    gaps = [after - before for before, after in itertools.pairwise(woken)]
    assert len(gaps) >= 10 and min(gaps) >= MOST_SEC - 1e-9 and max(gaps) <= MOST_SEC + 0.0006


def test_events_are_written_when_the_journal_is_woken(tmp_path: Path) -> None:
    path = tmp_path / "one.journal"
    journal = JournalThread(JournalWriter(path, {"start_sec": 0.0}), lambda text, wrong: None)
    sink = PatientJournal(journal)
    try:
        sink.midi(1.0, 1.0, 1.0, 0, b"\x90\x28\x50")
        journal.wake()
        assert journal.wait_synced(wait_sec=10.0)
        assert [one.data for one in read_journal(path).records if isinstance(one, MidiRecord)] == [b"\x90\x28\x50"]
        for index in range(MOST_HELD):
            sink.midi(2.0 + index, 2.0 + index, 2.0 + index, 0, b"\x80\x28\x00")
    finally:
        assert journal.end(10.0), "what was held is written at the end"
    assert sum(isinstance(one, MidiRecord) for one in read_journal(path).records) == 1 + MOST_HELD
