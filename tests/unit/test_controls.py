"""Control maps: what a press does, and when, for every kind of switch; bad files end in one
sentence with the line.
"""

import pytest

from loopdeck import configs
from loopdeck.errors import UserError
from loopdeck.midi.control_files import controls_from_toml, load_controls
from loopdeck.midi.controls import Order, Pedals


def feet(text: str) -> Pedals:
    return Pedals(controls_from_toml(text))


def cc(number: int, value: int, channel: int = 1) -> bytes:
    return bytes((0xB0 | (channel - 1), number, value))


def names(orders: list[Order]) -> list[tuple[float, str]]:
    return [(round(order.time_sec, 6), order.act.command) for order in orders]


def run(board: Pedals, *steps: tuple[float, bytes], until: float = 10.0) -> list[tuple[float, str]]:
    """Play the steps, ticking exactly whenever the board asks for it."""
    orders: list[Order] = []

    def tick_to(sec: float) -> None:
        while (due := board.next_due()) is not None and due < sec:
            orders.extend(board.tick(due))

    for sec, data in steps:
        tick_to(sec)
        found, more = board.message(sec, data)
        assert found
        orders.extend(more)
    tick_to(until)
    assert board.next_due() is None
    return names(orders)


PRESS = '[[control]]\non = "control change"\nnumber = 20\n'
DOWN, UP = cc(20, 127), cc(20, 0)


def test_a_command_acts_at_the_press() -> None:
    board = feet(PRESS + 'command = "start"')
    assert run(board, (1.0, DOWN), (1.2, UP), (2.0, DOWN), (2.2, UP)) == [(1.0, "start"), (2.0, "start")]


def test_press_and_release() -> None:
    board = feet(PRESS + 'command = "layer-on"\nrelease = "layer-off"')
    assert run(board, (1.0, DOWN), (3.0, UP)) == [(1.0, "layer-on"), (3.0, "layer-off")]


def test_short_long_and_double_are_told_apart() -> None:
    board = feet(PRESS + 'short = "loop-that"\nlong = "stop"\ndouble = "undo"')
    assert run(board, (1.0, DOWN), (1.2, UP), until=3.0) == [(1.55, "loop-that")]
    assert run(board, (3.0, DOWN), (4.0, UP), until=5.0) == [(3.6, "stop")]
    assert run(board, (5.0, DOWN), (5.1, UP), (5.3, DOWN), (5.4, UP), until=6.5) == [(5.3, "undo")]
    # A pause that is too long makes two short ones; a second press that is held is still the second
    # of two.
    assert run(board, (7.0, DOWN), (7.1, UP), (7.5, DOWN), (7.6, UP)) == [(7.45, "loop-that"), (7.95, "loop-that")]
    assert run(board, (11.0, DOWN), (11.1, UP), (11.3, DOWN), (13.0, UP), until=15.0) == [(11.3, "undo")]


def test_short_without_double_does_not_wait() -> None:
    board = feet(PRESS + 'short = "undo"\nlong = "redo"')
    assert run(board, (1.0, DOWN), (1.1, UP), (1.2, DOWN), (1.3, UP)) == [(1.1, "undo"), (1.3, "undo")]


def test_three_quick_presses_are_a_double_and_a_short_one() -> None:
    board = feet(PRESS + 'short = "loop-that"\ndouble = "undo"')
    steps = [(1.0, DOWN), (1.1, UP), (1.2, DOWN), (1.3, UP), (1.4, DOWN), (1.5, UP)]
    assert run(board, *steps) == [(1.2, "undo"), (1.85, "loop-that")]


def test_rattling_contacts_are_one_press() -> None:
    board = feet(PRESS + 'short = "loop-that"\nrelease = "layer-off"\nlong = "stop"')
    rattle = [(1.0, DOWN), (1.004, UP), (1.008, DOWN), (1.3, UP), (1.305, DOWN), (1.31, UP)]
    assert run(board, *rattle) == [(1.3, "layer-off"), (1.3, "loop-that")]


def test_a_press_shorter_than_the_debounce_ends_when_it_is_over() -> None:
    board = feet(PRESS + 'short = "loop-that"\nlong = "stop"')
    assert run(board, (1.0, DOWN), (1.01, UP)) == [(1.025, "loop-that")]


def test_the_threshold() -> None:
    board = feet(PRESS + 'threshold = 100\ncommand = "start"')
    assert run(board, (1.0, cc(20, 99)), (2.0, cc(20, 100)), (3.0, cc(20, 110)), (4.0, cc(20, 99))) == [(2.0, "start")]


def test_a_pedal_that_tells_of_presses_only() -> None:
    board = feet(PRESS + 'command = "undo"')
    assert run(board, (1.0, DOWN), (2.0, DOWN), (2.01, DOWN), (3.0, DOWN)) == [
        (1.0, "undo"),
        (2.0, "undo"),
        (3.0, "undo"),
    ]


def test_a_latching_switch() -> None:
    board = feet(PRESS + 'latching = true\ncommand = "start-stop"')
    assert run(board, (1.0, DOWN), (2.0, UP), (3.0, DOWN)) == [(n, "start-stop") for n in (1.0, 2.0, 3.0)]


def test_notes_and_programs() -> None:
    board = feet(
        '[[control]]\non = "note"\nnumber = 36\nchannel = 10\ncommand = "start"\nrelease = "stop"\n'
        '[[control]]\non = "program change"\nnumber = 1\nshort = "undo"\ndouble = "redo"\n'
    )
    assert run(board, (1.0, bytes((0x99, 36, 1))), (2.0, bytes((0x99, 36, 0)))) == [(1.0, "start"), (2.0, "stop")]
    assert run(board, (3.0, bytes((0x99, 36, 80))), (4.0, bytes((0x89, 36, 64)))) == [(3.0, "start"), (4.0, "stop")]
    program = bytes((0xC3, 0))
    assert run(board, (5.0, program), until=6.0) == [(5.35, "undo")]
    assert run(board, (7.0, program), (7.2, program)) == [(7.2, "redo")]


def test_what_is_nobodys_is_left_to_be_played() -> None:
    board = feet(PRESS + 'channel = 16\ncommand = "start"')
    for data in (cc(20, 127, 1), cc(21, 127, 16), bytes((0x9F, 20, 100)), b"\xf8", bytes((0xCF, 20)), b""):
        assert board.message(1.0, data) == (False, [])
    assert board.message(1.0, cc(20, 127, 16))[0]


def test_another_command_while_time_stands() -> None:
    board = feet(
        PRESS + 'command = "loop-that"\n'.replace('"loop-that"', '{ command = "loop-that", stopped = "start" }')
    )
    (order,) = board.message(1.0, DOWN)[1]
    assert order.act.command == "loop-that"
    assert order.act.stopped is not None and order.act.stopped.command == "start"


def test_a_pedal_that_goes_holds_nothing_down() -> None:
    board = feet(PRESS + 'long = "clear"')
    board.message(1.0, DOWN)
    board.let_go()
    assert board.tick(9.0) == []


def test_arguments_reach_the_order() -> None:
    board = feet(PRESS + 'command = "keep"\nargs = { passes = 4 }')
    assert dict(board.message(1.0, DOWN)[1][0].act.args) == {"passes": 4}
    board = feet(PRESS + 'command = "brief"\nargs = { swing = "2:1" }')
    assert dict(board.message(1.0, DOWN)[1][0].act.args) == {"fields": {"swing": "2:1"}}


@pytest.mark.parametrize("name", configs.names("controls"))
def test_ours_load(name: str) -> None:
    controls = load_controls(name)
    assert controls.name == name
    assert controls.about and controls.switches


def test_there_are_maps_for_four_switches_and_for_one() -> None:
    assert len(load_controls("four-switch").switches) == 4
    (one,) = load_controls("one-switch").switches
    assert one.short and one.long and one.double


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("[[control]\n", 1, "not TOML"),
        ('name = "x"\n\ncolour = "red"\n', None, "has no 'colour'"),
        ('name = "x"\n', None, "has no switch"),
        ("control = 3\n", None, "has no switch"),
        (PRESS, 1, "does nothing"),
        (PRESS + 'command = "jump"', 4, "no command 'jump'"),
        (PRESS + 'command = "keep"\nargs = { bars = 3 }', 4, "it takes passes, name"),
        (PRESS + 'command = "keep"\nargs = { passes = 40 }', 4, "1 to 16"),
        (PRESS + 'command = "brief"\nargs = { swing = "9:1" }', 4, "swing"),
        (PRESS + 'command = "tempo"\nargs = { tempo = "9000" }', 4, "tempo"),
        (PRESS + 'command = "loop-take"\nargs = { take = 1, playing = "all" }', 4, "passes, best, riff or layers"),
        (PRESS + 'long = { name = "undo" }', 4, "must be a command's name"),
        (PRESS + 'long = { command = "undo", when = 3 }', 4, "no 'when'"),
        (PRESS + 'long = "undo"\nargs = { layer = 1 }', 5, "args belong to command"),
        (PRESS + 'command = "undo"\nshort = "redo"', 5, "take one of them"),
        (PRESS + 'command = "undo"\nthreshold = 200', 5, "1 to 127"),
        (PRESS + 'command = "undo"\ndebounce_ms = true', 5, "0 to 500"),
        (PRESS + 'command = "undo"\nspeed = 1', 5, "no 'speed'"),
        (PRESS + 'long = "undo"\nlatching = true', 4, "cannot have long"),
        ('[[control]]\non = "pedal"\nnumber = 1\ncommand = "undo"', 2, "'control change'"),
        ('[[control]]\non = "note"\ncommand = "undo"', 1, "needs number"),
        ('[[control]]\non = "program change"\nnumber = 0\ncommand = "undo"', 3, "1 to 128"),
        ('[[control]]\non = "program change"\nnumber = 3\nlong = "undo"', 4, "cannot have long"),
        (PRESS + 'command = "undo"\n\n' + PRESS + 'channel = 2\ncommand = "redo"', 8, "has a switch already"),
    ],
)  # fmt: skip
def test_a_bad_map_is_one_sentence_with_the_line(text: str, line: int | None, words: str) -> None:
    with pytest.raises(UserError) as caught:
        controls_from_toml(text, "feet.toml")
    sentence = str(caught.value)
    assert words in sentence
    assert sentence.startswith("feet.toml") and sentence.endswith(".") and "\n" not in sentence
    if line is not None:
        assert f"line {line}:" in sentence
