"""A blues line is called a blues, whatever it borrows; a raised fourth alone makes none."""

import numpy as np

from loopdeck.analysis.blue_notes import roots_of_blues
from loopdeck.analysis.scale_finder import playing_of, rank
from loopdeck.rhythm.meter import parse_meter
from tests.fitting.fit_scales import strong_places

#: Twelve bars of A blues in eighths, with sixths and a ninth: semitones above A, None for a rest.
LINE = (
    (0, 3, 5, 6, 7, 5, 3, 0), (10, 12, 9, 7, 5, 3, 0, None), (7, 6, 5, 3, 0, 3, 5, 3), (0, None, 0, 3, 5, 7, 9, 7),
    (5, 6, 7, 10, 12, 10, 7, 5), (9, 7, 5, 3, 5, 6, 5, 3), (0, 2, 3, 0, 10, 9, 7, 5), (3, 5, 3, 0, 0, None, None, 7),
    (7, 6, 5, 3, 7, 9, 7, 5), (5, 6, 5, 3, 0, 3, 5, 7), (10, 9, 7, 5, 6, 5, 3, 0), (3, 0, 2, 3, 0, None, None, 0),
)  # fmt: skip


def line(root: int, bars: tuple[tuple[int | None, ...], ...] = LINE) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Onsets and lengths in quarters, and pitches."""
    steps = [step for bar in bars for step in bar]
    at = np.array([place for place, step in enumerate(steps) if step is not None]) / 2.0
    pitch = np.array([40 + root + step for step in steps if step is not None])
    return at, np.full(len(at), 0.45), pitch


def first(onset_q: np.ndarray, length_q: np.ndarray, pitch: np.ndarray) -> str:
    playing = playing_of(pitch, onset_q, length_q, strong_places(onset_q, "4/4"), 4.0, True, parse_meter("4/4"))
    return str(rank(playing)[0].scale)


def test_a_blues_with_sixths_and_a_ninth_is_a_blues_on_every_root() -> None:
    for root, name in ((5, "A"), (0, "E"), (3, "G")):
        onset_q, length_q, pitch = line(root)
        assert np.flatnonzero(roots_of_blues(pitch, length_q)).tolist() == [(40 + root) % 12]
        assert first(onset_q, length_q, pitch) == f"{name} minor blues"


def test_without_the_flat_fifth_it_is_dorian() -> None:
    onset_q, length_q, pitch = line(5)
    kept = (pitch - 45) % 12 != 6
    assert not roots_of_blues(pitch[kept], length_q[kept]).any()
    assert first(onset_q[kept], length_q[kept], pitch[kept]) == "A dorian"


def test_a_raised_fourth_that_only_leads_up_is_no_blue_note() -> None:
    leading = tuple(tuple(0 if step == 5 else step for step in bar) for bar in LINE)
    up = tuple(
        tuple(7 if before == 6 else step for before, step in zip((None, *bar), bar, strict=False)) for bar in leading
    )
    _, length_q, pitch = line(5, up)
    assert ((pitch - 45) % 12 == 6).sum() >= 2 and not roots_of_blues(pitch, length_q).any()
    assert not roots_of_blues(np.array([40]), np.array([0.0])).any()
