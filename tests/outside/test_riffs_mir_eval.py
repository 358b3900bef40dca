"""Riffs found, scored by mir_eval 0.8's ``pattern`` module: the establishment and three-layer
measures of the MIREX task Discovery of Repeated Themes & Sections (mir_eval: Raffel et al., ISMIR
2014), on takes that were never used to set a figure of the method.
"""

import pytest

pytest.importorskip("mir_eval")

from tests.bench.bench_riffs import form_scores, planted_scores


def test_planted_riffs_in_humanised_noodling() -> None:
    seeds = range(2_000, 2_012)
    ours, simple = planted_scores(seeds), planted_scores(range(2_000, 2_003), simple=True)
    assert ours["establishment"] >= 0.9 and ours["three_layer"] >= 0.9 and ours["whole"] >= 0.9
    # The grammar is no walk-over: exact repeats alone do not do.
    assert simple["establishment"] < 0.9 and simple["whole"] < 0.5


def test_sections_themes_and_motifs_of_written_forms() -> None:
    ours = form_scores(range(2_000, 2_012))
    assert ours["establishment"] >= 0.78 and ours["three_layer"] >= 0.75
