"""The session journal: every event that arrived and every command, in one file that may be cut
anywhere.

Task
    Promise 1: nothing played is lost. A record is appended for each event and command; whatever
    happens to the process or the machine, all records whole on disk can be read back, bit for bit,
    and fed to the looper again.

Conventions
    The bytes are described in docs/journal.md; the structs of ``journal_records`` are that
    description. Times are seconds on the session's clock, stored as IEEE 754 doubles, so that they
    come back exactly. Ports are 0 to 255, in the order the header or the marks name them.

This module exports the names of the others: ``journal_records`` (what a record is, and its bytes),
``journal_reader``, ``journal_writer``, and ``journal_files`` (locks, and what makes a file last).
"""

from loopdeck.capture.journal_files import in_use
from loopdeck.capture.journal_reader import Journal, JournalPosition, JournalReader, finished, read_journal
from loopdeck.capture.journal_records import (
    MAGIC,
    MAX_BODY,
    MAX_FILE,
    VERSION,
    CommandRecord,
    MarkRecord,
    MidiRecord,
    Record,
)
from loopdeck.capture.journal_writer import JournalWriter, UnfinishedJournal

__all__ = [
    "MAGIC",
    "MAX_BODY",
    "MAX_FILE",
    "VERSION",
    "CommandRecord",
    "Journal",
    "JournalPosition",
    "JournalReader",
    "JournalWriter",
    "MarkRecord",
    "MidiRecord",
    "Record",
    "UnfinishedJournal",
    "finished",
    "in_use",
    "read_journal",
]
