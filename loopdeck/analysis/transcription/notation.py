"""Played notes as written notes, for whoever sets them on paper: exact places and lengths from the
start of the take. Ties are left to the page.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.analysis.transcription.placing import KnownNotes, transcribe_notes
from loopdeck.rhythm.swing import Swing


class WrittenNote(NamedTuple):
    """Quarters from the start of the take, quarters, MIDI number.

    An ornament has length 0 and stands on the place of its note.
    """

    place: Fraction
    length: Fraction
    pitch: int
    ornament: bool


def written_notes(
    onset_q: ArrayLike,
    duration_q: ArrayLike,
    pitch: ArrayLike,
    stretches: Sequence[Stretch],
    quarters_per_minute: float,
    swing: Swing | None = None,
) -> list[WrittenNote]:
    """Written notes in the order of the played ones; arrays alike in shape (n,), quarters and MIDI
    numbers.

    ``swing``: None to find it. A rest is what no note fills: nothing is lengthened to close a gap
    that was heard.
    """
    onsets, durations = np.asarray(onset_q, float), np.asarray(duration_q, float)
    numbers = np.asarray(pitch, np.int64)
    second = 60.0 / quarters_per_minute
    playing = KnownNotes(onsets * second, durations * second, durations, numbers)
    found = transcribe_notes(onsets, stretches, playing, swing)
    assert found.length is not None
    rows = zip(
        found.stretch.tolist(),
        found.pass_index.tolist(),
        found.written,
        found.length,
        numbers.tolist(),
        found.ornament.tolist(),
        strict=True,
    )
    return [
        WrittenNote(stretches[one].start + turn * stretches[one].cycle.quarters + place, length, number, ornament)
        for one, turn, place, length, number, ornament in rows
    ]
