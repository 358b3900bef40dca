"""The drawing's promises: text within its section and none over another, nothing smaller than it
may be, layers in sight.
"""

from itertools import pairwise
from typing import Any

import numpy as np
import pygame
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from loopdeck.protocol.messages import LayerRow, TakeKept, Welcome
from loopdeck.window import keys
from loopdeck.window.draw_notes import spots
from loopdeck.window.layout import SMALLEST, TEXT, Box, layout
from loopdeck.window.note_view import NoteView, Spelling
from loopdeck.window.paint import Painter
from loopdeck.window.panels import PANELS
from loopdeck.window.panels.layers import state_and_notes
from loopdeck.window.picture import picture
from loopdeck.window.spelling import pretty_chord, pretty_degree, pretty_note, pretty_scale, pretty_tempo
from loopdeck.window.text import Pen
from loopdeck.window.theme import PAPER, SLATE, contrast
from loopdeck.window.ui_state import Cursors, UiState
from tests.unit.window_tools import CYCLE_Q, Told, row, scene, sec, sizes_written, written


def pixels(surface: pygame.Surface) -> Any:
    return np.transpose(pygame.surfarray.array3d(surface), (1, 0, 2))


def share(cut: Any, colour: tuple[int, int, int]) -> float:
    return float((cut == np.array(colour, np.uint8)).all(axis=2).mean())


@settings(max_examples=25, deadline=None)
@given(
    st.integers(800, 2560),
    st.integers(450, 1440),
    st.sampled_from(["", "help", "brief", "sound"]),
    st.sampled_from(["standard", "five-string", "six-string"]),
    st.sampled_from(["strings", "pitches"]),
    st.integers(0, len(PANELS) - 1),
    st.booleans(),
)
def test_text_stays_in_its_section_and_off_other_text(
    width: int, height: int, page: str, strings: str, lanes: str, turn: int, waiting: bool
) -> None:
    view = scene(strings, waiting)
    view.set_lanes(lanes)
    ui = UiState(page=page, panel=turn, cursors=Cursors(brief_line=3, help_page=turn % keys.HELP_PAGES))
    log = written(view, sec(7.3), ui, (width, height))
    found = layout(width, height, waiting)
    sections = [found.page] if page else []
    sections += [box for name, box in found.sections.items() if not page or not found.page.holds(box)]
    assert len(log) > 15
    # Bars of layers may lie over each other, and so may what is written on them.
    inks = [(text, ink) for text, ink in log if not found.lanes.holds(ink) or ink.x < found.time_left - 20]
    for text, ink in inks:
        assert found.window.holds(ink), (text, ink)
        assert any(box.holds(ink) for box in sections), (text, ink)
    for index, (text, ink) in enumerate(inks):
        for other_text, other in inks[index + 1 :]:
            if text != other_text:
                assert not _shrunk(ink).overlaps(_shrunk(other)), (text, ink, other_text, other)


def _shrunk(box: Box) -> Box:
    """Without the pixel that rounding may add on each side."""
    return box.inset(1)


@pytest.mark.parametrize("turn", range(len(PANELS)))
@pytest.mark.parametrize("page", ["", "help", "brief", "sound"])
def test_nothing_is_written_too_small_to_read(page: str, turn: int) -> None:
    """At 1280 x 720 nothing below 18 px; the header, the layers' words and the first word of each
    roomy note at least 28.
    """
    sizes = sizes_written(scene(waiting=True), sec(7.3), UiState(page=page, panel=turn, chosen=3))
    assert min(sizes.values()) >= SMALLEST, min(sizes, key=lambda text: sizes[text])
    if page != "brief":
        # There it stands a second time, among the lines of the page.
        assert sizes["E dorian"] >= TEXT
    if not page and turn == 0:
        assert sizes["SOUNDING"] >= TEXT


def test_help_names_every_key() -> None:
    texts = [
        text
        for page in range(keys.HELP_PAGES)
        for text, _ in written(scene(), 1.0, UiState(page="help", cursors=Cursors(help_page=page)))
    ]
    for binding in keys.BINDINGS:
        assert binding.words in texts and keys.label(binding.key) in texts, binding


# ---- the lanes -----------------------------------------------------------------------------------


def layered(*rows: LayerRow, ui: UiState | None = None) -> Any:
    """The lanes with these layers, each a note on another string; nothing is played."""
    told = Told()
    told.clock()
    told.layers(*rows)
    for one in rows:
        told.layer(one.number, (one.number * 1.5, 0.8, (43, 38, 33, 28)[one.number % 4]))
    lanes = layout(1280, 720).lanes
    return pixels(picture(told.view, sec(0.1), ui=ui))[lanes.y : lanes.bottom, lanes.x : lanes.right]


def test_every_layer_that_sounds_is_seen() -> None:
    empty = layered()
    shown = [row(1), row(2), row(3), row(4)]
    for count in range(1, 5):
        changed = (layered(*shown[:count]) != empty).any(axis=2)
        # A bar or a block for each of them, in its own lane and at its own time.
        columns = np.flatnonzero(changed.any(axis=0))
        groups = 1 + int((np.diff(columns) > 20).sum())
        assert groups == count, count


def test_notes_beyond_a_shorter_cycle_are_not_said_to_sound() -> None:
    told = Told()
    told.clock()
    told.layers(row(1, notes=2), row(2, notes=2), row(3, notes=1))
    for number, places in ((1, (0.0, 5.0)), (2, (4.0, 5.0)), (3, (1.0,))):
        told.layer(number, *((at_q, 0.5, 40) for at_q in places))
    told.brief(cycle="7/8")
    told.clock(cycle="7/8", cycle_q=3.5)
    found = [state_and_notes(one, told.view) for one in told.view.layers]
    assert found == [("SOUNDING", "1 of 2"), ("SILENT", "0 of 2"), ("SOUNDING", "1 note")]


def test_muted_layers_are_hollow() -> None:
    for ui, ink in ((UiState(chosen=2), PAPER.line), (UiState(chosen=1), PAPER.quiet)):
        full = share(layered(row(1), row(2), ui=ui), ink)
        hollow = share(layered(row(1, muted=True), row(2), ui=ui), ink)
        nothing = share(layered(row(2), ui=ui), ink)
        assert hollow - nothing < 0.6 * (full - nothing)


def test_the_chosen_layer_lies_in_front_with_its_words() -> None:
    told = Told()
    told.clock()
    told.layers(row(1), row(2))
    told.layer(1, (2.0, 1.0, 33))
    told.layer(2, (2.0, 1.0, 35))
    lanes = layout(1280, 720).lanes

    def shown(chosen: int | None) -> Any:
        cut = pixels(picture(told.view, sec(0.1), ui=UiState(chosen=chosen)))
        return cut[lanes.y : lanes.bottom, lanes.x : lanes.right]

    first, second = shown(1), shown(2)
    assert (first != second).any(axis=2).sum() > 100
    # A block of the quieter ink for the one in front either way.
    for cut in (first, second, shown(None)):
        assert share(cut, PAPER.quiet) > 0.004


def test_what_is_played_lies_over_the_layers_in_full_ink() -> None:
    told = Told()
    told.clock()
    told.layers(row(1))
    told.layer(1, (2.0, 1.0, 33))
    lanes = layout(1280, 720).lanes
    cut = slice(lanes.y, lanes.bottom)
    quiet = pixels(picture(told.view, sec(3.5)))[cut]
    told.note(33, 2.0)
    ink = pixels(picture(told.view, sec(3.5)))[cut]
    assert share(ink, PAPER.quiet) < share(quiet, PAPER.quiet), "it covers the layer's note"
    assert share(ink, PAPER.ink) > share(quiet, PAPER.ink) + 0.003


def test_early_and_late_bulge_to_their_side_and_the_more_the_wider() -> None:
    lanes = layout(1280, 720).lanes

    def reach(offset_ms: float) -> tuple[int, int]:
        """How far ink reaches to the left and the right of the same note on its slot, in pixels."""
        found = []
        for ms in (0.0, offset_ms):
            told = Told()
            told.clock()
            empty = pixels(picture(told.view, sec(5.0)))[lanes.y : lanes.bottom].copy()
            told.note(35, 3.0 + ms * 96 / 60_000, 3.0)
            told.view.played.last = None
            now = pixels(picture(told.view, sec(5.0)))[lanes.y : lanes.bottom]
            columns = np.flatnonzero((now != empty).any(axis=2).any(axis=0))
            found.append((int(columns.min()), int(columns.max())))
        return found[0][0] - found[1][0], found[1][1] - found[0][1]

    assert reach(4.0)[0] <= 1, "what cannot be heard is not drawn"
    early, more, late = reach(-18.0), reach(-30.0), reach(20.0)
    assert early[0] >= 10 and more[0] >= early[0] + 10
    assert late[1] >= 10 and late[0] < 0


def test_thirty_seconds_keep_their_first_word() -> None:
    """Thirty-seconds on one string, on pages of two bars of four: every note still says its fret,
    at 18 px or more.
    """
    from loopdeck.window import shapes

    told = Told(cycle="4/4 4/4")
    told.clock(cycle="4/4 4/4", cycle_q=8.0)
    for index in range(64):
        told.note(28 + index % 3 * 2, index / 8, length_q=0.1)
    heads: list[tuple[int, ...]] = []
    label = shapes.label

    def noted(canvas: Any, words: Any, height: int, room: int) -> Any:
        found = label(canvas, words, height, room)
        heads.append(tuple(piece.size for piece in found.pieces))
        return found

    shapes.label = noted  # type: ignore[assignment]
    try:
        picture(told.view, sec(7.99))
    finally:
        shapes.label = label
    assert heads and all(sizes and sizes[0] >= SMALLEST for sizes in heads)


def test_a_wrong_note_looks_different_in_grey() -> None:
    """The same note, in the scale and out of it: the pictures differ by shape, not only by hue."""

    def grey(surface: pygame.Surface) -> Any:
        return pygame.surfarray.array3d(surface).astype(float) @ [0.299, 0.587, 0.114]

    def left_edge(scale: str) -> float:
        """The share of the block's height over which its left edge is straight ink."""
        told = Told(scale=scale)
        told.clock()
        empty = grey(picture(told.view, sec(3.0)))
        told.note(39, 2.0)
        told.view.played.last = None
        changed = np.abs(grey(picture(told.view, sec(3.0))) - empty) > 40
        columns, rows = np.nonzero(changed)
        # Without the foot below it.
        block = changed[columns.min() :, rows.min() : rows.max() - 8]
        return float(block[:3].any(axis=0).mean())

    assert left_edge("E ionian") > 0.9, "a block"
    assert left_edge("E dorian") < 0.3, "a point"


# ---- words ---------------------------------------------------------------------------------------


def test_the_readout_names_chords_and_intervals() -> None:
    told = Told()
    told.clock()
    told.note(28, 0.0)
    told.note(35, 0.01)
    assert any(text.startswith("E5") for text, _ in written(told.view, sec(0.5), UiState()))
    told.note(28, 1.0)
    told.note(31, 1.01)
    assert "minor third" in [text for text, _ in written(told.view, sec(1.5), UiState())]


def test_the_first_ten_seconds_explain_themselves() -> None:
    told = Told()
    texts = " ".join(text for text, _ in written(told.view, 0.0, UiState()))
    for word in ("Z X C V", "E string", "Tab starts", "Space loops", "F1"):
        assert word in texts, word
    told.note(28, 0.0, pass_index=-1)
    texts = " ".join(text for text, _ in written(told.view, 0.1, UiState()))
    assert "Z X C V" not in texts, "gone with the first note"


def test_a_long_name_is_not_cut_off() -> None:
    told = Told()
    name = "the third idea of the evening, slow version"
    told.hear(TakeKept(number=1, name=name, when="14:02", passes=4))
    texts = [text for text, _ in written(told.view, 0.0, UiState())]
    assert not any(text.endswith("...") and "idea" in text for text in texts)
    assert name.split()[-1] in " ".join(texts)


def test_a_name_that_says_the_time_does_not_say_it_twice() -> None:
    told = Told()
    told.hear(TakeKept(number=1, name="14:02 quay steps", when="14:02", passes=4))
    assert "14:02 quay steps" in [text for text, _ in written(told.view, 0.0, UiState())]
    told.hear(TakeKept(number=2, name="session of 2026-11-26 13:40", when="14:05", passes=4))
    assert "session of 2026-11-26 13:40" in [text for text, _ in written(told.view, 0.0, UiState())]


def test_themes_can_be_read() -> None:
    """WCAG 2.1, 1.4.3: at least 4.5:1 for text; what is read from two metres has far more."""
    assert contrast((255, 255, 255), (0, 0, 0)) == pytest.approx(21.0)
    for theme in (PAPER, SLATE):
        assert contrast(theme.ink, theme.ground) >= 12
        assert contrast(theme.quiet, theme.ground) >= 4.5
        assert contrast(theme.ink, theme.shade) >= 7
        assert contrast(theme.ink, theme.layer) >= 4.5, "words on a layer's bar"
        assert contrast(theme.layer, theme.ground) >= 3, "WCAG 2.1, 1.4.11: the bar itself"
        assert contrast(theme.now, theme.ground) >= 3, "WCAG 2.1, 1.4.11: graphics"


def test_names_are_written_as_musicians_write_them() -> None:
    assert pretty_note("Bb2") == "B♭" and pretty_note("Bb2", octave=True) == "B♭2"
    assert pretty_note("F##1") == "F♯♯" and pretty_note("Ebb3") == "E♭♭"
    assert pretty_degree("1") == "R" and pretty_degree("b7") == "♭7" and pretty_degree("#4") == "♯4"
    assert pretty_scale("Bb altered") == "B♭ altered"
    assert pretty_scale("E 1 b2 3 4 5 b6 b7") == "E 1 ♭2 3 4 5 ♭6 ♭7"
    assert pretty_tempo("96") == "♩ = 96" and pretty_tempo("8th=184") == "♪ = 184"
    assert pretty_tempo("dotted-quarter=120") == "♩. = 120"
    assert pretty_tempo("103.47") == "♩ = 103.5" and pretty_tempo("104.00") == "♩ = 104"
    assert (
        pretty_chord("F#m7b5") == "F♯m7♭5"
        and pretty_chord("C/Eb") == "C/E♭"
        and pretty_chord("Bb5 (fifth)") == "B♭5 (fifth)"
    )


@pytest.mark.parametrize("name", ["quay\0steps", "quay\ud800steps", "quay\nsteps"])
def test_a_name_that_no_font_can_write_stops_no_frame(name: str) -> None:
    pen = Pen()
    drawn = pen.piece(name, TEXT, PAPER.ink)
    assert drawn.get_size() == pen.piece("quay steps", TEXT, PAPER.ink).get_size()


def test_music_signs_have_shapes_of_their_own() -> None:
    """No box of a missing glyph: each sign's picture differs from the others and from a sign no
    font has.
    """
    pen = Pen()
    signs = "♭♯♩♪●○←→↑↓\u4e00"
    pictures = {sign: bytes(pen.piece(sign, 40, (0, 0, 0)).get_view("0").raw) for sign in signs}
    assert len(set(pictures.values())) == len(pictures)


# ---- frame by frame ------------------------------------------------------------------------------


def test_nothing_is_drawn_anew_while_nothing_changes() -> None:
    """A second frame at the same moment draws nothing: what stands is kept."""
    pen = Pen()
    painter = Painter(PAPER, pen)
    surface, view, ui = pygame.Surface((1280, 720), 0, 32), scene(), UiState()
    painter.draw(surface, view, ui, sec(7.3))
    first = pygame.image.tobytes(surface, "RGB")
    pen.log, pen.log_size = [], (1280, 720)
    assert painter.draw(surface, view, ui, sec(7.3)) == []
    assert not pen.log
    assert pygame.image.tobytes(surface, "RGB") == first


PRESSED = ("F1", "F2", "F3", "Down", "Up", "Left", "F7", "Esc", "Enter", "Corner", "Shift+F4", "Shift+F5")
ACTS = st.lists(
    st.one_of(
        st.tuples(st.just("wait"), st.integers(1, 40)),
        st.tuples(st.just("note"), st.integers(26, 60)),
        st.tuples(st.just("press"), st.sampled_from(PRESSED)),
        st.tuples(st.just("say"), st.integers(0, 9)),
        st.tuples(st.just("layers"), st.integers(0, 10)),
        st.tuples(st.just("state"), st.sampled_from(["LISTENING", "LAYERING", "STOPPED", "COUNTING IN"])),
        st.tuples(st.just("kept"), st.integers(1, 3)),
        st.tuples(st.just("ask"), st.integers(1, 3)),
        st.tuples(st.just("lost"), st.booleans()),
    ),
    min_size=3,
    max_size=14,
)


@settings(max_examples=15, deadline=None)
@example([("note", 26), ("state", "COUNTING IN"), ("state", "STOPPED")])
@given(ACTS)
def test_drawing_only_what_changed_gives_the_whole_picture(acts: list[tuple[str, Any]]) -> None:
    """Frame by frame on one surface, or at once on a fresh one: the same picture, to the pixel; and
    so on a screen that is given only the parts that are said to be new.
    """
    told, ui, painter = Told(), UiState(), Painter(PAPER)
    told.clock()
    surface, screen = (pygame.Surface((960, 540), 0, 32) for _ in range(2))
    now, pass_index = 0.3, 0
    for act, value in acts:
        if act == "wait":
            now += value / 10
            if now > sec(CYCLE_Q * (pass_index + 1)) and told.view.clock.running:
                pass_index = int(now / sec(CYCLE_Q))
                told.clock(pass_index=pass_index, time_sec=now)
        elif act == "note":
            at_q = now / sec(1) - pass_index * CYCLE_Q
            where = pass_index if told.view.clock.running else -1
            told.note(value, at_q, round(at_q * 4) / 4, pass_index=where, stamp_sec=now)
        elif act == "press":
            shift, _, name = value.rpartition("+")
            ui.press(keys.CODES[name], bool(shift), told.view, now)
        elif act == "say":
            told.view.tell("A sentence. " * value, value > 5, now)
        elif act == "layers":
            told.layers(*(row(n + 1, muted=n % 2 == 1, notes=n) for n in range(value)))
            for n in range(value):
                told.layer(n + 1, (n * 0.5, 0.5, 28 + n))
        elif act == "state":
            more: dict[str, Any] = {"anchor_q": -4.0} if value == "COUNTING IN" else {}
            told.clock(value, pass_index, value != "STOPPED", time_sec=now, **more)
        elif act == "kept":
            told.hear(TakeKept(number=value, name="n" * value, when="14:02", passes=value, rating=value))
        elif act == "ask":
            told.ask("q" * value, "A question? " * value)
        elif value:
            told.view.lose_engine("The engine has ended.")
        else:
            told.hear(Welcome(protocol=2, version="0", pid=1))
        for part in painter.draw(surface, told.view, ui, now):
            screen.blit(surface, part, part)
        fresh = pygame.image.tobytes(picture(told.view, now, (960, 540), ui=ui), "RGB")
        assert pygame.image.tobytes(surface, "RGB") == fresh, (act, value)
        assert pygame.image.tobytes(screen, "RGB") == fresh, (act, value)


@pytest.mark.parametrize("page", range(keys.HELP_PAGES))
@pytest.mark.parametrize("strings", ["standard", "six-string"])
def test_lines_of_the_help_do_not_touch(strings: str, page: int) -> None:
    """At 1280 x 720 a line has a third more than the height of its letters."""
    texts = written(scene(strings), sec(7.3), UiState(page="help", cursors=Cursors(help_page=page)))
    found = layout(1280, 720, False).page
    tops = sorted({ink.y for _, ink in texts if found.holds(ink) and ink.x < found.x + 300})
    assert len(tops) > 8 and min(b - a for a, b in pairwise(tops) if b - a > 4) >= 20, tops


def test_a_note_of_another_octave_lies_on_its_own_string() -> None:
    """The open strings D1 and D2 of drop D share name, fret and place; what is kept of the one is
    not taken for the other.
    """
    canvas = Painter(PAPER).canvas
    for pitch, lane in ((26, 3), (38, 1)):
        mark = NoteView(-1, 0, 0.0, 0.0, pitch, 90, 0, 0.0, 1.0, lane=lane, fret=0, spelling=Spelling("D"))
        (spot,) = spots(canvas, [mark], 0.0, "fret", 60)
        assert spot.mark.lane == lane


def test_notes_that_were_spelled_anew_leave_no_old_spelling_behind() -> None:
    """Another scale spells the marks of a layer anew where they stand; when the first scale and the
    layer come back, as by undo and redo, they are drawn by that scale.
    """
    told = Told(cycle="4/4", scale="D dorian")
    canvas = Painter(PAPER).canvas

    def degrees() -> set[str]:
        told.layer(1, (0.0, 0.5, 38), (1.0, 0.5, 41))
        return {spot.mark.spelling.degree for spot in spots(canvas, told.view.layer_notes_of[1], 0.0, "fret", 60)}

    assert degrees() == {"R", "♭3"}
    told.brief(cycle="4/4", scale="E dorian")
    assert degrees() == {"♭7", "♭2?"}
    told.brief(cycle="4/4", scale="D dorian")
    assert degrees() == {"R", "♭3"}


def test_the_disc_hops_on_no_words() -> None:
    """While counting in it stands where the words on the left begin."""
    told = Told(cycle="4/4 4/4 4/4 4/4")
    told.clock("COUNTING IN", pass_index=-1, anchor_q=-4.0, cycle="4/4 4/4 4/4 4/4", cycle_q=16.0)
    assert "of 4" not in [text for text, _ in written(told.view, sec(1.0), UiState())]
    told.clock(anchor_q=-4.0, cycle="4/4 4/4 4/4 4/4", cycle_q=16.0)
    assert "of 4" in [text for text, _ in written(told.view, sec(5.0), UiState())]


def test_what_comes_next_is_not_cut_off() -> None:
    told = Told()
    told.clock(coming="3+4/8 at the next cycle, a new feel at the next beat")
    words = [text for text, _ in written(told.view, sec(1.0), UiState())]
    assert "3+4/8 at the next cycle" in words and "a new feel at the next beat" in words
