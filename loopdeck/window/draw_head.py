"""The top of the window: the brief in force, the count (the biggest thing there is), the state in
words, and what was played last.
"""

from collections.abc import Sequence

import pygame

from loopdeck.theory.chord import together_name
from loopdeck.window.canvas import Canvas
from loopdeck.window.gesture import gesture
from loopdeck.window.labels import words_of
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.note_view import NoteView
from loopdeck.window.practice import practice_hint
from loopdeck.window.shapes import lozenge
from loopdeck.window.spelling import pretty_chord, pretty_scale, pretty_tempo, ramp_unit
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

HEAVY_STATES = ("LAYERING", "REPLACING")


def header(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """One line: scale, tempo, cycle, grid, swing, tuning, name; a thin line below."""
    theme, pen = canvas.theme, canvas.pen
    pygame.draw.rect(surface, theme.line, (box.x, box.bottom - canvas.px(2), box.w, canvas.px(2)))
    line = Box(box.x, box.y, box.w, box.h - canvas.px(4))
    size, space = canvas.px(TEXT), canvas.px(30)
    if view.brief is None:
        pen.write(surface, "No brief yet: waiting for the engine.", line, size, theme.quiet)
        return
    parts = header_parts(view)

    def width() -> int:
        return sum(pen.width(text, size) for text, _ in parts) + space * (len(parts) - 1)

    # What matters least goes first; what is left is as large as it should be.
    while width() > box.w and len(parts) > 3:
        parts.remove(max(parts, key=lambda part: part[1]))
    if width() > box.w:
        pen.write(surface, "   ".join(text for text, _ in parts), line, size, theme.ink, smallest=canvas.px(SMALLEST))
        return
    x = line.x
    for text, _ in parts:
        wide = pen.width(text, size)
        pen.write(surface, text, Box(x, line.y, wide, line.h), size, theme.ink)
        x += wide + space


def header_parts(view: View) -> list[tuple[str, int]]:
    """The fields of the brief as they are read, each with how easily it is missed (0: never left
    out).
    """
    texts = view.brief_texts
    swing, tempo = str(texts.get("swing", "")), str(texts.get("tempo", ""))
    ramp = str(texts.get("ramp") or "off")
    found = [
        (pretty_scale(str(texts.get("scale") or "")) or "no scale", 0),
        (pretty_tempo(tempo), 0),
        (str(texts.get("cycle", "")), 0),
        (f"grid {texts.get('grid', '')}", 3),
        (swing if swing.startswith("straight") else f"swing {swing}", 2),
        (str(texts.get("tuning", "")), 4),
        (f"ramp {ramp_unit(tempo)}{ramp}" if ramp != "off" else "", 1),
        (str(texts.get("name") or ""), 5),
    ]
    return [(text, rank) for text, rank in found if text]


def count_text(view: View, now: float) -> str:
    """``"2.3"``: bar 2, count 3; only the count while counting in; nothing while nothing runs."""
    place = view.place(now)
    if not place.running:
        return ""
    bar, beat = view.cycle_layout.count(place.at_q)
    return f"{bar}.{beat}" if bar else str(beat)


def count(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """Bar and beat, as large as the box allows."""
    canvas.pen.write(surface, count_text(view, now), box, canvas.px(160), canvas.theme.ink)


def state_hint(view: View, ui: UiState) -> str:
    """What comes next, in words; or how to begin."""
    if view.engine_lost:
        return "no engine"
    if view.clock.next:
        return view.clock.next
    if view.clock.state == "STOPPED":
        return "Tab starts"
    return ""


def state(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The state word (on solid ink while passes become layers), the pass, what comes next, and
    what click and tempo do; while they do nothing, the swing and the scale of the last passes.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    word = view.clock.state
    # One size for every state, so that the word does not jump.
    size = pen.fit("COUNTING IN", px(46), box.w - px(36))
    plate = Box(box.x, box.y, min(box.w, pen.width(word, size) + px(32)), px(48))
    heavy = word in HEAVY_STATES
    pygame.draw.rect(surface, theme.ink, plate, 0 if heavy else px(3))
    pen.write(surface, word, plate.inset(px(16), 0), size, theme.ground if heavy else theme.ink)
    # The second line has letters that hang down.
    below = Box(box.x, plate.bottom + px(1), box.w, max(2, box.bottom - plate.bottom - px(6)))
    first, second = rows(below, 2)
    place = view.place(now)
    text = f"pass {place.pass_index + 1}" if place.running and place.at_q >= 0 else ""
    hint = state_hint(view, ui)
    ink = pen.write(surface, text, first, px(TEXT), theme.ink) if text else Box(first.x, first.y, 0, 0)
    left = ink.right + (px(24) if text else 0)
    where = Box(left, first.y, first.right - left, first.h)
    practice = practice_hint(view, now)
    hint, more = (hint, "") if practice else _parted(canvas, hint, where.w)
    pen.write(surface, hint, where, px(TEXT), theme.ink, smallest=px(SMALLEST))
    if practice or more:
        pen.write(surface, practice or more, second, px(TEXT), theme.ink, smallest=px(SMALLEST))
    elif words := view.played.remarks.feel(place.pass_index):
        # What matters while playing stands above; this is for a glance.
        pen.write(surface, words, second, px(QUIET + 2), theme.quiet, smallest=px(SMALLEST))


def _parted(canvas: Canvas, hint: str, width: int) -> tuple[str, str]:
    """What comes next, and what of it has to stand on the line below since it would be cut off."""
    parts = hint.split(", ")
    count = len(parts)
    while count and canvas.pen.width(", ".join(parts[:count]), canvas.px(SMALLEST)) > width:
        count -= 1
    return ", ".join(parts[:count]), ", ".join(parts[count:])


# ---- the readout ---------------------------------------------------------------------------------


def readout(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """What was played last: a chord or an interval by its name, a note by fret, name and degree;
    below in words what is to be said of it.
    """
    mark = note_of_the_readout(view, now)
    if mark is None:
        return
    px = canvas.px
    line = Box(box.x, box.y, box.w, px(70))
    below = Box(box.x, line.bottom + px(4), box.w, max(1, box.bottom - line.bottom - px(6)))
    struck = view.played.with_last()
    scale = view.brief.scale if view.brief is not None else None
    together = together_name([one.pitch for one in struck], scale) if len(struck) > 1 else ""
    if len(struck) > 1:
        names = " ".join(one.spelling.name for one in struck)
        text = pretty_chord(together) if together else names
        size = canvas.pen.fit(text, px(64), box.w, px(TEXT))
        canvas.pen.write(surface, text, line, size, canvas.theme.ink, "right")
        words = [names] if together else []
    else:
        _big_note(canvas, surface, line, mark, words_of(mark, ui.biggest))
        words = []
    words += note_words(struck if len(struck) > 1 else [mark], view)
    canvas.pen.write(surface, ", ".join(words), below, px(TEXT), canvas.theme.ink, "right", px(SMALLEST))


def note_of_the_readout(view: View, now: float) -> NoteView | None:
    """What was played last; None once a whole pass went by without a note."""
    mark, place = view.played.last, view.place(now)
    if mark is not None and place.running and place.pass_index > mark.pass_index + 1:
        return None
    return mark


def note_words(struck: Sequence[NoteView], view: View) -> list[str]:
    """What is to be said of notes struck together, or of one."""
    words = []
    if any(mark.spelling.outside for mark in struck) and view.brief is not None and view.brief.scale is not None:
        words.append("not in the scale")
    heard = next((mark for mark in struck if mark.heard), None)
    if heard is not None:
        words.append(f"{abs(heard.offset_ms):.0f} ms {heard.heard}")
    moves = gesture(struck[0].bend) if len(struck) == 1 else ""
    if moves:
        words.append(moves)
    if not words and struck[0].pass_index >= 0:
        words.append("in time")
    return words


def _big_note(canvas: Canvas, surface: pygame.Surface, line: Box, mark: NoteView, words: tuple[str, ...]) -> None:
    """The words of a note in a row, the first largest; in a lozenge where the note left the
    scale.
    """
    pen, theme, px = canvas.pen, canvas.theme, canvas.px
    outside = mark.spelling.outside
    big, small, space = px(60 if outside else 76), px(44 if outside else 52), px(22)
    sizes = [big] + [small] * (len(words) - 1)
    widths = [pen.width(word, size) for word, size in zip(words, sizes, strict=True)]
    total = sum(widths) + space * (len(words) - 1)
    x = line.right - total
    if outside:
        surface.blit(lozenge(canvas, total + px(64), line.h, px(5), px(26)), (line.right - total - px(64), line.y))
        x -= px(32)
    for word, size, width in zip(words, sizes, widths, strict=True):
        pen.write(surface, word, Box(x, line.y, width, line.h), size, theme.ink)
        x += width + space
