"""Scores of music21's corpus as arrays of written notes: ``python -m tests.fitting.rhythm.corpus
OUT.npz``.

What is read
    Art music for keyboard and chamber groups, part songs, and tunes with mixed meters: the
    collections in ``CHOICE``, so many works of each. Ties are joined; grace notes and ornament
    signs keep their mark; a repeat sign is not unfolded.
Conventions
    Times are ticks of 1/10080 quarter (2^5 · 3^2 · 5 · 7), so that tuplets stay exact. One
    structured array a piece (``NOTE``) and one of bars (``BAR``: start, numerator, denominator).
    Notes stand by onset, then pitch.
The split
    ``part_of`` sorts a piece by a hash of its name: 6 of 10 to "fit", 2 to "check" (looked at while
    building), 2 to "held" (reported).
"""

import argparse
import hashlib
import sys
import warnings
from fractions import Fraction
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np

TICKS = 10080
NOTE = np.dtype([("onset", "i8"), ("length", "i8"), ("pitch", "i2"), ("part", "i2"), ("mark", "i2")])
BAR = np.dtype([("start", "i8"), ("over", "i2"), ("under", "i2")])
#: What ``mark`` says: a plain note, a grace note before the note of its onset, a note with a trill,
#: mordent, turn, or a rolled chord.
PLAIN, GRACE, TRILL, MORDENT, TURN, ROLL = range(6)
#: Collection and how many of its works are read, evenly over the collection.
CHOICE = {
    "beethoven": 18, "mozart": 16, "haydn": 9, "schumann_robert": 8, "schumann_clara": 6, "schoenberg": 2, "beach": 1, "chopin": 1,
    "cpebach": 1, "corelli": 1, "handel": 1, "johnson_j_r": 1, "joplin": 1, "liliuokalani": 1, "schubert": 1, "verdi": 1, "weber": 1,
    "webern": 1, "bach": 50, "trecento": 30, "monteverdi": 15, "ryansMammoth": 40, "oneills1850": 12, "essenFolksong": 12,
    "airdsAirs": 4, "josquin": 6, "luca": 1, "ciconia": 1,
}  # fmt: skip
#: Of a file that holds many tunes, so many are taken.
TUNES = 12


def part_of(name: str) -> str:
    """The side of the split a piece is on: "fit", "check" or "held"."""
    number = int(hashlib.sha256(name.encode()).hexdigest()[:8], 16) % 10
    return "fit" if number < 6 else "check" if number < 8 else "held"


def chosen() -> list[str]:
    """The paths of the works that are read."""
    from music21 import corpus

    by_folder: dict[str, list[str]] = {}
    for path in sorted(map(str, corpus.getCorePaths())):
        by_folder.setdefault(path.split("corpus/")[1].split("/")[0], []).append(path)
    paths = []
    for folder, most in CHOICE.items():
        there = by_folder.get(folder, [])
        step = max(len(there) / most, 1.0)
        paths += [there[int(index * step)] for index in range(min(most, len(there)))]
    return paths


def _ticks(quarters: Any) -> int:
    return round(Fraction(quarters).limit_denominator(5040) * TICKS)


def _mark(element: Any) -> int:
    from music21 import expressions

    if element.duration.isGrace:
        return GRACE
    for sign in element.expressions:
        if isinstance(sign, expressions.Trill):
            return TRILL
        if isinstance(sign, expressions.GeneralMordent):
            return MORDENT
        if isinstance(sign, expressions.Turn):
            return TURN
        if isinstance(sign, expressions.ArpeggioMark):
            return ROLL
    return PLAIN


def _piece(score: Any) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]] | None:
    from music21 import stream

    parts = list(score.parts) if score.hasPartLikeStreams() else [score]
    notes, bars = [], []
    for index, part in enumerate(parts):
        if index == 0:
            for bar in part.getElementsByClass(stream.Measure):
                meter = bar.getContextByClass("TimeSignature")
                if meter is not None:
                    bars.append((_ticks(bar.offset), meter.numerator, meter.denominator))
        for element in part.stripTies().flatten().notes:
            onset, length, mark = _ticks(element.offset), _ticks(element.quarterLength), _mark(element)
            for pitch in element.pitches:
                notes.append((onset, length, round(pitch.ps), index, mark))
    if len(notes) < 24 or len(bars) < 4:
        return None
    note_array, bar_array = np.array(notes, NOTE), np.array(bars, BAR)
    return np.unique(np.sort(note_array, order=("onset", "pitch"))), bar_array


def read(path: str) -> list[tuple[str, np.ndarray[Any, Any], np.ndarray[Any, Any]]]:
    """The pieces of one work: (name, notes, bars); none where music21 cannot read it."""
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            found = converter.parse(path)
            scores = list(found.scores) if "Opus" in found.classes else [found]
            step = max(len(scores) / TUNES, 1.0)
            scores = [scores[int(index * step)] for index in range(min(TUNES, len(scores)))]
            pieces = []
            for index, score in enumerate(scores):
                piece = _piece(score)
                if piece is not None:
                    name = path.split("corpus/")[1]
                    pieces.append((f"{name}#{index}" if len(scores) > 1 else name, *piece))
            return pieces
        except Exception as error:
            print(f"{path}: left out, {type(error).__name__}", file=sys.stderr)
            return []


def load(path: str | Path) -> dict[str, tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]]:
    """What ``main`` wrote: name to (notes, bars)."""
    with np.load(path) as file:
        names = sorted({key[2:] for key in file.files})
        return {name: (file[f"n:{name}"], file[f"b:{name}"]) for name in names}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("output", metavar="OUT.npz")
    args = parser.parse_args()
    arrays = {}
    with Pool(2) as pool:
        # By the hash of the name, so that what is there early is a fair sample, too.
        paths = sorted(chosen(), key=lambda path: hashlib.sha256(path.encode()).hexdigest())
        for index, pieces in enumerate(pool.imap_unordered(read, paths, chunksize=1)):
            for name, notes, bars in pieces:
                arrays[f"n:{name}"], arrays[f"b:{name}"] = notes, bars
            if index % 25 == 24:
                np.savez_compressed(args.output, **arrays)
    np.savez_compressed(args.output, **arrays)
    print(f"{len(arrays) // 2} pieces, {sum(len(arrays[key]) for key in arrays if key[0] == 'n'):,} notes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
