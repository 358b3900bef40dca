"""Where the notes of a layer lie on the lanes: as a hand would play them, and a guitar's chords by
their names.
"""

import numpy as np

from loopdeck.bass.fingering import finger
from loopdeck.capture.notes import NOTE_DTYPE
from loopdeck.protocol.messages import LayerNote, LayerNotes
from loopdeck.window import layer_hand
from loopdeck.window.draw_lanes import front_layer
from loopdeck.window.layer_notes import chords_of
from loopdeck.window.ui_state import UiState
from tests.unit.window_tools import QPM, Told, row

RIFF = ((0.0, 0.5, 40), (1.0, 0.5, 43), (2.0, 0.5, 45), (2.5, 0.5, 47), (3.0, 0.5, 50), (3.5, 0.5, 47))


def told(*notes: tuple[float, float, int], strings: tuple[int, ...] = ()) -> Told:
    one = Told()
    one.clock()
    one.layers(row(1))
    hints = strings or (0,) * len(notes)
    made = tuple(LayerNote(on, long, pitch, 90, string) for (on, long, pitch), string in zip(notes, hints, strict=True))
    one.hear(LayerNotes(number=1, notes=made))
    return one


def test_a_layer_lies_where_the_search_puts_it() -> None:
    one = told(*RIFF)
    notes = np.zeros(len(RIFF), NOTE_DTYPE)
    for index, (on, long, pitch) in enumerate(RIFF):
        notes[index] = (on * 60 / QPM, long * 60 / QPM, pitch, 90, 0, 0)
    found = finger(notes, one.view.brief.tuning)
    marks = one.view.layer_notes_of[1]
    assert [mark.lane + 1 for mark in marks] == found.string.tolist()
    assert [mark.fret for mark in marks] == found.fret.tolist()
    assert max(found.fret) - min(f for f in found.fret if f) <= 4, "one position, where note by note it takes two"


def test_what_the_pickup_said_stays_and_another_tuning_lays_anew() -> None:
    one = told(*RIFF, strings=(3, 2, 2, 2, 1, 2))
    assert [mark.lane + 1 for mark in one.view.layer_notes_of[1]] == [3, 2, 2, 2, 1, 2]
    one = told((0.0, 0.5, 26))
    assert one.view.layer_notes_of[1][0].fret is None
    one.brief(tuning="drop D")
    assert one.view.layer_notes_of[1][0].fret == 0


def test_a_layer_of_thousands_of_notes_does_not_hold_up_the_picture() -> None:
    one = told(*((index / 100, 0.005, 40) for index in range(layer_hand.MOST + 1)))
    assert {mark.lane for mark in one.view.layer_notes_of[1]} == {1}


def test_a_guitar_stands_by_the_names_of_its_chords_behind_the_bass() -> None:
    one = told(*RIFF)
    chords = ((0.0, 52), (0.0, 59), (0.0, 64), (2.0, 55), (2.0, 62), (3.0, 57))
    one.layers(row(1), row(2, program=30))
    one.hear(LayerNotes(number=2, notes=tuple(LayerNote(on, 1.0, pitch, 90) for on, pitch in chords)))
    marks = chords_of(one.view.layer_notes_of[2], one.view.brief, one.view.lanes)
    assert [(mark.at_q, mark.spelling.name[:2], mark.lane, mark.fret) for mark in marks] == [
        (0.0, "E5", 3, None),
        (2.0, "G5", 3, None),
        (3.0, "A", 2, None),
    ]
    front = front_layer(one.view, UiState())
    assert front is not None and front.number == 1
    chosen = front_layer(one.view, UiState(chosen=2))
    assert chosen is not None and chosen.number == 2
