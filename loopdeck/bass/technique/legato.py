"""Hammer-ons and pull-offs that come as new notes, told from plucks by their level and by the gap.

Method
    A note that begins where the last one ended, within a hand's reach, and clearly softer than
    notes are plucked here was hammered on or pulled off; one that is a little softer may have been,
    and is unsure. How soft is clearly softer depends on the playing (``soft_share``). Figures:
    common practice, no source; tried on simulated pickups.
"""

from collections.abc import Sequence
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.bass.technique.reading import HAMMER, PLUCK, PULL, Written, meets

SOFT, UNSURE = 0.74, 0.86
#: The share of the usual level below which a joined note is legato lies between these; of so many
#: plucks that share may take for one; a note of this share is plucked for certain; a share of it
#: above the limit is unsure; and so many of them tell how plucks follow each other here.
LEAST_SOFT, MOST_SOFT, MISTAKEN, LOUD, MARGIN, LEAST = 0.72, 0.88, 0.006, 0.94, 0.08, 8
REACH_FRETS = 5
#: A string that goes on sounding is told of without a gap; a pluck that follows at once leaves one
#: longer than this.
TIGHT_SEC, MOST_LOOSE = 0.006, 0.8


class Soft(NamedTuple):
    """The share of the usual level up to which a note is taken as legato where it follows the one
    before without a gap (``tight``), and after a short one (``loose``).
    """

    tight: float
    loose: float


def soft_share(strings: Sequence[list[Written]], usual: Sequence[NDArray[np.float64]]) -> Soft:
    """The share of the usual level up to which a joined note is taken as legato; ``usual`` are the
    levels of the notes of each of ``strings``.

    Plucks scatter around their level, normally as far below it as above; some of them begin right
    where the note before ends. Both are read from the loud ones, which are plucks for certain. Then
    the share is the one that ``MISTAKEN`` of the plucks fall short of while they join the note
    before. One hand plucks all strings, so they are looked at together.
    """
    over: list[float] = []
    loud = tight = loose = 0
    for notes, levels in zip(strings, usual, strict=True):
        for note, before, level in zip(notes[1:], notes, levels[1:].tolist(), strict=False):
            share = note.velocity / max(level, 1.0)
            if share >= 1.0:
                over.append(share - 1.0)
            if share >= LOUD and 1 <= abs(note.pitch - before.pitch) <= REACH_FRETS:
                loud += 1
                tight += _tight(note, before)
                loose += follows(note, before)
    if loud < LEAST or not over:
        return Soft(SOFT, SOFT)
    spread = sorted(over)[len(over) // 2] / 0.6745
    # After a gap it may be a pluck: it must be softer.
    loosely = min(_share((loose + 1.0) / (loud + 2.0), spread), MOST_LOOSE)
    return Soft(_share((tight + 1.0) / (loud + 2.0), spread), loosely)


def _share(joins: float, spread: float) -> float:
    """The share of the level that only ``MISTAKEN`` of plucks with this ``spread`` fall short of,
    of which such a share ``joins`` the note before.
    """
    return float(np.clip(1.0 - _below(MISTAKEN / joins) * spread, LEAST_SOFT, MOST_SOFT))


def follows(note: Written, before: Written) -> bool:
    """True for a plucked note that begins where the one before it ends; a dead stroke neither goes
    on from a note nor on to one.
    """
    if "dead" in note.marks or "dead" in before.marks:
        return False
    return meets(note, before) and note.reached == PLUCK


def _tight(note: Written, before: Written) -> bool:
    """True where there is no gap: a pluck stops the string first, and takes time to be named."""
    return follows(note, before) and note.onset_sec - before.end_sec <= TIGHT_SEC


def _below(share: float) -> float:
    """How many standard deviations below the middle so small a ``share`` of normally spread values
    lies.
    """
    return -NormalDist().inv_cdf(min(share, 0.4))


def reach(note: Written, before: Written, usual: float, soft: Soft) -> None:
    """Say that ``note`` was hammered or pulled after ``before``, or that it may have been."""
    step = note.pitch - before.pitch
    if not follows(note, before) or not 1 <= abs(step) <= REACH_FRETS:
        return
    share = soft.tight if _tight(note, before) else soft.loose
    if note.velocity <= share * usual:
        note.reached = HAMMER if step > 0 else PULL
    elif note.velocity <= max(share + MARGIN, UNSURE) * usual:
        note.unsure = True
