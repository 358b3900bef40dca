"""The view: messages in, what is drawn out; and the drawing's promises, text within its section and none over another."""

import os

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.protocol.messages import Bye, Command, KeyPlayed
from loopdeck.window import briefpage, keys
from loopdeck.window.desk import Desk
from loopdeck.window.layout import Box, layout
from loopdeck.window.marks import just_noticed_ms
from loopdeck.window.paint import Painter
from loopdeck.window.picture import picture
from loopdeck.window.text import Pen
from loopdeck.window.theme import PAPER, SLATE, contrast
from loopdeck.window.view import View
from loopdeck.window.words import pretty_degree, pretty_note, pretty_scale, pretty_tempo
from tests.unit.told import message, question

QPM = 96.0
CYCLE_Q = 7.5


def brief(**texts: str) -> Brief:
    return Brief.default().replace(**({"tempo": "96", "cycle": "4/4 4+3/8", "scale": "E dorian"} | texts))


class Told:
    """A view and the messages it was told."""

    def __init__(self, **texts: str) -> None:
        self.view = View()
        self.say("brief", **brief(**texts).to_dict())
        self.count = 0

    def say(self, kind: str, **data: Any) -> None:
        self.view.receive(message(kind, **data))

    def clock(self, state: str = "LISTENING", pass_index: int = 0, running: bool = True, **more: Any) -> None:
        data = {
            "state": state, "next": "", "anchor_sec": 0.0, "anchor_q": 0.0, "qpm": QPM, "cycle": "4/4 4+3/8",
            "pass_start_q": max(pass_index, 0) * CYCLE_Q, "cycle_q": CYCLE_Q, "running": running, "pass": pass_index,
        }  # fmt: skip
        self.say("clock", **(data | more))

    def note(
        self, pitch: int, at_q: float, slot_q: float | None = None, length_q: float | None = 0.4, **more: Any
    ) -> int:
        data: dict[str, Any] = {
            "id": self.count, "pass": 0, "at_q": at_q, "slot": 0, "slot_q": at_q if slot_q is None else slot_q, "pitch": pitch,
            "velocity": 90, "channel": 0, "string": 0, "stamp_sec": at_q * 60 / QPM,
        }  # fmt: skip
        self.say("note_on", **(data | more))
        if length_q is not None:
            self.say("note_off", id=self.count, length_q=length_q)
        self.count += 1
        return self.count - 1


def sec(quarters: float) -> float:
    return quarters * 60 / QPM


# ---- notes --------------------------------------------------------------------------------------------------------------------


def test_names_degrees_and_what_left_the_scale() -> None:
    """E dorian is E F# G A B C# D (the second mode of D major)."""
    told = Told()
    told.clock()
    for index, pitch in enumerate((28, 30, 31, 39, 37)):
        told.note(pitch, index * 0.5)
    this, before = told.view.shown(sec(3.0))
    assert [(m.name, m.degree, m.root, m.outside) for m in this] == [
        ("E", "R", True, False),
        ("F♯", "2", False, False),
        ("G", "♭3", False, False),
        (this[3].name, this[3].degree, False, True),
        ("C♯", "6", False, False),
    ]
    assert this[3].name in ("D♯", "E♭") and this[3].degree == "7?"
    assert before == []


def test_without_a_scale_nothing_is_judged() -> None:
    told = Told(scale="")
    told.clock()
    told.note(39, 0.0)
    assert not told.view.last.outside and told.view.last.degree == ""


def test_a_new_scale_judges_anew() -> None:
    told = Told()
    told.clock()
    told.note(39, 0.0)
    assert told.view.last.outside
    told.say("brief", **brief(scale="E ionian").to_dict())
    assert not told.view.last.outside


def test_what_is_heard_as_early_or_late() -> None:
    """Friberg & Sundberg 1995: 6 ms below 240 ms, 2.5 % of the interval above: 7.8 ms for an eighth at 96 (312.5 ms)."""
    assert just_noticed_ms(156.25) == 6.0
    assert just_noticed_ms(240.0) == 6.0
    assert just_noticed_ms(312.5) == pytest.approx(7.8125)
    told = Told()
    told.clock()
    ms = QPM / 60_000
    told.note(28, 0.0)
    told.note(28, 0.5 + 7.7 * ms, 0.5)
    assert told.view.last.heard == ""
    told.note(28, 1.0 + 7.9 * ms, 1.0)
    assert told.view.last.heard == "late"
    # A sixteenth after it (156 ms) less is enough.
    told.note(28, 1.25 - 6.2 * ms, 1.25)
    assert told.view.last.heard == "early"
    assert told.view.last.offset_ms == pytest.approx(-6.2)


def test_lanes_are_strings() -> None:
    """Open strings of the four-string bass: G2 43, D2 38, A1 33, E1 28."""
    told = Told()
    told.clock()
    assert told.view.lanes.labels == ("G", "D", "A", "E")
    for pitch, lane in ((28, 3), (32, 3), (33, 2), (38, 1), (43, 0), (60, 0), (20, 3), (100, 0)):
        told.note(pitch, 0.5 * told.count)
        assert told.view.last.lane == lane, pitch
    told.note(43, 5.0, string=2)
    assert told.view.last.lane == 1, "the string it came on comes first"


def test_a_chord_takes_a_string_for_each_note() -> None:
    told = Told()
    told.clock()
    told.note(40, 0.0)
    told.note(47, 0.01)
    told.note(41, 0.02)
    lanes = [mark.lane for mark in told.view.notes[0]]
    assert len(set(lanes)) == 3


def test_pitch_lanes_hold_every_pitch() -> None:
    told = Told()
    told.clock()
    told.view.set_lanes("pitches")
    assert told.view.lanes.labels[-1] == "E" and len(told.view.lanes.labels) == 12
    for pitch in range(128):
        told.note(pitch, 0.0)
        assert told.view.lanes.classes[told.view.last.lane] == pitch % 12


def test_this_pass_the_one_before_and_the_early_downbeat() -> None:
    told = Told()
    told.clock()
    first = told.note(28, 1.0)
    early = told.note(28, -0.05, 0.0, **{"pass": 1})
    assert [m.id for m in told.view.shown(sec(7.4))[0]] == [first]
    assert [m.id for m in told.view.early_next(sec(7.4))] == [early]
    told.clock(pass_index=1)
    this, before = told.view.shown(sec(7.6))
    assert [m.id for m in this] == [early] and [m.id for m in before] == [first]
    told.clock(pass_index=4)
    assert told.view.shown(sec(4 * 7.5 + 1)) == ([], []), "older passes are forgotten"
    assert not told.view.notes


def test_memory_stays_small_over_a_long_session() -> None:
    told = Told()
    for pass_index in range(300):
        told.clock(pass_index=pass_index)
        for _ in range(20):
            told.note(28, 1.0, **{"pass": pass_index})
    assert sum(len(notes) for notes in told.view.notes.values()) <= 60
    assert len(told.view._by_id) <= 60
    told.clock("STOPPED", 299, running=False)
    for index in range(2000):
        told.note(28, 0.0, **{"pass": -1, "stamp_sec": 100 + index * 0.2})
    assert len(told.view.notes[-1]) < 100


def test_free_playing_is_laid_out_by_its_time_and_not_judged() -> None:
    told = Told()
    told.clock("STOPPED", -1, running=False)
    told.note(28, 0.0, **{"pass": -1, "stamp_sec": 10.0})
    told.note(30, 0.0, **{"pass": -1, "stamp_sec": 10.0 + sec(1.3)})
    assert told.view.last.at_q == pytest.approx(1.3) and told.view.last.heard == ""
    assert len(told.view.shown(10.0 + sec(2.0))[0]) == 2
    assert len(told.view.shown(10.0 + sec(8.0))[1]) == 2, "a page later they are the page before"


# ---- the rest -----------------------------------------------------------------------------------------------------------------


def test_layers_say_their_state_in_words() -> None:
    told = Told()
    rows = [
        {"number": 1, "muted": False, "sounding": True, "notes": 3},
        {"number": 2, "muted": True, "sounding": False, "notes": 1},
        {"number": 3, "muted": False, "sounding": False, "notes": 1},
    ]
    told.say("layers", layers=rows)
    assert [row.word for row in told.view.layers] == ["SOUNDING", "MUTED", "READY"]


def test_one_message_at_a_time_and_it_goes() -> None:
    told = Told()
    told.say("say", text="One.", wrong=False)
    told.say("say", text="Two.", wrong=True)
    assert told.view.message(1.0).text == "Two."
    assert told.view.message(60.0) is None
    told.say("questions", questions=[question("There is an unfinished session.")])
    assert told.view.message(60.0).text.startswith("There is an unfinished session.")
    assert Desk().press(keys.CODES["F5"], True, told.view, 61.0) == [Command(name="recover")]
    assert told.view.message(62.0) is None
    told.view.lose_engine("The engine has ended.")
    told.say("say", text="Three.")
    assert told.view.message(0.0).text == "The engine has ended."


def test_messages_without_use_are_ignored() -> None:
    view = View()
    view.receive(Bye())
    view.receive(message("note_off", id=9, length_q=1.0))


def test_a_fresh_engine_starts_from_nothing() -> None:
    told = Told()
    told.clock()
    told.note(28, 0.0)
    told.say("layers", layers=[{"number": 1, "muted": False, "sounding": True, "notes": 3}])
    told.view.lose_engine("Gone.")
    told.say("hello")
    assert not told.view.engine_lost and not told.view.layers and not told.view.notes


# ---- the desk -----------------------------------------------------------------------------------------------------------------


def test_letter_keys_play_and_end_their_notes() -> None:
    told, desk = Told(), Desk()
    z = keys.ROWS[0][0]
    assert desk.press(z, False, told.view, 1.0) == [
        KeyPlayed(pitch=28, on=True, velocity=keys.VELOCITY, played_sec=1.0, string=4)
    ]
    assert desk.press(z, False, told.view, 1.1) == [], "a key that is down does not begin again"
    desk.press(keys.CODES["F1"], False, told.view, 1.2)
    assert desk.release(z, 1.5) == [KeyPlayed(pitch=28, on=False, played_sec=1.5, string=4)], (
        "a note ends although a page was opened"
    )


def test_letter_keys_are_silent_beside_an_instrument_until_switched_on() -> None:
    told, desk = Told(), Desk()
    told.say("devices", devices=[{"role": "in", "name": "pickup", "state": "connected"}])
    z = keys.ROWS[0][0]
    assert desk.press(z, False, told.view, 1.0) == []
    desk.press(keys.CODES["Corner"], False, told.view, 1.1)
    assert len(desk.press(z, False, told.view, 1.2)) == 1
    assert [one.on for one in desk.press(keys.CODES["Corner"], False, told.view, 1.3)] == [False]


def test_every_command_key_sends_its_command() -> None:
    told = Told()
    for binding in keys.BINDINGS:
        if binding.act.startswith("window-"):
            continue
        shift, _, name = binding.key.rpartition("+")
        sent = Desk().press(keys.CODES[name], bool(shift), told.view, 0.0)
        assert [one.name for one in sent if isinstance(one, Command)] == [binding.act], binding


def test_a_layer_is_chosen_and_muted() -> None:
    told, desk = Told(), Desk()
    told.say("layers", layers=[{"number": n, "muted": False, "sounding": True, "notes": 3} for n in (1, 2)])
    left = keys.CODES["Left"]
    assert desk.press(left, False, told.view, 0.0)[0].args == {"layer": "all"}
    desk.press(keys.CODES["Down"], False, told.view, 0.0)
    assert desk.press(left, False, told.view, 0.0)[0].args == {"layer": 2}
    desk.press(keys.CODES["Down"], False, told.view, 0.0)
    desk.press(keys.CODES["Down"], False, told.view, 0.0)
    assert desk.chosen is None


def test_leaving_takes_two_presses() -> None:
    told, desk = Told(), Desk()
    desk.press(keys.CODES["F12"], False, told.view, 0.0)
    assert not desk.quit
    desk.press(keys.CODES["F12"], False, told.view, 9.0)
    assert not desk.quit, "the second press came too late"
    desk.press(keys.CODES["F12"], False, told.view, 10.0)
    assert desk.quit


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
    told, desk = Told(), Desk(page="brief", brief_line=1)
    press = lambda name: desk.press(keys.CODES[name], False, told.view, 0.0)  # noqa: E731
    press("Enter")
    assert desk.press(keys.ROWS[0][0], False, told.view, 0.0) == []
    for _ in range(20):
        press("Backspace")
    desk.typed("7/8")
    assert press("Enter") == [Command(name="brief", args={"fields": {"cycle": "7/8"}})]
    assert desk.entry is None


# ---- the sound page -----------------------------------------------------------------------------------------------------------


def levels_told(**changed: tuple[float, bool]) -> dict[str, Any]:
    parts = ["master", "click", "drums", "live", *(f"layer:{n}" for n in range(1, 15))]
    ways = {"master": "", "live": "both", "drums": "midi"}
    return {
        "device": "a box", "why": "", "lowest": -60.0, "highest": 12.0,
        "parts": [
            {"part": part, "db": changed.get(part, (-18.0, False))[0], "muted": changed.get(part, (0.0, part == "click"))[1],
             "way": ways.get(part, "sound")}
            for part in parts
        ],
    }  # fmt: skip


def press(desk: Desk, told: Told, name: str, shift: bool = False) -> list[Any]:
    return desk.press(keys.CODES[name], shift, told.view, 0.0)


def test_the_sound_page_sets_what_is_chosen() -> None:
    told, desk = Told(), Desk()
    told.say("layers", layers=[{"number": n, "muted": False, "sounding": True, "notes": 1} for n in (2, 15)])
    told.say("levels", **levels_told())
    assert press(desk, told, "F2", shift=True) == [] and desk.page == "sound"
    assert press(desk, told, "Left") == [Command(name="level", args={"part": "master", "by": -1.0})]
    press(desk, told, "Down")
    assert press(desk, told, "Right", shift=True) == [Command(name="level", args={"part": "click", "by": 6.0})]
    press(desk, told, "Up"), press(desk, told, "Up")
    assert press(desk, told, "Enter") == [Command(name="sound-mute", args={"part": "layer 15"})]
    # The letter keys go on playing.
    assert desk.press(keys.ROWS[0][0], False, told.view, 0.0)[0].pitch > 0
    told.say("layers", layers=[])
    assert press(desk, told, "Enter")[0].args == {"part": "master"}, "the layer that was chosen has gone"
    assert press(desk, told, "Esc") == [] and desk.page == ""


def test_the_lines_of_the_sound_page() -> None:
    told = Told()
    assert told.view.sound_lines() == [] and told.view.levels.why.endswith(".")
    told.say("levels", **levels_told(**{"layer:1": (-3.0, False), "live": (0.0, True)}))
    told.say("layers", layers=[{"number": n, "muted": n == 2, "sounding": True, "notes": 1} for n in (1, 2, 15)])
    lines = {line.title: line for line in told.view.sound_lines()}
    assert list(lines) == ["everything", "click", "drums", "your playing", "layer 1", "layer 2", "layer 15"]
    # Layer 15 sits where layer 1 does; a layer's mute is the looper's.
    assert lines["layer 1"].db == lines["layer 15"].db == -3.0 and lines["layer 15"].words == "with layer 1"
    assert lines["layer 2"].words == "MUTED" and not lines["layer 2"].heard and lines["layer 1"].words == ""
    # Muted in the mixer, it still goes out by MIDI.
    assert lines["drums"].words == lines["your playing"].words == "MIDI only" and lines["click"].words == "MUTED"
    assert (told.view.levels.share(-60.0), told.view.levels.share(12.0)) == (0.0, 1.0)


def test_the_sound_page_shows_the_chosen_line_however_many_there_are() -> None:
    view = scene()
    told = Told()
    told.view = view
    told.say("layers", layers=[{"number": n, "muted": False, "sounding": True, "notes": 1} for n in range(1, 40)])
    for part in ("master", "layer 20", "layer 39"):
        pen = Pen()
        pen.log, pen.log_size = [], (1280, 720)
        picture(view, 1.0, desk=Desk(page="sound", sound_part=part), pen=pen)
        written = [text for text, _ in pen.log]
        assert {"master": "everything"}.get(part, part) in written
        assert any("hearing" in text for text in written)
        shown = sum(
            text.startswith("layer ") or text in ("everything", "click", "drums", "your playing") for text in written
        )
        hidden = sum(
            int(text.split()[1]) for text in written if text.startswith("and ") and "more" in text and text[-1] in "ew"
        )
        assert shown + hidden == 43


def test_a_session_without_sound_says_why_on_the_page() -> None:
    told, desk = Told(), Desk(page="sound")
    told.say("levels", device="", why="No sound device could be opened; everything else goes on.", parts=[])
    pen = Pen()
    pen.log, pen.log_size = [], (1280, 720)
    picture(told.view, 1.0, desk=desk, pen=pen)
    assert "No sound device could be opened; everything else goes on." in [text for text, _ in pen.log]
    assert press(desk, told, "Right") == []


# ---- the drawing --------------------------------------------------------------------------------------------------------------


def scene(strings: str = "standard") -> View:
    """A full window: layers, keeps, devices, a wrong note, an early and a late one."""
    told = Told(tuning=strings, swing="58%")
    told.clock("LAYERING", next="LISTENING at the next cycle")
    for index, pitch in enumerate((28, 31, 33, 39, 38, 37, 42, 45, 51, 28)):
        told.note(pitch, index * 0.7 + 0.03 * (index % 3 - 1), index * 0.7)
    told.note(40, 7.2, length_q=None)
    rows = [{"number": n, "muted": n % 2 == 0, "sounding": n % 2 == 1, "notes": 9} for n in range(1, 12)]
    told.say("layers", layers=rows)
    for row in rows:
        told.say("layer", number=row["number"], notes=[[k * 0.5, 0.2, 30 + k * 3 % 17] for k in range(14)])
    for number in range(1, 7):
        told.say(
            "kept",
            number=number,
            name="a name that is far too long for its place",
            when="14:02",
            passes=4,
            rating=number % 6,
        )
    told.say("devices", devices=[
        {"role": "in", "name": "hexaphonic pickup, port 1", "state": "connected"},
        {"role": "out", "name": "a sound module with a long name", "state": "not found, looking"},
        {"role": "controls", "name": "pedal board", "state": "none"},
    ])  # fmt: skip
    told.say("say", text="A sentence that is so long that it has to be written on two lines at the foot of the window, or else be cut off "
             "somewhere, which would be a pity, since what was wrong should be read to its end.", wrong=True)  # fmt: skip
    told.say("levels", **levels_told())
    return told.view


@settings(max_examples=60, deadline=None)
@given(
    st.integers(800, 2560),
    st.integers(450, 1440),
    st.sampled_from(["", "help", "brief", "sound"]),
    st.sampled_from(["standard", "five-string", "six-string"]),
    st.sampled_from(["strings", "pitches"]),
)
def test_text_stays_in_its_section_and_off_other_text(
    width: int, height: int, page: str, strings: str, lanes: str
) -> None:
    view = scene(strings)
    view.set_lanes(lanes)
    pen = Pen()
    pen.log, pen.log_size = [], (width, height)
    picture(view, sec(7.3), (width, height), desk=Desk(page=page, brief_line=3), pen=pen)
    found = layout(width, height)
    window = found.window
    sections = [found.page] if page else []
    sections += [box for name, box in found.sections.items() if not page or not found.page.holds(box)]
    assert len(pen.log) > 15
    inks = [(text, ink) for text, ink in pen.log if ink.x > 0 or ink.y > 0]
    for text, ink in inks:
        assert window.holds(ink), (text, ink)
        assert any(box.holds(ink) for box in sections), (text, ink)
    texts = inks
    for index, (text, ink) in enumerate(texts):
        for other_text, other in texts[index + 1 :]:
            if text != other_text:
                assert not _shrunk(ink).overlaps(_shrunk(other)), (text, ink, other_text, other)


def _shrunk(box: Box) -> Box:
    """Without the pixel that rounding may add on each side."""
    return box.inset(1)


def test_help_names_every_key() -> None:
    pen = Pen()
    pen.log, pen.log_size = [], (1280, 720)
    picture(scene(), 1.0, desk=Desk(page="help"), pen=pen)
    written = [text for text, _ in pen.log]
    for binding in keys.BINDINGS:
        assert binding.words in written and keys.label(binding.key) in written, binding


def test_a_wrong_note_looks_different_in_grey() -> None:
    """The same note, in the scale and out of it: the pictures differ by shape, not only by hue."""
    import numpy as np
    import pygame

    def grey(surface: pygame.Surface) -> Any:
        return pygame.surfarray.array3d(surface).astype(float) @ [0.299, 0.587, 0.114]

    def left_edge(scale: str) -> float:
        """The share of the block's height over which its left edge is straight ink."""
        told = Told(scale=scale)
        told.clock()
        empty = grey(picture(told.view, sec(3.0)))
        told.note(39, 2.0)
        told.view.last = None
        changed = np.abs(grey(picture(told.view, sec(3.0))) - empty) > 40
        columns, rows = np.nonzero(changed)
        # Without the foot below it.
        block = changed[columns.min() :, rows.min() : rows.max() - 8]
        return float(block[:3].any(axis=0).mean())

    assert left_edge("E ionian") > 0.9, "a block"
    assert left_edge("E dorian") < 0.3, "a point"


def test_themes_can_be_read() -> None:
    """WCAG 2.1, 1.4.3: at least 4.5:1 for text; what is read from two metres has far more."""
    assert contrast((255, 255, 255), (0, 0, 0)) == pytest.approx(21.0)
    for theme in (PAPER, SLATE):
        assert contrast(theme.ink, theme.ground) >= 12
        assert contrast(theme.quiet, theme.ground) >= 4.5
        assert contrast(theme.ink, theme.shade) >= 7
        assert contrast(theme.now, theme.ground) >= 3, "WCAG 2.1, 1.4.11: graphics"


def test_names_are_written_as_musicians_write_them() -> None:
    assert pretty_note("Bb2") == "B♭" and pretty_note("Bb2", octave=True) == "B♭2"
    assert pretty_note("F##1") == "F♯♯" and pretty_note("Ebb3") == "E♭♭"
    assert pretty_degree("1") == "R" and pretty_degree("b7") == "♭7" and pretty_degree("#4") == "♯4"
    assert pretty_scale("Bb altered") == "B♭ altered"
    assert pretty_scale("E 1 b2 3 4 5 b6 b7") == "E 1 ♭2 3 4 5 ♭6 ♭7"
    assert pretty_tempo("96") == "♩ = 96" and pretty_tempo("8th=184") == "♪ = 184"
    assert pretty_tempo("dotted-quarter=120") == "♩. = 120"


def test_music_signs_have_shapes_of_their_own() -> None:
    """No box of a missing glyph: each sign's picture differs from the others and from a sign no font has."""
    pen = Pen()
    pictures = {sign: bytes(pen.piece(sign, 40, (0, 0, 0)).get_view("0").raw) for sign in "♭♯♩♪●○←→↑↓\uffff"}
    assert len(set(pictures.values())) == len(pictures)


def test_nothing_is_drawn_anew_while_nothing_changes() -> None:
    """A second frame at the same moment writes no text: what stands is kept."""
    import pygame

    pen = Pen()
    painter = Painter(PAPER, pen)
    surface, view, desk = pygame.Surface((1280, 720), 0, 32), scene(), Desk()
    painter.draw(surface, view, desk, sec(7.3))
    first = pygame.image.tobytes(surface, "RGB")
    pen.log, pen.log_size = [], (1280, 720)
    painter.draw(surface, view, desk, sec(7.3))
    assert len(pen.log) <= 1, "only the label of the shaded arch"
    assert pygame.image.tobytes(surface, "RGB") == first


ACTS = st.lists(
    st.one_of(
        st.tuples(st.just("wait"), st.integers(1, 40)),
        st.tuples(st.just("note"), st.integers(26, 60)),
        st.tuples(st.just("press"), st.sampled_from(["F1", "F2", "F3", "Down", "Up", "Left", "F7", "Esc", "Enter", "Corner"])),
        st.tuples(st.just("say"), st.integers(0, 9)),
        st.tuples(st.just("layers"), st.integers(0, 10)),
        st.tuples(st.just("state"), st.sampled_from(["LISTENING", "LAYERING", "STOPPED", "COUNTING IN"])),
        st.tuples(st.just("kept"), st.integers(1, 3)),
        st.tuples(st.just("lost"), st.booleans()),
    ),
    min_size=3,
    max_size=14,
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(ACTS)
def test_drawing_only_what_changed_gives_the_whole_picture(acts: list[tuple[str, Any]]) -> None:
    """Frame by frame on one surface, or at once on a fresh one: the same picture, to the pixel."""
    import pygame

    told, desk, painter = Told(), Desk(), Painter(PAPER)
    told.clock()
    surface = pygame.Surface((960, 540), 0, 32)
    now, pass_index = 0.3, 0
    for act, value in acts:
        if act == "wait":
            now += value / 10
            if now > sec(CYCLE_Q * (pass_index + 1)) and told.view.clock.running:
                pass_index = int(now / sec(CYCLE_Q))
                told.clock(pass_index=pass_index)
        elif act == "note":
            at_q = now / sec(1) - pass_index * CYCLE_Q
            where = pass_index if told.view.clock.running else -1
            told.note(value, at_q, round(at_q * 4) / 4, **{"pass": where, "stamp_sec": now})
        elif act == "press":
            desk.press(keys.CODES[value], False, told.view, now)
        elif act == "say":
            told.view.tell("A sentence. " * value, value > 5, now)
        elif act == "layers":
            rows = [{"number": n + 1, "muted": n % 2 == 1, "sounding": True, "notes": n} for n in range(value)]
            told.say("layers", layers=rows)
        elif act == "state":
            told.clock(value, pass_index, value != "STOPPED", **({"anchor_q": -4.0} if value == "COUNTING IN" else {}))
        elif act == "kept":
            told.say("kept", number=value, name="n" * value, when="14:02", passes=value, rating=value)
        elif value:
            told.view.lose_engine("The engine has ended.")
        else:
            told.say("hello")
        painter.draw(surface, told.view, desk, now)
        fresh = picture(told.view, now, (960, 540), desk=desk)
        assert pygame.image.tobytes(surface, "RGB") == pygame.image.tobytes(fresh, "RGB"), (act, value)
