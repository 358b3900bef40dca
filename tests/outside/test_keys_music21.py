"""The scale finder against labels and finders from outside.

- Labels: the key fields of tunes in music21's corpus (O'Neill 1903, Ryan 1883), one in forty, which
  with its near duplicates was kept out of the fitting of the tables
  (``tests.fitting.tunes.kept_back``).
- Labels of a collection on which nothing was fitted: every fortieth of Aird's airs (1782 on).
- Finders: music21's Krumhansl-Schmuckler key finder on the same tunes, and "the last note is the
  root". Both name only major and minor, so roots are compared.
- Krumhansl & Kessler, "Tracing the dynamic changes in perceived tonal organization in a spatial
  representation of musical keys", Psychological Review 89(4), 1982: a playing whose notes sound as
  long as their probe-tone profile (values as in music21's ``analysis.discrete``) is in that key.

Written against music21 10.5.1.
"""

import warnings
import zlib
from fractions import Fraction

import numpy as np
import pytest

from loopdeck.analysis.scale_features import strength
from loopdeck.analysis.scale_finder import playing_of, rank
from loopdeck.rhythm.meter import parse_cycle

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    music21 = pytest.importorskip("music21")
    from music21.analysis.discrete import KrumhanslKessler, KrumhanslSchmuckler

from tests.fitting.fit_scales import strong_places
from tests.fitting.tunes import COLLECTIONS, Tune, as_tunes, kept_back, read_corpus


@pytest.fixture(scope="module")
def tunes() -> list[Tune]:
    return as_tunes([row for collection in COLLECTIONS for row in read_corpus(collection, kept_back)])


def answers(tune: Tune) -> list[tuple[int, str]]:
    meter = parse_cycle(tune.meter).meters[0]
    strong = strong_places(tune.onset_q, tune.meter)
    playing = playing_of(tune.pitch, tune.onset_q, tune.length_q, strong, float(meter.quarters), ends=True, meter=meter)
    return [(one.scale.root.pitch_class, one.scale.name) for one in rank(playing, 3)]


def test_labelled_tunes_of_a_collection_nothing_was_fitted_on() -> None:
    airs = as_tunes(read_corpus("airdsAirs", lambda name: zlib.crc32(name.encode()) % 40 == 0))
    assert len(airs) >= 20
    found = [answers(tune) for tune in airs]
    right = np.mean([one[0] == (tune.root, tune.mode) for one, tune in zip(found, airs, strict=True)])
    root = np.mean([one[0][0] == tune.root for one, tune in zip(found, airs, strict=True)])
    assert right >= 0.82 and root >= 0.88, (right, root)


def _their_root(tune: Tune) -> int:
    stream = music21.stream.Stream()
    for at, length, pitch in zip(tune.onset_q.tolist(), tune.length_q.tolist(), tune.pitch.tolist(), strict=True):
        stream.insert(at, music21.note.Note(pitch, quarterLength=Fraction(length).limit_denominator(48)))
    return int(KrumhanslSchmuckler().getSolution(stream).tonic.pitchClass)


def test_labelled_tunes_that_were_kept_out_of_the_fitting(tunes: list[Tune]) -> None:
    assert len(tunes) >= 60
    found = [answers(tune) for tune in tunes]
    right = np.mean([one[0] == (tune.root, tune.mode) for one, tune in zip(found, tunes, strict=True)])
    within = np.mean([(tune.root, tune.mode) in one for one, tune in zip(found, tunes, strict=True)])
    root = np.mean([one[0][0] == tune.root for one, tune in zip(found, tunes, strict=True)])
    last = np.mean([tune.pitch[-1] % 12 == tune.root for tune in tunes])
    theirs = np.mean([_their_root(tune) == tune.root for tune in tunes])
    assert right >= 0.82 and within >= 0.94 and root >= 0.86, (right, within, root)
    assert root > last and root > theirs, (root, last, theirs)


@pytest.mark.parametrize("name", ["ionian", "aeolian"])
@pytest.mark.parametrize("root", range(0, 12, 5))
def test_a_playing_after_krumhansl_and_kesslers_profile(name: str, root: int) -> None:
    """The scale's own notes, as long as the profile says, the way up and down: the key of the
    profile comes first, music21 agrees.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        profile = KrumhanslKessler().getWeights("major" if name == "ionian" else "minor")
    steps = {"ionian": [0, 2, 4, 5, 7, 9, 11], "aeolian": [0, 2, 3, 5, 7, 8, 10]}[name]
    line = [*steps, *reversed(steps)]
    lengths = np.array([profile[step] for step in line])
    onsets = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    meter = parse_cycle("4/4").meters[0]
    strong = [strength(meter, Fraction(round(at * 4), 4) % 4) for at in onsets.tolist()]
    best = rank(playing_of(np.array(line) + 36 + root, onsets, lengths, strong, 4.0, ends=True), 1)[0]
    assert (best.scale.root.pitch_class, best.scale.name) == (root, name)
