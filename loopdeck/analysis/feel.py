"""Feel: what the timing of a playing was, slot by slot, and which swing it had.

Conventions
    Times are seconds, places quarters, deviations milliseconds; late is positive. A *slot* is a
    place of the brief's grid within the cycle, its deviation is measured from where the brief's
    swing plays it, and the *constant part* (latency, and the habit of playing ahead of or behind
    the click) is taken off all of them. Spreads are half the width of the middle half, as in
    ``timing``. Where the meters of a file change without coming round, swing and slots are those of
    the stretch with the most notes.

Method
    ``swing_estimate`` gives each onset its written place, the swing, and a first constant. To the
    constant comes the median over the slots of what each leaves in the median, so that one slot
    that is always early does not make the others late. The drift is the slope of what is left over
    time, by least squares, with the median of each slot taken off. Steadiness is the spread of
    notes of the same slot and pitch around their own mean, over the passes.
"""

import itertools
from dataclasses import replace
from fractions import Fraction
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.swing_estimate import SwingFit, estimate, report_of
from loopdeck.analysis.swing_places import Unit, tent_of
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.rhythm.counting import count_of
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.quantize import locate, slots
from loopdeck.rhythm.swing import Swing
from loopdeck.rhythm.tempo import TempoMap

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Onsets nearer than this are one stroke: a chord.
CHORD_SEC = 0.02
#: A note that came back lies so many robust standard deviations, and so many ms, from the others
#: and is not a repeat of them.
_OUTLIER_SIGMAS, _OUTLIER_MS = 4.0, 20.0
#: The median's standard error, by the mean's, where errors are Gaussian.
_MEDIAN_ERROR = 1.253
#: From so many standard errors on a drift counts as one.
_SIGMAS = 2.5


class SlotFeel(NamedTuple):
    """One slot: its place in quarters of the cycle, the count, how many notes, their median and
    spread in ms, the standard error of the median, the usual time since the note before in seconds,
    the median velocity and its standard error."""

    slot: int
    written: Fraction
    bar_in_cycle: int
    counted: str
    notes: int
    median_ms: float
    spread_ms: float
    error_ms: float
    interval_sec: float
    velocity: float
    velocity_error: float


class BarFeel(NamedTuple):
    """One bar, counted from 1: the median in ms, and the ratio of the take's main subdivision (None
    with fewer than two pairs).
    """

    bar: int
    median_ms: float
    swing: float | None


class Repeats(NamedTuple):
    """Notes that came back in at least two passes: how many, in how many passes, and how they
    spread around their own places, in ms.
    """

    passes: int
    notes: int
    spread_ms: float


class FeelFound(NamedTuple):
    """Everything about the timing of k notes; ``offset_ms`` (k,) with the constant part taken off,
    NaN for notes of other stretches; ``slot`` -1 for triplets off the grid. ``minutes``: from the
    first to the last note that was judged. ``brief_swing`` knows its unit.
    """

    cycle: Cycle
    brief_swing: Swing
    constant_ms: float
    fit: SwingFit
    slots: tuple[SlotFeel, ...]
    bars: tuple[BarFeel, ...]
    median_ms: float
    spread_ms: float
    drift_ms_per_min: float | None
    drift_error: float
    repeats: Repeats | None
    offset_ms: Floats
    slot: Ints
    shares: Floats
    minutes: float = 0.0


def _main_stretch(onset_q: Floats, stretches: tuple[Stretch, ...]) -> tuple[Stretch, NDArray[np.bool_], int]:
    """The stretch with the most notes, which notes those are, and the number of its first bar."""
    starts = np.array([float(stretch.start) for stretch in stretches])
    home = np.maximum(np.searchsorted(starts, onset_q, side="right") - 1, 0)
    most = int(np.argmax(np.bincount(home, minlength=len(stretches)))) if len(onset_q) else 0
    bar = 1
    for one, following in itertools.pairwise(stretches[: most + 1]):
        passes, rest = divmod(following.start - one.start, one.cycle.quarters)
        bar += int(passes) * len(one.cycle.meters) + sum(1 for start in one.cycle.bar_starts if start < rest)
    return stretches[most], home == most, bar


def _strokes(onset_sec: Floats) -> Ints:
    """The number of the stroke each onset belongs to; ``onset_sec`` rising."""
    if not len(onset_sec):
        return np.zeros(0, np.int64)
    return np.cumsum(np.concatenate([[False], np.diff(onset_sec) > CHORD_SEC])).astype(np.int64)


def _spread(values: Floats) -> float:
    lower, upper = np.percentile(values, [25, 75])
    return float(upper - lower) / 2


def _slot_medians(values: Floats, slot: Ints, count: int) -> Floats:
    """The median of each slot, NaN where it has no notes; shape (count,)."""
    found = np.full(count, np.nan)
    order = np.argsort(slot, kind="stable")
    cuts = np.searchsorted(slot[order], np.arange(count + 1))
    for index in range(count):
        part = values[order[cuts[index] : cuts[index + 1]]]
        if len(part):
            found[index] = np.median(part)
    return found


def _middle(values: Floats, slot: Ints, count: int) -> float:
    """The median of the slots' medians: a place played often counts no more than another."""
    return float(np.nanmedian(_slot_medians(values, slot, count)))


def measure(
    onset_sec: ArrayLike,
    pitch: ArrayLike,
    velocity: ArrayLike,
    tempo: TempoMap,
    stretches: tuple[Stretch, ...],
    grid: Grid,
    swing: Swing,
) -> FeelFound:
    """The feel of k notes in order of onset; ``onset_sec``, ``pitch`` and ``velocity`` of shape
    (k,). Raises UserError for onsets that are not numbers.
    """
    seconds = np.atleast_1d(np.asarray(onset_sec, float))
    onset_q = tempo.quarters(seconds)
    stretch, chosen, first_bar = _main_stretch(onset_q, stretches)
    cycle, start_q = stretch.cycle, float(stretch.start)
    table = slots(cycle, grid, swing)
    offset, slot, passes = np.full(len(seconds), np.nan), np.zeros(len(seconds), np.int64), np.zeros(0, np.int64)
    qpm = _usual_tempo(tempo, seconds[chosen])
    strokes = _strokes(seconds[chosen])
    places = onset_q[chosen] - start_q
    by_stroke = np.bincount(strokes, places) / np.maximum(np.bincount(strokes), 1) if len(strokes) else places
    fit = estimate(by_stroke, cycle, qpm).from_bar(first_bar)
    if grid.triplet:
        fit = fit._replace(thirds=np.zeros(len(by_stroke), bool))
    if not len(places):
        return FeelFound(cycle, swing, 0.0, fit, (), (), 0.0, 0.0, None, 0.0, None, offset, slot, np.zeros(0))
    passes, slot_here, played_q = _slots(places, fit, strokes, cycle, grid)
    target_q = passes * table.cycle_q + table.played_q[slot_here]
    raw_ms = (seconds[chosen] - tempo.seconds(target_q + start_q)) * 1000.0
    by_fit_ms = (seconds[chosen] - tempo.seconds(played_q + start_q)) * 1000.0
    first_ms = fit.constant_q * 60_000.0 / qpm
    # A triplet's inner notes have no place of their own on a grid without triplets.
    own = ~fit.thirds[strokes]
    judged = own if own.any() else np.ones(len(own), bool)
    constant_ms = first_ms + _middle(by_fit_ms[judged] - first_ms, slot_here[judged], len(table))
    offset_ms = raw_ms - constant_ms
    offset[chosen], slot[chosen] = offset_ms, np.where(own, slot_here, -1)
    bar_of_slot = np.array([cycle.bar_at(place) for place in table.written])
    bars = first_bar + passes * len(cycle.meters) + bar_of_slot[slot_here]
    drift, drift_error = _drift(by_fit_ms, slot_here, len(table), seconds[chosen])
    heard, loud = np.asarray(pitch)[chosen], np.asarray(velocity, float)[chosen]
    return FeelFound(
        cycle=cycle,
        brief_swing=replace(swing, unit=swing.unit_for(grid)),
        constant_ms=constant_ms,
        fit=fit,
        slots=_by_slot(offset_ms[own], slot_here[own], seconds[chosen][own], loud[own], table.written, cycle),
        bars=_by_bar(offset_ms, bars, fit, by_stroke, strokes, constant_ms * qpm / 60_000.0, cycle),
        median_ms=float(np.median(offset_ms[judged])),
        spread_ms=_spread(offset_ms[judged]),
        drift_ms_per_min=drift,
        drift_error=drift_error,
        repeats=_repeats(_without_drift(by_fit_ms, seconds[chosen], drift, drift_error), slot[chosen], heard, passes),
        offset_ms=offset,
        slot=slot,
        shares=_shares(fit, by_stroke, constant_ms * qpm / 60_000.0, cycle),
        minutes=float(np.ptp(seconds[chosen])) / 60.0,
    )


def _usual_tempo(tempo: TempoMap, seconds: Floats) -> float:
    if not len(seconds):
        return tempo.points[0][2]
    at = np.searchsorted([point[0] for point in tempo.points], seconds, side="right") - 1
    return float(np.median(np.array([point[2] for point in tempo.points])[np.maximum(at, 0)]))


def _slots(places: Floats, fit: SwingFit, strokes: Ints, cycle: Cycle, grid: Grid) -> tuple[Ints, Ints, Floats]:
    """For each note its pass, its slot on the brief's grid, and where the played swing has that
    place.

    Where swing was played, it is taken out first: a swung eighth belongs to the eighth it was meant
    for, however straight the brief.
    """
    straight = slots(cycle, grid, Swing())
    written_16 = slots(cycle, Grid("1/16"), Swing()).written_q
    unswung = places - fit.constant_q - fit.drift_q[strokes]
    moved = np.zeros(len(places))
    if not grid.triplet:
        own_q = fit.pass_index * straight.cycle_q + written_16[fit.slot]
        moved = (fit.played_q - own_q)[strokes]
        unswung = unswung - moved
    found = locate(unswung, straight)
    return found.pass_index, found.slot, found.target_q + moved


def _by_slot(
    offset_ms: Floats, slot: Ints, seconds: Floats, velocity: Floats, written: tuple[Fraction, ...], cycle: Cycle
) -> tuple[SlotFeel, ...]:
    if not len(slot):
        return ()
    since = np.diff(seconds, prepend=seconds[0] - 1.0)
    pooled, loudness = _pooled_deviation(offset_ms, slot), _pooled_deviation(velocity, slot)
    found = []
    for index in np.unique(slot).tolist():
        rows = slot == index
        values = offset_ms[rows]
        bar = cycle.bar_at(written[index])
        own = float(values.std(ddof=1)) if len(values) > 1 else np.inf
        error = _MEDIAN_ERROR * max(own, pooled) / np.sqrt(len(values))
        apart = since[rows][since[rows] > CHORD_SEC]
        found.append(
            SlotFeel(
                index,
                written[index],
                bar,
                count_of(cycle.meters[bar], written[index] - cycle.bar_starts[bar]),
                len(values),
                float(np.median(values)),
                _spread(values),
                float(error),
                float(np.median(apart)) if len(apart) else 1.0,
                float(np.median(velocity[rows])),
                float(_MEDIAN_ERROR * max(loudness, float(velocity[rows].std())) / np.sqrt(len(values))),
            )
        )
    return tuple(found)


def _pooled_deviation(offset_ms: Floats, slot: Ints) -> float:
    """The standard deviation inside the slots, all together: two notes alone that happen to agree
    say nothing of how sure their place is.
    """
    counts = np.bincount(slot)
    means = np.bincount(slot, offset_ms) / np.maximum(counts, 1)
    freedom = int((counts[counts > 0] - 1).sum())
    return float(np.sqrt(((offset_ms - means[slot]) ** 2).sum() / freedom)) if freedom else 0.0


def _excess(fit: SwingFit, places: Floats, constant_q: float, cycle: Cycle, unit: Unit) -> tuple[Floats, Floats]:
    """How far each stroke lies behind its straight place, and the tent it lies under
    (``swing_estimate``), both (k,).
    """
    written, tent = tent_of(cycle, unit)
    behind = places - constant_q - fit.pass_index * float(cycle.quarters) - written[fit.slot]
    return behind, np.where(fit.counted, tent[fit.slot], 0.0)


def _shares(fit: SwingFit, places: Floats, constant_q: float, cycle: Cycle) -> Floats:
    """The long part's share of every pair of the main subdivision, from where its second note lies;
    (n,).
    """
    if fit.main is None:
        return np.zeros(0)
    behind, tent = _excess(fit, places, constant_q, cycle, fit.main)
    second = tent > 0.9 * float(tent.max(initial=1e-9))
    return np.asarray(0.5 + behind[second] / tent[second], float)


def _by_bar(
    offset_ms: Floats, bars: Ints, fit: SwingFit, places: Floats, strokes: Ints, constant_q: float, cycle: Cycle
) -> tuple[BarFeel, ...]:
    ratios: dict[int, float] = {}
    bar_of_stroke = np.zeros(len(places), np.int64)
    bar_of_stroke[strokes] = bars
    if fit.main is not None:
        behind, tent = _excess(fit, places, constant_q, cycle, fit.main)
        full = tent > 0.9 * float(tent.max(initial=1e-9))
        first = int(bars.min())
        weight = np.bincount(bar_of_stroke - first, tent**2)
        moved = np.bincount(bar_of_stroke - first, tent * behind)
        seconds = np.bincount(bar_of_stroke - first, full)
        for index in np.flatnonzero(seconds >= 2).tolist():
            share = float(np.clip(0.5 + moved[index] / weight[index], 0.05, 0.95))
            ratios[first + index] = share / (1 - share)
    found = []
    order = np.argsort(bars, kind="stable")
    numbers, cuts = np.unique(bars[order], return_index=True)
    for number, part in zip(numbers.tolist(), np.split(offset_ms[order], cuts[1:]), strict=True):
        found.append(BarFeel(number, float(np.median(part)), ratios.get(number)))
    return tuple(found)


def _drift(left_ms: Floats, slot: Ints, count: int, seconds: Floats) -> tuple[float | None, float]:
    """Milliseconds a minute by which the playing gets later, and the standard error."""
    left = left_ms - _slot_medians(left_ms, slot, count)[slot]
    minutes = (seconds - seconds.mean()) / 60.0
    spread = float((minutes**2).sum())
    if len(left) < 4 or spread < 1e-9:
        return None, 0.0
    near = np.abs(left - np.median(left)) < max(4 * 1.4826 * float(np.median(np.abs(left - np.median(left)))), 5.0)
    # A slope through the playing as it was: slots that only stand early or late must not count as
    # drift.
    rows = np.flatnonzero(near)
    slope, middle = np.polyfit(minutes[rows], left_ms[rows] - _slot_medians(left_ms, slot, count)[slot[rows]], 1)
    error = left[rows] - slope * minutes[rows] - middle
    return float(slope), float(
        np.sqrt((error**2).sum() / max(len(rows) - 2, 1) / max((minutes[rows] ** 2).sum(), 1e-12))
    )


def _without_drift(left_ms: Floats, seconds: Floats, drift: float | None, error: float) -> Floats:
    """The deviations without the drift, if that is more than chance."""
    if drift is None or abs(drift) <= _SIGMAS * error:
        return left_ms
    steady_ms: NDArray[np.float64] = left_ms - drift * (seconds - seconds.mean()) / 60.0
    return steady_ms


def _repeats(left_ms: Floats, slot: Ints, pitch: ArrayLike, passes: Ints) -> Repeats | None:
    """The spread of what came back; None where nothing did. Notes of slot -1, triplets off the
    grid, do not count.
    """
    key = slot * 128 + np.asarray(pitch, np.int64)
    _, number, counts = np.unique(key, return_inverse=True, return_counts=True)
    again = (slot >= 0) & (counts[number] >= 2)
    if len(np.unique(passes[again])) < 2:
        return None
    # What is far off is another figure, such as a triplet, and no unsteadiness.
    apart = left_ms - _slot_medians(left_ms, number, len(counts))[number]
    usual = float(np.median(np.abs(apart[again]))) * 1.4826
    again &= np.abs(apart) <= max(_OUTLIER_SIGMAS * usual, _OUTLIER_MS)
    counts = np.bincount(number[again], minlength=len(counts))
    apart = (
        left_ms[again]
        - (np.bincount(number[again], left_ms[again], len(counts)) / np.maximum(counts, 1))[number[again]]
    )
    freedom = max(int(again.sum()) - int((counts > 0).sum()), 1)
    return Repeats(len(np.unique(passes[again])), int(again.sum()), float(np.sqrt((apart**2).sum() / freedom)))


def _ms(value: float) -> float:
    return round(value, 2) + 0.0


def report(found: FeelFound) -> dict[str, Any]:
    """What ``--json`` prints, but for the sentences: plain numbers and texts."""
    return {
        "count": int(np.isfinite(found.offset_ms).sum()),
        "constant_ms": _ms(found.constant_ms),
        "median_ms": _ms(found.median_ms),
        "spread_ms": _ms(found.spread_ms),
        "swing": {unit: report_of(one) for unit, one in found.fit.found.items()},
        "subdivision": found.fit.main,
        "slots": [
            {
                "slot": one.slot,
                "written": str(one.written),
                "bar_in_cycle": one.bar_in_cycle + 1,
                "count": one.counted,
                "notes": one.notes,
                "median_ms": _ms(one.median_ms),
                "spread_ms": _ms(one.spread_ms),
                "velocity": round(one.velocity, 1),
            }
            for one in found.slots
        ],
        "bars": [
            {
                "bar": one.bar,
                "median_ms": _ms(one.median_ms),
                "swing": None if one.swing is None else round(one.swing, 4),
            }
            for one in found.bars
        ],
        "drift_ms_per_min": None if found.drift_ms_per_min is None else _ms(found.drift_ms_per_min),
        "repeats": None
        if found.repeats is None
        else {"passes": found.repeats.passes, "notes": found.repeats.notes, "spread_ms": _ms(found.repeats.spread_ms)},
    }
