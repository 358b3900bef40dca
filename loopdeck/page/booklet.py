"""A booklet of riffs as input of LilyPond: title page, contents, a block for each riff, an index by
scale, meter and tempo.

Every block stays on one page: no page ends between its parts, nor between the lines of its music,
unless it is longer than a page.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from loopdeck.page.form import Page
from loopdeck.page.hands import Hands
from loopdeck.page.in_words import brief_in_words, meters_of, to_practise
from loopdeck.page.lily import HEAD, LAYOUT, PAPER, line_ends, quoted, score
from loopdeck.page.lily_neck import neck
from loopdeck.page.musicxml import Instrument

#: Lines of music that fit under a head, a neck and the notes; longer riffs go on on the next page.
_LINES_ON_A_PAGE = 5


@dataclass(frozen=True)
class Style:
    """What every riff is printed with."""

    parts: tuple[str, ...]
    instrument: Instrument
    hands_of: Callable[[Page], Hands | None]


_FOOTER = (
    "  oddFooterMarkup = \\markup \\unless \\on-first-page \\fill-line { \\fontsize #-2 \\fromproperty #'page:page-number-string }\n"
    "  evenFooterMarkup = \\oddFooterMarkup\n"
    "  markup-system-spacing.basic-distance = #10\n  score-markup-spacing = #'((basic-distance . 5) (padding . 1.5))\n"
    "  markup-markup-spacing.padding = #0.6\n"
)


def booklet(title: str, pages: Sequence[Page], style: Style) -> str:
    """The whole booklet; ``pages`` in their order."""
    blocks = [_block(number, page, style) for number, page in enumerate(pages, 1)]
    head = HEAD + PAPER % _FOOTER + LAYOUT % ""
    return "\n".join([head, _title_page(title, pages), _contents(pages), *blocks, _index(pages)])


def _title_page(title: str, pages: Sequence[Page]) -> str:
    count = "one riff" if len(pages) == 1 else f"{len(pages)} riffs"
    words = [
        "\\markup \\column {",
        "\\vspace #14",
        f"\\fill-line {{ \\override #'(line-width . 80) \\override #'(baseline-skip . 6) \\fontsize #9 \\bold \\center-column {{ \\wordwrap-string {quoted(title)} }} }}",
        "\\vspace #1.5 \\fill-line { \\draw-line #'(46 . 0) }",
        f"\\vspace #1 \\fill-line {{ \\fontsize #2 {quoted(count)} }}",
        f"\\vspace #10 \\fill-line {{ \\scale #'(1.7 . 1.7) {neck(pages[0])} }}" if pages else "",
        "}",
        "\\pageBreak",
    ]
    return "\n".join(words)


def _entry(left: str, right: str) -> str:
    return f"\\markup \\fill-with-pattern #1 #RIGHT \\fontsize #-3 . {left} {right}"


def _ref(number: int) -> str:
    return f'\\page-ref #\'riff{number} "000" "?"'


def _contents(pages: Sequence[Page]) -> str:
    rows = ['\\markup { \\fontsize #4 \\bold "Contents" }', "\\markup \\vspace #0.8"]
    for number, page in enumerate(pages, 1):
        name = f"\\line {{ {quoted(f'{number}.')} {quoted(_title(page))} \\fontsize #-3 \\italic {quoted(brief_in_words(page))} }}"
        rows.append(_entry(name, _ref(number)))
    return "\n".join([*rows, "\\pageBreak"])


def _tempo(page: Page) -> str:
    tempo = page.brief.tempo
    return f"{tempo.unit} = {float(tempo.count):g}"


def _title(page: Page) -> str:
    title = " ".join(page.title.split()) or "untitled"
    return title if len(title) <= 60 else title[:57] + "..."


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
        "\\markup \\vspace #1.2",
    ]
    return "\n".join(parts)


def _head(number: int, page: Page) -> str:
    return (
        "\\markup \\column { \\draw-hline \\vspace #0.2 \\fill-line { "
        f"\\fontsize #3 \\bold {quoted(f'{number}.  {_title(page)}')} \\fontsize #-1 {quoted(f'{brief_in_words(page)}, {_tempo(page)}')} }} \\vspace #0.3 }}"
    )


def _beside(page: Page) -> str:
    """The neck, and what the player says beside it."""
    said = [("", page.words), ("Mood: ", page.brief.mood), ("Technique: ", page.brief.technique)]
    column = " ".join(_wrapped(f"{name}{text}") for name, text in said if text.strip())
    legend = _LEGEND if page.brief.scale is not None else '""'
    return (
        f"\\markup \\line {{ \\hspace #2 {neck(page)} \\hspace #5 \\override #'(line-width . {_BESIDE}) "
        f"\\override #'(baseline-skip . 2.7) \\raise #6 \\left-column {{ \\italic \\left-column {{ {column} }} {legend} }} }}"
    )


_BESIDE = 50
_LEGEND = '\\fontsize #-4 "R: root. Numbers: degrees of the scale."'


def _wrapped(text: str) -> str:
    """Text in lines of their own, so that what stands below begins below the last of them."""
    return f"\\wordwrap-lines {{ {' '.join(quoted(word) for word in text.split())} }}"


def _practise(page: Page) -> str:
    rows = " ".join(_wrapped(f"– {sentence}") for sentence in to_practise(page))
    return f'\\markup \\fontsize #-2 \\override #\'(baseline-skip . 2.4) \\column {{ \\bold "To practise" {rows} }}'


def _index(pages: Sequence[Page]) -> str:
    rows = ["\\pageBreak", '\\markup { \\fontsize #4 \\bold "Index" }']
    by_scale = [(str(page.brief.scale) if page.brief.scale is not None else "no scale", 0.0) for page in pages]
    rows += _index_part("By scale", pages, [{one} for one in by_scale])
    rows += _index_part("By meter", pages, [{(meter, 0.0) for meter in meters_of(page)} for page in pages])
    tempi = [
        (f"{page.brief.tempo.quarters_per_minute:g} quarters a minute", page.brief.tempo.quarters_per_minute)
        for page in pages
    ]
    rows += _index_part("By tempo", pages, [{one} for one in tempi])
    return "\n".join(rows)


def _index_part(name: str, pages: Sequence[Page], keys: Iterable[set[tuple[str, float]]]) -> list[str]:
    """``keys``: for each riff what it stands under, each with a number to sort by before the name."""
    found: dict[tuple[float, str], list[int]] = {}
    for number, words in enumerate(keys, 1):
        for word, rank in words:
            found.setdefault((rank, word), []).append(number)
    rows = ["\\markup \\vspace #0.8", f"\\markup {{ \\fontsize #1 \\bold {quoted(name)} }}", "\\noPageBreak"]
    for key in sorted(found):
        riffs = " ".join(
            f"{quoted(_title(pages[number - 1]))} \\concat {{ {_ref(number)} {quoted(';' if place < len(found[key]) else '')} }}"
            for place, number in enumerate(found[key], 1)
        )
        rows.append(
            f"\\markup \\line {{ \\hspace #1 \\column {{ \\wordwrap-lines {{ \\bold {quoted(f'{key[1]}:')} {riffs} }} }} }}"
        )
    return rows
