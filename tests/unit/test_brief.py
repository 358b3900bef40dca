"""The brief: its fields as text, its TOML form, changes, and the briefs that come with loopdeck."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck import configs
from loopdeck.brief.brief import SPECS, Brief, brief_from_dict, brief_from_toml, brief_to_toml, load_brief
from loopdeck.brief.spec import WHEN_WORDS
from loopdeck.errors import UserError
from loopdeck.rhythm.meter import parse_cycle
from tests.unit.rhythm_strategies import cycles, grids, swings

OURS = configs.names("briefs")


def _sentence(caught: pytest.ExceptionInfo[UserError]) -> str:
    sentence = str(caught.value)
    assert isinstance(caught.value, UserError)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert len(sentence) < 500
    return sentence


def test_default() -> None:
    brief = Brief.default()
    assert brief.tempo.quarters_per_minute == 96
    assert brief.cycle == parse_cycle("4/4")
    assert (brief.strength, brief.window, brief.count_in, brief.program, brief.click_level) == (100, 100, 1, 34, 80)
    assert brief.scale is None
    assert brief.tuning.strings == (43, 38, 33, 28)
    assert brief.slots.cycle_q == 4.0
    assert brief.slots is brief.slots


@pytest.mark.parametrize("name", OURS)
def test_our_briefs(name: str) -> None:
    path = configs.find("briefs", name)
    brief = load_brief(path)
    assert brief_from_toml(brief_to_toml(brief)) == brief
    assert brief_from_dict(brief.to_dict()) == brief
    assert brief.name and brief.mood and brief.technique
    assert brief.scale is not None
    assert len(brief.slots) > 0
    # A key that is not read would go unnoticed: every one in the file shows in the brief.
    written = tomllib.loads(path.read_text(encoding="utf-8"))
    texts = brief.to_dict()
    assert {key: str(texts[key]) for key in written} == {key: str(value) for key, value in written.items()}


def test_what_our_briefs_must_cover() -> None:
    briefs = [load_brief(configs.find("briefs", name)) for name in OURS]
    assert len(briefs) >= 6
    assert len({brief.name for brief in briefs}) == len(briefs)
    covered = {(str(brief.cycle), str(brief.grid), brief.swing.straight) for brief in briefs}
    assert ("4/4", "1/16", True) in covered
    assert any(grid == "1/16" and not straight for _, grid, straight in covered)
    assert any(cycle == "4/4 4+3/8" for cycle, _, _ in covered)
    assert any(cycle.startswith("6/8") for cycle, _, _ in covered)


def test_the_text_form() -> None:
    texts = brief_from_toml('tempo = "8th=184"\nscale = "G dorian"\ncycle = "4/4 4+3/8"\nswing = "58% 1/16"').to_dict()
    assert list(texts) == [
        "name", "tempo", "cycle", "grid", "swing", "strength", "window", "scale", "tuning", "count_in", "mood", "technique",
        "program", "click_level", "clicks", "groove", "ramp",
    ]  # fmt: skip
    assert (texts["tempo"], texts["cycle"], texts["swing"], texts["scale"]) == (
        "8th=184", "4/4 4+3/8", "58% 1/16", "G dorian",
    )  # fmt: skip
    assert Brief.default().to_dict()["scale"] == ""
    assert all(isinstance(value, str | int) for value in texts.values())


names = st.text(st.characters(blacklist_categories=("C", "Z")), max_size=40)


@given(
    cycle=cycles, grid=grids, swing=swings, strength=st.integers(0, 100), window=st.integers(1, 100), name=names, mood=names,
    scale=st.sampled_from(["", "G dorian", "E 1 b2 3 4 5 b6 b7", "Bb altered"]),
    tuning=st.sampled_from(["standard", "drop D", "E1 A1 D2 G2", "C1 G1 D2"]),
)  # fmt: skip
def test_every_brief_reads_back(**fields: Any) -> None:
    brief = Brief.default().replace(
        **{key: value if key in ("strength", "window") else str(value) for key, value in fields.items()}
    )
    assert brief_from_dict(brief.to_dict()) == brief
    again = brief_from_toml(brief_to_toml(brief))
    assert again == brief
    assert again.to_dict() == brief.to_dict()


def test_a_swing_is_shown_as_it_was_written() -> None:
    for text in ("60%", "58%", "66.6667%", "2:1", "3:2", "straight", "60% 1/8"):
        brief = Brief.default().replace(swing=text)
        assert brief.to_dict()["swing"] == text
    assert Brief.default().replace(swing="60%") == Brief.default().replace(swing="3:2")


def test_a_field_is_said_as_players_say_it() -> None:
    brief = Brief.default().replace(scale="E dorian", count_in="2", swing="60%", strength="80")
    said = [brief.sentence(name) for name in ("scale", "count_in", "swing", "strength", "tempo", "ramp", "mood")]
    assert said == [
        "Scale: E dorian", "Count-in: 2 bars", "Swing: 60%", "Quantize strength: 80 %", "Tempo: 96", "Tempo ramp: off",
        "Mood: none",
    ]  # fmt: skip


@pytest.mark.parametrize("name", SPECS)
def test_every_field_says_what_it_is(name: str) -> None:
    one = SPECS[name]
    assert one.title and one.hint and one.about and one.when in WHEN_WORDS
    assert one.text(one.parse(one.default)) == Brief.default().to_dict()[name]
    for choice in one.choices() if one.choices is not None else ():
        assert str(one.text(one.parse(choice))) == choice


def test_replace() -> None:
    first = Brief.default()
    second = first.replace(tempo="104", swing="2:1", strength="50", scale="A dorian")
    assert second.tempo.quarters_per_minute == 104
    assert (second.strength, str(second.swing), str(second.scale)) == (50, "2:1", "A dorian")
    assert first.tempo.quarters_per_minute == 96
    assert second.slots is not first.slots
    assert second.replace(scale="").scale is None
    assert second.replace(scale="None").scale is None
    assert second.replace(count_in=2, strength="80%").strength == 80
    assert second.replace() == second


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"tempo": "500"}, "tempo: .*between 20 and 400"),
        ({"cycle": "7/9"}, "cycle: .*9 below the line"),
        ({"grid": "1/7"}, "grid: .*no grid"),
        ({"swing": "9:1"}, "swing: .*out of range"),
        ({"strength": "101"}, "strength: .*between 0 and 100 percent"),
        ({"window": "0"}, "window: .*between 1 and 100 percent"),
        ({"strength": "lots"}, "strength: .*not a whole number"),
        ({"count_in": "3"}, "count_in: .*between 0 and 2 bars"),
        ({"program": "0"}, "program: .*between 1 and 128"),
        ({"click_level": "-1"}, "click_level: .*between 0 and 127"),
        ({"scale": "H dorian"}, "scale: "),
        ({"tuning": "nonsense"}, "tuning: "),
        ({"mood": "two\nlines"}, "mood: .*one line"),
        ({"mood": "x" * 401}, "mood: .*at most 400"),
        ({"colour": "blue"}, "no 'colour'; its fields are name, tempo, cycle"),
        ({"tempo": True}, "tempo .*must be a text or a number"),
    ],
)
def test_wrong_fields(fields: dict[str, Any], says: str) -> None:
    with pytest.raises(UserError, match=says) as caught:
        Brief.default().replace(**fields)
    _sentence(caught)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("tempo = 96\ncycle = 4/4\n", 2),
        ('name = "x"\n\n# words\ngrid 1/16\n', 4),
        ('name = "never closed\ntempo = 96\n', 1),
        ("tempo = 96\ntempo = 97\n", 2),
        ('tempo = 96\nmood = """open', 2),
        ("tempo = 96\ntempo", 2),
    ],
)
def test_broken_toml_names_the_line(text: str, line: int) -> None:
    with pytest.raises(UserError, match=f"riffs.toml, line {line}: this is not TOML") as caught:
        brief_from_toml(text, "riffs.toml")
    _sentence(caught)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("\ntempo = 500\n", "line 2: tempo: .*between 20 and 400"),
        ('tempo = 96\ncolour = "blue"\n', "line 2: A brief has no 'colour'; its fields are name, tempo"),
        ("tempo = 96\n\n[tempo2]\nx = 1\n", "line 3: A brief has no 'tempo2'"),
        ("strength = [1]\n", "line 1: The strength of a brief must be a text or a number"),
        ("tempo = true\n", "line 1: The tempo of a brief must be"),
        ("tempo = nan\n", "line 1: tempo: 'nan' is not a tempo"),
        ("tempo = 1979-05-27\n", "line 1: The tempo of a brief must be"),
        ("strength = 99.5\n", "line 1: strength: '99.5' is not a whole number"),
    ],
)
def test_wrong_values_name_the_line(text: str, says: str) -> None:
    with pytest.raises(UserError, match="riffs.toml, " + says) as caught:
        brief_from_toml(text, "riffs.toml")
    _sentence(caught)


def test_deeply_nested_toml_gets_a_sentence() -> None:
    with pytest.raises(UserError) as caught:
        brief_from_toml("mood = " + "[" * 20_000, "riffs.toml")
    _sentence(caught)


def test_files_that_are_no_text(tmp_path: Path) -> None:
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"tempo = 96\nname = '\xff\xfe'\n")
    with pytest.raises(UserError, match=r"binary\.toml, line 2: this is not UTF-8"):
        load_brief(binary)
    long = tmp_path / "long.toml"
    long.write_text("tempo = 96\nstrength = " + "9" * 5000)
    with pytest.raises(UserError, match=r"long\.toml, line 2: this number is too long to be meant"):
        load_brief(long)
    sparse = tmp_path / "sparse.toml"
    with sparse.open("wb") as file:
        file.truncate(30 << 30)
    with pytest.raises(UserError, match=r"32,212,254,720 bytes; a brief may have 65,536"):
        load_brief(sparse)
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * 70_000)
    with pytest.raises(UserError, match=r"70,000 bytes; a brief may have 65,536"):
        load_brief(big)
    with pytest.raises(UserError, match=r"is a folder; a brief was expected"):
        load_brief(tmp_path)
    with pytest.raises(FileNotFoundError):
        load_brief(tmp_path / "missing.toml")


def test_windows_line_ends(tmp_path: Path) -> None:
    file = tmp_path / "crlf.toml"
    file.write_bytes(b'tempo = 100\r\nname = "a"\r\n')
    assert load_brief(file).tempo.quarters_per_minute == 100
