"""How well and how fast rhythms are transcribed: ``python -m tests.bench rhythm [--corpus
CORPUS.npz] [--json]``.

Every figure is the share of notes on their written place, through the same door as ``loopdeck
quantize --grid auto``, tempo and meter given. Nothing of it was fitted on
(``tests/fitting/rhythm/corpus.py`` has the split), and every piece is played by a player drawn from
a seed (``tests/fitting/rhythm/players.py`` describes them), once.

- ``scores`` and ``studies``: held-out scores of music21's corpus, if ``--corpus`` names the file
  that ``tests/fitting/rhythm/corpus.py`` wrote, and held-out studies: all notes, the median piece,
  the tenth percentile, the worst loss against plain 1/16, and the same for plain 1/16 and for
  music21's ``quantize`` with its own divisors (4 and 3).
- ``pianists`` and ``pianists_studies``: the same pieces by rougher players, of whom nothing was
  fitted (``tests/fitting/rhythm/pianists.py``).
- ``sixteenths``: those pieces again that are written in sixteenths alone, played with care.
- ``swung``: sixteenths from 1.3:1 to 2.5:1 with ±10 ms, the swing not given; also how near the
  found ratio is.
- ``lengths``: the share of written durations that are right, of notes on their place.
- ``speed``: notes a second of 20,000 notes, the best of three, and the time beside music21's
  ``quantize``, same notes, same run; a take of five minutes (3,000 notes).
"""

import argparse
import json
import sys
import time
import warnings
from fractions import Fraction
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.timing import Feel, place_onsets
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.analysis.transcription.placing import KnownNotes, Transcribed
from loopdeck.rhythm.grid import parse_grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.swing import Swing, warp
from tests.fitting.rhythm.corpus import TICKS
from tests.fitting.rhythm.pianists import perform
from tests.fitting.rhythm.pieces import Piece, corpus_pieces, excerpt, studies
from tests.fitting.rhythm.players import Played, play

AUTO = Feel(parse_grid("auto"), Swing())
#: Notes of an excerpt, and of the speed test.
NOTES, MANY = 1200, 20_000


def transcribed(played: Played, stretches: tuple[Stretch, ...]) -> Transcribed:
    """What ``quantize --grid auto`` finds."""
    second = 60.0 / played.qpm
    playing = KnownNotes(played.onset_q * second, played.duration_q * second, played.duration_q, played.pitch)
    found = place_onsets(played.onset_q, stretches, AUTO, playing).found
    assert found is not None
    return found


def theirs(onset_q: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    """music21's places and the seconds it took; building its stream is not counted."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
    stream = music21.stream.Stream()
    notes = [music21.note.Note(40, quarterLength=0.25) for _ in onset_q]
    for onset, note in zip(onset_q.tolist(), notes, strict=True):
        stream.insert(onset, note)
    begun = time.process_time()
    stream.quantize((4, 3), processOffsets=True, processDurations=False, inPlace=True)
    return np.array([float(note.offset) for note in notes]), time.process_time() - begun


def spread(shares: list[float], notes: list[int]) -> dict[str, float]:
    """Over all notes, the median piece and the tenth percentile, in percent."""
    values = np.array(shares) * 100
    return {
        "notes": round(float(np.average(values, weights=notes)), 2),
        "median": round(float(np.median(values)), 2),
        "tenth": round(float(np.percentile(values, 10)), 2),
    }


def held(
    pieces: list[Piece], care: float | None = None, compare: bool = True, pianists: bool = False
) -> dict[str, Any]:
    """The figures of a set of pieces, played by players or by pianists."""
    ours: list[float] = []
    plain: list[float] = []
    other: list[float] = []
    lengths: list[float] = []
    counts: list[int] = []
    for index, whole in enumerate(pieces):
        rng = np.random.default_rng([23, index])
        piece = excerpt(whole, NOTES, rng)
        played = perform(piece.notes, piece.beats, rng) if pianists else play(piece.notes, piece.beats, rng, care=care)
        real = played.written >= 0
        truth = played.written[real] / TICKS
        found = transcribed(played, piece.stretches)
        right = np.abs(found.written_q[real] - truth) < 1e-3
        ours.append(float(right.mean()))
        plain.append(float((np.abs(np.round(played.onset_q[real] * 4) / 4 - truth) < 1e-3).mean()))
        if compare:
            other.append(float((np.abs(theirs(played.onset_q)[0][real] - truth) < 1e-3).mean()))
        assert found.length is not None
        long = np.array(found.length, float)[real]
        counted = right & ~played.ornament[real]
        lengths.append(float((np.abs(long - played.written_length[real] / TICKS) < 1e-3)[counted].mean()))
        counts.append(int(real.sum()))
    losses = np.array(ours) - np.array(plain)
    figures: dict[str, Any] = {
        "pieces": len(pieces),
        "count": sum(counts),
        "ours": spread(ours, counts),
        "plain_sixteenths": spread(plain, counts),
        "worst_loss": round(float(losses.min()) * 100, 2),
        "pieces_losing_a_point": int((losses < -0.01).sum()),
        "lengths": round(float(np.average(lengths, weights=counts)) * 100, 2),
    }
    if other:
        figures["music21"] = spread(other, counts)
    return figures


def swung() -> dict[str, Any]:
    """Swung sixteenths of 32 quarters at 96, several meters, densities and ratios; the swing not
    given.
    """
    shares, misses = [], []
    seed = 0
    for meter in ("4/4", "4/4 4+3/8", "3/4", "7/8"):
        for density in (0.55, 0.8, 1.0):
            for ratio in (1.3, 1.6, 2.0, 2.5):
                seed += 1
                rng = np.random.default_rng([31, seed])
                cycle = parse_cycle(meter)
                written = np.flatnonzero(rng.random(128) < density) / 4
                swing = Swing(Fraction(ratio).limit_denominator(100), Fraction(1, 4))
                onsets = warp(written, cycle, swing, parse_grid("1/16")) + rng.normal(size=len(written)) * 0.016
                order = np.argsort(onsets)
                count = len(written)
                played = Played(
                    onsets[order], np.full(count, 0.2), rng.integers(28, 50, count), written[order], written, written, written, 96.0
                )  # fmt: skip
                found = transcribed(played, (Stretch(Fraction(0), cycle),))
                shares.append(float((np.abs(found.written_q - written[order]) < 1e-3).mean()))
                misses.append(abs(float(found.swing.ratio) - ratio))
    return {
        "takes": len(shares),
        "notes": round(float(np.mean(shares)) * 100, 2),
        "least": round(min(shares) * 100, 2),
        "ratio_off_median": round(float(np.median(misses)), 3),
    }


def many() -> tuple[Played, tuple[Stretch, ...]]:
    """Studies in 4/4 and 3/4 one after the other, as one take of 20,000 notes in 4/4."""
    parts: list[Played] = []
    start, seed = 0.0, 0
    count = 0
    while count < MANY:
        piece = studies("held", seed + 1)[seed]
        seed += 1
        if piece.stretches[0].cycle.meters[0].unit != 4:
            continue
        played = play(piece.notes, piece.beats, np.random.default_rng([41, seed]))
        parts.append(played._replace(onset_q=played.onset_q + start))
        start = float(np.ceil(parts[-1].onset_q.max() / 4) * 4 + 4)
        count += len(played.onset_q)
    columns = [np.concatenate(column)[:MANY] for column in list(zip(*parts, strict=True))[:6]]
    return Played(*columns, np.zeros(0), 96.0), (Stretch(Fraction(0), parse_cycle("4/4")),)


def speed() -> dict[str, Any]:
    """Processor time of one core."""
    played, stretches = many()
    found = []
    for count in (MANY, MANY, MANY, 3000, 3000, 3000):
        some = Played(*(column[:count] for column in played[:6]), played.beats_q, played.qpm)
        begun = time.process_time()
        transcribed(some, stretches)
        found.append(time.process_time() - begun)
    ours, five = min(found[:3]), min(found[3:])
    figures = {"notes_a_second": round(MANY / ours), "five_minutes_sec": round(five, 3)}
    try:
        other = theirs(played.onset_q)[1]
        figures |= {"music21_sec": round(other, 3), "ours_sec": round(ours, 3), "ratio": round(ours / other, 3)}
    except ImportError:
        pass
    return figures


def only_sixteenths(piece: Piece) -> bool:
    """Whether a piece is written in sixteenths or slower notes alone."""
    return bool((piece.notes["onset"] % (TICKS // 4) == 0).all())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--corpus", metavar="CORPUS.npz", help="scores that rhythm/corpus.py wrote")
    parser.add_argument("--most", type=int, default=60, metavar="N", help="scores of the corpus at most; default: 60")
    parser.add_argument("--part", default="held", choices=("held", "check"), help="the part of the split")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    args = parser.parse_args()
    figures: dict[str, Any] = {}
    scores: list[Piece] = []
    if args.corpus:
        scores = [piece for piece in corpus_pieces(args.corpus, args.part) if len(piece.notes) >= 100]
        scores = [scores[index] for index in np.random.default_rng(1).permutation(len(scores))[: args.most]]
        figures["scores"] = held(scores)
    own = studies(args.part, 24)
    figures["studies"] = held(own)
    figures["pianists"] = held(scores, compare=False, pianists=True) if scores else {}
    figures["pianists_studies"] = held(own, compare=False, pianists=True)
    figures["sixteenths"] = held([piece for piece in scores + own if only_sixteenths(piece)], care=0.8, compare=False)
    figures["swung"] = swung()
    figures["speed"] = speed()
    if args.json:
        print(json.dumps(figures))
        return 0
    for name in ("scores", "studies", "pianists", "pianists_studies", "sixteenths"):
        if figures.get(name):
            _print_set(name, figures[name])
    one = figures["swung"]
    print(
        f"swung       {one['takes']} takes, swing not given: {one['notes']} % of the notes, the worst "
        f"{one['least']} %;",
        end=" ",
    )
    print(f"ratio off by {one['ratio_off_median']} in the median")
    fast = figures["speed"]
    print(
        f"speed       {fast['notes_a_second']:,} notes a second; five minutes in {fast['five_minutes_sec']} s", end=""
    )
    print(f"; {1 / fast['ratio']:.1f} times as fast as music21's quantize" if "ratio" in fast else "")
    return 0


def _print_set(name: str, one: dict[str, Any]) -> None:
    print(
        f"{name:<11} {one['pieces']} pieces, {one['count']:,} notes (all notes, median piece, tenth percentile, in %)"
    )
    for who in ("ours", "plain_sixteenths", "music21"):
        if who in one:
            row = one[who]
            print(f"  {who:<18}{row['notes']:8.2f}{row['median']:8.2f}{row['tenth']:8.2f}")
    print(
        f"  worst loss against plain 1/16: {one['worst_loss']} points, {one['pieces_losing_a_point']} pieces "
        "lose over one"
    )
    print(f"  written durations right: {one['lengths']} % of the notes on their place")


if __name__ == "__main__":
    sys.exit(main())
