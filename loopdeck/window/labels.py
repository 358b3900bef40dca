"""What is written on a note: fret, name and degree, what the player chose biggest; as much of it
as there is room for.

Conventions: pixels; a label is a list of pieces (text, size, x, baseline) from the top left of the
room for it, and its width. Nothing is written smaller than ``SMALLEST``; the first word is written
at ``TEXT`` or larger wherever it fits.
"""

from typing import NamedTuple

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import SMALLEST, TEXT
from loopdeck.window.note_view import NoteView
from loopdeck.window.text import CAP

_BIG, _LESS_BIG = 44, 34


class LabelWord(NamedTuple):
    """One word of a label."""

    text: str
    size: int
    x: int
    baseline: int


class Label(NamedTuple):
    """Words in their places."""

    pieces: tuple[LabelWord, ...]
    width: int


def words_of(mark: NoteView, biggest: str) -> tuple[str, ...]:
    """The words of a note, the biggest first; those it does not have are left out."""
    fret = "" if mark.fret is None else str(mark.fret)
    name, degree = mark.spelling.name, mark.spelling.degree
    if biggest == "fret" and fret:
        order = (fret, name, degree)
    else:
        # A bare number behind a name would be taken for the degree.
        fret = f"{fret}fr" if fret else ""
        order = (degree, name, fret) if biggest == "degree" and degree else (name, degree, fret)
    return tuple(word for word in order if word)


def needed(canvas: Canvas, words: tuple[str, ...]) -> int:
    """The width of the first word at the size it should have."""
    return canvas.pen.width(words[0], canvas.px(TEXT)) if words else 0


def label(canvas: Canvas, words: tuple[str, ...], height: int, room: int) -> Label:
    """The fullest label that fits into ``room`` x ``height`` pixels; an empty one where not even
    the first word does.
    """
    text, gap = canvas.px(TEXT), canvas.px(3)
    # Tight is better than beside each other: a row covers the notes that follow.
    two_rows = height >= 2 * round(CAP * text) + gap + canvas.px(1)
    tries: list[Label | None] = []
    if len(words) > 2 and two_rows:
        tries += [_beside(canvas, words, height, canvas.px(big)) for big in (_BIG, _LESS_BIG)]
    elif len(words) == 2 and two_rows:
        tries.append(
            _stacked(canvas, words, height, min(canvas.px(_LESS_BIG), _fitting(height - text * CAP - 3 * gap)))
        )
    tries.append(_row(canvas, words, height, text))
    if len(words) > 1:
        tries.append(_stacked(canvas, words[:2], height, text) if two_rows else None)
        tries.append(_row(canvas, words[:2], height, text))
    for found in tries:
        if found is not None and found.width <= room:
            return found
    return _first_only(canvas, words, height, room)


def _fitting(height: float) -> int:
    return max(1, int(height / CAP))


def _beside(canvas: Canvas, words: tuple[str, ...], height: int, size: int) -> Label:
    """The first word over the whole height, the others beside it one over the other."""
    pen, small = canvas.pen, canvas.px(TEXT)
    size = min(size, _fitting(height - 2 * canvas.px(3)))
    first = pen.width(words[0], size)
    x = first + canvas.px(7)
    upper, lower = _baselines(height, small, small)
    pieces = (
        LabelWord(words[0], size, 0, round((height + CAP * size) / 2)),
        LabelWord(words[1], small, x, upper),
        LabelWord(words[2], small, x, lower),
    )
    return Label(pieces, x + max(pen.width(word, small) for word in words[1:3]))


def _stacked(canvas: Canvas, words: tuple[str, ...], height: int, size: int) -> Label:
    """Two words one over the other, the first one at ``size``."""
    pen, small = canvas.pen, canvas.px(TEXT)
    widths = pen.width(words[0], size), pen.width(words[1], small)
    width = max(widths)
    upper, lower = _baselines(height, size, small)
    return Label(
        (
            LabelWord(words[0], size, (width - widths[0]) // 2, upper),
            LabelWord(words[1], small, (width - widths[1]) // 2, lower),
        ),
        width,
    )


def _baselines(height: int, upper: int, lower: int) -> tuple[int, int]:
    """Two lines with the same space above, between and below."""
    space = (height - CAP * (upper + lower)) / 3
    return round(space + CAP * upper), round(height - space)


def _row(canvas: Canvas, words: tuple[str, ...], height: int, size: int) -> Label:
    pieces, x = [], 0
    for word in words:
        pieces.append(LabelWord(word, size, x, round((height + CAP * size) / 2)))
        x += canvas.pen.width(word, size) + canvas.px(9)
    return Label(tuple(pieces), x - canvas.px(9))


def _first_only(canvas: Canvas, words: tuple[str, ...], height: int, room: int) -> Label:
    size = min(canvas.px(_LESS_BIG), _fitting(height - 2 * canvas.px(2)))
    smallest = canvas.px(SMALLEST)
    while size > smallest and canvas.pen.width(words[0], size) > room:
        size -= 1
    if not words or size < smallest or canvas.pen.width(words[0], size) > room:
        return Label((), 0)
    return _row(canvas, words[:1], height, size)
