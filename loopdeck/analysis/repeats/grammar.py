"""Which stretches are riffs: those that make the take shortest to tell.

Method
    Minimum description length (Rissanen, "Modeling by shortest data description", Automatica 14(5),
    1978), greedily as in COSIATEC (Meredith, "COSIATEC and SIATECCompress: pattern discovery by
    geometric compression", MIREX 2013), and as grammars of repeats are made (Nevill-Manning &
    Witten, "Identifying hierarchical structure in sequences: a linear-time algorithm", JAIR 7,
    1997). A note costs its bits; a stretch told before costs a pointer and its differences. The
    stretch that saves most is named; its returns are cheap from then on, its body is told once, and
    what repeats inside of that body can still earn a name of its own. So a phrase inside a long
    section is found, and half of a riff is not: it no longer saves anything.

Costs in bits
    A pointer costs log2 of the number of notes, and two for its length. The other costs and the
    least savings were set on the seeds 0 to 59 of the two grammars beside the benchmarks
    (``riff_grammar``, ``form_grammar``); what a time round saves at least is our own choice, below
    four even notes of different intervals and above two notes in turn.
"""

import heapq
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.repeats.barlines import ALIGNED_BITS, EDGE_BITS, BarLines
from loopdeck.analysis.repeats.occurrences import Hits, Occurrences, Searcher, apart
from loopdeck.analysis.repeats.rounds import Round, once_each, rounds
from loopdeck.analysis.repeats.sections import behind_its_return
from loopdeck.analysis.repeats.seeds import pairs
from loopdeck.analysis.repeats.segments import one_time_round, segments
from loopdeck.analysis.repeats.text import FEWEST_NOTES, Floats, Ints, Text

TRANSPOSED_BITS = 3.0
#: Instead of a pointer, where a stretch follows upon itself.
AGAIN_BITS = 0.02
#: For each note that is missing, added or changed.
DIFFERENCE_BITS = 3.0
#: For each note of a stretch moved inside of its scale.
STEP_BITS = 0.5
#: Beside bar lines that speak for a riff, a return counts that saves so much.
LEAST_TELLING = 8.0
#: What a riff saves at least, over all and at each return: played by hand, and at the exact places
#: of written music.
LEAST_SAVED, LEAST_EACH = 34.0, 15.0
LEAST_SAVED_WRITTEN, LEAST_EACH_WRITTEN = 24.0, 8.0
#: What goes round and round tells little at each return, since the take has hardly another
#: interval; where most returns, and so many of them, follow upon the one before, it is not chance.
LEAST_EACH_ROUND, ROUNDS = 5.0, 3
MOST_CANDIDATES = 400
MOST_RIFFS = 60
#: So many returns are tried in the place of the stretch that a riff was found by; while the playing
#: goes on there is time for fewer.
OTHER_MODELS, MODELS_LIVE = 3, 1
#: Of those that save nearly as much, the one whose notes come back most is taken.
NEARLY = 0.95
#: Notes compared with notes before no further candidate is looked at; an hour of playing takes an
#: eighth of it.
MOST_COMPARED = 2_000_000
#: Two riffs are one when most returns of one share so much with a return of the other.
SAME_SHARE, MOST = 0.6, 0.5
#: A stretch goes round when so many notes are those one round later; a round has so many notes at
#: most.
ROUND_SHARE, LONGEST_ROUND = 0.85, 200
#: A stretch is no longer than this; a longer one is found in parts.
MOST_NOTES = 2_000


@dataclass(frozen=True)
class Pattern:
    """A stretch that comes back, and how many bits it saves."""

    found: Occurrences
    saved: float


@dataclass
class _Body:
    """Where the notes of a named stretch are told in full: what each costs, and the running sum
    (one longer)."""

    first: int
    last: int
    cost: Floats
    running: Floats


class Chooser:
    """Chooses stretches of one text. ``searchers``: the first by semitones; a second one by steps,
    or none; ``most_compared``: after so many notes compared no further stretch is looked at;
    ``goes_on``: the playing does, so the end of a bar is not yet the end of a riff."""

    def __init__(
        self, text: Text, searchers: list[Searcher], most_compared: int = MOST_COMPARED, goes_on: bool = False
    ) -> None:
        self.text = text
        self.goes_on = goes_on
        self.most_compared = most_compared
        self.searchers = searchers
        self.pointer = float(np.log2(max(len(text), 16))) + 2.0
        self.told = _running(text.bits)
        self.running = self.told
        self.cost = text.bits.copy()
        self.bodies: list[_Body] = []
        self.searched: dict[tuple[int, int, bool], Occurrences] = {}
        least = (LEAST_SAVED_WRITTEN, LEAST_EACH_WRITTEN) if text.exact else (LEAST_SAVED, LEAST_EACH)
        self.least_saved, self.least_each = least

    def chosen(self) -> list[Pattern]:
        """All patterns, in the order in which they were chosen."""
        heap = self._weighed()
        heapq.heapify(heap)
        chosen: list[Pattern] = []
        while heap and len(chosen) < MOST_RIFFS:
            _, first, last = heapq.heappop(heap)
            now = self._value(first, last)
            if heap and now < -heap[0][0] - 1e-9:
                if now >= self.least_saved:
                    heapq.heappush(heap, (-now, first, last))
                continue
            pattern = self._judged(first, last, chosen)
            if pattern is not None:
                chosen.append(pattern)
        return chosen

    def best_of(self, candidates: list[tuple[int, int]]) -> Pattern | None:
        """The one of the stretches that saves most, if it is worth a name."""
        if not candidates:
            return None
        return self._judged(*max(candidates, key=lambda one: self._value(*one)), [])

    def _judged(self, first: int, last: int, chosen: list[Pattern]) -> Pattern | None:
        """The pattern of a stretch with its best ends, its returns told by pointers from now on;
        None when it is not worth a name."""
        if not self._worthy(self.search(first, last), chosen, 0.75):
            return None
        ends = self._from_a_line(*self._by_another(*self._climb(*self._one_round(first, last))))
        found = self.search(*ends)
        if self.text.exact and not self.goes_round(found):
            behind = behind_its_return(self.text, found)
            if self._value(*behind, False) >= NEARLY * self._value(*ends, False):
                found = self.search(*behind)
        if not self._worthy(found, chosen, 1.0):
            return None
        value, saved, anew = self._saves(found)
        self._name(found, saved, anew)
        return Pattern(self.beyond_chance(found), value)

    def _worthy(self, found: Occurrences, chosen: list[Pattern], share: float) -> bool:
        value, saved, _ = self._saves(found)
        edges = self._edges(found)
        if self.goes_on or (chosen and _inside(found, chosen)):
            # The bar lines have told of the longer stretch already, or there may be one.
            value, edges = value - edges, 0.0
        if self.goes_on and self.text.lines is not None:
            cheaper = self._aligned(found, self.text.lines)[1:] & ~_again(found)
            value -= ALIGNED_BITS * float(cheaper.sum())
        saved = np.sort(saved)[::-1][1:]
        goes_round = self.goes_round(found)
        if edges >= EDGE_BITS and not goes_round:
            # Where bar lines speak for it, returns that say little do not speak against it.
            saved = saved[saved >= LEAST_TELLING]
            value = edges + float(saved.sum())
        returns = max(int((saved > 0).sum()), 1)
        least_each = min(self.least_each, LEAST_EACH_ROUND) if goes_round else self.least_each
        if value < share * self.least_saved or value / returns < share * least_each:
            return False
        real = self.beyond_chance(found)
        return len(real) > 1 and not any(same(real, other.found) for other in chosen)

    def goes_round(self, found: Occurrences, least: int = ROUNDS) -> bool:
        """True when most returns, ``least`` or more, follow at once upon the one before; one pitch
        alone is not a figure."""
        stretch = self.text.pitch[found.first[found.model] : found.last[found.model] + 1]
        again = int(_again(found).sum())
        return again >= max(least, MOST * (len(found) - 1)) and int(np.ptp(stretch)) > 0

    # ---- where they could be ---------------------------------------------------------------------

    def _candidates(self) -> list[tuple[int, int]]:
        """Stretches that come back once at least and tell more than a pointer costs; those that
        come back most first."""
        firsts, lasts, told = [], [], []
        going_round: list[Round] = []
        moves = np.concatenate(([0], np.cumsum(np.diff(self.text.pitch) != 0)))
        for searcher in self.searchers:
            whole = segments(self.text, searcher.height, *pairs(self.text, searcher.index))
            found = one_time_round(whole)
            going_round = going_round or rounds(self.text, whole)
            good = (found.last - found.first < MOST_NOTES) & (found.other_last - found.other_first < MOST_NOTES)
            # One time round may tell less than a pointer costs, and all of them together more.
            together = (whole.told >= self.pointer) & (found.last - found.first >= FEWEST_NOTES - 1)
            together &= moves[found.last] > moves[found.first]
            good &= (found.told >= self.pointer) | together
            # The round after the last one may be cut off by the end.
            good &= found.other_last < len(self.text)
            firsts += [found.first[good], found.other_first[good]]
            lasts += [found.last[good], found.other_last[good]]
            told += [found.told[good]] * 2
        count = np.int64(len(self.text))
        code, same = np.unique(np.concatenate(firsts) * count + np.concatenate(lasts), return_inverse=True)
        weight = np.bincount(same, np.concatenate(told), minlength=len(code))
        best = code[np.argsort(-weight, kind="stable")]
        first, last = once_each(self.text, going_round, best // count, best % count)
        return list(zip(first[:MOST_CANDIDATES].tolist(), last[:MOST_CANDIDATES].tolist(), strict=True))

    def _weighed(self) -> list[tuple[float, int, int]]:
        """The candidates with what they save (negative, so that the best is the least), as far as
        the work allowed for goes."""
        weighed = []
        told: set[tuple[int, int]] = set()
        for first, last in self._candidates():
            if (first, last) in told:
                continue
            found = self.search(first, last, True)
            told.update(ends_of(found, found.alike >= 1.0))
            value = self._value(first, last)
            if value >= self.least_saved:
                weighed.append((-value, first, last))
            if self.is_tired():
                break
        return weighed

    def is_tired(self) -> bool:
        """True once the work allowed for is done."""
        return sum(searcher.compared for searcher in self.searchers) > self.most_compared

    def search(self, first: int, last: int, quickly: bool = False) -> Occurrences:
        """Where a stretch comes back; ``quickly``: only at a height of semitones."""
        by_steps = len(self.searchers) > 1 and (self.text.exact or not quickly)
        key = (first, last, by_steps)
        if key not in self.searched:
            hits = self.searchers[0].search(first, last)
            if by_steps:
                moved = self._moved_in_scale(first, last)
                hits = Hits(*(np.concatenate(columns) for columns in zip(hits, moved, strict=True)))
            self.searched[key] = apart(hits)
        return self.searched[key]

    def _moved_in_scale(self, first: int, last: int) -> Hits:
        hits = self.searchers[1].search(first, last)
        hits = Hits(*(column[hits.higher != 0] for column in hits))
        pitch = self.text.pitch
        up = (pitch[hits.first] - pitch[first] + pitch[hits.last] - pitch[last]) / 2
        higher: Ints = np.where(np.round(up) == 0, np.sign(hits.higher), np.round(up)).astype(np.int64)
        # What is moved by semitones as well as by steps is moved by semitones.
        return hits._replace(told=hits.told - STEP_BITS * hits.matched, alike=hits.alike - 0.01, higher=higher)

    def _one_round(self, first: int, last: int) -> tuple[int, int]:
        """One time round of a stretch that goes round and round, where that saves more."""
        pitch = self.text.pitch[first : last + 1]
        for period in range(FEWEST_NOTES, min(len(pitch) // 2, LONGEST_ROUND) + 1):
            if np.mean(pitch[period:] == pitch[:-period]) >= ROUND_SHARE:
                shorter = first, first + period - 1
                return shorter if self._value(*shorter) > self._value(first, last) else (first, last)
        return first, last

    def _climb(self, first: int, last: int) -> tuple[int, int]:
        """The ends, a note further in or out, that save most."""
        best = self._value(first, last, False)
        moved = not self.is_settled(first, last)
        while moved and not self.is_tired():
            moved = False
            for one, other in ((-1, 0), (1, 0), (0, -1), (0, 1), (1, 1), (-1, -1)):
                start, end = first + one, last + other
                if start < 0 or end >= len(self.text) or end - start < FEWEST_NOTES - 1:
                    continue
                if self.text.part[start] != self.text.part[end]:
                    continue
                value = self._value(start, end, False)
                if value > best + 1e-9:
                    best, first, last, moved = value, start, end, True
        return first, last

    def is_settled(self, first: int, last: int) -> bool:
        """True for a stretch that goes round from a bar line to a bar line."""
        lines = self.text.lines
        on_lines = lines is not None and bool(lines.begins[first] and lines.begins[last + 1])
        return on_lines and self.goes_round(self.search(first, last))

    def _by_another(self, first: int, last: int) -> tuple[int, int]:
        """The stretch, or a return of it where that tells the riff better: one that was varied has
        other ends, and is less like the others."""
        found = self.search(first, last)
        ends = [(first, last)]
        others = np.argsort(-found.alike, kind="stable")
        # Where it goes round, another one has the same ends.
        climb = self._climb if not self.goes_round(found) else lambda *one: one
        for number in others[found.model != others][: MODELS_LIVE if self.goes_on else OTHER_MODELS].tolist():
            if not self.is_tired():
                ends.append(climb(int(found.first[number]), int(found.last[number])))
        values = [self._value(*one, False) for one in ends]
        good = [one for one, value in zip(ends, values, strict=True) if value >= NEARLY * max(values)]
        return max(good, key=lambda one: int(self.search(*one).matched.sum()))

    def _from_a_line(self, first: int, last: int) -> tuple[int, int]:
        """A round that begins on a bar line instead, if the stretch goes round and that saves about
        as much."""
        found, lines = self.search(first, last), self.text.lines
        if lines is None or lines.begins[first] or not self.goes_round(found):
            return first, last
        least, size = NEARLY * self._value(first, last, False), last + 1 - first
        begins = np.flatnonzero(lines.begins[first : last + 1]) + first
        turned = [(begin, begin + size - 1) for begin in begins.tolist() if begin + size < len(self.text)]
        turned = [one for one in turned[:OTHER_MODELS] if lines.begins[one[1] + 1]]
        return next((one for one in turned if self._value(*one, False) >= least), (first, last))

    # ---- what they cost --------------------------------------------------------------------------

    def _value(self, first: int, last: int, quickly: bool = True) -> float:
        return self._saves(self.search(first, last, quickly))[0]

    def saves_now(self, found: Occurrences) -> float:
        """What a stretch saves beside those that have a name, in bits; not below 0."""
        return max(self._saves(found)[0], 0.0)

    def _saves(self, found: Occurrences) -> tuple[float, Floats, Floats]:
        """Bits saved over all; at each occurrence; and what each costs anew. One of them must still
        be told in full."""
        anew = self.told_anew(found)
        saved = np.maximum(self._told_now(found) - anew, 0.0)
        return float(saved.sum() - saved.max()) + self._edges(found), saved, anew

    def _edges(self, found: Occurrences) -> float:
        """What the ends of the stretch tell beside its notes, in bits."""
        if self.text.lines is None:
            return 0.0
        first, last = int(found.first[found.model]), int(found.last[found.model])
        return self.text.lines.edge_bits(first, last, self._aligned(found, self.text.lines))

    def _aligned(self, found: Occurrences, lines: BarLines) -> NDArray[np.bool_]:
        return lines.aligned(found.first, found.last, found.model, self.text.tolerance_q)

    def told_anew(self, found: Occurrences) -> Floats:
        size = found.last - found.first + 1
        missing = found.last[found.model] - found.first[found.model] + 1 - found.matched
        added = size - found.matched
        new = np.maximum(self.told[found.last + 1] - self.told[found.first] - found.told, 0.0)
        moved = TRANSPOSED_BITS * (found.higher != 0)
        differences = DIFFERENCE_BITS * (missing + added) + np.where(added > 0, new, 0.0)
        pointer = np.full(len(found), self.pointer)
        if self.text.lines is not None:
            pointer -= ALIGNED_BITS * self._aligned(found, self.text.lines)
        pointer[1:][_again(found)] = AGAIN_BITS
        return np.asarray(pointer + moved + differences)

    def _told_now(self, found: Occurrences) -> Floats:
        cost = self.running[found.last + 1] - self.running[found.first]
        for body in self.bodies:
            inside = (found.first >= body.first) & (found.last <= body.last)
            if inside.any():
                low, high = found.first[inside] - body.first, found.last[inside] - body.first + 1
                cost[inside] = np.maximum(cost[inside], body.running[high] - body.running[low])
        return np.asarray(cost)

    def beyond_chance(self, found: Occurrences) -> Occurrences:
        """Without the occurrences that are told as shortly note by note."""
        keep = self.told[found.last + 1] - self.told[found.first] > self.told_anew(found)
        keep[found.model] = True
        return found.only(keep)

    def _name(self, found: Occurrences, saved: Floats, anew: Floats) -> None:
        """Tell every occurrence by a pointer from now on, and one of them once in full."""
        full = int(np.argmax(saved))
        start, stop = int(found.first[full]), int(found.last[full]) + 1
        now = self.cost[start:stop].copy()
        for body in self.bodies:
            if start >= body.first and stop - 1 <= body.last:
                inside = body.cost[start - body.first : stop - body.first]
                now = inside.copy() if inside.sum() > now.sum() else now
        for number in np.flatnonzero(saved > 0).tolist():
            low, high = int(found.first[number]), int(found.last[number]) + 1
            if self.running[high] - self.running[low] > anew[number]:
                self.cost[low:high] = anew[number] / (high - low)
            for body in self.bodies:
                inside = body.cost[max(low - body.first, 0) : max(high - body.first, 0)]
                if low >= body.first and high - 1 <= body.last and inside.sum() > anew[number]:
                    inside[:] = anew[number] / (high - low)
                    body.running = _running(body.cost)
        self.running = _running(self.cost)
        self.bodies.append(_Body(start, stop - 1, now, _running(now)))


def _running(cost: Floats) -> Floats:
    return np.concatenate(([0.0], np.cumsum(cost)))


def _turned(one: Occurrences, named: Occurrences) -> bool:
    """True when a stretch goes round where a named one does: entered at another note, or several
    rounds of it."""
    size, round_ = (float(np.median(each.last - each.first + 1)) for each in (one, named))
    if size < SAME_SHARE * round_ or any(len(each) < 2 or _again(each).mean() < MOST for each in (one, named)):
        return False
    least = SAME_SHARE if size * SAME_SHARE < round_ else ROUND_SHARE
    told = np.zeros(int(max(one.last[-1], named.last[-1])) + 2)
    np.add.at(told, named.first, 1)
    np.add.at(told, named.last + 1, -1)
    running = np.concatenate(([0], np.cumsum(np.cumsum(told))))
    share = (running[one.last + 1] - running[one.first]) / (one.last - one.first + 1)
    return bool(np.mean(share >= least) >= MOST)


def ends_of(found: Occurrences, which: NDArray[np.bool_]) -> set[tuple[int, int]]:
    """The first and last notes of some of the occurrences."""
    return set(zip(found.first[which].tolist(), found.last[which].tolist(), strict=True))


def _inside(found: Occurrences, chosen: list[Pattern]) -> bool:
    """True when every occurrence lies in one of a stretch that has a name."""
    free = np.ones(len(found), bool)
    for other in chosen:
        at = np.searchsorted(other.found.first, found.first, side="right") - 1
        free &= (at < 0) | (other.found.last[np.maximum(at, 0)] < found.last)
    return not free.any()


def _again(found: Occurrences) -> NDArray[np.bool_]:
    """Which occurrences after the first one follow at once upon the one before, at its height."""
    return np.asarray((found.first[1:] == found.last[:-1] + 1) & (found.higher[1:] == found.higher[:-1]))


def same(one: Occurrences, other: Occurrences) -> bool:
    """True when most occurrences of one are nearly occurrences of the other, or when both are one
    loop, entered at another note."""
    if _turned(one, other):
        return True
    at = np.searchsorted(other.first, one.first)
    best = np.zeros(len(one))
    for step in (-1, 0, 1):
        near = np.clip(at + step, 0, len(other) - 1)
        common = np.minimum(one.last, other.last[near]) - np.maximum(one.first, other.first[near]) + 1
        union = np.maximum(one.last, other.last[near]) - np.minimum(one.first, other.first[near]) + 1
        best = np.maximum(best, np.maximum(common, 0) / union)
    return bool(np.mean(best >= SAME_SHARE) >= MOST)
