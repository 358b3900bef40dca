"""Notes that were heard in one place but were not struck together: paper gives each of them a place
of its own.

Rule
    Notes further apart than ``APART_SEC`` are not a chord, whatever the listener made of them (an
    ornament, a hurried sixteenth); neither are nearer ones where the first is let go before the
    second is struck, from ``LET_GO_SEC`` on. Their beat is divided anew: by the plainest division
    that holds all that begins in it one after the other, a plainer one being worth a little
    inexactness (limits and weights from common practice, no source).
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from loopdeck.page.beat_rows import Beat, edges_of

#: No chord is rolled, and no flam played, as slowly as this.
APART_SEC = 0.09
#: A chord is held; a note that ends before another begins is not part of one, unless by a slip.
LET_GO_SEC, _SLIP_SEC = 0.045, 0.01
#: An early downbeat is hardly earlier than this, in quarters.
_EARLY_Q = 0.1
#: How far off a note may be for one point, in quarters; the points that each division of a simple
#: and of a compound beat costs.
_POINT_Q = 0.03
_SIMPLE = {2: 0.0, 4: 0.2, 3: 0.4, 6: 1.0, 8: 1.4, 5: 2.0, 7: 3.0, 12: 3.0, 16: 4.0}
_COMPOUND = {3: 0.0, 6: 0.2, 2: 1.0, 4: 1.0, 12: 1.4, 9: 2.0, 8: 2.5, 5: 2.5, 7: 3.0, 18: 3.0, 24: 4.0}


class Onset(NamedTuple):
    """One note: the place it was heard in and where it really began, both in written quarters from
    the start of bar 1, and when it began and ended, in seconds.
    """

    place: Fraction
    really: float
    sec: float
    end_sec: float


def parted(onsets: Sequence[Onset], beats: Sequence[Beat]) -> list[Fraction]:
    """The place of each note, the beats that hold notes not struck together divided anew; ``beats``
    in order, without gaps, from one before the first note's on.
    """
    places = [onset.place for onset in onsets]
    edges = edges_of(beats)
    inside: dict[int, list[int]] = {}
    for row in sorted(range(len(onsets)), key=lambda row: onsets[row].sec):
        inside.setdefault(bisect_right(edges, float(onsets[row].place)) - 1, []).append(row)
    shared = {place for place, count in Counter(places).items() if count > 1}
    for number in sorted(inside, reverse=True):
        rows = inside[number]
        if not any(onsets[row].place in shared for row in rows):
            continue
        clusters = _clusters(onsets, rows)
        if len(clusters) == len({onsets[row].place for row in rows}):
            continue
        while len(clusters) > 1 and onsets[clusters[0][0]].really < edges[number] - _EARLY_Q and number:
            # It was not an early downbeat: there is another one.
            _put(onsets, places, inside.get(number - 1, []) + clusters.pop(0), beats[number - 1])
        _put(onsets, places, [row for cluster in clusters for row in cluster], beats[number])
    return places


def _put(onsets: Sequence[Onset], places: list[Fraction], rows: Sequence[int], beat: Beat) -> None:
    """Divide a beat anew for the notes in ``rows``, by onset."""
    clusters = _clusters(onsets, rows)
    really = [onsets[cluster[0]].really - float(beat.start) for cluster in clusters]
    for cluster, place in zip(clusters, _divided(really, beat.length, beat.compound) or (), strict=False):
        for row in cluster:
            places[row] = beat.start + place


def _clusters(onsets: Sequence[Onset], rows: Sequence[int]) -> list[list[int]]:
    """The notes of a beat, by onset, as what was struck together or is written in places apart."""
    clusters = [[rows[0]]]
    for before, row in pairwise(rows):
        if onsets[row].place != onsets[before].place or _no_chord(onsets[before], onsets[row]):
            clusters.append([row])
        else:
            clusters[-1].append(row)
    return clusters


def _no_chord(one: Onset, other: Onset) -> bool:
    let_go = one.end_sec < other.sec + _SLIP_SEC
    return other.sec - one.sec > (LET_GO_SEC if let_go else APART_SEC)


def _divided(really: Sequence[float], length: Fraction, compound: bool) -> list[Fraction] | None:
    """Rising places in a beat for what began at ``really`` (quarters from its start); None where no
    division holds them all.
    """
    found: list[tuple[float, list[Fraction]]] = []
    for parts, points in (_COMPOUND if compound else _SIMPLE).items():
        step = length / parts
        counts = [min(max(round(one / float(step)), 0), parts - 1) for one in really]
        if all(one < other for one, other in pairwise(counts)):
            off = sum(abs(one - count * float(step)) for one, count in zip(really, counts, strict=True))
            found.append((points + off / _POINT_Q, [count * step for count in counts]))
    return min(found, key=lambda row: row[0])[1] if found else None
