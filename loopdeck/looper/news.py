"""What a looper tells the window, the shelf and the journal: messages of the protocol, and keeps.

Conventions
    A sentence is told after the clock it speaks of. Passes are counted from 0 in messages, and from
    1 in sentences, as the window counts them.
"""

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.strings import strings_by_channel
from loopdeck.capture.notes import STRAIGHT_BEND
from loopdeck.looper.keep import Keep
from loopdeck.looper.recorder import FREE
from loopdeck.looper.state import COUNTING_IN
from loopdeck.protocol.messages import (
    BendPoint,
    BriefChanged,
    ClockChanged,
    LayerNote,
    LayerNotes,
    LayerRow,
    LayersChanged,
    Message,
    NoteBent,
    NoteEnded,
    NoteStarted,
    NoteWithdrawn,
)

if TYPE_CHECKING:
    from loopdeck.looper.core import Core
    from loopdeck.looper.layers import Layer
    from loopdeck.looper.recorder import PassRecord, Played

#: The most points of a bend curve that are told.
BEND_POINTS = 48


class Kept(NamedTuple):
    """Passes were kept; whoever saves takes wants to know."""

    time_sec: float
    keep: Keep


News = Message | Kept


class Answer(NamedTuple):
    """A sentence for the player, and what it speaks of, as in the message ``Said``: ``state``,
    ``pass``, ``tempo`` or "".
    """

    text: str
    about: str = ""


def pass_words(record: "PassRecord") -> str:
    """A pass as it begins a sentence."""
    return "What was played before the start" if record.index == FREE else f"Pass {record.index + 1}"


def instead_words(record: "PassRecord", now_sec: float) -> str:
    """The same where it takes the place of another one: of what was played before the start there
    may be several, told apart by how long ago they were played.
    """
    if record.index != FREE:
        return pass_words(record)
    return f"What was played {max(now_sec - record.start_sec, 1.0):.0f} s ago"


def passes_words(records: "Iterable[PassRecord]") -> str:
    """Several passes in one sentence: ``pass 4``, ``passes 2 to 4``."""
    numbers = [record.index + 1 for record in records]
    return f"pass {numbers[0]}" if len(numbers) == 1 else f"passes {numbers[0]} to {numbers[-1]}"


def tell_note_on(core: "Core", played: "Played") -> None:
    """A note begins."""
    core.tell(
        NoteStarted(
            time_sec=core.now_sec,
            id=played.id,
            pass_index=played.pass_index,
            at_q=played.at_q,
            slot=played.slot,
            slot_q=played.slot_q,
            pitch=played.pitch,
            velocity=played.velocity,
            channel=played.channel,
            string=played.string,
            stamp_sec=played.stamp_sec,
        )
    )


def tell_note_off(core: "Core", played: "Played") -> None:
    """A note ends."""
    length_q = (played.end_q or 0.0) - played.at_q
    core.tell(NoteEnded(time_sec=core.now_sec, id=played.id, length_q=length_q, bend=_played_bend(core, played)))


def tell_note_withdrawn(core: "Core", played: "Played") -> None:
    """A note that was told of goes out of view: an error of the pickup."""
    core.tell(NoteWithdrawn(time_sec=core.now_sec, id=played.id, why=played.hidden))


def tell_note_bend(core: "Core", played: "Played") -> None:
    """The pitch of a held note moves."""
    core.tell(NoteBent(time_sec=core.now_sec, id=played.id, bend=_played_bend(core, played)))


def _played_bend(core: "Core", played: "Played") -> tuple[BendPoint, ...]:
    qpm = core.transport.qpm if core.state.running else core.brief.tempo.quarters_per_minute
    curve = core.recorder.bend_of(played)
    return () if curve is STRAIGHT_BEND else _bend_points(curve * np.array([qpm / 60.0, 1.0]))


def _bend_points(curve: NDArray[np.float64]) -> tuple[BendPoint, ...]:
    """A bend curve as it is told: at most BEND_POINTS points, the last one always; none for a note
    that stays where it was struck.
    """
    if len(curve) == 1 and curve[0, 1] == 0.0:
        return ()
    chosen = np.unique(np.linspace(0, len(curve) - 1, min(len(curve), BEND_POINTS)).round().astype(int))
    return tuple(BendPoint(round(after_q, 4), round(semitones, 3)) for after_q, semitones in curve[chosen].tolist())


def tell_brief(core: "Core") -> None:
    """The brief has changed."""
    core.tell(BriefChanged(time_sec=core.now_sec, fields=core.brief.to_dict()))


def tell_layer(core: "Core", layer: "Layer") -> None:
    """What a layer holds; where no profile names the strings, as their channels tell."""
    fields = ("onset_q", "duration_q", "pitch", "velocity", "string")
    played = layer.notes.copy()
    strings_by_channel(played, core.brief.tuning)
    rows = zip(*(played[field].tolist() for field in fields), map(_bend_points, layer.bends), strict=True)
    notes = tuple(LayerNote(*row) for row in rows)
    core.tell(LayerNotes(time_sec=core.now_sec, number=layer.number, notes=notes))


def tell_retuned(core: "Core", fields: Iterable[str]) -> None:
    """These fields of the brief have changed: with the tuning the strings of the layers have."""
    if "tuning" in fields:
        for layer in core.stack.layers():
            tell_layer(core, layer)


def tell_layers(core: "Core") -> None:
    """Which layers are active, and how; and which pass "loop that" would take next."""
    stack = core.stack
    rows = tuple(
        LayerRow(
            number=layer.number,
            muted=identity in stack.muted,
            solo=identity == stack.solo,
            sounding=core.state.running and not stack.quiet(identity),
            pass_index=layer.pass_index,
            notes=len(layer),
            channel=layer.channel,
            program=layer.program,
        )
        for identity, layer in stack.rows()
    )
    core.told_promise = core.picker.promise()
    core.tell(LayersChanged(time_sec=core.now_sec, layers=rows, loops_next=core.told_promise))


def tell_clock(core: "Core") -> None:
    """Where time is, in which state, and what comes next."""
    record, state = core.recorder.current, core.state
    anchor = core.transport.anchors[-1] if core.transport.anchors else None
    core.tell(
        ClockChanged(
            time_sec=core.now_sec,
            state=state.name,
            coming=", ".join(_coming(core)),
            running=state.running,
            pass_index=record.index if record is not None and state.name != COUNTING_IN else FREE,
            anchor_sec=anchor.sec if anchor is not None else core.now_sec,
            anchor_q=anchor.quarter if anchor is not None else 0.0,
            qpm=core.transport.qpm if state.running else core.brief.tempo.quarters_per_minute,
            pass_start_q=float(record.start_q) if record is not None else 0.0,
            cycle=str(core.brief.cycle),
            cycle_q=float(core.brief.cycle.quarters),
            run_pass=record.run_pass if record is not None else 0,
            first_bar=record.first_bar if record is not None else 0,
        )
    )


def _coming(core: "Core") -> list[str]:
    """What will change by itself, in words."""
    state, settings = core.state, core.settings
    coming = [f"{state.coming} at the next cycle"] if state.coming is not None else []
    if state.loop_to_come is not None:
        coming.append("another loop at the next cycle")
    if settings.next_cycle is not None:
        coming.append(f"{settings.next_cycle} at the next cycle")
    if settings.next_beat:
        coming.append("a new feel at the next beat")
    return coming
