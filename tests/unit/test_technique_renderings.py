"""Ways in which pickups tell of the same technique, each as a stream by hand (the MIDI standard and
common practice, no source for the rest): what a player would write of them."""

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.bass.pickup.cleaning import clean
from loopdeck.bass.pickup.profile import Cleaning
from loopdeck.bass.technique.finding import technique
from loopdeck.bass.technique.reading import Written
from loopdeck.capture.notes import NOTE_DTYPE

Row = tuple[float, float, int, int]
Bend = list[tuple[float, float]]
#: Plucks with gaps, which tell the usual level.
PLUCKS: list[Row] = [(0.4 * n, 0.33, 40 + n % 3, 88 + n % 5) for n in range(12)]
AT = 0.4 * len(PLUCKS)


def read(rows: list[Row], bends: dict[int, Bend] | None = None, clean_up: bool = True) -> list[Written]:
    """What is written of ``rows`` (onset and length in seconds, pitch, level) after the plucks."""
    played = [*PLUCKS, *((AT + onset, length, pitch, level) for onset, length, pitch, level in rows)]
    notes = np.array([(*row, 0, 3) for row in played], NOTE_DTYPE)
    curves: list[NDArray[np.float64]] = [
        np.array([(0.0, 0.0), *(bends or {}).get(n - len(PLUCKS), [])]) for n in range(len(notes))
    ]
    if not clean_up:
        return technique(notes, tuple(curves))[len(PLUCKS) :]
    cleaned = clean(notes, tuple(curves), Cleaning())
    return technique(cleaned.notes, cleaned.bends)[len(PLUCKS) :]


def said(notes: list[Written]) -> list[tuple[int, str, list[str]]]:
    return [(note.pitch, note.reached, note.marks) for note in notes]


def even(start: float, end: float, level: float) -> Bend:
    """A sensor that says the same every ten milliseconds."""
    return [(float(at), level) for at in np.arange(start, end, 0.01)]


@pytest.mark.parametrize("gap", [-0.01, 0.0, 0.012])
def test_a_trill_of_new_notes_is_one_note(gap: float) -> None:
    rows = [(0.09 * n, 0.09 - gap, 40 + 2 * (n % 2), 88 if n == 0 else 58 + n % 3) for n in range(6)]
    assert said(read(rows)) == [(40, "pluck", ["trill"])]


def test_a_slide_that_leaves_frets_out_goes_further_than_fingers() -> None:
    assert said(read([(0, 0.3, 40, 88), (0.3, 0.06, 43, 70), (0.36, 0.4, 46, 68)])) == [
        (40, "pluck", []),
        (46, "slide", []),
    ]


def test_a_slide_to_nowhere_dies_away_below_what_is_a_ghost() -> None:
    run = [(0.3 + 0.03 * n, 0.03, 44 - n, level) for n, level in enumerate((40, 30, 22, 16))]
    assert said(read([(0, 0.3, 45, 88), *run])) == [(45, "pluck", ["slide-to"])]


@pytest.mark.parametrize("overlap", [0.006, -0.004])
@pytest.mark.parametrize("short", [0, 1])
def test_a_slide_that_arrives_as_a_new_note(overlap: float, short: int) -> None:
    """The bend gets there, or nearly, and is put back just before the new note, which may begin
    before the old one ends."""
    way = [*even(0.01, 0.2, 0.0), *even(0.2, 0.24, 1.0), *even(0.24, 0.28, 2.0)]
    bends = {0: [*way, *([] if short else even(0.28, 0.32, 3.0)), (0.32 - 0.001, 0.0)]}
    found = read([(0, 0.32 + overlap, 40, 88), (0.32, 0.4, 43, 66)], bends)
    assert said(found) == [(40, "pluck", []), (43, "slide", [])]
    assert found[1].onset_sec - AT == pytest.approx(0.32, abs=0.05)


def test_a_wide_glide_on_frets_is_a_slide_and_a_narrow_one_a_bend() -> None:
    for by, reached in ((5, [(40, "pluck", []), (45, "slide", [])]), (1, [(40, "pluck", ["bend"])])):
        glide = [(0.2 + 0.01 * n, by * n / 20) for n in range(21)]
        assert said(read([(0, 0.8, 40, 88)], {0: [*glide, *even(0.41, 0.78, by)]})) == reached


def test_a_slide_that_slows_down_arrives_where_it_rests() -> None:
    way = [(0.2, 1.0), (0.22, 2.0), (0.24, 3.0), (0.26, 3.3), (0.275, 3.6), (0.29, 3.85), (0.3, 4.0)]
    assert said(read([(0, 0.7, 40, 88)], {0: [*even(0.01, 0.19, 0.0), *way, *even(0.31, 0.68, 4.0)]})) == [
        (40, "pluck", []),
        (44, "slide", []),
    ]


def test_the_bend_put_back_at_the_end_is_no_move() -> None:
    bend = [*((0.1 + 0.01 * n, 0.1 * n) for n in range(11)), (0.49, 0.0)]
    assert said(read([(0, 0.5, 40, 88)], {0: bend})) == [(40, "pluck", ["bend"])]


def test_how_soft_is_legato_follows_from_the_playing() -> None:
    """Where plucks are even and begin after a gap, a joined note a fifth softer was not plucked."""
    assert said(read([(0, 0.3, 40, 88), (0.3, 0.3, 42, 72)]))[1][:2] == (42, "hammer-on")
    # Where plucks come joined and uneven it cannot be told.
    rows = [(0.3 * n, 0.3, 40 + 2 * (n % 2), (88, 104, 80, 96, 72, 110)[n % 6]) for n in range(24)]
    assert sum(note.reached == "hammer-on" for note in read(rows)) == 0


def test_what_ends_where_the_next_begins_is_neither_dead_nor_staccato() -> None:
    rows = [(0.2 * n, 0.045 if n % 2 else 0.15, 40, 88) for n in range(6)]
    marks = [note.marks for note in read([(0, 0.045, 40, 88), (0.05, 0.3, 40, 88)])]
    assert "dead" not in marks[0] and "staccato" not in marks[0]
    assert [note.marks for note in read(rows)][1] == ["dead"]


def test_a_note_begins_with_its_own_octave_error() -> None:
    found = read([(0, 0.04, 52, 88), (0.04, 0.3, 40, 80)])
    assert said(found) == [(40, "pluck", [])]
    assert found[0].onset_sec == pytest.approx(AT) and found[0].end_sec == pytest.approx(AT + 0.34)
    double = read([(0, 0.03, 40, 88), (0.032, 0.3, 40, 70)])
    assert (len(double), double[0].onset_sec) == (1, pytest.approx(AT))


@pytest.mark.parametrize("tempo", [90, 120, 145])
@pytest.mark.parametrize("share", [0.7, 0.9, 1.0])
@pytest.mark.parametrize("scale", [(0, 2, 3, 5, 7, 8, 7, 5, 3, 2), (0, 3, 5, 7, 10, 7, 5, 3), tuple(range(9))])
def test_a_scale_in_thirty_seconds_is_no_slide(tempo: int, share: float, scale: tuple[int, ...]) -> None:
    step = 60 / tempo / 8
    rows = [(step * n, step * share, 40 + scale[n % len(scale)], 88 + (0, 3, -2)[n % 3]) for n in range(30)]
    assert [(note.pitch, note.reached) for note in read(rows)] == [(row[2], "pluck") for row in rows]


@pytest.mark.parametrize("frets", [3, 5, 12])
@pytest.mark.parametrize("fret_sec", [0.03, 0.05, 0.06])
def test_a_slide_that_hardly_dies_away_is_a_slide_all_the_same(frets: int, fret_sec: float) -> None:
    """Fret by fret between two long notes: at both its ends a scale in thirty-seconds has none."""
    way = [(0.3 + fret_sec * n, fret_sec, 41 + n, 89 - n) for n in range(frets - 1)]
    goal = (0.3 + fret_sec * (frets - 1), 0.4, 40 + frets, 89 - frets)
    assert [(pitch, reached) for pitch, reached, _ in said(read([(0.0, 0.3, 40, 90), *way, goal]))] == [
        (40, "pluck"),
        (40 + frets, "slide"),
    ]
