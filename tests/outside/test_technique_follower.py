"""Technique on the second simulated pickup (``tests/simulators/follower.py``, which names its
sources), and on streams that only tell of changes.

The seeds here were not used to set any figure of the reader's.
"""

import pytest

from loopdeck.bass.pickup.profile import Cleaning
from tests.simulators.follower import DROP_D, FIVE, Follower, Style, stream
from tests.simulators.pickup import Stream
from tests.simulators.scoring import scores, written

SEEDS = range(200, 204)
STEPPED = ("plain",) * 6 + ("slide", "hammer-on", "pull-off")
ALL = (*STEPPED, "bend", "vibrato")
WITHOUT_FRETS = Style((*STEPPED, "vibrato"), fretless=True)


@pytest.mark.parametrize(
    ("pickup", "style"),
    [
        (Follower(), Style(ALL, 170)),
        (Follower(tick_sec=0.003, bend_range=24), Style(ALL, 60)),
        (Follower(tick_sec=0.01, bend_range=48), Style(ALL, strings=DROP_D)),
        (Follower(bend_range=2), Style(ALL)),
        (Follower(noise_cents=0.0), Style(ALL, strings=FIVE)),
        (Follower("struck"), Style(ALL, 140)),
        (Follower("chromatic"), Style(STEPPED, 190)),
        (Follower("chromatic", tick_sec=0.012, settle=1, per_string=False), Style(STEPPED, 70)),
        (Follower(), WITHOUT_FRETS),
    ],
)
def test_techniques_are_found_and_not_imagined(pickup: Follower, style: Style) -> None:
    streams = [stream(seed, pickup, style, 45) for seed in SEEDS]
    found, false = scores(streams, Cleaning() if pickup.bend_range == 2 else None, style.fretless)
    assert min(found.values()) >= 0.95, found
    assert false <= 0.01


@pytest.mark.parametrize(("mode", "kinds"), [("bend", ALL), ("struck", ALL), ("chromatic", STEPPED)])
def test_with_errors_and_the_clean_up_false_marks_stay_rare(mode: str, kinds: tuple[str, ...]) -> None:
    pickup = Follower(mode, ghosts=0.05, octaves=0.05)
    found, false = scores([stream(seed, pickup, Style(kinds), 45) for seed in SEEDS], Cleaning())
    assert min(found.values()) >= 0.95, found
    assert false <= 0.03


@pytest.mark.parametrize("frets", [2, 3, 5, -2, -4])
@pytest.mark.parametrize("fret_sec", [0.015, 0.03, 0.06])
def test_a_stair_that_is_told_by_its_steps_alone_is_a_slide(frets: int, fret_sec: float) -> None:
    """A pickup without noise sends a bend for every fret and none between (pitch bend and RPN 0,0:
    MIDI 1.0).
    """
    sign, events = (1 if frets > 0 else -1), [(0.0, bytes((0xB0, 6, 12)))]
    events = [(0.0, bytes((0xB0, control, value))) for control, value in ((101, 0), (100, 0), (6, 12))]
    events.append((0.5, bytes((0x90, 40, 90))))
    for step in range(abs(frets)):
        value = 8192 + round(sign * (step + 1) / 12 * 8192)
        events.append((0.8 + step * fret_sec, bytes((0xE0, value & 127, value >> 7))))
    events.append((1.6, bytes((0x80, 40, 0))))
    found = written(Stream(events, []))
    assert [(note.pitch, note.reached) for note in found] == [(40, "pluck"), (40 + frets, "slide")]
    assert found[1].onset_sec == pytest.approx(0.8 + (abs(frets) - 1) * fret_sec, abs=0.012)
