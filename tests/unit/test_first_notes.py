"""What tells takes of one name apart."""

import re

from loopdeck.shelf.cycle_picture import cycle_picture
from loopdeck.window.pages.first_notes import first_notes, kept_words
from tests.unit.shelf_tools import small_take
from tests.unit.test_play_command import take_of


def test_the_notes_a_take_begins_with() -> None:
    picture = cycle_picture(take_of([43, 46, 48, 49, 50, 53, 55, 43], gap_q=0.5))
    assert first_notes(picture, "G minor blues") == "G B♭ C D♭ D F …"
    assert first_notes(picture, "") == "G A♯ C C♯ D F …"
    assert first_notes({"groups": [], "notes": []}, "G dorian") == ""
    chords = {"groups": [], "notes": [[0.0, 0.1, 50, 1.0, 0], [0.0, 0.2, 43, 1.0, 0], [0.5, 0.1, 45, 1.0, 0]]}
    assert first_notes(chords, "") == "G A", "a bass note that rings below a short one"
    # Layers only where nothing was played.
    layers = cycle_picture(small_take().changed(events=()))
    assert first_notes(layers, "G dorian").startswith("G")


def test_when_it_was_kept() -> None:
    assert re.fullmatch(r"2031-05-0[5-7] \d\d:\d\d", kept_words("2031-05-06T12:08:09+00:00"))
    assert kept_words("") == kept_words("yesterday") == ""
