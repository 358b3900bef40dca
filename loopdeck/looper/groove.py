"""A guide groove: bass drum, snare and hi-hat for any cycle, made from the groups of its meters and
swung like the brief.

Conventions
    Positions are quarters from the start of the cycle: exact where written, float where played
    (``swing.warp`` of the written place). Notes are General MIDI level 1 percussion, velocities 1
    to 127. The same cycle, grid, swing and density always give the same hits.

How a bar is read (common practice, no source)
    A bar is a row of pulses, the places one would tap a foot: its groups; in meters over 1, 2 and 4
    its beats; a group of more than four short units is tapped in twos, with a three at the end of
    an odd one. Pulses that answer are backbeats and have the snare: of two pulses the second
    (4+3/8, 6/8), of three the last (3/4, 2+2+3/8), else the second, fourth and so on (4/4, 12/8,
    5/4; the last of an odd number leads on and has the bass drum). Beats that are grouped (2+3/4)
    answer group by group, so 2+3/4 and 3+2/4 sound different. All other pulses have the bass drum;
    the start of a bar always has.

    =======  =======================================================================================
    sparse   bass drum and snare as above; hi-hat on the beats: quarters, or every other eighth of a
             group
    medium   hi-hat twice as dense; a bass drum half way into the pulse before a bass drum inside
             the bar (the "and" of 2 in 4/4), and into the first of two pulses
    busy     hi-hat twice as dense again; a bass drum half way into the last pulse of the bar; soft
             snares around the backbeats
    =======  =======================================================================================

    On a triplet grid the hi-hat plays quarters, the first and third of each triplet, and whole
    triplets, where the unit is a quarter or longer. The hi-hat starts afresh at every group, louder
    on pulses.
"""

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.rhythm.errors import quoted
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import Cycle, Meter
from loopdeck.rhythm.swing import Swing, warp

BASS_DRUM, SNARE, HI_HAT = 36, 38, 42
DENSITIES = ("sparse", "medium", "busy")

#: Velocities: a downbeat, another pulse, and what is between the pulses.
_BASS_DRUM = (112, 100, 84)
_SNARE, _SOFT_SNARE = 104, 38
_HI_HAT = (88, 78, 58)


class Hit(NamedTuple):
    """One stroke: its exact written place and its played place, in quarters from the start of the
    cycle; MIDI note and velocity.
    """

    position: Fraction
    played_q: float
    note: int
    velocity: int


class _Pulse(NamedTuple):
    """A place to tap a foot: where in the bar, how long, and the length of a unit, all in
    quarters.
    """

    start: Fraction
    length: Fraction
    unit: Fraction


def groove(cycle: Cycle, grid: Grid, swing: Swing, density: str = "medium") -> tuple[Hit, ...]:
    """The hits of one pass in order of place, then note; no two of one note at one place. Raises
    UserError for an unknown density.
    """
    if density not in DENSITIES:
        raise UserError(
            f"There is no density {quoted(density)}; a groove is {', '.join(DENSITIES[:-1])} or {DENSITIES[-1]}."
        )
    return _groove(cycle, grid, swing, DENSITIES.index(density))


def groove_of(brief: Brief, density: str = "medium") -> tuple[Hit, ...]:
    """The groove that fits a brief. Raises UserError for an unknown density."""
    return groove(brief.cycle, brief.grid, brief.swing, density)


@lru_cache(maxsize=32)
def _groove(cycle: Cycle, grid: Grid, swing: Swing, level: int) -> tuple[Hit, ...]:
    strokes: dict[tuple[Fraction, int], int] = {}
    for start, meter in zip(cycle.bar_starts, cycle.meters, strict=True):
        for place, note, velocity in _bar(meter, grid, level):
            key = (start + place, note)
            strokes[key] = max(velocity, strokes.get(key, 0))
    keys = sorted(strokes)
    played = warp([float(place) for place, _ in keys], cycle, swing, grid).tolist()
    return tuple(
        Hit(place, played_q, note, strokes[place, note]) for (place, note), played_q in zip(keys, played, strict=True)
    )


def _bar(meter: Meter, grid: Grid, level: int) -> list[tuple[Fraction, int, int]]:
    """The strokes of a bar: place from its start, note, velocity."""
    pulses = _pulses(meter)
    answers = _answers(meter, len(pulses))
    strokes = []
    for index, pulse in enumerate(pulses):
        half, short = _half(pulse), _shortest(pulse.unit)
        if index in answers:
            strokes.append((pulse.start, SNARE, _SNARE))
            if level == 2 and pulse.length > short:
                # The last subdivision before the backbeat, and that before the next pulse.
                strokes += [(place - short, SNARE, _SOFT_SNARE) for place in (pulse.start, pulse.start + pulse.length)]
        else:
            strokes.append((pulse.start, BASS_DRUM, _BASS_DRUM[0] if index == 0 else _BASS_DRUM[1]))
        leads = (index + 1 < len(pulses) and index + 1 not in answers) or (index == 0 and len(pulses) == 2)
        leads_on = index + 1 == len(pulses) > 1
        if half >= short and ((level >= 1 and leads) or (level == 2 and leads_on)):
            strokes.append((pulse.start + half, BASS_DRUM, _BASS_DRUM[2]))
    return strokes + _hi_hats(pulses, grid, level)


def backbeats(pulses: int) -> frozenset[int]:
    """Which of a bar's pulses, counted from 0, have the snare; the rule stands at the top of this
    module.
    """
    if pulses == 3:
        return frozenset({2})
    # The last of an odd number leads on to the next bar.
    return frozenset(range(1, pulses, 2))


def _answers(meter: Meter, pulses: int) -> frozenset[int]:
    """The backbeats of a bar.

    Where beats are grouped (2+3/4), each group answers itself: the grouping is to be heard.
    """
    if meter.unit > 4 or len(meter.groups) == 1 or max(meter.groups) == 1:
        return backbeats(pulses)
    found, first = set[int](), 0
    for group in meter.groups:
        found |= {first + index for index in backbeats(group)}
        first += group
    return frozenset(found)


def _pulses(meter: Meter) -> list[_Pulse]:
    unit, pulses, at = meter.unit_quarters, [], Fraction(0)
    for group in meter.groups:
        for units in _parts(group, meter.unit):
            pulses.append(_Pulse(at, units * unit, unit))
            at += units * unit
    return pulses


def _parts(group: int, unit: int) -> list[int]:
    """The pulses of one group, in units."""
    if unit <= 4:
        return [1] * group
    if group <= 4:
        return [group]
    return [2] * (group // 2 - 1) + [2 + group % 2]


def _half(pulse: _Pulse) -> Fraction:
    """Half way into a pulse, on a unit where it has several: the third eighth of four, the third of
    three.
    """
    units = pulse.length / pulse.unit
    return pulse.length / 2 if units in (1, 2, 4) else (units // 2 + units % 2) * pulse.unit


def _shortest(unit: Fraction) -> Fraction:
    """What the busy groove is divided into: half units of short ones, else sixteenths, and nothing
    shorter than a 1/32.
    """
    return max(min(unit / 2, Fraction(1, 4)), Fraction(1, 8))


def _hi_hats(pulses: list[_Pulse], grid: Grid, level: int) -> list[tuple[Fraction, int, int]]:
    strokes = []
    for pulse in pulses:
        long = pulse.unit >= 1
        beat = Fraction(1) if long else 2 * pulse.unit
        if long and grid.triplet:
            within = {0: (0,), 1: (0, 2), 2: (0, 1, 2)}[level]
            places = [beat * k + Fraction(third, 3) for k in range(int(pulse.length / beat)) for third in within]
        else:
            step = max(beat / 2**level, _shortest(pulse.unit))
            places = [step * k for k in range(-int(-pulse.length // step))]
        for place in places:
            loud = 0 if place == 0 else 1 if place % beat == 0 else 2
            strokes.append((pulse.start + place, HI_HAT, _HI_HAT[loud]))
    return strokes
