"""A brief drawn from a mood: one number one draw, what is held stays, no draw twice in a row, every
field with its reason.
"""

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck import configs
from loopdeck.brief.brief import Brief, brief_from_dict, load_brief
from loopdeck.cli.main import main
from loopdeck.errors import UserError
from loopdeck.practice.draw import DRAWN, LIKE_KEPT, UNTRIED, Limit, draw, parse_keep
from loopdeck.practice.moods import MOODS, find_mood


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return tmp_path


def drawn(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["brief", "draw", *words, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


@given(st.sampled_from(sorted(MOODS)), st.integers(0, 10**6))
def test_every_draw_is_a_brief_with_reasons(mood: str, seed: int) -> None:
    made = draw(mood, seed)
    assert brief_from_dict(made.to_dict()["brief"]) == made.brief
    assert set(made.why) == {*DRAWN, "first_step"}
    assert all(reason.endswith(".") and len(reason) > 20 for reason in made.why.values())
    low, high = MOODS[mood].tempo
    assert low <= made.brief.tempo.quarters_per_minute <= high
    assert made.brief.scale is not None and made.brief.scale.name in MOODS[mood].scales
    assert draw(mood, seed) == made


@given(st.sampled_from(sorted(MOODS)), st.integers(0, 10**6), st.sets(st.sampled_from(DRAWN)))
def test_what_is_held_stays_and_moves_no_scale_or_meter(mood: str, seed: int, held: set[str]) -> None:
    base = Brief.default().replace(tempo="133", cycle="4+3/8", scale="F# locrian", swing="57%", technique="thumb")
    made, free = draw(mood, seed, base, frozenset(held)), draw(mood, seed, base)
    for name in ("scale", "tempo", "cycle", "technique"):
        assert getattr(made.brief, name) == getattr(base if name in held else free.brief, name)
    assert made.brief.tuning == base.tuning


def test_sad_moods_are_slower_and_less_happy_than_happy_ones() -> None:
    """The directions of the sources that loopdeck.practice.moods names: minor modes and slow tempi
    against major modes and fast ones.
    """
    mean = {mood: np.mean([draw(mood, n).brief.tempo.quarters_per_minute for n in range(60)]) for mood in MOODS}
    third = {mood: np.mean(["3" in draw(mood, n).brief.scale.degrees for n in range(60)]) for mood in MOODS}  # type: ignore[union-attr]
    for slow in ("sad", "calm", "tender", "solemn"):
        assert all(mean[slow] < mean[fast] for fast in ("happy", "angry", "tense"))
    assert all(third["happy"] > third[mood] for mood in ("sad", "dark", "tense", "angry"))
    assert third["happy"] == 1.0 and third["sad"] == 0.0


def test_one_number_one_draw(capsys: pytest.CaptureFixture[str]) -> None:
    one = drawn(capsys, "--mood", "dark", "--seed", "7")
    drawn(capsys, "--mood", "dark")
    assert drawn(capsys, "--mood", "dark", "--seed", "7") == one
    assert set(one) == {"seed", "mood", "brief", "first_step", "why"} and one["seed"] == 7


def test_held_fields_are_those_of_the_file(capsys: pytest.CaptureFixture[str]) -> None:
    base = drawn(capsys, "--mood", "dark", "--keep", "tempo,meter", "--brief", "seven-herons", "--seed", "3")["brief"]
    assert (base["tempo"], base["cycle"]) == ("8th=232", "2+2+3/8")


def test_never_twice_in_a_row_and_back_again(capsys: pytest.CaptureFixture[str]) -> None:
    found = [drawn(capsys, "--mood", "sad", "--keep", "tempo,meter,grid,swing,technique") for _ in range(12)]
    for one, other in pairwise(found):
        assert (one["brief"]["scale"], one["first_step"]) != (other["brief"]["scale"], other["first_step"])
    assert drawn(capsys, "--back") == found[-2]
    assert drawn(capsys, "--back") == found[-3]


def test_a_file_that_is_read_again(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = drawn(capsys, "--mood", "happy", "--seed", "1", "-o", str(home / "mine.toml"))
    assert load_brief(home / "mine.toml").to_dict() == made["brief"]
    assert f"# First step: {made['first_step']}." in (home / "mine.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("called", ["E aeolian", "E minor"])
def test_limits(called: str) -> None:
    rows = [{"scale": "G lydian", "cycle": "5/4", "qpm": 100.0}, {"scale": called, "cycle": "4/4", "qpm": 70.0}]
    for seed in range(20):
        liked = draw("dark", seed, limit=Limit(LIKE_KEPT, rows)).brief
        assert (str(liked.scale).split()[1], str(liked.cycle), str(liked.tempo)) == ("aeolian", "4/4", "70")
        new = draw("dark", seed, limit=Limit(UNTRIED, rows)).brief
        assert str(new.scale).split()[1] != "aeolian" and str(new.cycle) != "4/4"
    low = [{"scale": f"{r} {n}", "cycle": "4/4", "qpm": 70.0} for n in MOODS["dark"].scales for r in ("E", "A", "D")]
    other = draw("dark", 1, limit=Limit(UNTRIED, low))
    assert str(other.brief.scale).split()[0] not in "EAD" and "low open strings" not in other.why["scale"]
    every = [
        {"scale": f"{r} {n}", "cycle": "4/4", "qpm": 70.0}
        for n in MOODS["dark"].scales
        for r in ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    ]
    with pytest.raises(UserError, match="tried every scale"):
        draw("dark", 1, limit=Limit(UNTRIED, every))


def test_what_was_liked_goes_before_the_mood_and_the_reason_says_so() -> None:
    rows = [{"scale": "Bb ionian", "cycle": "5/4", "qpm": 180.5}]
    made = draw("sad", 3, limit=Limit(LIKE_KEPT, rows))
    assert (str(made.brief.scale), str(made.brief.cycle), str(made.brief.tempo)) == ("Bb ionian", "5/4", "180.5")
    assert "none of their scales is one of ours for sad" in made.why["scale"]
    assert "slow" not in made.why["tempo"] and "nearest" in made.why["tempo"]


@pytest.mark.parametrize("mood", MOODS)
def test_reasons_speak_of_what_was_drawn(mood: str) -> None:
    for seed in range(12):
        made = draw(mood, seed)
        texts = made.brief.to_dict()
        assert all(str(texts[name]).lower() in made.why[name].lower() for name in made.why if name != "first_step")
        uneven = texts["cycle"] in ("5/4", "7/8", "3+4/8", "4/4 4+3/8", "4/4 4/4 4/4 2/4")
        assert ("uneven" in made.why["cycle"]) == uneven
        assert made.brief.swing.straight or texts["cycle"] not in ("6/8", "12/8") or "1/16" in texts["swing"]


def test_every_field_of_a_brief_can_be_held(capsys: pytest.CaptureFixture[str]) -> None:
    base = load_brief(configs.find("briefs", "tide-mill")).to_dict()
    made = drawn(capsys, "--keep", ",".join(base), "--brief", "tide-mill", "--seed", "9")
    assert made["brief"] == base and made["mood"] == "heavy"
    again = drawn(capsys, "--keep", "tuning", "--brief", "tide-mill", "--seed", "9", "--mood", "calm")
    assert again["brief"]["tuning"] == base["tuning"] and again["why"]["tuning"]


def test_nothing_liked_is_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["brief", "draw", "--mood", "dark", "--like-kept"]) == 2
    assert "No take on the shelf is rated 4" in capsys.readouterr().err
    assert drawn(capsys, "--mood", "dark", "--untried")["mood"] == "dark"


@pytest.mark.parametrize(
    "words", [["--mood", "purple"], ["--keep", "colour"], ["--keep", ","], ["--back"], ["--like-kept", "--untried"],
              ["--brief", "none-such"], ["-o", "x.mid"], ["--back", "--seed", "1"],
              ["--seed", "9" * 400], ["--seed", "-1"]]
)  # fmt: skip
def test_wrong_words_get_a_sentence(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["brief", "draw", *words]) == 2
    text = capsys.readouterr().err
    assert text.startswith("loopdeck: ") and text.count("\n") == 1 and "Traceback" not in text


def test_a_damaged_memory_of_draws_stops_no_draw(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good = drawn(capsys, "--mood", "dark")
    memory = home / "data" / "loopdeck" / "draws.json"
    damaged = [{**good, name: wrong} for name in good for wrong in (None, [], {}, {"tempo": "x"}, 2.5)]
    for text in ("[" * 100_000, "{", json.dumps([good, *damaged, 5, {"brief": {}}])):
        memory.write_text(text, encoding="utf-8")
        assert drawn(capsys, "--mood", "dark")["brief"] != good["brief"]
        memory.write_text(text, encoding="utf-8")
        assert main(["brief", "draw", "--back"]) == 2
        assert capsys.readouterr().err.count("\n") == 1
    memory.write_text(json.dumps([good, *damaged, good]), encoding="utf-8")
    assert drawn(capsys, "--back") == good


def test_a_draw_that_cannot_be_remembered_is_a_draw(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (home / "data").write_text("no folder", encoding="utf-8")
    assert main(["brief", "draw", "--mood", "calm", "--json"]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["mood"] == "calm"
    assert "The draw is not remembered" in told.err and told.err.count("\n") == 1


def test_words_for_moods() -> None:
    assert find_mood("Melancholic, slow") == "sad"
    assert parse_keep("Meter feel") == {"cycle", "swing"}


def test_list_and_show(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = home / "config" / "loopdeck" / "briefs"
    own.mkdir(parents=True)
    (own / "broken.toml").write_text("tempo = = 3", encoding="utf-8")
    assert main(["brief", "list", "--json"]) == 0
    rows = {row["brief"]: row for row in json.loads(capsys.readouterr().out)["briefs"]}
    assert rows["rust-moth"]["scale"] == "D phrygian" and rows["broken"]["readable"] is False
    assert main(["brief", "show", "rust-moth"]) == 0
    assert "Scale: D phrygian" in capsys.readouterr().out
    (own / "new\nline\x1b.toml").write_text("", encoding="utf-8")
    assert main(["brief", "show", "nowhere"]) == 2
    assert (said := capsys.readouterr().err).count("\n") == 1 and "\x1b" not in said
    assert main(["brief", "show", "broken"]) == 2
