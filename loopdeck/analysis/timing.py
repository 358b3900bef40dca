"""Timing: which slot each note belongs to, how early or late it came, and where quantizing puts it.

Conventions
    Onsets are seconds, positions quarters from the start of the take; a tempo map leads from one to
    the other. Bars are counted from 1, slots from 0 within their cycle. ``offset_ms`` is the onset
    minus the *played* place of its slot: negative is early. Meters come as stretches: a cycle that
    repeats from some quarter on, until the next stretch begins. A take has one, its brief's cycle;
    a file has one for every time signature, with a cycle of one bar, until ``repeating`` finds the
    cycle they make. A stretch that is cut off in mid-bar ends there, and the downbeat after it
    draws the notes that are nearer to it than to the last slot before. The core (``place_onsets``)
    is arrays in, arrays out; ``report`` makes the dictionary that is printed.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.analysis.transcription.placing import KnownNotes, Transcribed, slot_numbers, transcribe_notes
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import MAX_BARS, MAX_CYCLE_QUARTERS, Cycle, Meter
from loopdeck.rhythm.quantize import locate, move, slots
from loopdeck.rhythm.swing import UNITS, Swing
from loopdeck.rhythm.tempo import TempoMap

#: What is nearer to its slot than this counts as on time: the just noticeable displacement of a
#: tone at fast tempi (Friberg & Sundberg, "Time discrimination in a monotonic, isochronous
#: sequence", JASA 98, 1995).
ON_TIME_MS = 6.0
#: A file with more bars than this is not searched for a cycle.
_MOST_BARS = 20_000
#: No beat has so many places.
_MOST_PLACES = 4096


@dataclass(frozen=True)
class Feel:
    """How onsets are judged and moved: ``strength`` 0 to 1, ``window`` above 0 to 1; ``straight``
    takes the swing out of the result:
    each onset is shifted by its slot's written minus its played place. ``find_swing``: on the grid
    auto, a straight swing means that the swing is not known and is to be found."""

    grid: Grid
    swing: Swing
    strength: float = 1.0
    window: float = 1.0
    straight: bool = False
    find_swing: bool = True


class Placed(NamedTuple):
    """For each of k onsets, in their order; ``written`` has the exact quarters in the bar, the rest
    are arrays of shape (k,).

    ``bar`` from 1 (0 and less before the start), ``slot`` from 0 in the cycle, ``target_q`` the
    slot's played place and ``quantized_q`` where the onset is moved to, both in quarters from the
    start of the take. ``found``: what the grid auto found out besides.
    """

    bar: NDArray[np.int64]
    slot: NDArray[np.int64]
    written: list[Fraction]
    target_q: NDArray[np.float64]
    quantized_q: NDArray[np.float64]
    found: Transcribed | None = None


class _Part(NamedTuple):
    """The onsets of one stretch, relative to its start."""

    pass_index: NDArray[np.int64]
    slot: NDArray[np.int64]
    written: tuple[Fraction, ...]
    target_q: NDArray[np.float64]
    moved_q: NDArray[np.float64]


def _locate(places: NDArray[np.float64], cycle: Cycle, feel: Feel) -> _Part:
    table = slots(cycle, feel.grid, feel.swing)
    located = locate(places, table)
    moved = move(places, located, table, feel.strength, feel.window)
    return _Part(located.pass_index, located.slot, table.written, located.target_q, moved)


def place_onsets(
    onset_q: ArrayLike, stretches: Sequence[Stretch], feel: Feel, playing: KnownNotes | None = None
) -> Placed:
    """Locate and quantize onsets, shape (k,), in any order. ``stretches`` in order; the first also
    holds before its start.

    ``playing`` tells the grid auto more of the notes, so that it hears chords and ornaments; the
    other grids do not need it.
    """
    if feel.grid.auto:
        return _place_auto(onset_q, stretches, feel, playing)
    places = np.atleast_1d(np.asarray(onset_q, dtype=np.float64))
    starts = np.array([float(stretch.start) for stretch in stretches])
    home = np.maximum(np.searchsorted(starts, places, side="right") - 1, 0)
    by_home = np.argsort(home, kind="stable")
    cuts = np.searchsorted(home[by_home], np.arange(len(stretches) + 1))
    bar = np.zeros(len(places), np.int64)
    slot = np.zeros(len(places), np.int64)
    written = np.full(len(places), Fraction(0), dtype=object)
    target = np.zeros(len(places))
    moved = np.zeros(len(places))
    first_bar = 1
    for index, (start, cycle) in enumerate(stretches):
        chosen = by_home[cuts[index] : cuts[index + 1]]
        last = index + 1 == len(stretches)
        next_bar = first_bar if last else first_bar + _bars_begun(stretches[index + 1].start - start, cycle)
        if len(chosen):
            part = _locate(places[chosen] - starts[index], cycle, feel)
            in_bar, bar_of, slot_q = _bars(part.written, cycle)
            bar[chosen] = first_bar + part.pass_index * len(cycle.meters) + bar_of[part.slot]
            slot[chosen], written[chosen] = part.slot, in_bar[part.slot]
            target[chosen], moved[chosen] = part.target_q + starts[index], part.moved_q + starts[index]
            if not last:
                end_q = starts[index + 1]
                nearer = np.abs(end_q - places[chosen]) < np.abs(target[chosen] - places[chosen])
                beyond = (target[chosen] >= end_q) | nearer
                past = chosen[beyond]
                bar[past], slot[past], written[past] = next_bar, 0, Fraction(0)
                # What was beyond the window of its own slot stays where it is.
                stays = part.moved_q[beyond] == places[past] - starts[index]
                way = end_q if feel.strength == 1.0 else places[past] + feel.strength * (end_q - places[past])
                moved[past], target[past] = np.where(stays, places[past], way), end_q
            if feel.straight:
                written_q = part.pass_index * float(cycle.quarters) + slot_q[part.slot] + starts[index]
                shift = np.where(target[chosen] == part.target_q + starts[index], written_q - target[chosen], 0.0)
                there = moved[chosen] == target[chosen]
                moved[chosen] = np.where(there & (shift != 0.0), written_q, moved[chosen] + shift)
        first_bar = next_bar
    return Placed(bar, slot, written.tolist(), target, moved)


def _place_auto(onset_q: ArrayLike, stretches: Sequence[Stretch], feel: Feel, playing: KnownNotes | None) -> Placed:
    """``place_onsets`` by rhythm transcription."""
    places = np.atleast_1d(np.asarray(onset_q, dtype=np.float64))
    swing = None if feel.find_swing and feel.swing.straight else feel.swing
    found = transcribe_notes(places, stretches, playing, swing)
    first_bar = np.ones(len(stretches), np.int64)
    for index, (stretch, following) in enumerate(pairwise(stretches)):
        first_bar[index + 1] = first_bar[index] + _bars_begun(following.start - stretch.start, stretch.cycle)
    bars = np.array([len(stretch.cycle.meters) for stretch in stretches], np.int64)
    in_cycle = np.zeros(len(places), np.int64)
    slot = np.zeros(len(places), np.int64)
    written: list[Fraction] = [Fraction(0)] * len(places)
    for index in np.unique(found.stretch).tolist():
        cycle = stretches[index].cycle
        rows = np.flatnonzero(found.stretch == index)
        # Exact places are looked up once each.
        known = found.beat[rows] * _MOST_PLACES + found.place[rows]
        _, one_of, home = np.unique(known, return_index=True, return_inverse=True)
        exact = [found.written[row] for row in rows[one_of].tolist()]
        bar_of = [cycle.bar_at(place) for place in exact]
        in_bar = [place - cycle.bar_starts[bar] for place, bar in zip(exact, bar_of, strict=True)]
        in_cycle[rows] = np.array(bar_of, np.int64)[home]
        for row, kind in zip(rows.tolist(), home.tolist(), strict=True):
            written[row] = in_bar[kind]
        slot[rows] = slot_numbers(cycle, found.beat[rows], found.place[rows])
    bar = first_bar[found.stretch] + found.pass_index * bars[found.stretch] + in_cycle
    away = found.target_q - places
    moved = found.target_q if feel.strength == 1.0 else places + feel.strength * away
    reach = feel.window * np.where(away > 0, found.before_q, found.after_q) / 2
    moved = np.where((np.abs(away) <= reach) | (feel.window == 1.0), moved, places)
    if feel.straight:
        there = moved == found.target_q
        moved = np.where(there, found.written_q, moved + (found.written_q - found.target_q))
    return Placed(bar, slot, written, found.target_q, _with_ornaments(moved, places, found), found)


def _with_ornaments(moved: NDArray[np.float64], places: NDArray[np.float64], found: Transcribed) -> NDArray[np.float64]:
    """``moved``, where an ornament goes as far as its main note does: a trill stays a trill."""
    ornaments = np.flatnonzero(found.ornament)
    if not len(ornaments):
        return moved
    counted = np.flatnonzero(~found.ornament)
    counted = counted[np.argsort(found.written_q[counted], kind="stable")]
    among = found.written_q[counted]
    first = np.searchsorted(among, found.written_q[ornaments] - 1e-9)
    stop = np.searchsorted(among, found.written_q[ornaments] + 1e-9)
    moved = moved.copy()
    for note, begin, end in zip(ornaments.tolist(), first.tolist(), stop.tolist(), strict=True):
        there = counted[begin:end]
        if len(there):
            main = there[np.abs(places[there] - places[note]).argmin()]
            moved[note] = places[note] + moved[main] - places[main]
    return moved


def _bars(
    written: tuple[Fraction, ...], cycle: Cycle
) -> tuple[NDArray[np.object_], NDArray[np.int64], NDArray[np.float64]]:
    """For each slot: its exact place in its bar, its bar in the cycle from 0, and its written place
    in the cycle.
    """
    bars = [cycle.bar_at(place) for place in written]
    in_bar = np.empty(len(written), dtype=object)
    in_bar[:] = [place - cycle.bar_starts[bar] for place, bar in zip(written, bars, strict=True)]
    return in_bar, np.array(bars, np.int64), np.array(written, float)


def _bars_begun(length: Fraction, cycle: Cycle) -> int:
    """How many bars begin within ``length`` quarters of a repeating cycle."""
    passes, rest = divmod(length, cycle.quarters)
    return int(passes) * len(cycle.meters) + sum(1 for start in cycle.bar_starts if start < rest)


def first_bars(stretches: Sequence[Stretch]) -> list[int]:
    """The number of the first bar of each stretch, from 1."""
    found = [1]
    for (start, cycle), following in pairwise(stretches):
        found.append(found[-1] + _bars_begun(following.start - start, cycle))
    return found


def meter_of_bar(stretches: Sequence[Stretch], first: Sequence[int], bar: int) -> Meter:
    """The meter of a bar, counted from 1; bars before the start are like those of the first
    stretch. ``first`` as ``first_bars`` finds it.
    """
    index = max(bisect_right(first, bar) - 1, 0)
    meters = stretches[index].cycle.meters
    return meters[(bar - first[index]) % len(meters)]


def repeating(stretches: Sequence[Stretch], end_q: float) -> tuple[Stretch, ...]:
    """One stretch with the cycle that the bars up to quarter ``end_q`` make if it goes round twice
    or more; else the same stretches.

    A file of bars of 4/4 and 7/8 in turn says so with a time signature a bar; as a cycle it is
    ``4/4 7/8``.
    """
    bars: list[Meter] = []
    for (start, cycle), following in pairwise(stretches):
        passes = (following.start - start) / cycle.quarters
        if passes.denominator != 1 or len(bars) + passes * len(cycle.meters) > _MOST_BARS:
            return tuple(stretches)
        bars += cycle.meters * int(passes)
    last = stretches[-1]
    last_passes = Fraction(max(end_q - float(last.start), 0.0)) // last.cycle.quarters + 1
    if len(bars) + last_passes * len(last.cycle.meters) > _MOST_BARS:
        return tuple(stretches)
    bars += last.cycle.meters * int(last_passes)
    for period in range(1, min(len(bars) // 2, MAX_BARS) + 1):
        if all(one == other for one, other in zip(bars, bars[period:], strict=False)):
            if sum(meter.quarters for meter in bars[:period]) > MAX_CYCLE_QUARTERS:
                break
            return (Stretch(stretches[0].start, Cycle(tuple(bars[:period]))),)
    return tuple(stretches)


def report(
    onset_sec: ArrayLike,
    pitch: ArrayLike,
    tempo_map: TempoMap,
    stretches: Sequence[Stretch],
    feel: Feel,
    duration_sec: ArrayLike | None = None,
) -> tuple[dict[str, Any], Placed]:
    """What is printed about a take's timing, and the placed onsets it rests on.

    ``onset_sec`` and ``pitch``: shape (k,), alike in order. The dictionary has ``count``,
    ``early``, ``late`` and ``on_time`` (numbers of notes; on time is within 6 ms), ``median_ms``
    and ``spread_ms`` (half the width of the middle half) of the offsets, and ``notes``: for each
    its ``index``, ``pitch``, ``onset_sec``, ``quantized_sec``, ``offset_ms``, ``bar``, ``written``,
    ``slot``. On the grid auto there are ``swing_found`` (such as ``2:1 1/16``, or None),
    ``divisions`` (beats by the name of their grid), and, given ``duration_sec``, each note's
    ``duration`` (written quarters, 0 for an ornament) and ``ornament``.
    """
    onsets = np.atleast_1d(np.asarray(onset_sec, dtype=np.float64))
    playing = None
    if feel.grid.auto and duration_sec is not None:
        playing = playing_of(onsets, duration_sec, pitch, tempo_map)
    placed = place_onsets(tempo_map.quarters(onsets), stretches, feel, playing)
    offsets = (onsets - tempo_map.seconds(placed.target_q)) * 1000.0
    notes = _note_rows(onsets, pitch, offsets, placed, tempo_map)
    quarter, median, three_quarters = np.percentile(offsets, [25, 50, 75]) if len(offsets) else (0.0, 0.0, 0.0)
    on_time = int((np.abs(offsets) <= ON_TIME_MS).sum())
    early = int((offsets < -ON_TIME_MS).sum())
    found = {
        "count": len(notes),
        "early": early,
        "late": len(notes) - early - on_time,
        "on_time": on_time,
        "median_ms": round(float(median), 3),
        "spread_ms": round(float(three_quarters - quarter) / 2, 3),
        "notes": notes,
    }
    if placed.found is not None:
        _add_transcription(found, placed.found, feel)
    return found, placed


def _note_rows(
    onsets: NDArray[np.float64], pitch: ArrayLike, offsets: NDArray[np.float64], placed: Placed, tempo_map: TempoMap
) -> list[dict[str, Any]]:
    columns = zip(
        np.atleast_1d(np.asarray(pitch)).tolist(),
        onsets.round(9).tolist(),
        tempo_map.seconds(placed.quantized_q).round(9).tolist(),
        (offsets.round(6) + 0.0).tolist(),
        placed.bar.tolist(),
        placed.written,
        placed.slot.tolist(),
        strict=True,
    )
    return [
        {
            "index": index,
            "pitch": number,
            "onset_sec": onset,
            "quantized_sec": quantized,
            "offset_ms": offset,
            "bar": bar,
            "written": str(written),
            "slot": slot,
        }
        for index, (number, onset, quantized, offset, bar, written, slot) in enumerate(columns)
    ]


def playing_of(onset_sec: ArrayLike, duration_sec: ArrayLike, pitch: ArrayLike, tempo_map: TempoMap) -> KnownNotes:
    """Notes as rhythm transcription wants them; arrays alike in shape (k,)."""
    onsets, durations = np.asarray(onset_sec, float), np.asarray(duration_sec, float)
    lengths = tempo_map.quarters(onsets + durations) - tempo_map.quarters(onsets)
    return KnownNotes(onsets, durations, lengths, np.asarray(pitch, np.int64))


def _add_transcription(report: dict[str, Any], found: Transcribed, feel: Feel) -> None:
    heard = found.swing if feel.swing.straight and not found.swing.straight else None
    report["swing_found"] = None if heard is None else swing_text(heard)
    report["divisions"] = found.grids
    if found.length is None:
        return
    texts: dict[Fraction, str] = {}
    for note, length, ornament in zip(report["notes"], found.length, found.ornament.tolist(), strict=True):
        if length not in texts:
            texts[length] = str(length)
        note["duration"], note["ornament"] = texts[length], ornament


def swing_text(swing: Swing) -> str:
    """A found swing with two decimals of its ratio and its unit: ``1.52:1 1/16``."""
    unit = next(name for name, length in UNITS.items() if length == swing.unit)
    return f"{float(swing.ratio):.2f}".rstrip("0").rstrip(".") + f":1 {unit}"
