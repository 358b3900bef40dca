"""The tab of the loop in the window: which layers it is of, where its columns lie, and what becomes
of it as layers come and go.
"""

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.brief.brief import Brief
from loopdeck.page.loop import loop_page
from loopdeck.page.voice import heads_of
from loopdeck.protocol.messages import LayerNote, LayerNotes
from loopdeck.window.loop_tab import TabWorker, _layer
from loopdeck.window.note_view import NoteView
from loopdeck.window.panels import PANELS, tab
from loopdeck.window.ui_state import UiState
from tests.unit.window_tools import Told, row, sec, written

PANEL = PANELS.index(tab.PANEL)


def told(*layers: tuple[tuple[float, float, int], ...], muted: tuple[int, ...] = (), **brief: str) -> Told:
    one = Told(**brief)
    one.clock()
    one.layers(*(row(number, muted=number in muted) for number in range(1, len(layers) + 1)))
    for number, notes in enumerate(layers, 1):
        one.hear(LayerNotes(number=number, notes=tuple(LayerNote(on, long, pitch, 90) for on, long, pitch in notes)))
    return one


LOW = ((0.0, 0.9, 28), (1.0, 0.9, 31), (4.02, 0.4, 33))
HIGH = ((0.0, 0.9, 43), (2.0, 0.9, 45))


def frets(one: Told, **ui: int) -> list[tuple[float, int, int]]:
    """(place, string, fret) of what the tab shows."""
    found = TabWorker().finish(one.view, UiState(**ui))  # type: ignore[arg-type]
    return [(c.at_q, n.string, n.fret) for c in found.columns for n in c.head.notes if not c.head.from_before]


def test_all_layers_that_sound_stand_in_one_tab() -> None:
    assert frets(told(LOW, HIGH)) == [(0.0, 4, 0), (0.0, 1, 0), (1.0, 4, 3), (2.0, 1, 2), (4.0, 3, 0)]


def test_a_muted_layer_is_not_in_it_unless_it_is_chosen() -> None:
    one = told(LOW, HIGH, muted=(1,))
    assert frets(one) == [(0.0, 1, 0), (2.0, 1, 2)]
    assert [fret for _, _, fret in frets(one, chosen=1)] == [0, 3, 0]


def test_layers_come_and_go() -> None:
    one, worker, ui = told(LOW), TabWorker(), UiState()
    assert len(worker.finish(one.view, ui).columns) == len(worker.latest(one.view, ui).columns) > 0
    before = worker.turn
    one.layers(row(1), row(2))
    one.hear(LayerNotes(number=2, notes=(LayerNote(3.0, 0.9, 40, 90),)))
    assert 3.0 in [column.at_q for column in worker.finish(one.view, ui).columns] and worker.turn > before
    one.layers()
    assert worker.finish(one.view, ui).columns == () and "No layer yet" in worker.latest(one.view, ui).said


def test_layers_without_room_together_give_way_to_the_newest() -> None:
    """Two notes that both need the lowest string."""
    found = TabWorker().finish(told(((0.0, 0.9, 28),), ((0.0, 0.9, 29),)).view, UiState())
    assert found.label == "layer 2" and "do not fit" in found.said
    assert [note.pitch for column in found.columns for note in column.head.notes] == [29]


def test_a_note_below_the_lowest_string_is_said() -> None:
    found = TabWorker().finish(told(((0.0, 0.9, 20), (1.0, 0.9, 30))).view, UiState())
    assert "1 note has no place" in found.said


def test_a_swung_note_lies_where_it_is_played() -> None:
    one = told(((0.0, 0.4, 28), (0.667, 0.3, 31)), swing="2:1", grid="1/8")
    assert [round(at, 3) for at, _, _ in frets(one)] == [0.0, 0.667]


def test_a_downbeat_played_early_at_the_end_stands_on_the_first_beat() -> None:
    assert (0.0, 4, 0) in frets(told(((7.46, 0.5, 28), (2.0, 0.5, 33))))


def test_the_panel_shows_frets_and_follows_the_marker() -> None:
    one = told(LOW)
    ui = UiState(panel=PANEL)
    low = [text for text, _ in written(one.view, sec(0.5), ui)]
    assert low.count("3") >= 1 and "layer 1" in low
    at = [tab.PANEL.key(one.view, ui, sec(quarter)) for quarter in (0.5, 0.6, 1.5)]
    assert at[0] == at[1] != at[2]


def _mark(index: int, on: float, long: float, pitch: int) -> NoteView:
    return NoteView(-1 - index, 0, on, on, pitch, 90, 0, 0.0, long)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(-1, 119), st.integers(1, 40), st.integers(28, 60)), max_size=24),
    st.sampled_from(["4/4 4+3/8", "7/8", "2+2+3/8 3/4", "5/4"]),
    st.sampled_from(["1/16", "1/8T", "1/8", "auto"]),
)
def test_every_bar_of_a_loop_is_full(rows: list[tuple[int, int, int]], cycle: str, grid: str) -> None:
    """Whatever is played, bars add up, and nothing stands in them that was not played."""
    brief = Brief.default().replace(cycle=cycle, grid=grid, tempo="96")
    whole = float(brief.cycle.quarters)
    inside = [(on / 16, long / 16, pitch) for on, long, pitch in rows if on / 16 < whole]
    page = loop_page([_layer(1, tuple(_mark(index, *one) for index, one in enumerate(inside)))], brief)
    assert [bar.length for bar in page.bars] == [meter.quarters for meter in brief.cycle.meters]
    for bar, heads in zip(page.bars, heads_of(page.bars), strict=True):
        assert sum((head.value.length for head in heads), Fraction(0)) == bar.length
    assert {note.pitch for bar in page.bars for note in bar.notes} <= {pitch for _, _, pitch in inside}


def test_a_guitar_beside_the_bass_is_left_out_of_its_tab() -> None:
    one = told(LOW, ((0.0, 4.0, 52), (0.0, 4.0, 59)))
    one.layers(row(1), row(2, program=30))
    assert [(string, fret) for _, string, fret in frets(one)] == [(4, 0), (4, 3), (3, 0)]
    one.layers(row(2, program=30))
    assert frets(one), "where there is nothing else it is shown"
