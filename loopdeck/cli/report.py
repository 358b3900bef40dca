"""Reports for people: aligned columns that fit a terminal."""

from collections.abc import Sequence

#: Lines of a report before it is cut, so that it stays on one screen, and columns.
SCREEN_LINES, WIDTH = 24, 80


def table(rows: Sequence[Sequence[object]], headers: Sequence[str] = (), right: Sequence[int] = ()) -> str:
    """Rows as aligned columns, two spaces apart, with a header line if given.

    Columns named in ``right`` are flush right. A list in the last column (``1, 2, 3``) is cut where
    the line would be too long.
    """
    texts = [[plain(str(cell)) for cell in row] for row in ([headers] if headers else []) + list(rows)]
    if not texts:
        return ""
    room = WIDTH - sum(max(_width(row[column]) for row in texts) + 2 for column in range(len(texts[0]) - 1))
    for row in texts:
        row[-1] = _shortened(row[-1], room)
    widths = [max(_width(row[column]) for row in texts) for column in range(len(texts[0]))]
    lines = []
    for row in texts:
        cells = []
        for column, (cell, width) in enumerate(zip(row, widths, strict=True)):
            gap = " " * (width - _width(cell))
            cells.append(gap + cell if column in right else cell + gap)
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def _shortened(text: str, room: int) -> str:
    """A list with fewer of its parts, if need be: ``1, 2, ...``."""
    if _width(text) <= room or ", " not in text:
        return text
    parts = text.removesuffix(", ...").split(", ")
    while len(parts) > 1 and _width(", ".join(parts)) + 5 > room:
        parts.pop()
    return ", ".join(parts) + ", ..."


def folded(text: str, indent: str = "  ") -> list[str]:
    """A sentence in lines that fit; those after the first are indented."""
    if _width(text) <= WIDTH:
        return [text] if text else []
    import textwrap

    return textwrap.wrap(text, WIDTH, subsequent_indent=indent)


def cut(rows: Sequence[Sequence[object]], limit: int, what: str) -> tuple[list[Sequence[object]], str]:
    """At most ``limit`` rows, and a line that says how many more there are (empty when none)."""
    left = len(rows) - limit
    if left == 1:
        what = what.replace("notes", "note").replace("riffs", "riff").replace("places", "place")
    return list(rows[:limit]), f"... and {left} more {what}; --json lists all." if left > 0 else ""


def plain(text: str) -> str:
    """The text without what would break a line or cannot be printed; such letters become ``?``."""
    return text if text.isprintable() else "".join(letter if letter.isprintable() else "?" for letter in text)


def _width(text: str) -> int:
    """Columns on a terminal: letters of wide scripts take two, combining marks none."""
    if text.isascii():
        return len(text)
    from unicodedata import combining, east_asian_width

    return sum(0 if combining(letter) else 2 if east_asian_width(letter) in "WF" else 1 for letter in text)
