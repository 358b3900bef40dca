"""What is said after a pass: one sentence, and only where there is something to say."""

from fractions import Fraction

import numpy as np

from loopdeck.analysis.feel import measure
from loopdeck.analysis.live import LEAST_NOTES, worst
from loopdeck.analysis.scale_features import strength
from loopdeck.analysis.scale_finder import playing_of
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.rhythm.grid import Grid
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.rhythm.swing import parse_swing
from loopdeck.rhythm.tempo import TempoMap, parse_tempo
from loopdeck.theory.scale import parse_scale
from tests.bench.feel_players import play

TEMPO = TempoMap.steady(parse_tempo("96"))
CYCLE = parse_cycle("4/4")
#: One bar of eighths.
PENTATONIC = [28, 31, 33, 35, 38, 35, 33, 31]
DORIAN = [28, 31, 33, 35, 37, 38, 37, 31]


def remark(pitches: list[int], passes: int = 4, early_ms: float = 0.0, asked: str = "straight", swing: str = "straight", **more: float) -> str | None:  # fmt: skip
    played = play(np.random.default_rng(1), CYCLE, passes, parse_swing(swing), "1/8", sigma_ms=3.0, **more)  # type: ignore[arg-type]
    onsets = played.onset_q - np.where(played.written_q % 4 == 2, early_ms * 96 / 60_000, 0)
    heard = np.array(pitches * passes)[: len(onsets)]
    onsets, written = onsets[: len(heard)], played.written_q[: len(heard)]
    strong = [strength(CYCLE.meters[0], Fraction(place) % 4) for place in written.tolist()]
    playing = playing_of(heard, written, np.full(len(heard), 0.5), strong, 4.0, ends=False)
    velocity = np.full(len(heard), 90)
    scale = parse_scale("E minor pentatonic")
    stretches = (Stretch(Fraction(0), CYCLE),)
    found = measure(TEMPO.seconds(onsets), heard, velocity, TEMPO, stretches, Grid("1/16"), parse_swing(asked))
    return worst(found, playing, scale)


def test_nothing_is_said_of_good_playing() -> None:
    assert remark(PENTATONIC) is None
    assert remark(PENTATONIC, swing="2:1 1/8", asked="2:1 1/8") is None
    assert remark(DORIAN[:LEAST_NOTES], passes=1) is None


def test_the_note_that_leaves_the_scale_again_and_again_comes_first() -> None:
    assert remark(DORIAN, early_ms=20.0) == ("C# again, 8 times: outside E minor pentatonic; it sounds like E dorian.")


def test_then_the_beat_then_the_swing() -> None:
    said = remark(PENTATONIC, early_ms=20.0)
    assert said is not None and said.startswith("You rush into beat 3 by ")
    said = remark(PENTATONIC, swing="60% 1/8", asked="2:1 1/8")
    assert said is not None and "60 %" in said and "asks for 2:1" in said
