"""The neck under a riff, drawn as LilyPond markup: strings as on the tab (the highest on top), the
nut to the left.

Conventions
    Lengths are staff spaces. A disc is a place the riff uses, its root a square; in it stands the
    degree of the scale, or the note's name without a scale. Open strings stand to the left of the
    nut, hollow. At least ``_LEAST`` frets are shown.
"""

from collections.abc import Iterator

from loopdeck.page.form import Page
from loopdeck.theory.pitch import pitch_name

_LEAST, _MOST = 5, 24
_STRING_GAP, _WIDTH, _FRET = 2.3, 48.0, 5.6
#: The whole is drawn so much larger, to be read from a music stand.
LARGE = 1.6
_DOTS, _DOUBLE = (3, 5, 7, 9, 15, 17, 19, 21), (12, 24)


def neck(page: Page, large: float = LARGE) -> str:
    """A markup: the places of the riff on the neck, drawn ``large`` times as large as the tab.
    Empty where it has none.
    """
    places = {(note.string, note.fret): note.pitch for bar in page.bars for note in bar.notes if note.string}
    if not places:
        return ""
    fretted = [fret for _, fret in places if fret]
    low = min(fretted, default=1)
    first = 1 if low <= 4 else low - 1
    last = min(max(max(fretted, default=0), first + _LEAST - 1), _MOST)
    wide = min(_FRET, _WIDTH / (last - first + 1))
    count = len(page.brief.tuning.strings)
    parts = [*_wood(page, first, last, wide), *_notes(page, places, first, wide, count)]
    return f"\\scale #'({large} . {large}) \\overlay {{ " + " ".join(parts) + " }"


def _wood(page: Page, first: int, last: int, wide: float) -> Iterator[str]:
    tuning = page.brief.tuning
    count = len(tuning.strings)
    length, height = (last - first + 1) * wide, (count - 1) * _STRING_GAP
    for string in range(1, count + 1):
        y = (count - string) * _STRING_GAP
        yield _line(0, y, length, y, 0.06 + 0.035 * string)
        yield _text(-3.8, y, tuning.name_of(string), "\\fontsize #-4")
    for fret in range(first - 1, last + 1):
        x = (fret - first + 1) * wide
        if not tuning.fretless or fret == 0:
            yield _line(x, 0, x, height, 0.5 if fret == 0 else 0.12)
        if fret >= first and (fret in _DOTS or fret in _DOUBLE or fret == first):
            yield _text(x - wide / 2, -2.1, str(fret), "\\fontsize #-5")


def _notes(page: Page, places: dict[tuple[int, int], int], first: int, wide: float, count: int) -> Iterator[str]:
    scale = page.brief.scale
    for (string, fret), pitch in sorted(places.items()):
        y = (count - string) * _STRING_GAP
        x = (fret - first + 0.5) * wide if fret else -1.5
        degree = scale.degree(pitch) if scale is not None else ""
        words = degree or pitch_name(pitch).rstrip("-0123456789")
        root = degree == "1"
        words = "R" if root else words
        style = f"\\fontsize #{-5.5 if len(words) < 2 else -6} \\bold"
        if not fret:
            yield _disc(x, y, 1.02, "black", root)
            yield _disc(x, y, 0.88, "white", root)
            yield _text(x, y, words, style)
            continue
        yield _disc(x, y, 1.08, "black", root)
        yield _text(x, y, words, f"\\with-color #white {style}")


def _line(x1: float, y1: float, x2: float, y2: float, thick: float) -> str:
    return f"\\path #{thick:.3f} #'((moveto {x1:.2f} {y1:.2f}) (lineto {x2:.2f} {y2:.2f}))"


def _disc(x: float, y: float, radius: float, colour: str, square: bool) -> str:
    if square:
        shape = f"\\filled-box #'({-radius:.2f} . {radius:.2f}) #'({-radius:.2f} . {radius:.2f}) #0"
    else:
        shape = f"\\draw-circle #{radius:.2f} #0 ##t"
    return f"\\translate #'({x:.2f} . {y:.2f}) \\with-color #{colour} {shape}"


def _text(x: float, y: float, text: str, style: str) -> str:
    text = text.replace("#", "♯").replace("b", "♭")
    return f'\\translate #\'({x:.2f} . {y:.2f}) \\general-align #Y #CENTER \\center-align {style} "{text}"'
