"""What tells takes of one name apart."""

import re

from loopdeck.shelf.cycle_picture import cycle_picture
from loopdeck.shelf.take import take_of_keep
from loopdeck.window.pages.first_notes import first_notes, kept_words
from tests.unit.looper_tools import Player
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


def test_a_riff_that_begins_early_begins_with_that_note() -> None:
    player = Player(tempo="120", scale="E dorian")
    player.command(0.0, "start")
    for at_q, pitch in ((3.9, 40), (4.9, 43), (5.5, 45)):
        player.note(at_q, 0.3, pitch)
    player.command(8.1, "loop-that", reach=1)
    player.command(8.2, "keep", passes=1, name="ebb")
    picture = cycle_picture(take_of_keep(player.kept[0]))
    assert first_notes(picture, "E dorian") == "E G A"
    assert first_notes({**picture, "notes": [note for note in picture["notes"] if note[4]]}, "E dorian") == "E G A"


def test_when_it_was_kept() -> None:
    assert re.fullmatch(r"2031-05-0[5-7] \d\d:\d\d", kept_words("2031-05-06T12:08:09+00:00"))
    assert kept_words("") == kept_words("yesterday") == ""
