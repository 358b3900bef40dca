"""The clean-up of pickup errors while playing: what comes into view, what goes, what the loop is
made of.
"""

import random
from pathlib import Path

import pytest

from loopdeck.bass.pickup.cleaning import clean
from loopdeck.bass.pickup.live import LiveCleaning, Recent
from loopdeck.bass.pickup.profile import PARTS, Cleaning, cleaning_of_words, words_of_cleaning
from loopdeck.brief.brief import Brief
from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.events import Event
from loopdeck.capture.journal import read_journal
from loopdeck.errors import UserError
from loopdeck.looper.machine import Looper
from loopdeck.looper.news import Kept, News
from loopdeck.protocol.messages import CleanUpChanged, NoteEnded, NoteStarted, NoteWithdrawn
from loopdeck.session.replay import Replay, replay_records
from tests.simulators.pickup import Pickup, stream
from tests.unit.engine_rig import EngineRig

BRIEF = Brief.default().replace(tempo="120", cycle="4/4", count_in="0")
RULES = words_of_cleaning(Cleaning())
#: (second, length, pitch, velocity): six plain notes, so that the usual level is known.
PLAIN = tuple((at / 4, 0.2, pitch, 90) for at, pitch in enumerate((40, 43, 45, 40, 43, 45)))
Row = tuple[float, float, int, int]


def looper(rules: str = RULES) -> Looper:
    found = Looper(BRIEF)
    found.command(0.0, "pickup", channels="1 2 3 4", cleaning=rules, name="per-string")
    found.command(0.0, "start-now")
    return found


def feed(found: Looper, *rows: Row, channel: int = 0) -> None:
    events = [(at, bytes((0x90 | channel, pitch, level))) for at, _, pitch, level in rows]
    events += [(at + length, bytes((0x80 | channel, pitch, 0))) for at, length, pitch, _ in rows]
    for at, data in sorted(events, key=lambda one: (round(one[0], 6), one[1][0] & 0x10)):
        found.midi(at, at, 0, data)


def told(found: Looper) -> list[News]:
    return [
        news for news in found.take_news() if isinstance(news, NoteStarted | NoteEnded | NoteWithdrawn | CleanUpChanged)
    ]


def in_view(news: list[News]) -> list[int]:
    """The pitches that a window shows in the end."""
    shown: dict[int, int] = {}
    for one in news:
        if isinstance(one, NoteStarted):
            shown[one.id] = one.pitch
        elif isinstance(one, NoteWithdrawn):
            del shown[one.id]
    return list(shown.values())


def looped(found: Looper) -> list[int]:
    found.command(2.3, "loop-that")
    return [int(pitch) for layer in found.layers() for pitch in layer.notes["pitch"]]


def test_a_note_that_looks_right_is_told_at_once() -> None:
    found = looper()
    found.take_news()
    found.midi(0.1, 0.1, 0, bytes((0x90, 40, 90)))
    assert [type(news) for news in told(found)] == [NoteStarted]


@pytest.mark.parametrize(
    ("error", "why"),
    [
        ((1.62, 0.03, 47, 20), "ghost"),
        ((1.55, 0.04, 57, 70), "octave"),
        ((1.62, 0.3, 47, 8), "ghost"),
    ],
)
def test_an_error_is_never_shown_and_never_looped(error: Row, why: str) -> None:
    found = looper()
    feed(found, *PLAIN, (1.5, 0.25, 45, 92), error)
    found.advance(2.2)
    news = told(found)
    assert in_view(news) == [40, 43, 45, 40, 43, 45, 45]
    assert not any(isinstance(one, NoteWithdrawn) for one in news)
    cleaned = [one for one in news if isinstance(one, CleanUpChanged)][-1]
    assert cleaned.count == 1 and cleaned.notes[0].why == why
    assert sorted(looped(found)) == sorted([40, 43, 45, 40, 43, 45, 45])


def test_an_octave_before_the_note_is_withdrawn_within_hindsight() -> None:
    found = looper()
    feed(found, *PLAIN, (1.5, 0.04, 57, 92), (1.54, 0.3, 45, 92))
    found.advance(1.75)
    news = told(found)
    assert in_view(news) == [40, 43, 45, 40, 43, 45, 45]
    gone = next(one for one in news if isinstance(one, NoteWithdrawn))
    assert gone.time_sec - 1.54 <= 0.15


def test_a_stumble_counts_once() -> None:
    found = looper()
    feed(found, *PLAIN, (1.5, 0.02, 45, 92), (1.52, 0.3, 45, 80))
    found.advance(2.2)
    assert looped(found) == [40, 43, 45, 40, 43, 45, 45]


def test_a_soft_note_that_lasts_is_a_note() -> None:
    """Softer than a ghost may be, but played: it comes into view once it has lasted longer than a
    ghost does.
    """
    found = looper()
    feed(found, *PLAIN)
    found.take_news()
    found.midi(1.6, 1.6, 0, bytes((0x90, 47, 30)))
    assert not told(found)
    found.advance(1.654)
    assert not told(found)
    found.advance(1.66)
    news = told(found)
    assert [type(one) for one in news] == [NoteStarted] and news[0].at_q == pytest.approx(3.2)


def test_what_was_taken_out_comes_back_by_command() -> None:
    found = looper()
    feed(found, *PLAIN, (1.62, 0.03, 47, 20), (1.8, 0.03, 48, 20))
    found.advance(2.2)
    listed = [one for one in told(found) if isinstance(one, CleanUpChanged)][-1].notes
    assert [row[3] for row in listed] == [47, 48]
    assert "Brought back" in found.command(2.25, "restore-note")
    assert "Brought back" in found.command(2.26, "restore-note", note=listed[0][0])
    assert "nothing left" in found.command(2.27, "restore-note")
    assert sorted(looped(found)) == [40, 40, 43, 43, 45, 45, 47, 48]


def test_a_note_that_comes_back_enters_the_layer_that_stands() -> None:
    found = looper()
    feed(found, *PLAIN, (1.62, 0.03, 47, 20))
    assert 47 not in looped(found)
    found.command(2.4, "restore-note")
    assert 47 in found.layers()[0].notes["pitch"]


@pytest.mark.parametrize("part", PARTS)
def test_each_part_is_a_switch(part: str) -> None:
    found = looper()
    assert "is off" in found.command(0.0, "clean", part=part, on=False)
    rules = found._core.recorder.pickups[0].cleaning
    assert rules is not None and [one for one in PARTS if not getattr(rules, one)] == [part]
    assert "is on" in found.command(0.0, "clean", part=part)


def test_switching_off_brings_back_and_everything_passes_from_then_on() -> None:
    found = looper()
    feed(found, *PLAIN, (1.62, 0.03, 47, 20))
    found.advance(1.8)
    assert "1 came back" in found.command(1.81, "clean", on=False)
    feed(found, (1.9, 0.03, 48, 20))
    assert sorted(looped(found)) == [40, 40, 43, 43, 45, 45, 47, 48]


def test_a_note_that_a_bend_cut_apart_is_one_note() -> None:
    found = Looper(BRIEF)
    found.command(0.0, "pickup", channels="1 2 3 4", bend_range=2, cleaning=RULES)
    found.command(0.0, "start-now")
    found.midi(0.5, 0.5, 0, bytes((0x90, 40, 90)))
    for step in range(1, 9):
        bend = 8192 + round(step / 8 * 8191)
        found.midi(0.8 + step * 0.005, 0.8 + step * 0.005, 0, bytes((0xE0, bend & 127, bend >> 7)))
    found.midi(0.841, 0.841, 0, bytes((0x80, 40, 0)))
    found.midi(0.842, 0.842, 0, bytes((0xE0, 0, 64)))
    found.midi(0.843, 0.843, 0, bytes((0x90, 42, 80)))
    found.midi(1.3, 1.3, 0, bytes((0x80, 42, 0)))
    news = told(found)
    assert in_view(news) == [40]
    ends = [one for one in news if isinstance(one, NoteEnded)]
    assert ends[-1].length_q == pytest.approx(1.6, abs=0.01)
    assert looped(found) == [40]
    notes, bends = found.layers()[0].notes, found.layers()[0].bends
    assert notes["duration_q"][0] == pytest.approx(1.6, abs=0.01)
    assert bends[0][-1, 1] == pytest.approx(2.0, abs=0.01)
    assert "Brought back" in found.command(2.4, "restore-note")
    assert sorted(int(one) for one in found.layers()[0].notes["pitch"]) == [40, 42]


def bent(begin: float, pitch: int, *bends: tuple[float, float]) -> list[tuple[float, bytes]]:
    """A note-on and bends (seconds, semitones of a range of 12)."""
    rows = [(begin, bytes((0x90, pitch, 80)))]
    for at, semitones in bends:
        wheel = 8192 + round(semitones / 12 * 8191)
        rows.append((at, bytes((0xE0, wheel & 127, wheel >> 7))))
    return rows


def in_both_ways(rows: list[tuple[float, bytes]]) -> tuple[Looper, list[int], list[int]]:
    """The looper that heard the messages with a bend range of 12, the pitches that it shows, and
    those that the whole take shows.
    """
    found = Looper(BRIEF)
    found.command(0.0, "pickup", channels="1 2 3 4", bend_range=12, cleaning=RULES)
    found.command(0.0, "start-now")
    for at, data in sorted(rows):
        found.midi(at, at, 0, data)
    ranged = [(0.0, bytes((0xB0, number, value))) for number, value in ((101, 0), (100, 0), (6, 12))]
    whole = pair([Event(at, 0, data) for at, data in [*ranged, *sorted(rows)]])
    cleaned = clean(whole.array, whole.bends, Cleaning())
    return found, in_view(told(found)), [int(pitch) for pitch in cleaned.notes["pitch"]]


def test_a_pluck_after_a_slide_that_arrived_is_a_note_live_and_afterwards() -> None:
    # The bend has reached seven semitones before: it could have told of two more.
    wide = [(0.3 + 0.02 * step, float(step)) for step in range(1, 8)]
    slide = [(1.3, 1.0), (1.32, 2.0), (1.38, 2.02)]
    rows = bent(0.2, 40, *wide) + bent(1.1, 40, *slide) + bent(1.443, 44)
    rows += [(0.7, bytes((0x80, 40, 0))), (0.8, bytes((0xE0, 0, 64))), (1.44, bytes((0x80, 40, 0)))]
    rows += [(1.442, bytes((0xE0, 0, 64))), (1.8, bytes((0x80, 44, 0)))]
    _, live, afterwards = in_both_ways(rows)
    assert live == afterwards == [40, 40, 44]


def test_a_cut_note_whose_end_comes_late_is_one_note_with_one_curve() -> None:
    # The bend is put back for the second half, which begins before the first one ends.
    rows = bent(0.2, 40, *((0.5 + 0.01 * step, step / 4) for step in range(1, 9)), (0.588, 0.0))
    rows += [(0.59, bytes((0x90, 42, 70))), (0.61, bytes((0x80, 40, 0))), (0.9, bytes((0x80, 42, 0)))]
    found, live, afterwards = in_both_ways(rows)
    assert live == afterwards == [40]
    assert looped(found) == [40]
    curve = found.layers()[0].bends[0]
    assert (curve[1:, 0] >= curve[:-1, 0]).all()
    assert curve[-1, 1] == pytest.approx(2.0, abs=0.01) and abs(curve[-2, 1]) > 1.0


def test_a_keep_has_every_event_whatever_was_taken_out() -> None:
    found = looper()
    feed(found, *PLAIN, (1.62, 0.03, 47, 20))
    found.advance(2.1)
    found.take_news()
    found.command(2.2, "keep")
    keep = next(news.keep for news in found.take_news() if isinstance(news, Kept))
    assert sum(1 for event in keep.events if event.data[0] & 0xF0 == 0x90) == 7


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_same_events_give_the_same_however_time_is_cut(seed: int) -> None:
    choice = random.Random(seed)
    events = stream(seed, Pickup(ghosts=0.1, octaves=0.1), 40).events
    loopers = [looper(), looper()]
    for sec, data in events:
        for place, found in enumerate(loopers):
            if place:
                for _ in range(choice.randint(0, 3)):
                    found.advance(max(found.now_sec, sec - choice.random() * 0.05))
            found.midi(max(sec, found.now_sec), sec, 0, data)
    for found in loopers:
        found.advance(events[-1][0] + 2.0)
    assert loopers[0].digest() == loopers[1].digest()


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("mode", ["bend", "chromatic"])
def test_live_takes_out_what_the_whole_take_would_lose(seed: int, mode: str) -> None:
    """On the simulated pickup with 5 % ghosts and octave errors: live and afterwards agree on
    nearly every note.
    """
    events = stream(seed, Pickup(mode=mode, ghosts=0.05, octaves=0.05), 120).events
    notes = pair([Event(sec, 0, data) for sec, data in events])
    rules = Cleaning(chopped=False)
    live = LiveCleaning(rules)
    moments = [(row["onset_sec"], 1, index) for index, row in enumerate(notes.array)]
    moments += [(row["onset_sec"] + row["duration_sec"], 0, index) for index, row in enumerate(notes.array)]
    gone: set[int] = set()
    for sec, begins, index in sorted(moments):
        while (due := live.due_sec()) is not None and due <= sec:
            gone |= {one.id for one in live.check(due) if one.why}
        row = notes.array[index]
        if begins:
            live.begin(Recent(index, float(sec), int(row["pitch"]), int(row["velocity"]), int(row["channel"]), 0))
        else:
            live.end(index, float(sec))
    while (due := live.due_sec()) is not None:
        gone |= {one.id for one in live.check(due) if one.why}
    afterwards = {one.note for one in clean(notes.array, notes.bends, rules).removed}
    assert len(afterwards) >= 3
    assert len(gone ^ afterwards) <= 0.02 * len(notes) + 1


def test_the_words_of_a_clean_up() -> None:
    rules = Cleaning(octaves=False, ghost_ms=40.0, faint_level=0.15)
    assert cleaning_of_words(words_of_cleaning(rules)) == rules
    assert cleaning_of_words("") is None
    with pytest.raises(UserError, match="not part of the clean-up"):
        cleaning_of_words("ghosts loud")


def test_bad_commands_change_nothing() -> None:
    found = looper()
    found.advance(0.0)
    digest = found.digest()
    assert "chopped, noise or all would be right, not 'thunder'" in found.command(0.0, "clean", part="thunder")
    assert "nothing left" in found.command(0.0, "restore-note", note=3)
    assert found.digest() == digest
    assert "--pickup" in Looper(BRIEF).command(0.0, "clean")


def test_an_engine_cleans_up_tells_the_window_and_replays_to_the_same(tmp_path: Path) -> None:
    """Through the engine with fakes: bytes of a pickup in, messages out, and the journal gives the
    same looper again.
    """
    pickup = {"channels": "1 2 3 4", "constant_ms": 0.0, "periods": 2.0, "name": "per-string", "cleaning": RULES}
    rig = EngineRig(tmp_path, pickup=pickup)
    rig.engine._begin()
    rig.command("start-now")
    rows = [*PLAIN, (1.55, 0.2, 45, 92), (1.6, 0.03, 57, 80), (1.8, 0.03, 47, 20)]
    events = [(at, bytes((0x90, pitch, level))) for at, _, pitch, level in rows]
    events += [(at + length, bytes((0x80, pitch, 0))) for at, length, pitch, _ in rows]
    start = rig.clock.now()
    for at, data in sorted(events):
        rig.run_to(start + at)
        rig.midi(data)
    rig.run_to(start + 2.3)
    rig.command("loop-that")
    rig.run_to(start + 2.4)
    changes = [one for one in rig.link.told if isinstance(one, CleanUpChanged)]
    assert changes[-1].count == 2 and {note.why for note in changes[-1].notes} == {"octave", "ghost"}
    shown = {one.id for one in rig.link.told if isinstance(one, NoteStarted)}
    shown -= {one.id for one in rig.link.told if isinstance(one, NoteWithdrawn)}
    assert len(shown) == 7
    rig.command("restore-note")
    rig.run_to(start + 2.6)
    looper = rig.engine.parts.session.looper
    assert len(looper.layers()[0]) == 8
    rig.engine._finish()
    journal = read_journal(rig.journal)
    again = replay_records(lambda: Replay(journal.header), lambda: journal.records).session.looper
    again.advance(looper.now_sec)
    assert again.digest() == looper.digest()
