"""The ui: what the player's keys do to the window and ask of the engine."""

from pathlib import Path
from typing import Any

import pytest

from loopdeck.midi.control_files import load_controls
from loopdeck.protocol.messages import Command, KeyPlayed, MixerChanged
from loopdeck.window import briefpage, keys
from loopdeck.window.panels import PANELS
from loopdeck.window.ui_state import Cursors, UiState
from tests.unit.window_tools import CYCLE_Q, Told, brief, levels_told, press, row, scene, sec, written


def command(name: str, /, **args: Any) -> list[Command]:
    return [Command(name=name, args=args)]


def test_letter_keys_play_and_end_their_notes() -> None:
    told, ui = Told(), UiState()
    z = keys.ROWS[0][0]
    assert ui.press(z, False, told.view, 1.0) == [
        KeyPlayed(pitch=28, on=True, velocity=keys.VELOCITY, played_sec=1.0, string=4)
    ]
    assert ui.press(z, False, told.view, 1.1) == [], "a key that is down does not begin again"
    ui.press(keys.CODES["F1"], False, told.view, 1.2)
    assert ui.release(z, 1.5) == [KeyPlayed(pitch=28, on=False, velocity=0, played_sec=1.5, string=4)], (
        "a note ends although a page was opened"
    )


def test_silence_ends_the_notes_that_letter_keys_hold() -> None:
    told, ui = Told(), UiState()
    z = keys.ROWS[0][0]
    ui.press(z, False, told.view, 1.0)
    sent = press(ui, told, "Esc")
    assert [type(one).__name__ for one in sent] == ["KeyPlayed", "Command"] and not sent[0].on
    assert ui.release(z, 3.0) == [], "it has ended already"


def test_letter_keys_are_silent_beside_an_instrument_until_switched_on() -> None:
    told, ui = Told(), UiState()
    told.devices(("in", "pickup", "connected"))
    z = keys.ROWS[0][0]
    assert ui.press(z, False, told.view, 1.0) == []
    ui.press(keys.CODES["Corner"], False, told.view, 1.1)
    assert len(ui.press(z, False, told.view, 1.2)) == 1
    assert [one.on for one in ui.press(keys.CODES["Corner"], False, told.view, 1.3)] == [False]


def test_every_command_key_sends_its_command() -> None:
    told = Told()
    for binding in keys.BINDINGS:
        if binding.act.startswith("window-"):
            continue
        shift, _, name = binding.key.rpartition("+")
        sent = UiState().press(keys.CODES[name], bool(shift), told.view, 0.0)
        assert [one.name for one in sent] == [binding.act], binding


def test_a_layer_is_chosen_muted_soloed_and_deleted() -> None:
    told, ui = Told(), UiState()
    told.layers(row(1), row(2))
    assert press(ui, told, "Left") == command("mute")
    assert press(ui, told, "Delete") == command("clear")
    assert press(ui, told, "Home") == [], "solo needs a layer"
    press(ui, told, "Down"), press(ui, told, "Down")
    # The oldest as well as the newest.
    assert ui.chosen == 1
    assert press(ui, told, "Left") == command("mute", layer=1)
    assert press(ui, told, "Home") == command("solo", layer=1)
    assert press(ui, told, "Delete") == command("delete", layer=1)
    press(ui, told, "Down")
    assert ui.chosen is None


def test_a_name_is_for_the_passes_of_the_moment_it_was_asked_for() -> None:
    told, ui = Told(), UiState()
    told.clock(pass_index=3)
    press(ui, told, "F8", at_sec=sec(3 * CYCLE_Q + 1))
    told.clock(pass_index=5)
    ui.typed("tide gate")
    assert press(ui, told, "Enter", at_sec=sec(5 * CYCLE_Q + 1)) == command("keep", passes=1, name="tide gate", last=3)
    press(ui, told, "F8", at_sec=sec(6 * CYCLE_Q - 0.1))
    assert press(ui, told, "Enter") == command("keep", passes=1, name="", last=6), "its last half beat"
    for more in ({"pass_index": 0}, {"pass_index": 4, "running": False, "state": "STOPPED"}):
        told.clock(**more)
        press(ui, told, "F8", at_sec=sec(1.0))
        assert press(ui, told, "Enter") == command("keep", passes=1, name="")


def test_a_step_that_goes_nowhere_does_nothing() -> None:
    told = Told()
    for page in ("", "brief", "sound", "pedals"):
        ui = UiState(page=page)
        for act in ("window-line", "window-value"):
            assert ui.asked(act, {"step": 0}, told.view, 0.0) == []
        assert ui.page == page and ui.cursors == Cursors()


def test_a_foot_sends_the_line_that_is_being_typed() -> None:
    told, ui = (
        Told(),
        UiState(page="brief", cursors=Cursors(brief_line=[line.field for line in briefpage.LINES].index("tempo"))),
    )
    press(ui, told, "Enter")
    ui.typed("104")
    assert ui.asked("window-enter", {}, told.view, 0.0) == command("brief", fields={"tempo": "104"})
    assert ui.entry is None and ui.page == "brief"


def test_words_to_vary_by_are_offered_again_to_be_corrected() -> None:
    told, ui = Told(), UiState()
    told.layers(row(1))
    press(ui, told, "Pause")
    assert press(ui, told, "Enter") == [] and ui.entry is None, "nothing was typed"
    press(ui, told, "Pause")
    ui.typed("octave -l")
    assert press(ui, told, "Enter") == command("vary", how="octave -l")
    press(ui, told, "Pause")
    press(ui, told, "Backspace")
    ui.typed("1")
    assert press(ui, told, "Enter") == command("vary", how="octave -1")


def test_leaving_takes_two_presses() -> None:
    told, ui = Told(), UiState()
    press(ui, told, "F12", at_sec=0.0)
    assert not ui.quit
    press(ui, told, "F12", at_sec=9.0)
    assert not ui.quit, "the second press came too late"
    press(ui, told, "F12", at_sec=10.0)
    assert ui.quit


def test_the_question_that_waits_longest_is_answered_first() -> None:
    told, ui = Told(), UiState()
    assert press(ui, told, "F5", shift=True) == [], "nothing waits"
    told.ask("one", "One?")
    told.ask("two", "Two?")
    told.say("The pickup is connected.", at_sec=1.0)
    assert told.view.waiting().text == "One?", "a sentence does not push it aside"  # type: ignore[union-attr]
    assert press(ui, told, "F5", shift=True, at_sec=60.0) == command("keep-last-session")
    assert told.view.waiting().text == "Two?"  # type: ignore[union-attr]
    assert press(ui, told, "F8", shift=True) == command("leave-last-session")
    assert told.view.waiting() is None


def test_panels_turn_by_key_and_what_is_biggest_too() -> None:
    told, ui = Told(), UiState()
    told.clock()
    foot = []
    for _ in range(len(PANELS) + 1):
        foot.append(next(text for text, _ in written(told.view, 1.0, ui) if text.startswith("F3")))
        press(ui, told, "F3")
    names = [one.name for one in PANELS]
    assert [text.split()[1] for text in foot] == [*names[1:], names[0], names[1]]
    turned = [ui.biggest]
    for _ in range(3):
        press(ui, told, "F4", shift=True)
        turned.append(ui.biggest)
    assert turned == ["fret", "name", "degree", "fret"]


def test_help_turns_its_pages_and_closes() -> None:
    told, ui = Told(), UiState()
    pages = []
    for _ in range(4):
        press(ui, told, "F1")
        pages.append((ui.page, ui.cursors.help_page))
    assert pages == [("help", 0), ("help", 1), ("help", 2), ("", 2)]


# ---- the brief page ------------------------------------------------------------------------------


def test_every_line_of_the_brief_steps_to_values_a_brief_takes() -> None:
    """Whatever line and direction: what a step sends is what a brief accepts, again and again."""
    for line in briefpage.LINES:
        for by in (1, -1):
            for big in (False, True):
                one = brief()
                for _ in range(40):
                    value = briefpage.step(line.field, one.to_dict()[line.field], by, big)
                    if line.field == "tempo" and not 20 <= float(value) <= 400:
                        break
                    one = one.replace(**{line.field: value})


def test_steps_of_tempo_keep_its_unit() -> None:
    assert briefpage.step("tempo", "8th=184", 1, False) == "8th=185"
    assert briefpage.step("tempo", "96", -1, True) == "86"
    assert briefpage.step("swing", "2:1", 1, False) == "68%"
    assert briefpage.step("swing", "straight 1/8", 1, True) == "55% 1/8"
    assert briefpage.step("scale", "E dorian", 1, True) == "A dorian"


def test_typing_a_line_sends_it_and_letters_do_not_play() -> None:
    told, ui = Told(), UiState(page="brief", cursors=Cursors(brief_line=1))
    press(ui, told, "Enter")
    assert ui.press(keys.ROWS[0][0], False, told.view, 0.0) == []
    for _ in range(20):
        press(ui, told, "Backspace")
    ui.typed("7/8")
    assert press(ui, told, "Enter") == command("brief", fields={"cycle": "7/8"})
    assert ui.entry is None


def test_what_is_typed_takes_the_place_of_the_value_in_force() -> None:
    """Unless Backspace edits it; a key comes before the letter it means, as in the window."""
    told, ui = Told(), UiState(page="brief", cursors=Cursors(brief_line=1))
    press(ui, told, "Enter")
    assert ui.entry is not None and ui.entry.text == "4/4 4+3/8"
    for letter in "7/8":
        ui.press(keys.ROWS[0][6], False, told.view, 0.0)
        ui.typed(letter)
    assert press(ui, told, "Enter") == command("brief", fields={"cycle": "7/8"})
    press(ui, told, "Enter")
    press(ui, told, "Backspace")
    ui.typed("8")
    assert press(ui, told, "Enter") == command("brief", fields={"cycle": "4/4 4+3/8"})


def test_a_mistyped_value_stays_to_be_mended() -> None:
    told, ui = Told(), UiState(page="brief", cursors=Cursors(brief_line=0))
    press(ui, told, "Enter")
    press(ui, told, "Backspace", shift=True)
    ui.typed("9o")
    assert press(ui, told, "Enter") == []
    assert ui.entry is not None and ui.entry.text == "9o" and "9o" in ui.entry.wrong
    line = [text for text, _ in written(told.view, 1.0, ui)]
    assert any(text.startswith("tempo: 9o") for text in line), "what was typed is still there"
    press(ui, told, "Backspace")
    assert ui.entry.wrong == "", "the sentence goes when the line changes"
    ui.typed("0")
    assert press(ui, told, "Enter") == command("brief", fields={"tempo": "90"})


# ---- the sound page ------------------------------------------------------------------------------


def test_the_sound_page_sets_what_is_chosen() -> None:
    told, ui = Told(), UiState()
    told.layers(row(2), row(15))
    told.hear(levels_told())
    assert press(ui, told, "F2", shift=True) == [] and ui.page == "sound"
    assert press(ui, told, "Left") == command("level", part="master", by=-1.0)
    press(ui, told, "Down")
    assert press(ui, told, "Right", shift=True) == command("level", part="click", by=6.0)
    press(ui, told, "Up"), press(ui, told, "Up")
    assert press(ui, told, "Enter") == command("sound-mute", part="layer 15")
    # The letter keys go on playing.
    assert isinstance(ui.press(keys.ROWS[0][0], False, told.view, 0.0)[0], KeyPlayed)
    told.layers()
    assert press(ui, told, "Enter") == command("sound-mute", part="master"), "the layer that was chosen has gone"
    assert press(ui, told, "Esc") == [] and ui.page == ""


def test_the_lines_of_the_sound_page() -> None:
    told = Told()
    assert told.view.gear.sound_lines(told.view.layers) == [] and told.view.gear.levels.why.endswith(".")
    told.hear(levels_told(**{"layer:1": (-3.0, False), "live": (0.0, True)}))
    told.layers(row(1), row(2, muted=True), row(15))
    lines = {line.title: line for line in told.view.gear.sound_lines(told.view.layers)}
    assert list(lines) == ["everything", "click", "drums", "your playing", "layer 1", "layer 2", "layer 15"]
    # Layer 15 sits where layer 1 does; a layer's mute is the looper's.
    assert lines["layer 1"].db == lines["layer 15"].db == -3.0 and lines["layer 15"].words == "with layer 1"
    assert lines["layer 2"].words == "MUTED" and not lines["layer 2"].heard and lines["layer 1"].words == ""
    # Muted in the mixer, it still goes out by MIDI.
    assert lines["drums"].words == lines["your playing"].words == "MIDI only" and lines["click"].words == "MUTED"
    assert (told.view.gear.levels.share(-60.0), told.view.gear.levels.share(12.0)) == (0.0, 1.0)


def test_the_sound_page_shows_the_chosen_line_however_many_there_are() -> None:
    view = scene()
    told = Told()
    told.view = view
    told.layers(*(row(n) for n in range(1, 40)))
    for part in ("master", "layer 20", "layer 39"):
        texts = [text for text, _ in written(view, 1.0, UiState(page="sound", cursors=Cursors(sound_part=part)))]
        assert {"master": "everything"}.get(part, part) in texts
        assert any("hearing" in text for text in texts)
        shown = sum(
            text.startswith("layer ") or text in ("everything", "click", "drums", "your playing") for text in texts
        )
        hidden = sum(
            int(text.split()[1]) for text in texts if text.startswith("and ") and "more" in text and text[-1] in "ew"
        )
        assert shown + hidden == 43


def test_a_session_without_sound_says_why_on_the_page() -> None:
    told, ui = Told(), UiState(page="sound")
    told.hear(MixerChanged(device="", why="No sound device could be opened; everything else goes on."))
    texts = [text for text, _ in written(told.view, 1.0, ui)]
    assert "No sound device could be opened; everything else goes on." in texts
    assert press(ui, told, "Right") == []


def test_a_pedal_turns_the_panel() -> None:
    told, ui = Told(), UiState()
    assert ui.asked("window-panel", {"step": 1}, told.view, 0.0) == [] and ui.panel == 1
    told.layers(row(1), row(2))
    ui.asked("window-choose", {"step": 1}, told.view, 0.0)
    assert ui.chosen == 2
    assert ui.asked("window-solo", {}, told.view, 0.0) == command("solo", layer=2)
    ui.asked("window-leave", {}, told.view, 0.0)
    ui.asked("window-leave", {}, told.view, 0.1)
    assert not ui.quit, "no slip of the foot ends a session"


def test_a_control_map_may_name_what_the_window_does(tmp_path: Path) -> None:
    path = tmp_path / "feet.toml"
    path.write_text(
        'name = "feet"\n[[control]]\non = "control change"\nnumber = 84\n'
        'short = { command = "window-panel", args = { step = 1 } }\n'
    )
    load_controls(path)
    path.write_text(path.read_text().replace("window-panel", "window-leave"))
    with pytest.raises(ValueError, match="window-leave"):
        load_controls(path)


def test_a_scale_steps_on_from_what_its_player_called_it() -> None:
    assert briefpage.step("scale", "A natural minor", 1, False) == briefpage.step("scale", "A aeolian", 1, False)
    assert briefpage.step("scale", "A natural minor", 1, True) == "D natural minor"
    assert briefpage.shown("strength", 80) == "80 %" and briefpage.shown("tempo", "96") == "96"


def test_theme_and_full_screen_turn_once_for_each_press() -> None:
    told, ui = Told(), UiState()
    press(ui, told, "F4"), press(ui, told, "F11")
    assert ui.take_turns() == {"theme": 1, "full": 1}
    assert not any(ui.take_turns().values())
