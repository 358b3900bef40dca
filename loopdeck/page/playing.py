"""From paper back to playing: a page as a take, straight and at its written lengths, each string on
a channel of its own.
"""

from fractions import Fraction

import numpy as np

from loopdeck.bass.technique.reading import PLUCK
from loopdeck.bass.technique.strings import channel_of
from loopdeck.capture.notes import NOTE_DTYPE, Notes
from loopdeck.capture.writing import events_of
from loopdeck.errors import UserError
from loopdeck.export.piece import Piece, PieceTrack
from loopdeck.looper.heard import Views, text_of_views
from loopdeck.looper.recording import Recording
from loopdeck.page.form import Page, PageBar, starts
from loopdeck.page.joined import join_of
from loopdeck.rhythm.anchor import Anchor
from loopdeck.rhythm.meter import Meter
from loopdeck.shelf.hand_marks import MARKS, bend_of
from loopdeck.shelf.take import IMPORTED, Take, now_text

#: A note ends so much before the next one of its pitch begins; less than that is lost in rounding,
#: and the next one with it.
_GAP_SEC = 1e-6


def _rows(page: Page) -> list[tuple[Fraction, Fraction, int, int, int]]:
    """(start, duration, pitch, velocity, string) of every note, from the start of the first bar."""
    return [
        (start + note.at, note.duration, note.pitch, note.velocity, note.string)
        for start, bar in zip(starts(page.bars), page.bars, strict=True)
        for note in bar.notes
    ]


def _meters(page: Page) -> tuple[tuple[Fraction, Meter], ...]:
    """The meters where they begin; a pick-up bar has one of its own length."""
    found: list[tuple[Fraction, Meter]] = []
    for start, bar in zip(starts(page.bars), page.bars, strict=True):
        meter = _short(bar) if bar.pickup else bar.meter
        if not found or found[-1][1] != meter:
            found.append((start, meter))
    return tuple(found)


def _short(bar: PageBar) -> Meter:
    for unit in (4, 8, 16, 32):
        count = bar.length * Fraction(unit, 4)
        if count.denominator == 1 and count <= 64:
            return Meter((int(count),), unit)
    raise UserError(f"A pick-up of {bar.length} quarters cannot be written as a meter.")


def piece_of_page(page: Page) -> Piece:
    """The page laid out for writing as a Standard MIDI File: one track, exact places and
    lengths.
    """
    rows = _rows(page)
    columns = list(zip(*rows, strict=True)) if rows else [()] * 5
    named = any(columns[4])
    track = PieceTrack(
        page.title,
        np.array(columns[0], float),
        np.array(columns[1], float),
        np.array(columns[2], np.int64),
        np.array(columns[3], np.int64),
        np.array([channel_of(string) if named else 0 for string in columns[4]], np.int64),
        tuple(np.zeros((1, 2)) for _ in rows),
        page.brief.program,
    )
    scale = page.brief.scale
    length = sum((bar.length for bar in page.bars), Fraction(0))
    return Piece(
        page.title,
        ((0.0, page.brief.tempo.quarters_per_minute),),
        _meters(page),
        None if scale is None else (scale.fifths(), scale.is_minor),
        (track,),
        float(length),
    )


def take_of_page(page: Page, name: str) -> Take:
    """The page as a take."""
    seconds = 60.0 / page.brief.tempo.quarters_per_minute
    rows = _rows(page)
    array = np.zeros(len(rows), NOTE_DTYPE)
    named = any(row[-1] for row in rows)
    for index, (start, duration, pitch, velocity, string) in enumerate(rows):
        channel = channel_of(string) if named else 0
        lasts = float(duration) * seconds - _GAP_SEC
        array[index] = (float(start) * seconds, lasts, pitch, velocity, channel, string)
    length = sum((bar.length for bar in page.bars), Fraction(0))
    return Take(
        name=name,
        kept_at=now_text(),
        origin=IMPORTED,
        recording=Recording(
            brief=page.brief,
            events=events_of(Notes(array, tuple(np.zeros((1, 2)) for _ in rows))),
            # A page is at its tempo: none has to be assumed.
            tempo_map=(Anchor(0.0, 0.0, page.brief.tempo.quarters_per_minute),),
            end_sec=float(length) * seconds,
            meters=_meters(page),
            views=text_of_views(Views(technique=_technique(page, seconds), strings=named)),
        ),
    )


def _technique(page: Page, quarter_sec: float) -> tuple[tuple[float, int, str, tuple[str, ...]], ...]:
    """The marks of notes as a take keeps what its player says of them."""
    found = []
    for start, bar in zip(starts(page.bars), page.bars, strict=True):
        for note in bar.notes:
            reached = join_of(note) or PLUCK
            marks = tuple(
                bend_of(note.bend_semitones) if mark == "bend" and note.bend_semitones else mark
                for mark in note.marks
                if mark in MARKS
            )
            if marks or reached != PLUCK:
                found.append((round(float(start + note.at) * quarter_sec, 6), note.pitch, reached, marks))
    return tuple(found)
