"""What a page says beside the notes: its brief in words, and what to practise, from what stands in
it.
"""

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from loopdeck.page.folding import folded
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.theory.pitch import pitch_name

#: The fretting hand has moved where the first finger lies so many frets from where it was.
_SHIFT_FRETS = 3
_PRACTICE_SHARE = 0.6
_TECHNIQUES = {
    "hammer-on": "the hammer-ons", "pull-off": "the pull-offs", "slide": "the slides", "bend": "the bends", "vibrato": "the vibrato",
    "dead": "the dead notes", "ghost": "the ghost notes", "staccato": "the short notes", "accent": "the accents", "trill": "the trill",
}  # fmt: skip


def brief_in_words(page: Page) -> str:
    """Scale, meters, swing and tuning as a player says them: ``E dorian, 4/4 then 4+3/8, swing 2:1,
    drop-d (D1 A1 D2 G2)``.
    """
    brief = page.brief
    words = [str(brief.scale)] if brief.scale is not None else []
    words.append(" then ".join(map(str, meters_of(page))))
    if not brief.swing.straight:
        unit = {Fraction(1, 2): " of eighths", Fraction(1, 4): " of sixteenths"}.get(
            brief.swing.unit or Fraction(0), ""
        )
        words.append(f"swing {replace(brief.swing, unit=None)}{unit}")
    strings = " ".join(pitch_name(pitch) for pitch in reversed(brief.tuning.strings))
    name = str(brief.tuning)
    if name != "four-string":
        words.append(f"{name} ({strings})" if name != strings else f"tuned {strings}")
    return ", ".join(words)


def meters_of(page: Page) -> list[str]:
    """The meters of its bars in order, each once; of more than four the first three and ``...``."""
    found = list(dict.fromkeys(str(bar.meter) for bar in page.bars))
    return found if len(found) <= 4 else [*found[:3], "..."]


def to_practise(page: Page) -> list[str]:
    """What to practise, a sentence each: the count, the techniques with their bars, the shifts, a
    slow tempo to begin at.
    """
    said = [_count(page), *_techniques(page), _shifts(page), _swing(page), _tempo(page)]
    return [sentence for sentence in said if sentence]


def _count(page: Page) -> str:
    odd = [bar.meter for bar in page.bars if not bar.meter.plain and len(set(bar.meter.groups)) > 1]
    if not odd:
        return ""
    meter = odd[0]
    groups = ", ".join(" ".join(str(count) for count in range(1, size + 1)) for size in meter.groups)
    return f"Count {groups} in the bars of {meter}, aloud and with the foot on every 1."


def _techniques(page: Page) -> Iterable[str]:
    bars: dict[str, list[int]] = {}
    for bar in _written(page):
        for note in bar.notes:
            for mark in note.marks:
                bars.setdefault(mark, []).append(bar.number)
    parts = [f"{words} ({_bars(dict.fromkeys(bars[mark]))})" for mark, words in _TECHNIQUES.items() if mark in bars]
    if parts:
        listed = parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
        yield f"Play {listed} alone first, then in the bar."


def _bars(numbers: Iterable[int]) -> str:
    found = list(numbers)
    names = ["the pick-up" if number < 1 else str(number) for number in found[:4]]
    more = ", ..." if len(found) > 4 else ""
    if names == ["the pick-up"]:
        return names[0]
    return ("bar " if len(names) == 1 else "bars ") + ", ".join(names) + more


def _shifts(page: Page) -> str:
    """The first wide move of the hand, by the first finger's fret."""
    before: PageNote | None = None
    for bar in _written(page):
        for note in bar.notes:
            if note.fret == 0 or not note.string:
                continue
            if before is not None and note.hand and before.hand and abs(note.hand - before.hand) >= _SHIFT_FRETS:
                return (
                    f"The hand moves from fret {before.hand} to fret {note.hand} in {_bars([bar.number])}: look ahead."
                )
            before = note
    return ""


def _swing(page: Page) -> str:
    if page.brief.swing.straight:
        return ""
    unit = "eighth" if page.brief.swing.unit_for(page.brief.grid) == Fraction(1, 2) else "sixteenth"
    return f"Every second {unit} comes late; play it straight once to hear the difference."


def _tempo(page: Page) -> str:
    tempo = page.brief.tempo
    slow = max(round(float(tempo.count) * _PRACTICE_SHARE / 2) * 2, 2)
    unit = "" if tempo.unit == "quarter" else f" ({tempo.unit})"
    return f"Begin at {slow}{unit} and go up to {tempo.count}{unit} when it is clean four times in a row."


def _written(page: Page) -> list[PageBar]:
    """The bars that stand on paper, each once."""
    return [bar for section in folded(page.bars) for part in (section.bars, *section.endings) for bar in part]
