"""Fingering against a search through every path, and the neck against equal temperament.

Sources
    Sayegh, "Fingering for string instruments with the optimum path paradigm", Computer Music
    Journal 13(3), 1989: the best fingering is the cheapest path. ISO 16: A4 is 440 Hz. Frets and
    open strings of common tunings: common practice, no source.
"""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from loopdeck.bass.fingering import finger
from loopdeck.bass.neck import moves, neck_of
from loopdeck.bass.repeats import classes
from loopdeck.brief.tunings import find_tuning
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.theory.scale import parse_scale

BASS = find_tuning("four-string")


def phrase(pitches: list[int], gaps: list[float]) -> np.ndarray:
    """Notes one after the other, none into the next."""
    notes = np.zeros(len(pitches), NOTE_DTYPE)
    notes["onset_sec"] = np.concatenate([[0.0], np.cumsum(gaps)])[: len(pitches)]
    notes["duration_sec"] = 0.05
    notes["pitch"], notes["velocity"] = pitches, 90
    return notes


Place = tuple[int, int, int]


def places_of(pitch: int) -> list[Place]:
    """Every string, fret and place of the index finger for a pitch: the fret lies up to four frets
    above the index finger, five from the seventh fret on; an open string leaves the hand free.
    """
    found = []
    for string, lowest in enumerate(BASS.strings, 1):
        fret = pitch - lowest
        if 0 <= fret <= BASS.frets:
            hands = range(1, BASS.frets + 1) if fret == 0 else range(1, fret + 1)
            found += [(string, fret, hand) for hand in hands if fret == 0 or fret - hand <= (5 if hand >= 7 else 4)]
    return found


def held_cost(place: Place) -> float:
    """A note by itself: fretted at all, high up, stretched."""
    _, fret, hand = place
    return 0.15 + 0.05 * hand + 1.2 * max(fret - hand - 3, 0) if fret else 0.0


def way_cost(one: Place, other: Place, gap: float) -> float:
    """From one note to the next, summed from what the module says of it in words."""
    weight = round(min(max(0.3 / max(gap, 1e-3), 0.35), 3.0) / 0.05) * 0.05
    distance = abs(one[2] - other[2])
    along = 1.0 + 0.35 * distance if distance else 0.0
    if one[1] == 0 or other[1] == 0:
        along *= 0.4
    fingers = [min(place[1] - place[2] + 1, 4) if place[1] else 0 for place in (one, other)]
    if not distance and fingers[0] == fingers[1] != 0 and one[1] != other[1]:
        along += 1.0
    return weight * along + 0.1 * abs(one[0] - other[0])


def cheaper(pitches: list[int], gaps: list[float], than: float) -> list[Place] | None:
    """A path that costs less, of all there are; None where there is none. All paths are walked,
    each until it costs more than that with the least the rest can cost.
    """
    places = [places_of(pitch) for pitch in pitches]
    least = [min(map(held_cost, one)) for one in places]
    rest = [sum(least[at:]) for at in range(len(least) + 1)]

    def walk(path: list[Place], cost: float) -> list[Place] | None:
        at = len(path)
        if at == len(places):
            return path
        for place in places[at]:
            more = cost + held_cost(place) + (way_cost(path[-1], place, gaps[at - 1]) if path else 0.0)
            if more + rest[at + 1] < than:
                found = walk([*path, place], more)
                if found is not None:
                    return found
        return None

    return walk([], 0.0)


@settings(max_examples=40)
@given(st.lists(st.integers(28, 67), min_size=1, max_size=6), st.lists(st.floats(0.06, 1.5), min_size=5, max_size=5))
def test_no_path_of_all_is_cheaper(pitches: list[int], gaps: list[float]) -> None:
    """Phrases of up to six notes anywhere on the neck. What repeats is fingered alike, so a phrase
    that repeats itself need not be the cheapest.
    """
    assume(classes(pitches) == list(range(len(pitches))))
    found = finger(phrase(pitches, gaps), BASS)
    # The onsets are sums of the gaps, so the gaps are taken from them again.
    real = np.diff(phrase(pitches, gaps)["onset_sec"]).tolist()
    path = list(zip(found.string.tolist(), found.fret.tolist(), found.hand.tolist(), strict=True))
    cost = sum(map(held_cost, path)) + sum(
        way_cost(a, b, gap) for (a, b), gap in zip(pairwise(path), real, strict=True)
    )
    assert found.cost == pytest.approx(cost, abs=1e-6)
    assert cheaper(pitches, real, found.cost - 1e-6) is None


@pytest.mark.parametrize(("string", "hertz"), [(4, 41.203), (3, 55.0), (2, 73.416), (1, 97.999)])
def test_open_strings_and_frets_sound_as_equal_temperament_says(string: int, hertz: float) -> None:
    neck = neck_of(parse_scale("E phrygian"), BASS).as_dict()
    row = neck["strings"][string - 1]
    assert 440.0 * 2.0 ** ((row["open"] - 69) / 12) == pytest.approx(hertz, abs=0.001)
    for fret in row["frets"]:
        assert 440.0 * 2.0 ** ((fret["pitch"] - 69) / 12) == pytest.approx(hertz * 2.0 ** (fret["fret"] / 12), rel=2e-5)


def test_where_notes_lie_in_standard_tuning() -> None:
    """C is the third fret of the A string, D the fifth, E the seventh, G the tenth; high D the
    seventh fret of the G string.
    """
    for pitch, string, fret in ((36, 3, 3), (38, 3, 5), (40, 3, 7), (43, 3, 10), (50, 1, 7)):
        assert BASS.strings[string - 1] + fret == pitch


def test_drop_d() -> None:
    """Every note on the lowest string moves up two frets, and the two lowest strings make a power
    chord at one fret.
    """
    drop = find_tuning("drop-d")
    assert moves(BASS, drop) == "Everything on the lowest string two frets higher."
    assert drop.strings[2] - drop.strings[3] == 7
