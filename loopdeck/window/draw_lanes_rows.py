"""Where the lanes lie."""

from loopdeck.window.canvas import Canvas
from loopdeck.window.layout import Box, rows
from loopdeck.window.view import View


def lane_rows(canvas: Canvas, view: View) -> list[Box]:
    """The row of each lane. Pitches lie closer than a note is high: the outer ones keep away from
    the edge.
    """
    lanes = view.lanes
    edge = canvas.px(12) if lanes.kind == "pitches" else 0
    return rows(canvas.layout.lanes.inset(0, edge), len(lanes.labels))


def roomy(canvas: Canvas, row: Box) -> Box:
    """A row at least as high as a note needs to be read, around the same middle."""
    more = max(0, canvas.px(36) - row.h)
    return Box(row.x, row.y - more // 2, row.w, row.h + more)
