"""A booklet of riffs as input of LilyPond: title page, contents, a block for each riff, an index by
scale, meter and tempo.

Every block stays on one page: no page ends between its parts, nor between the lines of its music,
unless it is longer than a page.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from textwrap import shorten, wrap
from unicodedata import east_asian_width

from loopdeck.page.form import Page
from loopdeck.page.hands import Hands
from loopdeck.page.in_words import brief_in_words, to_practise
from loopdeck.page.lily import HEAD, LAYOUT, PAPER, balanced, quoted, score, tempo_sign, with_accidentals
from loopdeck.page.lily_lines import line_ends
from loopdeck.page.lily_neck import neck
from loopdeck.page.musicxml import Instrument
from loopdeck.rhythm.meter import Meter
from loopdeck.theory.scale import Scale

#: Lines of music that fit under a head, a neck and the notes; longer riffs go on on the next page.
_LINES_ON_A_PAGE = 5


@dataclass(frozen=True)
class Style:
    """What every riff is printed with."""

    parts: tuple[str, ...]
    instrument: Instrument
    hands_of: Callable[[Page], Hands | None]


#: Three short riffs have room on a page.
_FOOTER = (
    "  top-margin = 11\\mm bottom-margin = 9\\mm\n"
    "  oddFooterMarkup = \\markup \\unless \\on-first-page \\fill-line { \\fontsize #-2 \\fromproperty #'page:page-number-string }\n"
    "  evenFooterMarkup = \\oddFooterMarkup\n"
    "  markup-system-spacing = #'((basic-distance . 9) (minimum-distance . 9) (padding . 1.5) (stretchability . 0))\n"
    "  score-markup-spacing = #'((basic-distance . 5) (minimum-distance . 5) (padding . 1.6) (stretchability . 0))\n"
    "  markup-markup-spacing = #'((padding . 0.6) (stretchability . 0))\n"
    "  top-markup-spacing = #'((basic-distance . 0) (minimum-distance . 0) (padding . 0) (stretchability . 0))\n"
    "  top-system-spacing = #'((basic-distance . 4) (minimum-distance . 4) (padding . 1) (stretchability . 0))\n"
)


#: The page of a label, and what stands behind it, with no gap between them.
_AT_PAGE = """#(define-markup-command (at-page layout props label gauge after) (symbol? markup? string?)
  (let ((room (interpret-markup layout props gauge)))
    (ly:make-stencil
      `(delay-stencil-evaluation
        ,(delay (ly:stencil-expr
          (let* ((table (ly:output-def-lookup layout 'label-page-table))
                 (page (and (list? table) (assoc-get label table))))
            (interpret-markup layout props (string-append (if page (number->string page) "?") after))))))
      (ly:stencil-extent room X) (ly:stencil-extent room Y))))
"""


def booklet(title: str, pages: Sequence[Page], style: Style) -> str:
    """The whole booklet; ``pages`` in their order."""
    blocks = [_block(number, page, style) for number, page in enumerate(pages, 1)]
    head = HEAD + _AT_PAGE + PAPER % _FOOTER + LAYOUT % ""
    return "\n".join([head, _title_page(title, pages), _contents(pages), *blocks, _index(pages)])


def _title_page(title: str, pages: Sequence[Page]) -> str:
    count = "one riff" if len(pages) == 1 else f"{len(pages)} riffs"
    size, lines = _title_lines(title)
    words = [
        "\\markup \\column {",
        "\\vspace #14",
        *(f"\\fill-line {{ \\fontsize #{size} \\bold {quoted(line)} }} \\vspace #0.5" for line in lines),
        "\\vspace #1 \\fill-line { \\draw-line #'(46 . 0) }",
        f"\\vspace #1 \\fill-line {{ \\fontsize #2 {quoted(count)} }}",
        f"\\vspace #10 \\fill-line {{ {neck(pages[0], 1.9)} }}" if pages else "",
        "}",
        "\\pageBreak",
    ]
    return "\n".join(words)


#: Sizes of a title's letters, and the letters of each that a line holds.
_TITLE_SIZES = ((9, 26), (7, 34), (5, 44))


def _title_lines(title: str) -> tuple[int, list[str]]:
    """A title in lines of about the same length, three at most where small letters allow it."""
    fitting = (one for one in _TITLE_SIZES if len(wrap(title, one[1])) <= 3)
    size, wide = next(fitting, _TITLE_SIZES[-1])
    return size, balanced(title, wide)


_ROWS_ON_A_PAGE = 54


def _contents(pages: Sequence[Page]) -> str:
    rows = ['\\markup { \\fontsize #4 \\bold "Contents" }', "\\markup \\vspace #0.8"]
    for number, page in enumerate(pages, 1):
        # All rows are as high as each other, whatever letters stand in them.
        counted = f"\\with-dimensions #'(0 . 3.2) #'(-0.6 . 1.6) \\translate #'(2.4 . 0) \\general-align #X #RIGHT {quoted(f'{number}.')}"
        brief = f"\\fontsize #-3 \\italic {with_accidentals(brief_in_words(page))}"
        name = f"\\line {{ {counted} {quoted(_title(page))} {brief} }}"
        rows.append(
            f'\\markup \\fill-with-pattern #1 #RIGHT \\fontsize #-3 . {name} \\page-ref #\'riff{number} "000" "?"'
        )
        if number % _ROWS_ON_A_PAGE == 0 and number < len(pages):
            rows.append("\\pageBreak")
    return "\n".join([*rows, "\\pageBreak"])


def _tempo(page: Page) -> str:
    """The tempo with the sign of its unit."""
    unit, count = tempo_sign(page)
    return f"\\concat {{ \\fontsize #-2 \\note {{{unit}}} #UP {quoted(f' = {count}')} }}"


def _title(page: Page) -> str:
    title = " ".join(page.title.split()) or "untitled"
    short = shorten(title, 60, placeholder=" ...") if " " in title[:56] else title[:60]
    while _wide(short) > 60:
        short = short[:-1]
    return short


def _block(number: int, page: Page, style: Style) -> str:
    """Head, neck and words, music, what to practise."""
    long = len(line_ends(page)) + 1 > _LINES_ON_A_PAGE
    keep = "" if long else "\\override NonMusicalPaperColumn.page-break-permission = ##f"
    music = score(page, style.parts, style.instrument, style.hands_of(page), keep)
    parts = [
        *(["\\pageBreak"] if long else []),
        f"\\label #'riff{number}",
        _head(number, page),
        "\\noPageBreak",
        _beside(page),
        "\\noPageBreak",
        music,
        "\\noPageBreak",
        _practise(page),
    ]
    return "\n".join(parts)


def _head(number: int, page: Page) -> str:
    """The name, and the brief in words to the right of it, or below where both have no room."""
    name, brief = f"{number}.  {_title(page)}", brief_in_words(page)
    left = f"\\fontsize #3 \\bold {quoted(name)}"
    right = f"\\fontsize #-1 \\line {{ {with_accidentals(f'{brief},')} {_tempo(page)} }}"
    if _NAME_ROOM * _wide(name) + _BRIEF_ROOM * _wide(brief) <= 1.0:
        rows = f"\\fill-line {{ {left} {right} }}"
    else:
        rows = f'\\fill-line {{ {left} "" }} \\vspace #0.1 \\fill-line {{ "" {right} }}'
    return f"\\markup \\column {{ \\draw-hline \\vspace #0.2 {rows} \\vspace #0.3 }}"


#: Of a line's width, what a letter of a name takes, and one of the brief behind it.
_NAME_ROOM, _BRIEF_ROOM = 1 / 70, 1 / 115


def _wide(text: str) -> int:
    """The letters of a text, wide ones counted twice."""
    return sum(2 if east_asian_width(letter) in "WF" else 1 for letter in text)


def _beside(page: Page) -> str:
    """The neck, and what the player says beside it."""
    said = [("", page.words), ("Mood: ", page.brief.mood), ("Technique: ", page.brief.technique)]
    column = " ".join(_wrapped(f"{name}{text}") for name, text in said if text.strip())
    legend = '""' if page.brief.scale is None else _legend(page)
    return (
        f"\\markup \\line {{ \\hspace #4.6 {neck(page, _NECK)} \\hspace #5 \\override #'(line-width . {_BESIDE}) "
        f"\\override #'(baseline-skip . 2.7) \\raise #6 \\left-column {{ \\italic \\left-column {{ {column} }} {legend} }} }}"
    )


_BESIDE = 50
#: Three blocks have room on a page.
_NECK = 1.1


def _legend(page: Page) -> str:
    scale = page.brief.scale
    roots = [note for bar in page.bars for note in bar.notes if scale is not None and scale.degree(note.pitch) == "1"]
    root = "R: root. " if roots else ""
    return f'\\fontsize #-4 "{root}Numbers: degrees of the scale."'


def _wrapped(text: str) -> str:
    """Text in lines of their own, so that what stands below begins below the last of them."""
    return f"\\wordwrap-lines {{ {' '.join(quoted(word) for word in text.split())} }}"


#: White room below a block: only ink keeps what follows away.
_CLEAR = "\\with-color #white \\draw-line #'(1 . 0)"


def _practise(page: Page) -> str:
    rows = " ".join(_wrapped(f"– {sentence}") for sentence in to_practise(page))
    return f"\\markup \\pad-to-box #'(0 . 0) #'(0 . 1.8) \\fontsize #-2 \\override #'(baseline-skip . 2.4) \\column {{ \\bold \"To practise\" {rows} \\vspace #0.8 {_CLEAR} }}"


def _index(pages: Sequence[Page]) -> str:
    rows = ["\\pageBreak", '\\markup { \\fontsize #4 \\bold "Index" }']
    rows += _index_part("By scale", pages, [{(name, 0.0)} for name in scale_names(pages)])
    by_meter = [{(str(bar.meter), _meter_rank(bar.meter)) for bar in page.bars} for page in pages]
    rows += _index_part("By meter", pages, by_meter)
    tempi = [page.brief.tempo.quarters_per_minute for page in pages]
    by_tempo = [{(f"{tempo:g} quarters a minute", tempo)} for tempo in tempi]
    rows += _index_part("By tempo", pages, by_tempo)
    return "\n".join(rows)


def scale_names(pages: Sequence[Page]) -> list[str]:
    """What the scale of each page is called in the index: one name for one scale, with the others
    that pages of it have in brackets, such as ``E minor (E aeolian)``.
    """
    names: dict[Scale | None, list[str]] = {}
    for page in pages:
        said = names.setdefault(page.brief.scale, [])
        name = "no scale" if page.brief.scale is None else str(page.brief.scale)
        said += [name] if name not in said else []
    words = {scale: f"{said[0]} ({', '.join(said[1:])})" if said[1:] else said[0] for scale, said in names.items()}
    return [words[page.brief.scale] for page in pages]


def _meter_rank(meter: Meter) -> float:
    """By the unit, then by the number of units: 3/4 before 4/4 before 6/8."""
    return meter.unit * 1000.0 + meter.numerator


def _gauge(number: int) -> str:
    """Room for the page of a riff, at two or three riffs a page."""
    return "0;" if 3 + number / 2.2 < 10 else "00;"


def _index_part(name: str, pages: Sequence[Page], keys: Iterable[set[tuple[str, float]]]) -> list[str]:
    """``keys``: for each riff what it stands under, each with a number to sort by before the
    name.
    """
    found: dict[tuple[float, str], list[int]] = {}
    for number, words in enumerate(keys, 1):
        for word, rank in words:
            found.setdefault((rank, word), []).append(number)
    rows = ["\\markup \\vspace #0.8", f"\\markup {{ \\fontsize #1 \\bold {quoted(name)} }}", "\\noPageBreak"]
    for key in sorted(found):
        riffs = " ".join(
            f"\\concat {{ {quoted(_title(pages[number - 1]) + ', ')} "
            f'\\at-page #\'riff{number} "{_gauge(number)}" {quoted(";" if place < len(found[key]) else "")} }}'
            for place, number in enumerate(found[key], 1)
        )
        rows.append(
            f"\\markup \\line {{ \\hspace #1 \\fontsize #-1 \\column {{ \\wordwrap-lines {{ \\bold {with_accidentals(f'{key[1]}:')} {riffs} }} }} }}"
        )
    return rows
