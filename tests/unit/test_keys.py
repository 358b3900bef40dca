"""The key table: every command within reach, no key twice, musical keys and command keys apart,
everything explained.
"""

from collections import Counter
from pathlib import Path

import pytest

from loopdeck.looper.commands import COMMANDS, ENGINE, LOOPER, WINDOW, check_command, names_of
from loopdeck.window import keys
from loopdeck.window.acts import ACTS
from loopdeck.window.line_keys import BY_FOOT
from loopdeck.window.pages import new_states

DOCS = Path(__file__).parents[2] / "docs" / "keys.md"
STANDARD = (43, 38, 33, 28)  # G2 D2 A1 E1, facts of the four-string bass
# Commands that another one on the board includes, or that only a foot or the engine has use for.
BY_ANOTHER = {
    "start": "start-stop",
    "loop-pass": "window-pass-loop",
    "loop-free": "window-accept",
    "stop": "start-stop",
    "layer-on": "layer",
    "layer-off": "layer",
    "mute-toggle": "mute",
    "count-in": "window-count-in",
    "brief": "window-brief",
    "tempo": "window-brief",
    "thru": "window-thru",
    "thru-toggle": "window-thru",
    "clicks": "window-brief",
    "groove": "window-brief",
    "ramp": "window-brief",
    "clear": "window-delete",
    "delete": "window-delete",
    "solo": "window-solo",
}
NOT_BY_KEY = {
    "late",
    "pickup",
    "start-now",
    "follow",
    "bring-back",
}  # set by measuring an input, by naming its pickup, by a clock source, and by loop-take, which has the notes


def test_every_command_is_within_reach() -> None:
    acts = {binding.act for binding in keys.BINDINGS}
    for command in set(names_of(LOOPER)) - NOT_BY_KEY:
        assert command in acts or BY_ANOTHER.get(command) in acts, command


def test_every_command_of_the_window_is_carried_out() -> None:
    states = new_states()
    for command in names_of(WINDOW):
        name = command.removeprefix("window-")
        of_page = name in states or any(command in state.acts for state in states.values())
        on_lines = any(command == act for act, _ in BY_FOOT)
        assert of_page + on_lines + (name in ACTS) == 1, command
    assert {f"window-{name}" for name in ACTS} <= set(names_of(WINDOW))


def test_every_act_exists() -> None:
    for binding in keys.BINDINGS:
        assert COMMANDS[binding.act].owner in (LOOPER, ENGINE, WINDOW), binding


def test_every_act_takes_its_arguments() -> None:
    for binding in keys.BINDINGS:
        check_command(binding.act, binding.args, (LOOPER, ENGINE, WINDOW))


def test_no_key_does_two_things() -> None:
    twice = [key for key, times in Counter(binding.key for binding in keys.BINDINGS).items() if times > 1]
    assert not twice
    assert all(binding.key.removeprefix("Shift+") in keys.CODES for binding in keys.BINDINGS)


def test_musical_keys_and_command_keys_are_apart() -> None:
    musical = [code for row in keys.ROWS for code in row]
    assert len(musical) == len(set(musical))
    assert not set(musical) & (set(keys.CODES.values()) | set(keys.ALSO))


def test_every_binding_has_words_and_a_group() -> None:
    for binding in keys.BINDINGS:
        assert binding.words and binding.group in keys.GROUPS


def test_docs_list_every_key() -> None:
    text = DOCS.read_text(encoding="utf-8")
    for binding in keys.BINDINGS:
        assert f"| {keys.label(binding.key)} | {binding.words} |" in text, binding


@pytest.mark.parametrize(
    ("code", "pitch", "string"),
    [
        (29, 28, 4),  # Z: open E1
        (27, 29, 4),  # X: one fret up
        (4, 33, 3),  # A: open A1
        (20, 38, 2),  # Q: open D2
        (30, 43, 1),  # 1: open G2
        (39, 52, 1),  # 0: ninth fret of the G string
        (56, 37, 4),  # the tenth key of the lowest row: ninth fret
    ],
)
def test_rows_are_strings_and_columns_frets(code: int, pitch: int, string: int) -> None:
    """Open strings: facts of the standard tuning (E1 = 28, A1 = 33, D2 = 38, G2 = 43); codes: USB
    HID Usage Tables 1.12.
    """
    assert keys.pitch_of(code, STANDARD) == (pitch, string)


def test_tunings_with_more_or_fewer_strings() -> None:
    five = (43, 38, 33, 28, 23)
    assert keys.pitch_of(29, five) == (23, 5)
    assert keys.pitch_of(30, five) == (38, 2)
    assert keys.pitch_of(30, (38, 33, 28)) is None
    assert keys.pitch_of(keys.CODES["Enter"], five) is None


def test_shift_is_part_of_the_name() -> None:
    assert keys.key_name(keys.CODES["Enter"], True) == "Shift+Enter"
    assert keys.key_name(88, False) == "Enter"
    assert keys.key_name(29, True) == ""
