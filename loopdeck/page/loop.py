"""The loop on paper: its layers, laid over one another, as the bars of one cycle.

Conventions
    The bars are those of the cycle, each once, numbered from 1. A loop goes round: a downbeat that
    was played early at the very end stands on the first beat, and what is still held at the end is
    cut there. Muted layers are left out by the caller.
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from loopdeck.brief.brief import Brief
from loopdeck.looper.layers import Layer
from loopdeck.looper.recording import Recording
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.making import page_of
from loopdeck.shelf.material import material_of
from loopdeck.shelf.take import Take, now_text


def take_of_loop(layers: Sequence[Layer], brief: Brief, name: str) -> Take:
    """The layers as a take without any playing beside them."""
    seconds = float(brief.cycle.quarters) * 60.0 / brief.tempo.quarters_per_minute
    return Take(
        name=name,
        kept_at=now_text(),
        recording=Recording(brief=brief, events=(), layers=tuple(layers), passes=1, end_sec=seconds),
    )


def loop_page(layers: Sequence[Layer], brief: Brief, name: str = "loop") -> Page:
    """The written form of the loop; every bar of the cycle is there, also an empty one.

    Raises UserError where a page cannot hold it.
    """
    page = page_of(material_of(take_of_loop(layers, brief, name), played=False))
    meters = brief.cycle.meters
    found: list[list[PageNote]] = [[] for _ in meters]
    # Notes inside the cycle first: what comes round the end gives way to what stands there.
    for bar in sorted(page.bars, key=lambda bar: not 1 <= bar.number <= len(meters)):
        notes = found[(bar.number - 1) % len(meters)]
        shift = bar.meter.quarters - bar.length if bar.pickup else Fraction(0)
        for note in bar.notes:
            at = note.at + shift
            if not any(other.at == at and (other.pitch == note.pitch) for other in notes):
                notes.append(replace(note, at=at))
    return replace(
        page, bars=_one_voice([sorted(notes, key=lambda one: (one.at, one.pitch)) for notes in found], brief)
    )


def _one_voice(bars: Sequence[Sequence[PageNote]], brief: Brief) -> tuple[PageBar, ...]:
    """Notes end where the next ones begin, and with the cycle, at the latest; chords end
    together.
    """
    begin = brief.cycle.bar_starts
    places = sorted({start + note.at for start, notes in zip(begin, bars, strict=True) for note in notes})
    until = dict(zip(places, [*places[1:], brief.cycle.quarters], strict=False))
    found = []
    for number, (meter, start, notes) in enumerate(zip(brief.cycle.meters, begin, bars, strict=True), 1):
        longest: dict[Fraction, Fraction] = {}
        for note in notes:
            longest[note.at] = max(note.duration, longest.get(note.at, Fraction(0)))
        cut = [replace(one, duration=min(longest[one.at], until[start + one.at] - start - one.at)) for one in notes]
        found.append(PageBar(number, meter, meter.quarters, tuple(cut)))
    return tuple(found)
