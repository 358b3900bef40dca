"""A second voice beside the riff: power chords, thirds, sixths, octaves, a pedal.

Method
    Power chords are the root and the fifth, with the octave, voiced from a guitar's low E (E2) up;
    they stand on the strong beats, under the note that sounds there, or follow every note of the
    riff. Thirds and sixths go two and five notes of the scale up and lie where a guitar plays; in a
    scale that has not seven notes, such as a pentatonic one, they are its notes nearest to a third
    and a sixth. A pedal is struck at the start of every group. Common practice, no source.
"""

from typing import NamedTuple

import numpy as np

from loopdeck.bass.variations.line import Line, line_of, weights
from loopdeck.bass.variations.pitch import stepped_pitch
from loopdeck.rhythm.quantize import locate
from loopdeck.theory.scale import Scale

#: The lowest note of a guitar in standard tuning: E2.
GUITAR_LOW = 40
#: The highest with 24 frets: E6.
GUITAR_HIGH = 88
#: What power chords are played on: General MIDI level 1, overdriven guitar, counted from 1.
GUITAR = 30
#: Strong beats are starts of bars and of groups.
STRONG = 4


def power_chords(line: Line, following: bool) -> Line:
    """Root, fifth and octave over the riff: on its strong beats, each held until the next, or with
    every note (``following``).
    """
    notes = line.notes
    chosen = np.arange(len(line)) if following else np.flatnonzero(weights(line) >= STRONG)
    if not following:
        chosen = _lowest_of_each(line, chosen)
    rows = []
    for place, index in enumerate(chosen.tolist()):
        onset = float(notes["onset_q"][index])
        until = float(notes["onset_q"][chosen[place + 1]]) if place + 1 < len(chosen) else _end(line, onset)
        length = float(notes["duration_q"][index]) if following else max(until - onset, 0.0)
        root = guitar_root(int(notes["pitch"][index]))
        rows += [(onset, length, root + up, int(notes["velocity"][index])) for up in (0, 7, 12)]
    return line_of(rows, line.brief)


def guitar_root(pitch: int) -> int:
    """The pitch in the octave that begins at a guitar's low E."""
    return GUITAR_LOW + (pitch - GUITAR_LOW) % 12


def _lowest_of_each(line: Line, rows: np.ndarray) -> np.ndarray:
    """Of rows that stand together only the lowest one."""
    kept: list[int] = []
    for row in rows.tolist():
        if kept and abs(float(line.notes["onset_q"][row] - line.notes["onset_q"][kept[-1]])) < 1 / 16:
            continue
        kept.append(row)
    return np.array(kept, np.int64)


def _end(line: Line, after_q: float) -> float:
    """The end of the pass that an onset belongs to."""
    return (_turn(line, after_q) + 1) * line.brief.slots.cycle_q


def _turn(line: Line, onset_q: float) -> int:
    """The pass that an onset belongs to: an early downbeat to the one that it begins."""
    return int(locate([onset_q], line.brief.slots).pass_index[0])


class Interval(NamedTuple):
    """So many notes of a scale of seven up; in another scale its note that is nearest to so many
    semitones, the lower or the ``higher`` of two.
    """

    steps: int
    semitones: float
    higher: bool


#: Between the minor and the major one. Of two notes as near as each other, that which makes a
#: fourth or a fifth sounds better than that which makes a second or a seventh.
THIRD, SIXTH = Interval(2, 3.5, True), Interval(5, 8.5, False)


def parallel(line: Line, scale: Scale, interval: Interval) -> Line:
    """Every note an interval of the scale higher; all of them by as many octaves up as put the
    lowest where a guitar plays, so the voice rises and falls with the riff. What would be too high
    there comes an octave or more lower.
    """
    voice = np.array([_above(pitch, scale, interval) for pitch in line.notes["pitch"].tolist()], np.int64)
    lowest = int(voice.min(initial=GUITAR_LOW))
    voice += 12 * max(-((lowest - GUITAR_LOW) // 12), 0)
    voice -= 12 * np.maximum(-((GUITAR_HIGH - voice) // 12), 0)
    return _clean(line.with_pitches(voice))


def _above(pitch: int, scale: Scale, interval: Interval) -> int:
    if len(scale.degrees) == 7:
        return stepped_pitch(pitch, scale, interval.steps)
    choices = [pitch + up for up in range(1, 12) if (pitch + up) % 12 in scale.pitch_classes]
    side = -1 if interval.higher else 1
    return min(choices, key=lambda one: (abs(one - pitch - interval.semitones), side * one), default=pitch + 12)


def octaves(line: Line) -> Line:
    """The riff an octave higher."""
    return _clean(line.with_pitches(line.notes["pitch"].astype(int) + 12))


def pedal(line: Line, pitch: int) -> Line:
    """A low note at the start of every group, through all the passes that the riff takes."""
    cycle = line.brief.cycle
    if not len(line):
        return line
    passes = max(_turn(line, float(line.notes["onset_q"][-1])) + 1, 1)
    level = int(np.median(line.notes["velocity"]))
    rows = [
        (float(turn * cycle.quarters + group.start), float(group.length), pitch, level)
        for turn in range(passes)
        for group in cycle.groups
    ]
    return line_of(rows, line.brief)


def _clean(line: Line) -> Line:
    """Without the bends of the first voice, which would be too wide or too narrow here."""
    return Line(line.notes, tuple(np.zeros((1, 2)) for _ in line.bends), line.brief)
