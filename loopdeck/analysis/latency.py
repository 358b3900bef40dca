"""Latency: how late and how evenly a rig answers, from when things were sent and when they came
back.

Task
    ``sent_sec`` are moments at which notes or clicks went out, ``received_sec`` moments at which
    something came in: through a cable or a virtual port (kind "loop"), or from a player who taps
    along to the click (kind "tap"). Some are lost on the way, some come that nobody sent.

Conventions
    Seconds of one clock in; latencies are milliseconds, received minus sent: negative is early.
    Jitter is the 99th percentile of the distance from the median. The correction is what to
    subtract from the stamps of that input, never below 0.

Method
    All differences received minus sent within the reach of the kind are sorted; where they stand
    most densely is the rig's answer (chance differences spread out, the true ones heap up). Around
    that, sent and received are paired one to one, nearest to the heap first.

Thresholds
    10 ms of latency, 1 ms of variation: Wessel & Wright, "Problems and Prospects for Intimate
    Musical Control of Computers", NIME 2001 / Computer Music Journal 26(3), 2002. 6 ms: the just
    noticeable displacement of a tone at fast tempi, Friberg & Sundberg, "Time discrimination in a
    monotonic, isochronous sequence", JASA 98, 1995. People tap before the click: Repp,
    "Sensorimotor synchronization: a review of the tapping literature", Psychonomic Bulletin &
    Review 12(6), 2005; so a tapping measurement is a player and a rig in one, the rig cannot be
    blamed from it, and an early median asks for no correction.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.errors import UserError

Kind = Literal["loop", "tap"]

LATENCY_LIMIT_MS, JITTER_LIMIT_MS, NOTICED_MS = 10.0, 1.0, 6.0
WESSEL_WRIGHT = "Wessel & Wright 2002"
FRIBERG_SUNDBERG = "Friberg & Sundberg 1995"
REPP = "Repp 2005"

#: What differences can be answers, in seconds: nothing comes back before it was sent, but a tap may
#: come before its click.
REACH_SEC: dict[Kind, tuple[float, float]] = {"loop": (0.0, 1.0), "tap": (-0.25, 0.4)}
#: A heap with this share of the fullest one is about as full.
ABOUT_AS_FULL = 0.93
#: The width in which answers heap up, and how far around the heap's middle one may lie: hands are
#: wider than cables.
HEAP_SEC: dict[Kind, float] = {"loop": 0.003, "tap": 0.06}
AROUND_SEC: dict[Kind, float] = {"loop": 0.03, "tap": 0.15}
LEAST_PAIRS = 5


class Pairs(NamedTuple):
    """Which sent one (index) and which received one belong together, shape (n,) each, in order of
    sending.
    """

    sent: NDArray[np.int64]
    received: NDArray[np.int64]


class Histogram(NamedTuple):
    """``counts`` (n,) of latencies between ``edges_ms`` (n + 1,)."""

    counts: NDArray[np.int64]
    edges_ms: NDArray[np.float64]


class Judgement(NamedTuple):
    """One figure against one threshold. ``holds`` is None where the measurement cannot say."""

    what: str
    value_ms: float
    limit_ms: float
    holds: bool | None
    source: str
    sentence: str


@dataclass(frozen=True, eq=False)
class Latency:
    """A measurement. ``latency_ms`` (n,) in order of sending; ``lost`` were sent and never came,
    ``spurious`` came and were never sent.

    ``by_pitch``: the correction for each pitch with enough pairs, where pitches were given; else
    None.
    """

    kind: Kind
    latency_ms: NDArray[np.float64]
    pairs: Pairs
    lost: int
    spurious: int
    median_ms: float
    p99_ms: float
    min_ms: float
    max_ms: float
    jitter_ms: float
    correction_ms: float
    by_pitch: Mapping[int, float] | None
    judgements: tuple[Judgement, ...]

    def histogram(self, most_bins: int = 40) -> Histogram:
        """The distribution for a picture: bins by Freedman & Diaconis' rule (Z.
        Wahrscheinlichkeitstheorie 57, 1981), 5 to ``most_bins`` of them.
        """
        low, high = self.min_ms, self.max_ms
        if high - low < 0.02:
            low, high = low - 0.05, high + 0.05
        lower, upper = np.percentile(self.latency_ms, [25, 75])
        width = 2 * (upper - lower) / len(self.latency_ms) ** (1 / 3)
        bins = most_bins if width <= 0 else int(np.clip(np.ceil((high - low) / width), 5, most_bins))
        counts, edges = np.histogram(self.latency_ms, bins=bins, range=(low, high))
        return Histogram(counts.astype(np.int64), edges)

    def to_dict(self) -> dict[str, Any]:
        """What ``--json`` prints and what is stored: plain numbers and texts, milliseconds to the
        microsecond.
        """
        histogram = self.histogram()
        figures = ("median_ms", "p99_ms", "min_ms", "max_ms", "jitter_ms", "correction_ms")
        return {
            "kind": self.kind,
            "pairs": len(self.latency_ms),
            "lost": self.lost,
            "spurious": self.spurious,
            **{name: round(getattr(self, name), 3) + 0.0 for name in figures},
            "by_pitch": None
            if self.by_pitch is None
            else {str(pitch): round(ms, 3) for pitch, ms in sorted(self.by_pitch.items())},
            "judgements": [{**one._asdict(), "value_ms": round(one.value_ms, 3) + 0.0} for one in self.judgements],
            "histogram": {
                "counts": histogram.counts.tolist(),
                "edges_ms": histogram.edges_ms.round(3).tolist(),
            },
        }


def match(
    sent_sec: ArrayLike,
    received_sec: ArrayLike,
    kind: Kind = "loop",
    sent_pitch: ArrayLike | None = None,
    received_pitch: ArrayLike | None = None,
) -> Pairs:
    """Which received ones answer which sent ones, one to one; shapes (n,) and (m,), rising.

    With pitches, shapes as the times, only equal ones answer each other. Empty where nothing heaps
    up. Raises UserError for times that are not rising or pitches that do not fit them.
    """
    sent, received = _rising(sent_sec, "sent"), _rising(received_sec, "received")
    same = _pitches(sent, sent_pitch), _pitches(received, received_pitch)
    low, high = REACH_SEC[kind]
    first = np.searchsorted(received, sent + low, side="left")
    count = np.searchsorted(received, sent + high, side="right") - first
    one = np.repeat(np.arange(len(sent)), count)
    other = np.arange(len(one)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
    if same[0] is not None and same[1] is not None:
        fits = same[0][one] == same[1][other]
        one, other = one[fits], other[fits]
    differences = received[other] - sent[one]
    if not len(differences):
        return Pairs(np.zeros(0, np.int64), np.zeros(0, np.int64))
    middle = _heap(differences, HEAP_SEC[kind])
    off = np.abs(differences - middle)
    chosen: list[int] = []
    taken_one, taken_other = np.zeros(len(sent), bool), np.zeros(len(received), bool)
    for index in np.argsort(off, kind="stable").tolist():
        if off[index] > AROUND_SEC[kind]:
            break
        if not taken_one[one[index]] and not taken_other[other[index]]:
            taken_one[one[index]] = taken_other[other[index]] = True
            chosen.append(index)
    kept = np.sort(np.array(chosen, np.int64))
    return Pairs(one[kept].astype(np.int64), other[kept].astype(np.int64))


def _rising(times: ArrayLike, name: str) -> NDArray[np.float64]:
    found = np.asarray(times, dtype=np.float64).ravel()
    if not np.isfinite(found).all() or (np.diff(found) < 0).any():
        raise UserError(f"The {name} times of a latency measurement must be numbers that rise.")
    return found


def _pitches(times: NDArray[np.float64], pitch: ArrayLike | None) -> NDArray[np.int64] | None:
    if pitch is None:
        return None
    found = np.asarray(pitch, dtype=np.int64).ravel()
    if len(found) != len(times):
        raise UserError(f"A latency measurement has {len(times)} times but {len(found)} pitches; each time needs one.")
    return found


def _heap(differences: NDArray[np.float64], width: float) -> float:
    """The median of the most differences that fit into ``width``; of several such places the one
    that is narrowest.

    A row of even steps heaps up again a step further on, one pair poorer and perhaps some chance
    hits richer: of heaps that are about as full the one nearest to 0 counts.
    """
    ordered = np.sort(differences)
    end = np.searchsorted(ordered, ordered + width, side="right")
    counts = end - np.arange(len(ordered))
    full = np.flatnonzero(counts >= counts.max() * ABOUT_AS_FULL - 1)
    nearest = ordered[full[np.argmin(np.abs(ordered[full]))]]
    there = full[np.abs(ordered[full] - nearest) <= width]
    fullest = there[counts[there] == counts[there].max()]
    spans = ordered[end[fullest] - 1] - ordered[fullest]
    start = fullest[np.argmin(spans)]
    return float(np.median(ordered[start : end[start]]))


def measure(
    sent_sec: ArrayLike,
    received_sec: ArrayLike,
    kind: Kind = "loop",
    sent_pitch: ArrayLike | None = None,
    received_pitch: ArrayLike | None = None,
) -> Latency:
    """Match, and judge what was matched; arguments as of ``match``. Raises UserError with fewer
    than five pairs.

    With both pitches given (or, for taps, those received), ``by_pitch`` has a correction for every
    pitch with five pairs and more.
    """
    pairs = match(sent_sec, received_sec, kind, sent_pitch, received_pitch)
    sent, received = np.asarray(sent_sec, float).ravel(), np.asarray(received_sec, float).ravel()
    if len(pairs.sent) < LEAST_PAIRS:
        raise UserError(_too_few(kind, len(pairs.sent), len(sent)))
    latency = (received[pairs.received] - sent[pairs.sent]) * 1000.0
    median, p99 = (float(value) for value in np.percentile(latency, [50, 99]))
    jitter = float(np.percentile(np.abs(latency - median), 99))
    pitch = _pitches(received, received_pitch)
    return Latency(
        kind=kind,
        latency_ms=latency,
        pairs=pairs,
        lost=len(sent) - len(pairs.sent),
        spurious=len(received) - len(pairs.received),
        median_ms=median,
        p99_ms=p99,
        min_ms=float(latency.min()),
        max_ms=float(latency.max()),
        jitter_ms=jitter,
        correction_ms=max(median, 0.0),
        by_pitch=None if pitch is None else _by_pitch(latency, pitch[pairs.received]),
        judgements=_judged_loop(median, jitter) if kind == "loop" else _judged_tap(median, latency),
    )


def _too_few(kind: Kind, found: int, sent: int) -> str:
    what = "notes came back" if kind == "loop" else "taps could be matched with clicks"
    todo = (
        "check that the output leads back to the input"
        if kind == "loop"
        else "tap along to every click, as evenly as you can"
    )
    return f"Only {found} of {sent} {what}, and a measurement needs {LEAST_PAIRS}; {todo}."


def _by_pitch(latency: NDArray[np.float64], pitch: NDArray[np.int64]) -> dict[int, float]:
    found = {}
    for one in np.unique(pitch).tolist():
        of_it = latency[pitch == one]
        if len(of_it) >= LEAST_PAIRS:
            found[one] = max(float(np.median(of_it)), 0.0)
    return found


def _judged_loop(median: float, jitter: float) -> tuple[Judgement, ...]:
    return (
        _against(
            "latency", median, LATENCY_LIMIT_MS, WESSEL_WRIGHT, "what an instrument may have before it feels slow"
        ),
        _against("jitter", jitter, JITTER_LIMIT_MS, WESSEL_WRIGHT, "what latency may vary by before it feels uneven"),
        _against("jitter", jitter, NOTICED_MS, FRIBERG_SUNDBERG, "what a tone may be displaced by before it is heard"),
    )


def _against(what: str, value: float, limit: float, source: str, meaning: str) -> Judgement:
    holds = value <= limit
    side = "within" if holds else "above"
    sentence = f"The {what} of {value:.1f} ms is {side} {limit:g} ms, {meaning} ({source})."
    return Judgement(what, value, limit, holds, source, sentence)


def _judged_tap(median: float, latency: NDArray[np.float64]) -> tuple[Judgement, ...]:
    if median < 0:
        where = (
            f"You tapped {-median:.1f} ms before the click; people do ({REPP}), so this is you and not the rig, "
            f"and there is nothing to correct."
        )
    else:
        where = f"Your taps came {median:.1f} ms after the click; since people tap before it ({REPP}), the rig is at least that late."
    spread = float(np.std(latency))
    even = (
        f"Your taps varied by {spread:.1f} ms; that is mostly the hand, so measure the rig's jitter through a loop "
        f"before comparing it with {JITTER_LIMIT_MS:g} ms ({WESSEL_WRIGHT})."
    )
    return (
        Judgement("asynchrony", median, 0.0, None, REPP, where),
        Judgement("spread", spread, JITTER_LIMIT_MS, None, WESSEL_WRIGHT, even),
    )
