"""Make the rhythm model's table: ``python -m tests.fitting.fit_rhythm CORPUS.npz [--tune N]``.

Counted on the "fit" part of the split alone: which grids beats need and which follow which, which
slots are struck after which (from the written scores and from studies), and how gaps and kinds of
steps tell chords from figures (from three players of each piece). ``--tune N`` then tries N changes
of the model's scalars on players of the "check" part and keeps what places more notes.
``CORPUS.npz`` is what ``corpus.py`` wrote. The table goes to
``loopdeck/analysis/transcription/rhythm_table.json``.
"""

import argparse
import json
import sys
from dataclasses import asdict, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from loopdeck.analysis.transcription import table as tables
from loopdeck.analysis.transcription.events import GAP_BINS, GAP_EDGES, KINDS, gather
from loopdeck.analysis.transcription.grids import GRIDS, PLACE_NUMBER
from tests.fitting.rhythm.corpus import GRACE
from tests.fitting.rhythm.judge import score
from tests.fitting.rhythm.pieces import Piece, corpus_pieces, excerpt, studies
from tests.fitting.rhythm.players import play
from tests.fitting.rhythm.simplest import simplest

#: What a study's beat counts beside a beat of the corpus.
STUDY_WEIGHT = 0.5
#: A piece's beats count for no more than so many.
MOST_BEATS = 150


def count_scores(pieces: list[Piece], counts: tables.Counts) -> None:
    """Grids, grids after grids, and slots after slots."""
    for piece in pieces:
        weight = min(1.0, MOST_BEATS / max(len(piece.beats), 1)) * (
            STUDY_WEIGHT if piece.name.startswith("study") else 1.0
        )
        onsets = np.unique(piece.notes["onset"][piece.notes["mark"] != GRACE])
        cut = np.searchsorted(onsets, piece.beats)
        before: str | None = None
        for index in range(len(piece.beats) - 1):
            struck = onsets[cut[index] : cut[index + 1]]
            if not len(struck):
                continue
            length = int(piece.beats[index + 1] - piece.beats[index])
            places = frozenset(
                Fraction(int(place - piece.beats[index]), length).limit_denominator(24) for place in struck
            )
            number = simplest(places, bool(piece.compound[index])) if places <= PLACE_NUMBER.keys() else None
            if number is None:
                before = None
                continue
            name = tables.key(number)
            counts.grid[name] = counts.grid.get(name, 0.0) + weight
            if before is not None:
                row = counts.follows.setdefault(before, {})
                row[name] = row.get(name, 0.0) + weight
            before = name
            slots = [GRIDS[number].places.index(place) for place in sorted(places)]
            line = counts.slots.setdefault(name, {})
            for first, second in zip([-1, *slots], [*map(str, slots), "end"], strict=True):
                line[f"{first}>{second}"] = line.get(f"{first}>{second}", 0.0) + weight


def count_steps(pieces: list[Piece], counts: tables.Counts, seed: int = 0) -> float:
    """Kinds and gaps of steps inside one slot and between two, as played; the share of steps that
    stay in their slot.
    """
    same, step = np.ones((KINDS, GAP_BINS)), np.ones((KINDS, GAP_BINS))
    for index, whole in enumerate(pieces):
        for turn in range(3):
            rng = np.random.default_rng([seed, index, turn])
            played = play((piece := excerpt(whole, 800, rng)).notes, piece.beats, rng)
            ms = played.onset_q * 60000.0 / played.qpm
            events = gather(played.onset_q, ms, played.duration_q * 60000.0 / played.qpm, played.pitch, rolls=False)
            truth = np.where(played.written >= 0, played.written, np.maximum.accumulate(played.written))[events.first]
            stays = np.diff(truth) == 0
            bins = np.searchsorted(GAP_EDGES, events.gap_ms[1:])
            np.add.at(same, (events.kind[1:][stays], bins[stays]), 1)
            np.add.at(step, (events.kind[1:][~stays], bins[~stays]), 1)
    counts.same, counts.step = same.round(1).tolist(), step.round(1).tolist()
    return float(same.sum() / (same.sum() + step.sum()))


def rounded(counts: tables.Counts) -> dict[str, Any]:
    """The counts as they are written."""
    found = asdict(counts)
    found["grid"] = {name: round(value, 1) for name, value in sorted(counts.grid.items())}
    for field in ("follows", "slots"):
        rows = getattr(counts, field)
        found[field] = {
            name: {other: round(value, 1) for other, value in sorted(row.items()) if value >= 0.05}
            for name, row in sorted(rows.items())
        }
    return found


def check_set(path: str, scores: int = 30, extra: int = 12, notes: int = 600) -> list[Any]:
    """Played excerpts of the "check" part, scores of some length and studies: (piece, played)."""
    rng = np.random.default_rng(5)
    pieces = [piece for piece in corpus_pieces(path, "check") if len(piece.notes) >= 150]
    pieces = [pieces[index] for index in rng.permutation(len(pieces))[:scores]] + studies("check", extra)
    played = []
    for index, whole in enumerate(pieces):
        turn = np.random.default_rng([11, index])
        piece = excerpt(whole, notes, turn)
        played.append((piece, play(piece.notes, piece.beats, turn)))
    return played


def tune(path: str, counts: tables.Counts, knobs: tables.Knobs, turns: int) -> tables.Knobs:
    """Random changes of one or two scalars, kept when they place more notes of the check set."""
    rng = np.random.default_rng(3)
    played = check_set(path)
    names = [name for name in asdict(knobs)]
    best = score(played, tables.probabilities(counts, knobs))
    print(f"at first {best:.5f}", flush=True)
    for _ in range(turns):
        changes = {}
        for name in rng.choice(names, int(rng.integers(1, 3)), replace=False).tolist():
            value = getattr(knobs, name)
            changes[name] = round(float(value * np.exp(rng.normal() * 0.3)), 4)
        if not 0 < changes.get("more", 0.1) < 0.9 or not 0 < changes.get("pattern", 0.5) < 0.97:
            continue
        trial = replace(knobs, **changes)
        now = score(played, tables.probabilities(counts, trial))
        if now > best:
            knobs, best = trial, now
            print(f"{best:.5f} {changes}", flush=True)
    return knobs


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("corpus", metavar="CORPUS.npz")
    parser.add_argument("--tune", type=int, default=0, metavar="N", help="trials of the scalars")
    parser.add_argument("--keep", action="store_true", help="begin with the scalars of the table that is there")
    args = parser.parse_args()
    counts = tables.Counts()
    pieces = corpus_pieces(args.corpus, "fit")
    extra = studies("fit", 150)
    count_scores(pieces + extra, counts)
    share = count_steps(pieces + extra[:40], counts)
    counts = tables.Counts(**rounded(counts))
    knobs = tables.Knobs(more=round(share, 3))
    if args.keep:
        knobs = tables.Knobs(**json.loads(tables.PATH.read_text())["knobs"])
    knobs = tune(args.corpus, counts, knobs, args.tune)
    table = {"knobs": asdict(knobs), "counts": rounded(counts)}
    rows = [f'"{name}": {json.dumps(value)}' for name, value in table.items()]
    tables.PATH.write_text("{\n" + ",\n".join(rows) + "\n}\n")
    print(f"{len(pieces)} pieces and {len(extra)} studies; {tables.PATH.stat().st_size:,} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
