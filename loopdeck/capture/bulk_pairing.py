"""All the notes of a stretch of playing at once, by the rules of ``pairing``.

Method
    On most channels nothing but note-ons and note-offs decides what a note is: there a note-on ends
    with the next message of its key, which is found for all keys together by one stable sort.
    Channels that bend, hold a pedal or silence all their notes go through a ``Pairer``, event by
    event. Either way the notes are the same.
"""

from collections.abc import Iterable, Mapping, Sequence
from operator import itemgetter
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.capture.events import Event
from loopdeck.capture.notes import NOTE_DTYPE, STRAIGHT_BEND, Notes, empty_notes
from loopdeck.capture.pairing import Pairer, Started

_CHANNELS = 16


class _Messages(NamedTuple):
    """The whole channel messages of three bytes, in order: their ``row`` among all events, and
    their parts, shape (n,).
    """

    row: NDArray[np.int64]
    time_sec: NDArray[np.float64]
    place: NDArray[np.int64]  # port * 16 + channel
    kind: NDArray[np.integer[Any]]
    first: NDArray[np.integer[Any]]
    second: NDArray[np.integer[Any]]

    def only(self, chosen: NDArray[np.bool_]) -> "_Messages":
        return _Messages(
            self.row[chosen],
            self.time_sec[chosen],
            self.place[chosen],
            self.kind[chosen],
            self.first[chosen],
            self.second[chosen],
        )


def pair(events: Iterable[Event], end_sec: float | None = None, strings: Mapping[int, int] | None = None) -> Notes:
    """The notes of a stretch of playing, in order of onset; those that began together stay in the
    order they came.

    ``events`` are taken in order of time, in the order given where times are equal. A note still
    held at the end lasts until ``end_sec`` (default: the time of the last event), or has no length
    when it began later. ``strings`` maps a channel (0 to 15) to the string it comes from (1 is the
    highest); without it strings are 0, not known.
    """
    ordered = sorted(events, key=itemgetter(0))
    if not ordered:
        return empty_notes()
    end = ordered[-1].time_sec if end_sec is None else end_sec
    messages = _messages(ordered)
    eventful = np.isin(messages.place, np.unique(messages.place[_decides_more(messages)]))
    plain, rows = _plain_notes(messages.only(~eventful), end)
    if not eventful.any():
        notes, bends = plain, [STRAIGHT_BEND] * len(plain)
    else:
        other, other_rows, curves = _paired_notes(ordered, messages.row[eventful], end)
        order = np.argsort(np.concatenate([rows, other_rows]), kind="stable")
        notes = np.concatenate([plain, other])[order]
        bends = [STRAIGHT_BEND if at < len(plain) else curves[at - len(plain)] for at in order.tolist()]
    if strings:
        table = np.array([strings.get(channel, 0) for channel in range(_CHANNELS)], np.int8)
        notes["string"] = table[notes["channel"]]
    return Notes(notes, tuple(bends))


def _messages(ordered: Sequence[Event]) -> _Messages:
    """Those of the events that a ``Pairer`` would not ignore for their form."""
    lengths = np.fromiter((len(event.data) for event in ordered), np.int64, len(ordered))
    row = np.flatnonzero(lengths == 3)
    data = np.frombuffer(b"".join([event.data for event in ordered if len(event.data) == 3]), np.uint8).reshape(-1, 3)
    whole = (data[:, 0] >= 0x80) & (data[:, 0] < 0xF0) & ((data[:, 1] | data[:, 2]) < 0x80)
    row, data = row[whole], data[whole]
    ports = np.fromiter((event.port for event in ordered), np.int64, len(ordered))[row]
    times = np.fromiter((event.time_sec for event in ordered), np.float64, len(ordered))[row]
    place = ports * _CHANNELS + (data[:, 0] & 0x0F)
    return _Messages(row, times, place, data[:, 0] & 0xF0, data[:, 1], data[:, 2])


def _decides_more(messages: _Messages) -> NDArray[np.bool_]:
    """Where a message other than a note-on or note-off changes a note: pitch bend, the pedal, and
    what silences a channel.

    Without a bend the bend range, and without a bend or pedal CC121, changes nothing.
    """
    control = messages.kind == 0xB0
    number = messages.first
    found: NDArray[np.bool_] = (messages.kind == 0xE0) | control & ((number == 64) | (number == 120) | (number >= 123))
    return found


def _plain_notes(messages: _Messages, end_sec: float) -> tuple[NDArray[np.void], NDArray[np.int64]]:
    """The notes of channels where keys alone decide, and the row of the event that began each."""
    keys = (messages.kind == 0x80) | (messages.kind == 0x90)
    row, times, place, kind, pitch, velocity = messages.only(keys)
    key = place * 128 + pitch
    order = np.argsort(key, kind="stable")
    ends = np.full(len(order), end_sec)
    followed = np.flatnonzero(key[order][:-1] == key[order][1:])
    ends[order[followed]] = times[order[followed + 1]]
    begun = (kind == 0x90) & (velocity > 0)
    notes = np.zeros(int(begun.sum()), NOTE_DTYPE)
    notes["onset_sec"] = times[begun]
    notes["duration_sec"] = np.maximum(ends - times, 0.0)[begun]
    notes["pitch"], notes["velocity"] = pitch[begun], velocity[begun]
    notes["channel"] = place[begun] % _CHANNELS
    return notes, row[begun]


def _paired_notes(
    ordered: Sequence[Event], rows: NDArray[np.int64], end_sec: float
) -> tuple[NDArray[np.void], NDArray[np.int64], list[NDArray[np.float64]]]:
    """The notes that the events at ``rows`` make, event by event: the notes, the row of the event
    that began each, and their bends.
    """
    pairer = Pairer(remember=None)
    started: list[Started] = []
    began: list[int] = []
    ends: dict[int, float] = {}
    for row in rows.tolist():
        for outcome in pairer.feed(ordered[row]):
            if isinstance(outcome, Started):
                started.append(outcome)
                began.append(row)
            else:
                ends[outcome.id] = outcome.time_sec
    ends.update(pairer.close(end_sec))
    notes = np.zeros(len(started), NOTE_DTYPE)
    notes["onset_sec"] = [note.time_sec for note in started]
    notes["duration_sec"] = [ends[note.id] - note.time_sec for note in started]
    for name in ("pitch", "velocity", "channel"):
        notes[name] = [getattr(note, name) for note in started]
    return notes, np.array(began, np.int64), [pairer.bend_of(note.id) for note in started]
