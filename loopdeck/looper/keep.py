"""What a keep takes away: the raw events of some passes, with everything needed to place them
again.

Conventions
    The kept stretch reaches from half a slot before its first pass (an early downbeat belongs to
    it) to its last end; what was played early for the pass after it is left to that pass. The
    controllers in force at the start stand in front, so that the events alone tell how everything
    sounded.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.looper.kept_time import brief_of, tempo_map
from loopdeck.looper.recorder import FREE, PassRecord, Recorder
from loopdeck.looper.recording import Recording
from loopdeck.looper.transport import Anchor, Transport


@dataclass(frozen=True, kw_only=True)
class Keep(Recording):
    """A kept stretch of playing.

    ``start_sec`` is the start of the first kept pass on the session's clock; every other time
    counts from there. ``identity`` names what was kept within its session: two keeps of the same
    playing, with the same layers heard, have the same one, and it is the same again when the
    session is replayed. ``name`` is not part of it.
    """

    name: str
    start_sec: float
    identity: str = ""


def _is_note(data: bytes) -> bool:
    return data[0] & 0xE0 == 0x80


def _events_of(
    recorder: Recorder, first: PassRecord, last: PassRecord, from_sec: float, until_sec: float
) -> list[Event]:
    wanted = range(first.index, last.index + 1)
    mine: set[int] = set()
    events: list[Event] = []
    for event, note_id in recorder.events:
        note = recorder.notes.get(note_id) if note_id is not None else None
        if note is not None and note.pass_index in wanted:
            events.append(event)
            mine.add(note.id)
        elif note_id in mine or (from_sec <= event.time_sec < until_sec and not _is_note(event.data)):
            events.append(event)
    return events


def keep_passes(
    recorder: Recorder, transport: Transport, records: list[PassRecord], now_sec: float, brief: Brief, **more: Any
) -> Keep:
    """The keep of consecutive passes, at least one.

    ``brief`` is the one of the moment: the cycle and the tempo of a keep are those of its passes.
    ``more`` are the fields of a Keep that no pass tells.
    """
    first, last = records[0], records[-1]
    start_sec, start_q = first.start_sec, float(first.start_q)
    end_sec = last.end_sec if last.end_sec is not None else now_sec
    early_sec = first.slots.half_q * 60.0 / transport.since(start_sec)[0].qpm
    events = _events_of(recorder, first, last, start_sec - early_sec, end_sec)
    controls = [event._replace(time_sec=start_sec - early_sec) for event in first.controls]
    # A control that was in force at the start would otherwise stand twice: once by itself and once
    # as its own event.
    kept = [event for event in controls if event not in events] + events
    anchors = tempo_map(transport, records, end_sec)
    brief, passes = brief_of(records, brief, anchors[-1].qpm)
    return Keep(
        events=_from(start_sec, kept),
        brief=brief,
        passes=passes,
        tempo_map=tuple(Anchor(a.sec - start_sec, a.quarter - start_q, a.qpm) for a in anchors),
        start_sec=start_sec,
        end_sec=end_sec - start_sec,
        run_pass=first.run_pass,
        first_bar=first.first_bar,
        first_pass=first.index,
        **more,
    )


def keep_free(recorder: Recorder, now_sec: float, brief: Brief, **more: Any) -> Keep:
    """The keep of everything that was played while no time ran."""
    events = [event for event, note_id in recorder.events if _belongs_to_free(recorder, note_id)]
    start_sec = min((event.time_sec for event in events), default=now_sec)
    return Keep(
        events=_from(start_sec, events),
        brief=brief,
        passes=0,
        tempo_map=(Anchor(0.0, 0.0, brief.tempo.quarters_per_minute),),
        start_sec=start_sec,
        end_sec=now_sec - start_sec,
        **more,
    )


def _from(start_sec: float, events: list[Event]) -> tuple[Event, ...]:
    return tuple(event._replace(time_sec=event.time_sec - start_sec) for event in events)


def identity_of(records: list[PassRecord], events: tuple[Event, ...], start_sec: float, heard: Iterable[int]) -> str:
    """What a keep is called within its session: which passes (and how far, if the last one runs
    still), and which layers were heard.
    """
    layers = " ".join(map(str, heard)) or "none"
    if records and records[-1].finished:
        stretch = f"passes {records[0].index} to {records[-1].index}"
    else:
        last_sec = start_sec + max((event.time_sec for event in events), default=0.0)
        stretch = f"pass {records[0].index}" if records else f"free from {start_sec:.6f}"
        stretch += f" until {last_sec:.6f} with {len(events)} events"
    return f"{stretch}, layers {layers}"


def _belongs_to_free(recorder: Recorder, note_id: int | None) -> bool:
    note = recorder.notes.get(note_id) if note_id is not None else None
    return note is None or note.pass_index == FREE
