"""The guide groove: on the groups, backbeats where they belong, swung like everything else, for any
cycle.
"""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.looper.groove import BASS_DRUM, DENSITIES, HI_HAT, SNARE, Hit, groove, groove_of
from loopdeck.rhythm.grid import Grid, parse_grid
from loopdeck.rhythm.meter import Cycle, parse_cycle
from loopdeck.rhythm.swing import Swing, parse_swing, warp

from .rhythm_strategies import cycles, grids, swings

STRAIGHT = parse_swing("straight")
SIXTEENTHS = parse_grid("1/16")


def places(hits: tuple[Hit, ...], note: int, least: int = 60) -> list[Fraction]:
    return [hit.position for hit in hits if hit.note == note and hit.velocity >= least]


def plain(cycle: str, density: str = "sparse") -> tuple[Hit, ...]:
    return groove(parse_cycle(cycle), SIXTEENTHS, STRAIGHT, density)


@pytest.mark.parametrize(
    ("cycle", "bass_drum", "snare"),
    [
        ("4/4", "0 2", "1 3"),
        ("3/4", "0 1", "2"),
        ("5/4", "0 2 4", "1 3"),
        ("2/4", "0", "1"),
        ("6/8", "0", "3/2"),
        ("12/8", "0 3", "3/2 9/2"),
        ("4+3/8", "0", "2"),
        ("3+4/8", "0", "3/2"),
        ("2+2+3/8", "0 1", "2"),
        ("2/2", "0", "2"),
        ("(8)/8", "0 2", "1 3"),
        ("4/4 4+3/8", "0 2 4", "1 3 6"),
    ],
)
def test_bass_drum_and_snare_of_the_sparse_groove(cycle: str, bass_drum: str, snare: str) -> None:
    """Common practice, no source: two and four of four, the second dotted quarter of 6/8, the
    second group of 4+3/8.
    """
    hits = plain(cycle)
    assert places(hits, BASS_DRUM) == [Fraction(word) for word in bass_drum.split()]
    for density in DENSITIES:
        assert places(plain(cycle, density), SNARE) == [Fraction(word) for word in snare.split()]


def test_the_four_four_in_full() -> None:
    medium, busy = plain("4/4", "medium"), plain("4/4", "busy")
    assert places(medium, BASS_DRUM) == [Fraction(place) for place in ("0", "3/2", "2")]
    assert places(medium, HI_HAT, 1) == [Fraction(k, 2) for k in range(8)]
    assert places(busy, HI_HAT, 1) == [Fraction(k, 4) for k in range(16)]
    assert places(busy, BASS_DRUM) == [Fraction(place) for place in ("0", "3/2", "2", "7/2")]
    assert [hit.position for hit in busy if hit.note == SNARE and hit.velocity < 60] == [
        Fraction(place) for place in ("3/4", "7/4", "11/4", "15/4")
    ]


def test_hats_on_a_triplet_grid() -> None:
    cycle, grid = parse_cycle("4/4"), parse_grid("1/8T")
    thirds = {density: places(groove(cycle, grid, STRAIGHT, density), HI_HAT, 1) for density in DENSITIES}
    assert thirds["medium"] == [beat + Fraction(third, 3) for beat in range(4) for third in (0, 2)]
    assert thirds["busy"] == [Fraction(k, 3) for k in range(12)]


def test_hats_start_afresh_at_every_group() -> None:
    assert places(plain("3+2/8", "sparse"), HI_HAT, 1) == [Fraction(place) for place in ("0", "1", "3/2")]


def test_swing_moves_the_hats_and_keeps_the_written_places() -> None:
    cycle = parse_cycle("4+3/8")
    swung = groove(cycle, parse_grid("1/8"), parse_swing("2:1 1/8"), "medium")
    straight = groove(cycle, parse_grid("1/8"), STRAIGHT, "medium")
    assert [hit.position for hit in swung] == [hit.position for hit in straight]
    hats = {hit.position: hit.played_q for hit in swung if hit.note == HI_HAT}
    # The second eighth of a pair at two thirds; the seventh eighth has no partner and stays.
    assert hats[Fraction(1, 2)] == pytest.approx(2 / 3)
    assert hats[Fraction(5, 2)] == pytest.approx(2 + 2 / 3)
    assert hats[Fraction(3)] == pytest.approx(3.0)


@settings(max_examples=120, deadline=None)
@given(cycles, grids, swings, st.sampled_from(DENSITIES))
def test_of_any_groove(cycle: Cycle, grid: Grid, swing: Swing, density: str) -> None:
    hits = groove(cycle, grid, swing, density)
    assert hits == groove(cycle, grid, swing, density)
    keys = [(hit.position, hit.note) for hit in hits]
    assert keys == sorted(set(keys))
    assert all(0 <= hit.position < cycle.quarters and 1 <= hit.velocity <= 127 for hit in hits)
    # Every bar starts with the bass drum, and every group has bass drum or snare, and a hat.
    drums = {hit.position for hit in hits if hit.note == BASS_DRUM}
    snares = {hit.position for hit in hits if hit.note == SNARE and hit.velocity >= 60}
    hats = {hit.position for hit in hits if hit.note == HI_HAT}
    assert drums >= set(cycle.bar_starts)
    assert {group.start for group in cycle.groups} <= (drums | snares) & hats
    assert not drums & snares
    # Played where the warp says, and in the order written.
    played = np.array([hit.played_q for hit in hits])
    np.testing.assert_allclose(played, warp([float(hit.position) for hit in hits], cycle, swing, grid), atol=1e-12)
    assert (np.diff(played) >= 0).all() and played[-1] < cycle.quarters
    # Enough to hold on to and little enough to play: no two strokes of a drum closer than a 1/32.
    assert all(b - a >= Fraction(1, 12) for note in (36, 38, 42) for a, b in _neighbours(hits, note))


def _neighbours(hits: tuple[Hit, ...], note: int) -> list[tuple[Fraction, Fraction]]:
    at = [hit.position for hit in hits if hit.note == note]
    return list(pairwise(at))


@settings(max_examples=50, deadline=None)
@given(cycles)
def test_denser_keeps_what_was_there(cycle: Cycle) -> None:
    sparse, medium, busy = (
        {(hit.position, hit.note) for hit in groove(cycle, SIXTEENTHS, STRAIGHT, one)} for one in DENSITIES
    )
    assert sparse <= medium <= busy


def test_of_a_brief_and_of_nonsense() -> None:
    brief = Brief.default().replace(cycle="6/8", swing="straight")
    assert groove_of(brief, "sparse") == groove(brief.cycle, brief.grid, brief.swing, "sparse")
    with pytest.raises(UserError, match=r"There is no density 'loud'; a groove is sparse, medium or busy\."):
        groove_of(brief, "loud")


@pytest.mark.parametrize("density", DENSITIES)
@pytest.mark.parametrize(("one", "other"), [("2+3/4", "3+2/4"), ("2+3/4", "5/4"), ("3+4/4", "4+3/4")])
def test_groups_over_four_are_heard(one: str, other: str, density: str) -> None:
    first, second = (groove_of(Brief.default().replace(cycle=cycle), density) for cycle in (one, other))
    snares = [{hit.position for hit in hits if hit.note == SNARE and hit.velocity > 50} for hits in (first, second)]
    assert snares[0] != snares[1]
