"""From material to the written form: places, lengths, strings and marks.

Method
    The notes are those a player would write (``bass.technique``), placed on the brief's grid or by
    transcription (``--grid auto``), fingered (``bass.fingering``), and given written lengths. In a
    file whose notes end on the grid those lengths are kept; of played notes one that sounds through
    most of the time to the next (``LEGATO``) is written up to it, and a shorter one up to the next
    place of its grid, with a rest behind it: few rests read better than many (common practice, no
    source).
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.timing import Feel, place_onsets, playing_of
from loopdeck.analysis.transcription.placing import KnownNotes
from loopdeck.bass.fingering import Fingering, finger
from loopdeck.bass.technique.finding import technique
from loopdeck.bass.technique.joins import JOINS
from loopdeck.bass.technique.reading import PLUCK, Written, as_notes
from loopdeck.bass.technique.strings import strings_by_channel
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.errors import UserError
from loopdeck.page.axis import WrittenAxis
from loopdeck.page.beat_rows import Beat, beats_of
from loopdeck.page.exact import exact, exact_places, leaves_swing_to_a_sign, plainly_straight
from loopdeck.page.form import MOST_BARS, Page, PageBar, PageNote, in_order, starts
from loopdeck.page.lengths import Ends, as_told, on_grid, played
from loopdeck.page.parting import Onset, parted
from loopdeck.page.runs import written_out
from loopdeck.rhythm.grid import Grid, parse_grid
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.swing import Swing
from loopdeck.shelf.hand_marks import hand_marks_of, put_over
from loopdeck.shelf.material import Material, tracks_apart
from loopdeck.shelf.take import IMPORTED

#: Nearer to the grid than this, in quarters, the ends of notes are meant to be there; the share of
#: notes for which that must be so.
_EXACT_Q, _EXACT_SHARE = 0.02, 0.95
_PLAIN_SWINGS, _PLAIN_NEAR = (Fraction(3, 2), Fraction(2), Fraction(3)), 0.0075
#: The grids on which a swing is listened for; auto listens by itself.
_SWINGING = ("1/8", "1/16", "1/32")


@dataclass(frozen=True)
class _Placed:
    """One written note with its place: ``bar`` from 1 (0 and less before the start), ``at`` in the
    bar, ``start`` from the start of bar 1.
    """

    note: Written
    bar: int
    at: Fraction
    start: Fraction


def page_of(material: Material, grid: Grid | None = None, title: str | None = None, find_swing: bool = True) -> Page:
    """The written form of ``material``; ``grid`` stands in for the brief's, in an imported take for
    ``auto``. ``find_swing``: whether a swing that the brief says nothing of is listened for. Raises
    UserError where a page cannot hold it.
    """
    brief = material.brief
    grid = _grid_of(material, grid)
    step = _step(grid)
    notes = notes_played(material, np.flatnonzero(material.pitched), grid)[1]
    axis = WrittenAxis(material, grid)
    placed, swing, exact = _placed(material, notes, grid, find_swing)
    placed = _without_doubles(placed)
    notes = [one.note for one in placed]
    if swing is not None:
        axis = WrittenAxis(material, grid, swing)
    elif _played_straight(axis, placed):
        axis = WrittenAxis(material, grid, Swing())
    joined = [JOINS.get(note.reached, "") for note in notes]
    fingered = finger(_together(as_notes(notes), placed), brief.tuning, joined=joined)
    rows = _in_one_voice(axis, _beats(material, axis, placed), placed, fingered, step, exact)
    unplayable = tuple(sorted(one.pitch for one in fingered.unplayable))
    brief = replace(brief, grid=grid, swing=swing or brief.swing)
    return Page(title or material.take.name, brief, _bars(material, rows), unplayable, material.take.note)


def notes_played(
    material: Material, index: NDArray[np.int64], grid: Grid | None = None
) -> tuple[NDArray[np.void], list[Written]]:
    """The raw notes of these numbers (NOTE_DTYPE, with the strings that their channels name), and
    the notes a player would write for them: a run in a written file, or on the grid, is not a
    slide.
    """
    grid = _grid_of(material, grid)
    array = material.notes.array[index].copy()
    tuning = material.brief.tuning
    if not tracks_apart(material):
        strings_by_channel(array, tuning, material.take.seen.strings)
    bends = tuple(material.notes.bends[row] for row in index.tolist())
    notes = technique(array, bends, tuning.fretless)
    onset_q = material.tempo.quarters(array["onset_sec"]).tolist()
    all_written = grid.auto and exact_places(onset_q, material) is not None
    notes = written_out(notes, array, WrittenAxis(material, grid), None if all_written else _step(grid))
    put_over(notes, hand_marks_of(material.take.seen))
    return array, notes


def _grid_of(material: Material, grid: Grid | None) -> Grid:
    """The grid asked for, or the brief's; a file says nothing of its grid."""
    return grid or (parse_grid("auto") if material.take.origin == IMPORTED else material.brief.grid)


def _step(grid: Grid) -> Fraction:
    step = (parse_grid("1/16") if grid.auto else grid).step
    assert step is not None
    return step


def with_hands(page: Page) -> Page:
    """The page with the fretting hand and finger of every note that stands on a string: the easiest
    way to play what is written there.
    """
    rows = [
        (start + note.at, number, place, note)
        for number, (start, bar) in enumerate(zip(starts(page.bars), page.bars, strict=True))
        for place, note in enumerate(bar.notes)
        if note.string
    ]
    rows.sort(key=lambda row: (row[0], row[3].pitch))
    if not rows:
        return page
    second = 60.0 / page.brief.tempo.quarters_per_minute
    array = np.zeros(len(rows), NOTE_DTYPE)
    for row, (start, _, _, note) in enumerate(rows):
        length = float(note.duration) * second
        array[row] = (float(start) * second, length, note.pitch, note.velocity, max(note.string - 1, 0), note.string)
    joined = [next((JOINS[mark] for mark in note.marks if mark in JOINS), "") for _, _, _, note in rows]
    found = finger(array, page.brief.tuning, joined=joined)
    hands = {
        (number, place): (int(found.hand[row]), int(found.finger[row]))
        for row, (_, number, place, note) in enumerate(rows)
        if found.fret[row] == note.fret and found.string[row] == note.string
    }
    bars = []
    for number, bar in enumerate(page.bars):
        pairs = [hands.get((number, place), (0, 0)) for place in range(len(bar.notes))]
        notes = [replace(note, hand=hand, finger=one) for note, (hand, one) in zip(bar.notes, pairs, strict=True)]
        bars.append(replace(bar, notes=tuple(notes)))
    return replace(page, bars=tuple(bars))


def _placed(
    material: Material, notes: Sequence[Written], grid: Grid, find_swing: bool
) -> tuple[list[_Placed], Swing | None, bool]:
    """The notes in their places, the swing that was heard where none was known, and whether the
    places are exact as they stand.
    """
    if not notes:
        return [], None, False
    onset_q = material.tempo.quarters(np.array([note.onset_sec for note in notes]))
    playing = _playing(material, notes)
    listens = material.take.origin == IMPORTED
    known = material.brief.swing
    if listens and grid.auto and not known.straight and known.unit is None:
        # Which notes swing is not said, but can be heard.
        known = replace(known, unit=_swing_of(onset_q, material, playing).unit)
    exact = exact_places(onset_q.tolist(), material) if grid.auto else None
    if exact is not None and not known.straight and not leaves_swing_to_a_sign(exact, material, grid, known):
        exact = None
    heard = known
    if exact is None or not (known.straight and plainly_straight(exact)):
        if listens and find_swing and known.straight and grid.name in _SWINGING:
            heard = _swing_of(onset_q, material, playing)
        found = place_onsets(onset_q, material.stretches, Feel(grid, heard, find_swing=find_swing), playing)
        bars, places = found.bar.tolist(), found.written
        heard = found.found.swing if found.found is not None else heard
    if exact is not None and heard == known:
        bars, places = [bar for bar, _ in exact], [place for _, place in exact]
    else:
        exact = None
    _check_count(min(bars), max(bars))
    begin = _bar_starts(material, min(bars), max(bars))
    if grid.auto and exact is None:
        bars, places = _apart(material, notes, bars, places, WrittenAxis(material, grid, heard))
        _check_count(min(bars), max(bars))
        begin = _bar_starts(material, min(bars), max(bars))
    rows = [_Placed(note, bar, at, begin[bar] + at) for note, bar, at in zip(notes, bars, places, strict=True)]
    said = _as_said(heard, grid) if known.straight and not heard.straight else None
    if known != material.brief.swing:
        said = known
    return rows, said, exact is not None


def _swing_of(onset_q: NDArray[np.float64], material: Material, playing: KnownNotes) -> Swing:
    """The swing of a file whose grid is known, and its swing is not."""
    found = place_onsets(onset_q, material.stretches, Feel(parse_grid("auto"), Swing()), playing).found
    return Swing() if found is None else found.swing


def _apart(
    material: Material, notes: Sequence[Written], bars: Sequence[int], places: Sequence[Fraction], axis: WrittenAxis
) -> tuple[list[int], list[Fraction]]:
    """The bars and places of notes, of those in one place that were not struck together each its
    own.
    """
    begin = _bar_starts(material, min(bars) - 1, max(bars))
    really = axis.written_q([note.onset_sec for note in notes]).tolist()
    if len(set(zip(bars, places, strict=True))) == len(places):
        return list(bars), list(places)
    onsets = [
        Onset(begin[bar] + at, place, note.onset_sec, note.end_sec)
        for bar, at, place, note in zip(bars, places, really, notes, strict=True)
    ]
    numbers = sorted(begin)
    starts = [begin[bar] for bar in numbers]
    beats = beats_of([(begin[bar], material.meter_of(bar)) for bar in numbers])
    found = parted(onsets, beats)
    homes = [numbers[bisect_right(starts, place) - 1] for place in found]
    return homes, [place - begin[bar] for place, bar in zip(found, homes, strict=True)]


def _playing(material: Material, notes: Sequence[Written]) -> KnownNotes:
    onset_sec = np.array([note.onset_sec for note in notes])
    duration_sec = np.array([note.end_sec for note in notes]) - onset_sec
    return playing_of(onset_sec, duration_sec, [note.pitch for note in notes], material.tempo)


def _played_straight(axis: WrittenAxis, placed: Sequence[_Placed]) -> bool:
    """Whether every note begins where it is written, as in a file that leaves the swing to a
    sign.
    """
    if not placed:
        return False
    starts_q = np.array([float(one.start) for one in placed])
    onset_sec = [one.note.onset_sec for one in placed]
    return bool(np.all(np.abs(axis.played_q(onset_sec) - starts_q) < _EXACT_Q))


def _as_said(swing: Swing, grid: Grid) -> Swing:
    """A swing that was heard, as players say it: a plain ratio, or a whole percentage."""
    share = float(swing.ratio / (swing.ratio + 1))
    plain = next((ratio for ratio in _PLAIN_SWINGS if abs(share - float(ratio / (ratio + 1))) < _PLAIN_NEAR), None)
    unit = swing.unit_for(grid)
    if plain is not None:
        return Swing(plain, unit)
    percent = Fraction(round(share * 100), 100)
    return Swing(percent / (1 - percent), unit, percent=True)


def _together(array: NDArray[np.void], placed: Sequence[_Placed]) -> NDArray[np.void]:
    """The notes, those of one written place struck together: a chord needs a string for each."""
    first: dict[Fraction, float] = {}
    for row, one in enumerate(placed):
        array["onset_sec"][row] = first.setdefault(one.start, float(array["onset_sec"][row]))
    return array


def _bar_starts(material: Material, first: int, last: int) -> dict[int, Fraction]:
    """Where each bar begins, from the start of bar 1."""
    found, at = {}, Fraction(0)
    for bar in range(1, max(last, 0) + 2):
        found[bar] = at
        at += material.meter_of(bar).quarters
    at = Fraction(0)
    for bar in range(0, first - 1, -1):
        at -= material.meter_of(bar).quarters
        found[bar] = at
    return found


def _in_one_voice(
    axis: WrittenAxis,
    beats: Sequence[Beat],
    placed: list[_Placed],
    fingered: Fingering,
    step: Fraction,
    in_place: bool,
) -> list[tuple[_Placed, PageNote]]:
    """The notes as chords that end together, each with its written length."""
    groups: dict[Fraction, list[int]] = {}
    for row, one in enumerate(placed):
        groups.setdefault(one.start, []).append(row)
    places = sorted(groups)
    sounding, gaps = axis.lengths([one.note for one in placed]), _gaps(axis, groups, placed)
    ends = Ends.of(beats, places, step)
    told = _told_lengths(placed, sounding, ends) if in_place else None
    all_on_grid = _ends_on_grid(sounding, step)
    out = []
    for number, place in enumerate(places):
        until = places[number + 1] if number + 1 < len(places) else None
        rows = sorted(groups[place], key=lambda row: placed[row].note.pitch)
        longest = max(sounding[row] for row in rows)
        duration = None
        if told is not None:
            duration = as_told(place, max(told[row] or Fraction(0) for row in rows), until, ends)
        if duration is None and (told is not None or all_on_grid):
            duration = on_grid(place, longest, until, step, ends)
        if duration is None:
            duration = played(place, longest, until, ends)
        elif until is not None and any(gaps[row] for row in rows):
            duration = until - place
        for row in rows:
            rings = until is not None and sounding[row] > float(until - place) + 0.25
            out.append((placed[row], _page_note(placed[row], fingered, row, duration, sounding[row], rings)))
    return out


def _beats(material: Material, axis: WrittenAxis, placed: Sequence[_Placed]) -> list[Beat]:
    """The beats of the bars in which the notes begin and end, and one bar more."""
    if not placed:
        return []
    begin = _bar_starts(material, min(one.bar for one in placed), max(one.bar for one in placed))
    bar = max(begin)
    last = max(axis.written_q([one.note.end_sec for one in placed]).tolist())
    while float(begin[bar]) <= last and bar < MOST_BARS:
        begin[bar + 1] = begin[bar] + material.meter_of(bar).quarters
        bar += 1
    return beats_of((begin[number], material.meter_of(number)) for number in sorted(begin))


def _told_lengths(placed: Sequence[_Placed], sounding: Sequence[float], ends: Ends) -> list[Fraction | None] | None:
    """The exact length of each note of a written file, None for one that has none or an end that is
    no place; None where few have one, as in a file whose notes are all cut a little short.
    """
    found = [exact(length) for length in sounding]
    good = [length and ends.holds(one.start + length) for one, length in zip(placed, found, strict=True)]
    return found if sum(map(bool, good)) >= _EXACT_SHARE * len(good) else None


def _gaps(axis: WrittenAxis, groups: dict[Fraction, list[int]], placed: list[_Placed]) -> list[bool]:
    """For each note whether it lasts right up to the next place; a swung one ends off the grid
    then.
    """
    found = [False] * len(placed)
    places = sorted(groups)
    if not places:
        return found
    on, off = axis.played_q([one.note.onset_sec for one in placed]), axis.played_q([one.note.end_sec for one in placed])
    for place, following in pairwise(places):
        begins = min(on[row] for row in groups[following])
        for row in groups[place]:
            found[row] = abs(off[row] - begins) < _EXACT_Q
    return found


def _without_doubles(placed: Sequence[_Placed]) -> list[_Placed]:
    """Of notes of one pitch at one place only the longest, in their order."""
    best: dict[tuple[Fraction, int], int] = {}
    for row, one in enumerate(placed):
        old = best.get((one.start, one.note.pitch))
        if old is None or _length(one.note) > _length(placed[old].note):
            best[one.start, one.note.pitch] = row
    kept = set(best.values())
    return [one for row, one in enumerate(placed) if row in kept]


def _length(note: Written) -> float:
    return note.end_sec - note.onset_sec


def _ends_on_grid(sounding: list[float], step: Fraction) -> bool:
    """Whether the notes end on the grid as those of a written file do."""
    fine = float(min(step, Fraction(1, 8)))
    near = [
        min(abs(length / unit - round(length / unit)) * unit for unit in (fine, 1 / 3, 1 / 6)) < _EXACT_Q
        for length in sounding
    ]
    return bool(near) and sum(near) >= _EXACT_SHARE * len(near)


def _page_note(
    one: _Placed, fingered: Fingering, row: int, duration: Fraction, sounding: float, rings: bool
) -> PageNote:
    note = one.note
    marks = [note.reached] if note.reached != PLUCK else []
    # A dot is for a note that is written longer than it sounds; one with a rest behind it is short
    # on paper already.
    marks += [
        mark
        for mark in note.marks
        if note.by_hand or (mark != "let-ring" and (mark != "staccato" or sounding < 0.6 * duration))
    ]
    marks += ["let-ring"] if rings and "let-ring" not in marks else []
    return PageNote(
        at=one.at,
        duration=duration,
        pitch=note.pitch,
        string=int(fingered.string[row]),
        fret=int(fingered.fret[row]),
        marks=tuple(marks),
        velocity=note.velocity,
        hand=int(fingered.hand[row]),
        finger=int(fingered.finger[row]),
        bend_semitones=note.bend_semitones,
    )


def _check_count(first: int, last: int) -> None:
    """Refuse bars that no page has room for; those from bar 1 to the first count, too."""
    if last - min(first, 1) >= MOST_BARS:
        raise UserError(
            f"The notes reach to bar {last}, and a page has {MOST_BARS} bars at most; keep a riff of it with"
            " loopdeck riffs, and write that."
        )


def _bars(material: Material, rows: list[tuple[_Placed, PageNote]]) -> tuple[PageBar, ...]:
    if not rows:
        return ()
    by_bar: dict[int, list[PageNote]] = {}
    for one, note in rows:
        by_bar.setdefault(one.bar, []).append(note)
    first, last = min(by_bar), max(by_bar)
    end = max(one.start + note.duration for one, note in rows)
    begin = _bar_starts(material, min(first, 1), last + 1)
    while begin[last] + material.meter_of(last).quarters < end:
        last += 1
        begin[last] = begin[last - 1] + material.meter_of(last - 1).quarters
        _check_count(first, last)
    bars = []
    for number in range(min(first, 1), last + 1):
        meter = material.meter_of(number)
        bars.append(PageBar(number, meter, meter.quarters, in_order(by_bar.get(number, ()))))
    return _with_pickup(bars, material.brief.cycle)


def _with_pickup(bars: list[PageBar], cycle: Cycle) -> tuple[PageBar, ...]:
    """The bar before the first as a pick-up: from the unit of the meter in which its first note
    stands.
    """
    early = [bar for bar in bars if bar.number < 1]
    rest = [bar for bar in bars if bar.number >= 1]
    if len(early) == 1 and early[0].notes:
        bar = early[0]
        skip = bar.notes[0].at // bar.meter.unit_quarters * bar.meter.unit_quarters
        notes = tuple(replace(note, at=note.at - skip) for note in bar.notes)
        early = [replace(bar, length=bar.length - skip, notes=notes, pickup=True)]
    elif (
        not early and len(rest) > 1 and rest[0].length < rest[1].length and rest[0].notes and _fits_before(rest, cycle)
    ):
        # A file says a pick-up by a short first bar.
        first = rest[0]
        rest = [
            replace(first, number=0, pickup=True, meter=rest[1].meter),
            *(replace(bar, number=bar.number - 1) for bar in rest[1:]),
        ]
    return (*early, *rest)


def _fits_before(bars: list[PageBar], cycle: Cycle) -> bool:
    """A short first bar is a pick-up where all the bars after it are of one meter; in a cycle of
    several where it is not the first of them, and the bar after it is.
    """
    if len(cycle.meters) > 1:
        return bars[0].meter != cycle.meters[0] == bars[1].meter
    return len({str(bar.meter) for bar in bars[1:]}) == 1
