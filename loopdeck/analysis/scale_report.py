"""The scale report: which notes left the scale, and which scale would explain them.

Conventions
    Pitches are MIDI numbers, durations seconds, bars counted from 1. The core works on arrays of any length; ``report`` makes the
    dictionary that is printed. Which scale explains the playing best: the one with the least sounding time outside it; among equals
    the one with the fewest notes of its own, then one on the lowest or first note played, then the one that stands earlier in the
    table of scales. This project's rule, no source. Chromatic explains everything and so nothing: it is left out.
"""

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.theory.pitch import parse_note_name
from loopdeck.theory.scale import SCALES, Scale

#: The roots scales are tried on, black keys in both spellings.
_ROOTS = tuple(tuple(parse_note_name(name) for name in names.split()) for names in (
    "C", "Db C#", "D", "Eb D#", "E", "F", "F# Gb", "G", "Ab G#", "A", "Bb A#", "B",
))  # fmt: skip
#: A very short note still counts for this much, in seconds.
_LEAST_SEC = 0.02


class Judged(NamedTuple):
    """For each of k notes: whether it is in the scale (bool), and its distance above the root (int64, 0 to 11); shape (k,)."""

    in_scale: NDArray[np.bool_]
    step: NDArray[np.int64]


class Explained(NamedTuple):
    """A scale with how many notes lie outside it, and the share of the sounding time that does."""

    scale: Scale
    outside: int
    share: float


def judge(pitches: ArrayLike, scale: Scale) -> Judged:
    """Membership and distance from the root of every pitch; a million take some hundredths of a second."""
    classes = np.asarray(pitches, np.int64) % 12
    return Judged(scale.mask[classes], np.asarray((classes - scale.root.pitch_class) % 12, np.int64))


def _signs(scale: Scale) -> int:
    """How many accidentals the notes of a scale need: of two spellings the one with fewer is the usual one."""
    return sum(abs(note.accidental) for note in scale.spelled)


@lru_cache(maxsize=1)
def _all_scales() -> tuple[tuple[Scale, ...], NDArray[np.float64]]:
    scales = tuple(
        min((Scale(root, name, degrees) for root in roots), key=_signs)
        for name, degrees in SCALES.items()
        if name != "chromatic"
        for roots in _ROOTS
    )
    return scales, np.array([~scale.mask for scale in scales], float)


def explain(pitches: ArrayLike, durations_sec: ArrayLike, best: int = 3) -> list[Explained]:
    """The scales that explain the notes best, by the rule at the top; empty without notes."""
    heard = np.asarray(pitches, np.int64)
    if not len(heard):
        return []
    weights = np.maximum(np.asarray(durations_sec, float), _LEAST_SEC)
    time_by_class = np.bincount(heard % 12, weights, 12)
    count_by_class = np.bincount(heard % 12, minlength=12)
    scales, outside = _all_scales()
    shares = outside @ time_by_class / time_by_class.sum()
    counts = outside @ count_by_class
    likely_roots = {int(heard.min()) % 12, int(heard[0]) % 12}
    order = sorted(
        range(len(scales)),
        key=lambda row: (
            round(float(shares[row]), 9),
            len(scales[row].degrees),
            scales[row].root.pitch_class not in likely_roots,
            row,
        ),
    )
    return [Explained(scales[row], int(counts[row]), float(shares[row])) for row in order[:best]]


def report(
    pitches: ArrayLike, onsets_sec: ArrayLike, durations_sec: ArrayLike, bars: ArrayLike, scale: Scale
) -> dict[str, Any]:
    """The report as it is printed: scale, how many notes left it, every note, and what would explain them."""
    heard = np.asarray(pitches, np.int64)
    judged = judge(heard, scale)
    rows = zip(
        heard.tolist(), judged.in_scale.tolist(), judged.step.tolist(), np.asarray(onsets_sec, float).tolist(),
        np.asarray(bars).tolist(),
        strict=True,
    )  # fmt: skip
    names = {pitch: scale.spell(pitch) for pitch in set(heard.tolist())}
    return {
        "scale": {"root": str(scale.root), "name": scale.name, "notes": list(scale.notes)},
        "outside": int((~judged.in_scale).sum()),
        "notes": [
            {
                "index": index,
                "pitch": pitch,
                "name": names[pitch],
                "degree": scale.degree_table[step],
                "in_scale": inside,
                "onset_sec": onset,
                "bar": int(bar),
            }
            for index, (pitch, inside, step, onset, bar) in enumerate(rows)
        ],
        "explains": [
            {"scale": str(one.scale), "outside": one.outside, "share_outside": round(one.share, 4)}
            for one in explain(heard, durations_sec)
        ],
    }
