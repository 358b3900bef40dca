"""The time of a keep: its passes one behind the other on one axis, whatever happened between them.

Conventions
    Seconds of the session, quarters of its axis. Between a stop and the next start no time ran, so
    the pass after a stop begins where the one that was stopped would have ended. A cycle that
    changed makes the passes one long cycle, so that every bar of each stands where it was played.
"""

from collections.abc import Sequence
from contextlib import suppress
from itertools import pairwise

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.looper.recorder import PassRecord
from loopdeck.looper.transport import Transport
from loopdeck.rhythm.anchor import Anchor, forward
from loopdeck.rhythm.tempo import UNITS, parse_tempo, written_tempo

#: A tempo that differs by less is the same: that of a clock source wavers. Beats a minute.
SAME_TEMPO = 0.05


def tempo_map(transport: Transport, records: Sequence[PassRecord], end_sec: float) -> tuple[Anchor, ...]:
    """The anchors of consecutive passes, until ``end_sec``; no position lies before an earlier
    one.
    """
    runs = _runs(records)
    found: list[Anchor] = []
    shift_q = 0.0
    for number, run in enumerate(runs):
        first = run[0]
        until_sec = end_sec if number == len(runs) - 1 else run[-1].end_sec
        start, *later = transport.since(first.start_sec)
        anchors = [start, *(one for one in later if until_sec is None or one.sec < until_sec)]
        if number:
            before = runs[number - 1][-1]
            shift_q += float(before.start_q + before.cycle_q - first.start_q)
            anchors[0] = _led_in(anchors[0], first, before)
        found += [one._replace(quarter=one.quarter + shift_q) for one in anchors]
    return forward(found)


def _runs(records: Sequence[PassRecord]) -> list[list[PassRecord]]:
    """The passes, parted where time was stopped between two of them."""
    runs = [[records[0]]]
    for before, record in pairwise(records):
        if record.start_q == before.start_q + before.cycle_q and not before.cut_short:
            runs[-1].append(record)
        else:
            runs.append([record])
    return runs


def _led_in(start: Anchor, first: PassRecord, before: PassRecord) -> Anchor:
    """The start of a run, half a slot earlier, or where the run before had ended: an early downbeat
    belongs to it.
    """
    early_sec = start.sec - first.slots.half_q * 60.0 / start.qpm
    if before.end_sec is not None:
        early_sec = min(max(early_sec, before.end_sec), start.sec)
    return Anchor(early_sec, start.quarter_at(early_sec), start.qpm)


def _written(qpm: float, unit: str) -> str:
    """A tempo as it was set by hand or by a ramp; that of a clock source to a tenth of a beat."""
    exact = written_tempo(qpm, unit, places=3)
    set_by_hand = abs(parse_tempo(exact).quarters_per_minute - qpm) < 1e-6
    return exact if set_by_hand else written_tempo(qpm, unit, places=1)


def brief_of(records: Sequence[PassRecord], brief: Brief, qpm: float) -> tuple[Brief, int]:
    """The brief with the cycle of these passes and the tempo they ended in, and how many rounds of
    that cycle they are.
    """
    if abs(qpm - brief.tempo.quarters_per_minute) >= SAME_TEMPO * float(UNITS[brief.tempo.unit]):
        # At the very edge of what is allowed it may be rounded beyond it; the map has it exactly.
        with suppress(UserError):
            brief = brief.replace(tempo=_written(qpm, brief.tempo.unit))
    cycles = [str(record.cycle or brief.cycle) for record in records]
    if len(set(cycles)) > 1:
        try:
            return brief.replace(cycle=" ".join(cycles)), 1
        except UserError:
            # Longer than a cycle can be: as the last of them.
            pass
    return brief.replace(cycle=cycles[-1]), len(records)
