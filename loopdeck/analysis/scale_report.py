"""The scale report: which notes left the scale, and which scale would explain them.

Conventions
    Pitches are MIDI numbers, durations seconds, bars counted from 1. The core works on arrays of any length; ``report`` makes the
    dictionary that is printed. Which scale explains the playing best: the one with the least sounding time outside it; among equals
    the one with the fewest notes of its own, then one on the root that was asked for, then one on the lowest or first note played,
    then the one that stands earlier in the table of scales. Scales made of the same notes (D dorian, C ionian) explain equally much:
    they are one answer, under the name that comes first by this rule. This project's rule, no source. Chromatic explains everything
    and so nothing: it is left out.
"""

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.theory.pitch import Spelled, parse_note_name
from loopdeck.theory.scale import SCALES, Scale, parse_scale

#: The roots scales are tried on, black keys in both spellings.
_ROOTS = tuple(tuple(parse_note_name(name) for name in names.split()) for names in (
    "C", "Db C#", "D", "Eb D#", "E", "F", "F# Gb", "G", "Ab G#", "A", "Bb A#", "B",
))  # fmt: skip
#: What spells no notes at all.
_PLAIN = parse_scale("C ionian")
#: A very short note still counts for this much, in seconds.
_LEAST_SEC = 0.02


class Judged(NamedTuple):
    """For each of k notes: whether it is in the scale (bool), and its distance above the root (int64, 0 to 11); shape (k,)."""

    in_scale: NDArray[np.bool_]
    step: NDArray[np.int64]


class Explained(NamedTuple):
    """A scale with how many notes lie outside it, the share (0 to 1) of the sounding time that does, and its other names."""

    scale: Scale
    outside: int
    share: float
    same: tuple[Scale, ...] = ()


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


def explain(
    pitches: ArrayLike, durations_sec: ArrayLike, best: int = 3, root: Spelled | None = None
) -> list[Explained]:
    """The ``best`` answers to which scale explains the notes, by the rule at the top; none without notes.

    ``pitches`` and ``durations_sec`` of shape (k,), in order of onset. Scales on ``root`` are spelled from that very name.
    """
    heard = np.asarray(pitches, np.int64)
    if not len(heard):
        return []
    weights = np.maximum(np.asarray(durations_sec, float), _LEAST_SEC)
    time_by_class = np.bincount(heard % 12, weights, 12)
    count_by_class = np.bincount(heard % 12, minlength=12)
    scales, outside = _all_scales()
    shares = (outside @ time_by_class / time_by_class.sum()).round(9).tolist()
    counts = outside @ count_by_class
    asked = -1 if root is None else root.pitch_class
    likely_roots = {int(heard.min()) % 12, int(heard[0]) % 12}

    def rank(row: int) -> tuple[float, int, bool, bool, int]:
        own = scales[row].root.pitch_class
        return shares[row], len(scales[row].degrees), own != asked, own not in likely_roots, row

    answers: dict[frozenset[int], list[int]] = {}
    for row in sorted(range(len(scales)), key=rank):
        answers.setdefault(scales[row].pitch_classes, []).append(row)

    def spelled(scale: Scale) -> Scale:
        return scale if root is None or scale.root.pitch_class != asked else Scale(root, scale.name, scale.degrees)

    return [
        Explained(
            spelled(scales[first]), int(counts[first]), shares[first], tuple(spelled(scales[row]) for row in others)
        )
        for first, *others in list(answers.values())[:best]
    ]


def report(
    pitches: ArrayLike,
    onsets_sec: ArrayLike,
    durations_sec: ArrayLike,
    bars: ArrayLike,
    scale: Scale | None,
    index: ArrayLike | None = None,
) -> dict[str, Any]:
    """The report as it is printed: scale, how many notes left it, every note, and what would explain them.

    The arrays are of shape (k,), alike in order; ``index`` numbers the notes where they are not all the notes of a take.
    Without a scale ``scale``, ``outside``, ``degree`` and ``in_scale`` are None, and what explains the notes best spells them.
    """
    heard = np.asarray(pitches, np.int64)
    explained = explain(heard, durations_sec, root=None if scale is None else scale.root)
    if scale is None:
        found = report(pitches, onsets_sec, durations_sec, bars, explained[0].scale if explained else _PLAIN, index)
        found["notes"] = [{**note, "degree": None, "in_scale": None} for note in found["notes"]]
        return {**found, "scale": None, "outside": None, "explains": [_printed(one) for one in explained]}
    judged = judge(heard, scale)
    numbers = np.arange(len(heard)) if index is None else np.asarray(index, np.int64)
    columns = (numbers, heard, judged.in_scale, judged.step, np.asarray(onsets_sec, float).round(9), np.asarray(bars))
    names = {pitch: scale.spell(pitch) for pitch in set(heard.tolist())}
    return {
        "scale": {"root": str(scale.root), "name": scale.name, "notes": list(scale.notes)},
        "outside": int((~judged.in_scale).sum()),
        "notes": [
            {
                "index": number,
                "pitch": pitch,
                "name": names[pitch],
                "degree": scale.degree_table[step],
                "in_scale": inside,
                "onset_sec": onset,
                "bar": bar,
            }
            for number, pitch, inside, step, onset, bar in zip(*(column.tolist() for column in columns), strict=True)
        ],
        "explains": [_printed(one) for one in explained],
    }


def _printed(one: Explained) -> dict[str, Any]:
    return {
        "scale": str(one.scale),
        "outside": one.outside,
        "share_outside": round(one.share, 4),
        "same_notes": [str(scale) for scale in one.same],
    }
