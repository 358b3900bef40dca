"""What a keep takes out of the history.

Conventions
    The kept stretch reaches from half a slot before its first pass (an early downbeat belongs to it) to its last end; what was played
    early for the pass after it is left to that pass. The controllers in force at the start stand in front, so that the events alone
    tell how everything sounded.
"""

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.looper.history import FREE, History, PassRecord
from loopdeck.looper.keep import Keep
from loopdeck.looper.layers import Layer
from loopdeck.looper.transport import Anchor, Transport


def _is_note(data: bytes) -> bool:
    return data[0] & 0xE0 == 0x80


def _events_of(history: History, first: PassRecord, last: PassRecord, from_sec: float, until_sec: float) -> list[Event]:
    wanted = range(first.index, last.index + 1)
    mine: set[int] = set()
    events: list[Event] = []
    for event, note_id in history.events:
        note = history.notes.get(note_id) if note_id is not None else None
        if note is not None and note.pass_index in wanted:
            events.append(event)
            mine.add(note.id)
        elif note_id in mine or (from_sec <= event.time_sec < until_sec and not _is_note(event.data)):
            events.append(event)
    return events


def keep_of(
    history: History,
    transport: Transport,
    records: list[PassRecord],
    brief: Brief,
    name: str,
    layers: list[Layer],
    muted: frozenset[int],
    now_sec: float,
) -> Keep:
    """The keep of consecutive passes; without any (``records`` empty) of everything played while no time ran."""
    if records:
        first, last = records[0], records[-1]
        start_sec = first.start_sec
        end_sec = last.end_sec if last.end_sec is not None else now_sec
        early_sec = first.slots.half_q * 60.0 / transport.since(start_sec)[0].qpm
        events = _events_of(history, first, last, start_sec - early_sec, end_sec)
        anchors = [anchor for anchor in transport.since(start_sec) if anchor.sec < end_sec]
        start_q = float(first.start_q)
        controls = [event._replace(time_sec=start_sec - early_sec) for event in first.controls]
    else:
        free = [(event, note_id) for event, note_id in history.events]
        events = [event for event, note_id in free if _belongs_to_free(history, note_id)]
        start_sec = min((event.time_sec for event in events), default=now_sec)
        end_sec = now_sec
        anchors = [Anchor(start_sec, 0.0, brief.tempo.quarters_per_minute)]
        start_q = 0.0
        controls = []
    # A control that was in force at the start would otherwise stand twice: once by itself and once as its own event.
    kept = [event for event in controls if event not in events] + events
    return Keep(
        events=tuple(event._replace(time_sec=event.time_sec - start_sec) for event in kept),
        brief=brief,
        passes=len(records),
        name=name,
        layers=tuple(layers),
        muted=muted,
        tempo_map=tuple(Anchor(a.sec - start_sec, a.quarter - start_q, a.qpm) for a in anchors),
        start_sec=start_sec,
        end_sec=end_sec,
        run_pass=records[0].run_pass if records else 0,
        first_bar=records[0].first_bar if records else 0,
    )


def _belongs_to_free(history: History, note_id: int | None) -> bool:
    note = history.notes.get(note_id) if note_id is not None else None
    return note is None or note.pass_index == FREE
