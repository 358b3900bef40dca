"""What a page says beside the notes: its brief in words, and what to practise, from what stands in
it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from loopdeck.page.folding import folded
from loopdeck.page.form import Page, PageBar, PageNote
from loopdeck.page.voice import heads_of
from loopdeck.theory.pitch import pitch_name

#: The fretting hand has moved where the first finger lies so many frets from where it was.
_SHIFT_FRETS = 3
_PRACTICE_SHARE = 0.6
#: What is worth playing by itself, and what is only to be minded.
_ALONE = {"hammer-on": "hammer-on", "pull-off": "pull-off", "slide": "slide", "slide-from": "slide", "slide-to": "slide", "bend": "bend", "trill": "trill"}  # fmt: skip
_MINDED = {"ghost": "ghost note", "dead": "dead note", "accent": "accent", "staccato": "short note", "vibrato": "vibrato"}  # fmt: skip
_UNITS = {
    "8th": "eighths", "16th": "sixteenths", "half": "halves", "whole": "wholes", "dotted-quarter": "dotted quarters",
    "dotted-8th": "dotted eighths", "dotted-half": "dotted halves",
}  # fmt: skip
_TUPLETS = {3: "triplet", 5: "quintuplet", 6: "sextuplet", 7: "septuplet"}


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
    """What to practise, a sentence each: the count, how it begins, tuplets, notes held over,
    chords, the techniques with their bars, the shifts, a slow tempo to begin at.
    """
    said = [
        _count(page),
        _pickup(page),
        _tuplets(page),
        _held_over(page),
        _chords(page),
        *_techniques(page),
        _shifts(page),
        _swing(page),
        _tempo(page),
    ]
    return [sentence for sentence in said if sentence]


def _count(page: Page) -> str:
    odd = list(dict.fromkeys(bar.meter for bar in page.bars if len(set(bar.meter.groups)) > 1))
    if not odd:
        return ""
    counts = []
    for meter in odd[:2]:
        groups = ", ".join(" ".join(str(count) for count in range(1, size + 1)) for size in meter.groups)
        counts.append(f"{groups}" if len(meters_of(page)) == 1 else f"{groups} in the bars of {meter}")
    return f"Count {' and '.join(counts)}, aloud and with the foot on every 1."


def _pickup(page: Page) -> str:
    first = page.bars[0]
    if not first.pickup or not first.notes:
        return ""
    beat, rest = divmod(first.meter.quarters - first.length + first.notes[0].at, first.meter.unit_quarters)
    place = f"the and of {beat + 1}" if rest * 2 == first.meter.unit_quarters else str(beat + 1)
    after = " or a little after it" if rest and rest * 2 != first.meter.unit_quarters else ""
    return f"It starts before the one: count a bar and come in on {place}{after}."


def _chords(page: Page) -> str:
    bars = _written(page)
    found = [bar.number for bar in bars if len({note.at for note in bar.notes}) < len(bar.notes)]
    return f"Let all notes of a chord sound at once{_where(page, found)}." if found else ""


def _tuplets(page: Page) -> str:
    found: dict[str, list[int]] = {}
    bars = _written(page)
    for bar, heads in zip(bars, heads_of(bars), strict=True):
        for head in heads:
            if head.value.actual in _TUPLETS and head.notes:
                found.setdefault(_TUPLETS[head.value.actual] + "s", []).append(bar.number)
    if not found:
        return ""
    listed = _listed([f"{name}{_where(page, numbers)}" for name, numbers in found.items()])
    return f"Clap the {listed} against the foot before you play them."


def _held_over(page: Page) -> str:
    bars = _written(page)
    held = [bar.number for bar in bars for note in bar.notes if note.at + note.duration > bar.length]
    if not held:
        return ""
    notes = "note" if len(set(held)) == 1 else "notes"
    return f"Keep counting through the {notes} held over the bar line{_where(page, held, 'from ')}."


def _techniques(page: Page) -> Iterable[str]:
    bars: dict[str, list[int]] = {}
    for bar in _written(page):
        for note in bar.notes:
            for mark in note.marks:
                word = _ALONE.get(mark) or _MINDED.get(mark)
                if word is not None:
                    bars.setdefault(word, []).append(bar.number)
    alone = [_named(page, word, bars[word]) for word in dict.fromkeys(_ALONE.values()) if word in bars]
    if alone:
        yield f"Play {_listed(alone)} alone first, then in the bar."
    minded = [_named(page, word, bars[word]) for word in _MINDED.values() if word in bars]
    if minded:
        yield f"Mind {_listed(minded)}."


def _named(page: Page, word: str, numbers: Sequence[int]) -> str:
    several = "" if len(numbers) == 1 or word == "vibrato" else "s"
    return f"the {word}{several}{_where(page, numbers)}"


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _where(page: Page, numbers: Iterable[int], word: str = "") -> str:
    """The bars in brackets; of a riff of one bar there is no need to say."""
    return "" if len(_written(page)) == 1 else f" ({word}{_bars(dict.fromkeys(numbers))})"


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
    unit = "" if tempo.unit == "quarter" else f" {_UNITS.get(tempo.unit, tempo.unit)} a minute"
    fast = f"{float(tempo.count):.1f}".removesuffix(".0")
    return f"Begin at {slow}{unit} and go up to {fast} when it is clean four times in a row."


def _written(page: Page) -> list[PageBar]:
    """The bars that stand on paper, each once."""
    return [bar for section in folded(page.bars) for part in (section.bars, *section.endings) for bar in part]
