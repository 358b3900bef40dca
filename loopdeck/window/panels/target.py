"""The target and how it goes: the ladder of tempi, the last pass in words, what the hand did
otherwise; and the days before, as a picture.
"""

from collections.abc import Hashable
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, Any

import pygame

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import QUIET, SMALLEST, TEXT, Box, rows
from loopdeck.window.panels.panel import Panel, rule
from loopdeck.window.spelling import counted
from loopdeck.window.target import ALWAYS, NEVER, TURNS
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

if TYPE_CHECKING:
    from loopdeck.practice.practising import Judged, PracticeRun

_SOUNDS = {NEVER: "the target is silent", TURNS: "it sounds, then you", ALWAYS: "the target sounds"}
#: More rungs than this are drawn as a bar without gaps.
_RUNGS = 16


def key(view: View, ui: UiState, now: float) -> Hashable:
    """What the panel's picture depends on."""
    state = view.played.practising
    return state.changed, state.run, state.sounds, bool(view.layers), view.shelf.kept[:1], view.loops_next


def draw(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState, now: float) -> None:
    """The run that goes on, or the one that was last; before the first, how to begin."""
    state, px = view.played.practising, canvas.px
    inner = rule(canvas, surface, box)
    practice = state.run.practice if state.run is not None else state.last
    if practice is None:
        _how(canvas, surface, inner, view, ui)
        return
    gap, right = px(24), inner.w * 30 // 100
    left = Box(inner.x, inner.y, inner.w - right - gap, inner.h)
    lines = rows(left, 4)
    _title(canvas, surface, lines[0], practice, state.run is None, _SOUNDS[state.sounds])
    _ladder(canvas, surface, lines[1].inset(0, px(3)), practice)
    _verdict(canvas, surface, Box(left.x, lines[2].y, left.w, lines[2].h + lines[3].h), practice, state.run is None)
    days(canvas, surface, Box(left.right + gap, inner.y, right, inner.h), state.history)


def _how(canvas: Canvas, surface: pygame.Surface, box: Box, view: View, ui: UiState) -> None:
    if ui.chosen is not None or view.layers:
        what = f"layer {ui.chosen or view.layers[-1].number}"
    elif view.loops_next is not None and view.loops_next >= 0:
        what = f"pass {view.loops_next + 1}"
    elif view.shelf.kept:
        what = f"take {view.shelf.kept[0].number}"
    else:
        what = ""
    words = [
        f"Insert practises {what}." if what else "Play something, or keep a take: Insert practises it.",
        "Shift Insert: whether it sounds.  Shift End: one bar of it; the arrows: which bars.",
        "Rest your hands between runs, and keep it at a level you could bear for an hour.",
    ]
    for text, line in zip(words, rows(box, 4), strict=False):
        canvas.pen.write(surface, text, line, canvas.px(TEXT), canvas.theme.quiet, smallest=canvas.px(SMALLEST))


def _title(
    canvas: Canvas, surface: pygame.Surface, line: Box, practice: "PracticeRun", ended: bool, sounds: str
) -> None:
    px, theme, target = canvas.px, canvas.theme, practice.target
    bars = f"bar {target.first_bar}" if target.first_bar == target.last_bar else (
        f"bars {target.first_bar} to {target.last_bar}"
    )  # fmt: skip
    after = "ended" if ended else sounds
    ink = canvas.pen.write(surface, after, line, px(QUIET), theme.quiet, "right")
    room = Box(line.x, line.y, max(1, ink.x - line.x - px(12)), line.h)
    canvas.pen.write(surface, f"{target.name}, {bars}", room, px(TEXT), theme.ink, smallest=px(SMALLEST))


def _ladder(canvas: Canvas, surface: pygame.Surface, line: Box, practice: "PracticeRun") -> None:
    """The tempi from the first to the last as rungs that grow; the one in force is marked, clean
    passes in a row are discs beside it.
    """
    px, theme, plan, pen = canvas.px, canvas.theme, practice.plan, canvas.pen
    tempo = f"{practice.qpm:g} of {plan.to_qpm:g}"
    ink = pen.write(surface, tempo, line, px(TEXT), theme.ink)
    x = ink.right + px(16)
    r = px(8)
    for index in range(min(plan.passes, 8)):
        centre = (x + r + index * (2 * r + px(6)), line.y + line.h // 2)
        canvas.disc(surface, *centre, r, theme.ink)
        if index >= practice.clean_in_a_row:
            canvas.disc(surface, *centre, r - px(3), theme.ground)
    x += min(plan.passes, 8) * (2 * r + px(6)) + px(16)
    count = min(max(ceil((plan.to_qpm - plan.from_qpm) / plan.step) + 1, 1), _RUNGS)
    wide = (line.right - x) / count
    span = max(plan.to_qpm - plan.from_qpm, 1e-9)
    here = round((practice.qpm - plan.from_qpm) / span * (count - 1)) if count > 1 else 0
    best = round((practice.reached_qpm - plan.from_qpm) / span * (count - 1)) if practice.reached_qpm else -1
    for rung in range(count):
        high = line.h * (35 + 65 * (rung + 1) // count) // 100
        step = Box(round(x + rung * wide), line.bottom - high, max(px(4), round(wide) - px(4)), high)
        colour = theme.now if rung == here else theme.ink if rung <= best else theme.quiet
        pygame.draw.rect(surface, colour, step, 0 if rung == here or rung <= best else px(2))


def _verdict(canvas: Canvas, surface: pygame.Surface, box: Box, practice: "PracticeRun", ended: bool) -> None:
    """The last pass; at the end what to work on."""
    px, theme, pen = canvas.px, canvas.theme, canvas.pen
    first, second = rows(box, 2)
    played = [one for one in practice.judged if one.played]
    if ended:
        pen.write(surface, practice.summary(), first, px(TEXT), theme.ink, smallest=px(SMALLEST))
        if played:
            pen.write(surface, practice.work_on(), second, px(TEXT), theme.ink, smallest=px(SMALLEST))
        return
    if not played:
        pen.write(surface, "Play it with the click: each pass is judged.", first, px(TEXT), theme.quiet)
        return
    last = practice.judged[-1]
    # The signs on the lanes are those of this pass: say which one the words are of.
    ink = pen.write(surface, f"last pass, at {last.qpm:g}:", first, px(TEXT), theme.quiet, smallest=px(SMALLEST))
    room = Box(ink.right + px(12), first.y, max(1, first.right - ink.right - px(12)), first.h)
    pen.write(surface, pass_words(last), room, px(TEXT), theme.ink, smallest=px(SMALLEST))
    remark = last.remarks[0] if last.remarks else ""
    if not remark and last.bars and not last.clean:
        remark = f"In bar {', '.join(map(str, last.bars[:4]))}."
    pen.write(surface, remark, second, px(TEXT), theme.quiet, smallest=px(SMALLEST))


def pass_words(judged: "Judged") -> str:
    """``clean``, or what went wrong: ``2 missed, 1 late``."""
    if not judged.played:
        return "nothing played"
    said = [f"{count} {what}" for what, count in judged.counts().items() if count]
    return ", ".join(said) or "clean"


def days(canvas: Canvas, surface: pygame.Surface, box: Box, history: list[dict[str, Any]]) -> None:
    """How fast it was clean, run by run: a line that climbs; the last one named."""
    px, theme, pen = canvas.px, canvas.theme, canvas.pen
    # On one line with the title beside it.
    head = rows(box, 4)[0]
    dates = list(dict.fromkeys(str(run["at"])[:10] for run in history))
    tempi = [float(run["reached_qpm"]) for run in history]
    fastest = "clean tempo" if any(tempi) else "not clean yet"
    words = f"{fastest}, {counted(len(dates), 'day')}" if history else "no run on record yet"
    pen.write(surface, words, head, px(QUIET), theme.quiet, smallest=px(SMALLEST))
    if not any(tempi):
        return
    last = f"{tempi[-1]:g}"
    plot = Box(
        box.x + px(6),
        head.bottom + px(2),
        box.w - pen.width(last, px(TEXT)) - px(28),
        box.bottom - head.bottom - px(12),
    )
    low, high = min(tempi), max(tempi)
    places = [
        (
            plot.x + (round(index / (len(tempi) - 1) * plot.w) if len(tempi) > 1 else plot.w),
            plot.bottom - round((tempo - low) / (high - low) * plot.h if high > low else plot.h / 2),
        )
        for index, tempo in enumerate(tempi)
    ]
    pygame.draw.rect(surface, theme.line, (plot.x, plot.bottom + px(6), plot.w, px(2)))
    for one, other in pairwise(places):
        pygame.draw.line(surface, theme.ink, one, other, px(3))
    for x, y in places:
        canvas.disc(surface, x, y, px(6), theme.ink)
    where = Box(plot.right + px(14), places[-1][1] - px(18), box.right - plot.right - px(14), px(36))
    pen.write(surface, last, where, px(TEXT), theme.ink)


PANEL = Panel("target", key, draw)
