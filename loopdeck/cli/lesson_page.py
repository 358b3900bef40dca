"""The page of a lesson as a PDF: staff and tab through the engraver; without it the tab as text.
The words and the neck stand on both.
"""

from collections.abc import Sequence
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, NamedTuple

from loopdeck.errors import UserError, to_install

if TYPE_CHECKING:
    from loopdeck.cli.one_part import OnePart
    from loopdeck.page.form import Page
    from loopdeck.shelf.take import Take

STAFF, TAB = "staff", "tab"
#: Columns of the text, and lines on an A4 page of it.
_COLUMNS, _LINES = 88, 66


def page_pdf(takes: "Sequence[tuple[Take, str]]") -> tuple[bytes, str]:
    """The PDF of takes, each with the teacher's words, and a sentence where something is missing
    from it ("" where all is there). Each begins on a page of its own.

    Raises UserError.
    """
    found = [_page(take) for take, _ in takes]
    says = " ".join(dict.fromkeys(one.said for one in found if one.said))
    try:
        return _engraved([(one, words) for one, (_, words) in zip(found, takes, strict=True)]), says
    except UserError as error:
        for one, (take, _) in zip(found, takes, strict=True):
            if TAB not in one.parts:
                raise UserError(
                    f"{take.name} cannot be written as tab, and the staff needs the typesetter: {error}"
                ) from None
        texts = [_text(take, one.page, words) for one, (take, words) in zip(found, takes, strict=True)]
        return _text_pdf(texts), f"{says} The page has the tab as text and no staff: {error}".strip()


class _Written(NamedTuple):
    """A take written down, what of it is printed, and what there is to say of that."""

    page: "Page"
    parts: tuple[str, ...] = (STAFF, TAB)
    said: str = ""


def _page(take: "Take") -> _Written:
    """The take written down; where all of it has no room on the strings one part, else the staff
    alone, which is said.
    """
    from loopdeck.page.tab_text import check_playable

    page = _written(take)
    try:
        check_playable(page)
        return _Written(page)
    except UserError as error:
        why = str(error).partition(";")[0]
        if why.split()[0].isalpha():
            why = why[:1].lower() + why[1:]
    for one in _parts(take):
        with suppress(UserError):
            part = _written(one.take)
            check_playable(part)
            alone = f"All of {take.name} has no room on the strings; the page has {one.words} alone."
            return _Written(part, said=alone)
    return _Written(
        page, (STAFF,), f"{take.name} has no room on the strings ({why}); the page has the staff and no tab."
    )


def _parts(take: "Take") -> "list[OnePart]":
    """What there is of a take to stand alone: the playing, a track, the notes of one channel."""
    from loopdeck.cli.one_part import OnePart, one_part

    one = one_part(take, "")
    found = [one] if one is not None else []
    events = take.recording.events
    channels = sorted({event.data[0] & 0x0F for event in events if event.data[0] & 0xF0 == 0x90})
    for channel in channels if len(channels) > 1 else ():
        own = tuple(event for event in events if event.data[0] >= 0xF0 or event.data[0] & 0x0F == channel)
        found.append(OnePart(take.changed(events=own, layers=()), f"what is on channel {channel + 1}"))
    return found


def _written(take: "Take") -> "Page":
    from loopdeck.page.making import page_of
    from loopdeck.shelf.looping import seen
    from loopdeck.shelf.material import material_of

    page = page_of(seen(material_of(take)))
    if not any(bar.notes for bar in page.bars):
        raise UserError(f"{take.said} has no notes to write down.")
    return page


def _engraved(pages: Sequence[tuple[_Written, str]]) -> bytes:
    """The sheets as ``loopdeck sheet`` has them, with the words above the staff and the neck
    below.
    """
    import tempfile

    from loopdeck.page.engraver import engrave, typesetter

    typesetter()
    sheets = [_sheet(one.page, one.parts, words) for one, words in pages]
    with tempfile.TemporaryDirectory(prefix="loopdeck-lesson-") as folder:
        path = Path(folder) / "page.pdf"
        engrave(sheets[0][0] + "".join(f"\\bookpart {{\n{body}}}\n" for _, body in sheets), path)
        return path.read_bytes()


def _sheet(page: "Page", parts: Sequence[str], words: str) -> tuple[str, str]:
    """What a sheet begins with, and the rest of it, as the typesetter reads them."""
    from loopdeck.page.lily import LAYOUT, quoted, sheet
    from loopdeck.page.lily_neck import neck
    from loopdeck.page.musicxml import INSTRUMENTS

    begin, layout, rest = sheet(page, parts, INSTRUMENTS["bass"], None, False).partition(LAYOUT % "")
    # No title holds a line break, so the score begins at the first of these.
    title, score, music = rest.partition("\n\\score {")
    lines = [line for paragraph in words.splitlines() for line in wrap(paragraph, _COLUMNS)]
    said = "".join(f"  \\line {{ {quoted(line)} }}\n" for line in lines)
    above = f"\n\\markup \\column {{\n{said}  \\vspace #1 }}" if said else ""
    below = f"\\markup {{ \\column {{ \\vspace #2 {drawn} }} }}\n" if (drawn := neck(page)) else ""
    return begin + layout, title + above + score + music + below


def _about(take: "Take", words: str) -> list[str]:
    """What the riff is played in, and the teacher's words."""
    brief = take.brief
    parts = [f"{brief.cycle} at {brief.tempo}"]
    parts += [str(brief.scale)] if brief.scale is not None else []
    parts += [part for part in (brief.technique, f"tuning: {brief.tuning}") if part]
    found = [", ".join(parts)]
    for paragraph in words.splitlines():
        found += ["", *(wrap(paragraph, _COLUMNS) or [])]
    return found


def _neck(take: "Take") -> list[str]:
    """The neck with the scale, as text; nothing where there is no scale."""
    if take.brief.scale is None:
        return []
    from loopdeck.bass.neck import neck_of
    from loopdeck.cli.neck import drawn

    neck = neck_of(take.brief.scale, take.brief.tuning)
    return [f"{neck.scale} on {neck.tuning}", "", *drawn(neck, False)]


def _text(take: "Take", page: "Page", words: str) -> list[str]:
    from loopdeck.page.tab_text import tab_text

    lines = [take.name, "", *_about(take, words), "", *tab_text(page, _COLUMNS).splitlines()]
    return [*lines, "", "", *_neck(take)]


def _text_pdf(texts: "Sequence[list[str]]") -> bytes:
    try:
        from matplotlib.backends.backend_pdf import PdfPages
        from matplotlib.figure import Figure
    except ImportError:
        raise UserError(
            f"The page needs the typesetter LilyPond; install it with: {to_install('sheet')} (or the library "
            "matplotlib, for a page without staff: loopdeck[report] instead)."
        ) from None
    out = BytesIO()
    with PdfPages(out, metadata={"CreationDate": None}) as pages:
        for text in [
            "\n".join(lines[start : start + _LINES]) for lines in texts for start in range(0, len(lines), _LINES)
        ]:
            figure = Figure(figsize=(8.27, 11.69))
            figure.text(0.07, 0.95, text, family="monospace", fontsize=8.5, va="top", parse_math=False)
            pages.savefig(figure)
    return out.getvalue()
