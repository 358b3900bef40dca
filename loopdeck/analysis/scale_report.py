"""The scale report: which notes left the scale and what they do there, and which scale would
explain the playing.

Conventions
    Pitches are MIDI numbers, durations seconds, bars counted from 1. The core works on arrays of
    any length; ``report`` makes the dictionary that is printed. What explains the playing is found
    by ``scale_finder``, whatever scale was asked for; what an outside note does by ``roles``;
    reasons and the way back into the scale by ``scale_sentences``.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.roles import roles
from loopdeck.analysis.scale_finder import Playing, Ranked, rank, scales
from loopdeck.analysis.scale_sentences import as_changes, change_in_words, reasons, smallest_change
from loopdeck.theory.scale import Scale, parse_scale

#: What spells no notes at all.
_PLAIN = parse_scale("C ionian")
#: A scale on the root that was asked for is named where it is at least so likely, beside the
#: likeliest.
_AS_GOOD = 0.5
#: Fewer different notes tell no scale.
_FEWEST = 4
#: A very short note still counts for this much, in quarters.
_LEAST_Q = 0.03


class ScaleDegrees(NamedTuple):
    """For each of k notes: whether it is in the scale (bool), and its distance above the root
    (int64, 0 to 11); shape (k,).
    """

    in_scale: NDArray[np.bool_]
    step: NDArray[np.int64]


def judge(pitches: ArrayLike, scale: Scale) -> ScaleDegrees:
    """Membership and distance from the root of every pitch; a million take some hundredths of a
    second.
    """
    classes = np.asarray(pitches, np.int64) % 12
    return ScaleDegrees(scale.mask[classes], np.asarray((classes - scale.root.pitch_class) % 12, np.int64))


def _instead(ranked: list[Ranked], scale: Scale, heard: NDArray[np.int64]) -> Ranked | None:
    """What to call the playing instead of ``scale``: the likeliest, or one on the same root that is
    not much less likely. Who chose a scale chose its root. Nothing where the pitches ``heard`` are
    too few to tell a scale.
    """
    if not ranked or len(set((heard % 12).tolist())) < _FEWEST:
        return None
    near = [one for one in ranked if one.probability >= _AS_GOOD * ranked[0].probability and not one.outside.any()]
    return next((one for one in near if one.scale.root.pitch_class == scale.root.pitch_class), ranked[0])


def report(
    playing: Playing,
    onsets_sec: ArrayLike,
    bars: ArrayLike,
    scale: Scale | None,
    index: ArrayLike | None = None,
    bends: Sequence[NDArray[np.float64]] | None = None,
    source: ArrayLike | None = None,
) -> dict[str, Any]:
    """The report as it is printed: scale, how many notes left it, every note with its role, the way
    back, and what would explain them.

    ``playing`` has k notes; the arrays are of shape (k,), ``bends`` k curves, alike in order;
    ``index`` numbers the notes where they are not all the notes of a take. Without a scale
    ``scale``, ``outside``, ``degree``, ``in_scale`` and ``role`` are None, and what explains the
    notes best spells them.
    """
    heard = playing.pitch
    numbers = np.arange(len(heard)) if index is None else np.asarray(index, np.int64)
    ranked = rank(playing)
    spelling = scale or (ranked[0].scale if ranked else _PLAIN)
    judged = judge(heard, spelling)
    names = {pitch: spelling.spell(pitch) for pitch in set(heard.tolist())}
    done: list[str | None] = [None] * len(heard)
    if scale is not None:
        done = roles(heard, playing.onset_q, playing.length_q, judged.in_scale, scale.mask, bends, source)
    columns = (numbers, heard, judged.in_scale, judged.step, np.asarray(onsets_sec, float).round(9), np.asarray(bars))
    notes = [
        {
            "index": number,
            "pitch": pitch,
            "name": names[pitch],
            "degree": None if scale is None else spelling.degree_table[step],
            "in_scale": None if scale is None else inside,
            "onset_sec": onset,
            "bar": bar,
            "role": role,
        }
        for (number, pitch, inside, step, onset, bar), role in zip(
            zip(*(column.tolist() for column in columns), strict=True), done, strict=True
        )
    ]
    changes = smallest_change(heard, scale) if scale is not None else []
    return {
        "scale": None if scale is None else {"root": str(scale.root), "name": scale.name, "notes": list(scale.notes)},
        "outside": None if scale is None else int((~judged.in_scale).sum()),
        "notes": notes,
        "changes": as_changes(numbers, heard, changes),
        "change": "" if scale is None else change_in_words(heard, changes, scale, _instead(ranked, scale, heard)),
        "explains": [_printed(one, why, playing) for one, why in zip(ranked, reasons(playing, ranked), strict=True)],
    }


def _printed(one: Ranked, why: str, playing: Playing) -> dict[str, Any]:
    weights = np.maximum(playing.length_q, _LEAST_Q)
    same = [str(other) for other in scales() if other.pitch_classes == one.scale.pitch_classes and other != one.scale]
    return {
        "scale": str(one.scale),
        "root": str(one.scale.root),
        "name": one.scale.name,
        "probability": round(one.probability, 4),
        "outside": int(one.outside.sum()),
        "share_outside": round(float(weights[one.outside].sum() / weights.sum()), 4),
        "why": why,
        "same_notes": same,
    }
