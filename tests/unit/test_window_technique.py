"""How notes were played, on the lanes: read from what the engine tells, and drawn."""

import numpy as np
import pytest

from loopdeck.brief.brief import Brief
from loopdeck.looper.machine import Looper
from loopdeck.protocol.messages import BendPoint, BriefChanged, LayerNote, NoteStarted
from loopdeck.window import keys
from loopdeck.window.layer_notes import marks_of
from loopdeck.window.panels import PANELS
from loopdeck.window.picture import picture
from loopdeck.window.technique import ON_THE_WAY, HowPlayed, catch_up, how_in_layer
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View
from tests.unit.test_looper_touch import RIFF

BRIEF = Brief.default().replace(tempo="120", cycle="4/4", count_in="0", grid="1/16", scale="E aeolian")


def played(riff: tuple[tuple[float, float, int, int], ...], reads_later: bool = False) -> View:
    """A view that was told of a riff, played in the first pass."""
    looper, view = Looper(BRIEF), View()
    view.played.reads_later = reads_later
    view.receive(BriefChanged(fields=BRIEF.to_dict()))
    looper.command(0.0, "start-now")
    events = [(at, bytes((0x90, pitch, level))) for at, _, pitch, level in riff]
    events += [(at + length, bytes((0x80, pitch, 0))) for at, length, pitch, _ in riff]
    for at, data in sorted(events, key=lambda one: (round(one[0], 6), one[1][0] & 0x10)):
        looper.midi(at, at, 0, data)
    looper.advance(1.98)
    for news in looper.take_news():
        view.receive(news)
    return view


def test_a_window_that_reads_later_reads_the_same() -> None:
    """Between two frames, and not while a note comes."""
    at_once, later = played(RIFF), played(RIFF, reads_later=True)
    assert {how.reached for how in later.played.how.values()} == {"pluck"}
    changed = later.changed["notes"]
    catch_up(later)
    assert by_pitch(later) == by_pitch(at_once) and later.changed["notes"] > changed
    changed = later.changed["notes"]
    catch_up(later)
    assert later.changed["notes"] == changed


def test_a_window_that_comes_later_reads_all_that_it_is_told() -> None:
    """More notes at once than are read anew for one: the slide at their beginning is read, too."""
    first = tuple((at / 2, length / 2, pitch, level) for at, length, pitch, level in RIFF[:2])
    slide = tuple((at - 0.2, length, pitch, level) for at, length, pitch, level in RIFF[2:8])
    riff = (*first, *slide, *((1.2 + 0.06 * place, 0.05, 45 + 5 * (place % 2), 90) for place in range(12)))
    view = played(riff, reads_later=True)
    catch_up(view)
    reached = [how.reached for _, how in by_pitch(view)]
    assert (len(reached), reached[7], reached.count(ON_THE_WAY)) == (20, "slide", 4)


def by_pitch(view: View) -> list[tuple[int, HowPlayed]]:
    return [(note.pitch, view.played.how[note.id]) for note in view.played.by_pass[0]]


def test_a_hammered_note_a_slide_and_a_dead_note() -> None:
    found = by_pitch(played(RIFF))
    assert [how.reached for _, how in found] == [
        "pluck", "hammer-on", "pluck", ON_THE_WAY, ON_THE_WAY, ON_THE_WAY, ON_THE_WAY, "slide", "pluck", "pluck",
    ]  # fmt: skip
    notes = played(RIFF).played.by_pass[0]
    assert found[1][1].source == notes[0].id and found[7][1].source == notes[2].id
    assert "dead" in found[8][1].marks


def test_a_slide_stays_on_one_string() -> None:
    """G up to B flat begins on the E string; D down to B cannot begin on the open D string."""

    def slid(*pitches: int) -> tuple[tuple[float, float, int, int], ...]:
        first, *on = pitches
        return ((0.0, 0.4, first, 90), *((0.4 + 0.04 * at, 0.04, one, 90) for at, one in enumerate(on[:-1])),
                (0.4 + 0.04 * (len(on) - 1), 0.3, on[-1], 90))  # fmt: skip

    for pitches, lane, frets in (((31, 32, 33, 34), 3, (3, 6)), ((38, 37, 36, 35), 2, (5, 2))):
        for reads_later in (False, True):
            view = played(slid(*pitches), reads_later)
            catch_up(view)
            first, *_, last = view.played.by_pass[0]
            assert [(one.lane, one.fret) for one in (first, last)] == [(lane, fret) for fret in frets]
            view.receive(BriefChanged(fields=BRIEF.to_dict()))
            assert (first.lane, first.fret, last.fret) == (lane, *frets), "a change of the brief leaves it there"
            view.set_lanes("pitches")
            assert first.lane != last.lane


def test_a_slide_that_is_told_again_is_drawn_where_it_lies() -> None:
    """As when its pass never began."""
    slide = ((0.0, 0.4, 31, 90), (0.4, 0.04, 32, 90), (0.44, 0.04, 33, 90), (0.48, 0.3, 34, 90))
    view = played(slide, reads_later=True)
    catch_up(view)
    last = view.played.by_pass[0][-1]
    view.receive(NoteStarted(
        id=last.id, pass_index=0, at_q=last.at_q, slot_q=last.slot_q, pitch=34, velocity=90, channel=0, string=0,
        stamp_sec=last.stamp_sec, length_q=last.length_q, bend=last.bend,
    ))  # fmt: skip
    last, drawn = view.played.by_pass[0][-1], view.changed["notes"]
    assert (last.lane, last.fret) == (2, 1)
    catch_up(view)
    assert (last.lane, last.fret) == (3, 6) and view.changed["notes"] > drawn


def test_a_bent_note_of_a_layer_goes_on_from_no_other_string() -> None:
    """Its slide begins in itself: no line leads to it from the layer's first note, far away."""
    bend = (
        BendPoint(after_q=0.0, semitones=0.0),
        BendPoint(after_q=0.2, semitones=1.0),
        BendPoint(after_q=0.4, semitones=2.0),
    )
    notes = (LayerNote(0.0, 3.9, 50, 90, 2), LayerNote(3.0, 0.5, 60, 90, 1, bend))
    found = how_in_layer(marks_of(notes), 104.0)
    assert found[-1].source is None and found[-2].source in (None, -2)


def test_a_string_that_is_named_sounds_one_note_at_a_time() -> None:
    """However late the pickup tells of the end, as in reports."""
    notes = (LayerNote(0.0, 0.9, 40, 90, 2), LayerNote(1.0, 0.7, 40, 90, 2), LayerNote(1.5, 0.9, 42, 50, 2))
    assert how_in_layer(marks_of(notes), 120.0)[-3].reached == "hammer-on"


@pytest.mark.parametrize("without", ["hammer-on", "slide", "dead"])
def test_each_sign_is_drawn(without: str) -> None:
    """The same notes without the sign look otherwise: in the lanes, and only there."""
    view = played(RIFF)
    with_it = np.array(picture(view, 1.98, (1280, 720)).get_buffer())
    for note_id, how in list(view.played.how.items()):
        if how.reached == without or without in how.marks:
            view.played.how[note_id] = HowPlayed("pluck")
    assert (np.array(picture(view, 1.98, (1280, 720)).get_buffer()) != with_it).sum() > 100


def test_what_goes_out_of_view_is_forgotten() -> None:
    view = played(RIFF)
    note = view.played.by_pass[0][0]
    view.played.withdraw(note.id)
    assert note.id not in view.played.how


def test_a_ghost_note_stands_in_brackets() -> None:
    riff = tuple((at / 4, 0.2, 40 + at % 3, 90 if at != 5 else 30) for at in range(8))
    found = by_pitch(played(riff))
    assert [place for place, (_, how) in enumerate(found) if "ghost" in how.marks] == [5]


def test_the_neck_shows_the_shape_of_the_riff_and_turns_for_the_left_hand() -> None:
    looper, view, ui = Looper(BRIEF), View(), UiState()
    view.receive(BriefChanged(fields=BRIEF.to_dict()))
    ui.panel = [panel.name for panel in PANELS].index("neck")

    def pixels() -> np.ndarray:
        for news in looper.take_news():
            view.receive(news)
        return np.array(picture(view, 2.2, (1280, 720), ui=ui).get_buffer())

    looper.command(0.0, "start-now")
    looper.midi(0.1, 0.1, 0, bytes((0x90, 40, 90)))
    looper.midi(0.4, 0.4, 0, bytes((0x80, 40, 0)))
    looper.advance(2.1)
    before = pixels()
    looper.command(2.1, "loop-that")
    with_shape = pixels()
    assert (before != with_shape).any()
    ui.press(keys.CODES["Pause"], True, view, 2.2)
    # What the window itself does at a key leaves the neck as it is turned.
    assert not any(ui.take_turns().values())
    turned = pixels()
    assert (turned != with_shape).sum() > 1000


def test_a_change_of_tuning_says_what_moves() -> None:
    """Drop D: the lowest string a whole step down, so every note on it moves up two frets (common
    practice).
    """
    looper = Looper(BRIEF)
    said = looper.command(0.0, "brief", fields={"tuning": "drop-d"})
    assert "lowest string 2 frets higher" in said or "lowest string two frets higher" in said
