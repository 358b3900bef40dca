"""Reports for people: aligned columns that fit a terminal."""

from collections.abc import Sequence

#: Lines of a report before it is cut, so that it stays on one screen.
SCREEN_LINES = 24


def table(rows: Sequence[Sequence[object]], headers: Sequence[str] = (), right: Sequence[int] = ()) -> str:
    """Rows as aligned columns, two spaces apart, with a header line if given. Columns named in ``right`` are flush right."""
    texts = [[str(cell) for cell in row] for row in ([headers] if headers else []) + list(rows)]
    if not texts:
        return ""
    widths = [max(len(row[column]) for row in texts) for column in range(len(texts[0]))]
    lines = []
    for row in texts:
        cells = [
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def cut(rows: Sequence[Sequence[object]], limit: int, what: str) -> tuple[list[Sequence[object]], str]:
    """At most ``limit`` rows, and a line that says how many more there are (empty when none)."""
    left = len(rows) - limit
    return list(rows[:limit]), f"... and {left} more {what}; --json lists all." if left > 0 else ""
