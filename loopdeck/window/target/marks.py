"""The target's notes as they are drawn, and the word for each while a pass goes on. Pure."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from loopdeck.window import note_view
from loopdeck.window.layer_hand import strings_of
from loopdeck.window.note_view import NoteView
from loopdeck.window.view import View

if TYPE_CHECKING:
    from loopdeck.practice.target import Target


def target_marks(view: View) -> tuple[NoteView, ...]:
    """The notes of what is practised, with lane, fret and name by the brief of the moment; empty
    where nothing is practised.
    """
    run = view.played.practising.run
    if run is None:
        return ()
    key = (run, view.changed["brief"], view.annotator.lanes_kind)
    if _last.key != key:
        _last.key, _last.marks = key, _marks(view, run.target)
    return _last.marks


@dataclass
class _Made:
    """The marks that were made last: they change only with the run, the brief and the lanes."""

    key: tuple[object, ...] = ()
    marks: tuple[NoteView, ...] = ()


_last = _Made()


def _marks(view: View, target: "Target") -> tuple[NoteView, ...]:
    columns = (target.onset_q, target.duration_q, target.pitch, target.velocity, target.string)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    marks: list[NoteView] = []
    for index, ((onset, long, pitch, velocity, string), curve) in enumerate(zip(rows, target.bends, strict=True)):
        bend = tuple((point[0], point[1]) for point in curve.tolist()) if len(curve) > 1 else ()
        mark = NoteView(-1 - index, 0, onset, onset, pitch, velocity, string, 0.0, long, bend)
        mark.spelling = note_view.spelled(mark.pitch, view.brief)
        marks.append(mark)
    tuning = view.brief.tuning if view.brief is not None else None
    for index, string in enumerate(strings_of(marks, view.brief, view.clock.qpm)):
        note_view.lay(marks[index], marks[max(0, index - 8) : index], view.lanes, tuning, string)
    return tuple(marks)


def verdicts(view: View) -> tuple[str, ...]:
    """A word of ``practice.live`` for each note of the target; empty outside of a pass of the
    player's.
    """
    run = view.played.practising.run
    return tuple(run.live.verdicts) if run is not None and run.live is not None else ()


def added(view: View) -> frozenset[int]:
    """The numbers of the notes that are too many."""
    run = view.played.practising.run
    return frozenset(run.live.added) if run is not None and run.live is not None else frozenset()


def otherwise(view: View) -> dict[int, str]:
    """How notes of the target were reached that it wants reached in another way, by their
    places.
    """
    run = view.played.practising.run
    return run.live.otherwise if run is not None and run.live is not None else {}
