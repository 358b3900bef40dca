"""A picture of the neck with a scale on it, drawn as the player sees it: the lowest string nearest,
the nut to the left (or the right).

Notes of the scale are discs with their degree, the root a disc in a square, so that no colour is
needed to find it. The positions stand below: each is a bracket as wide as the frets under the hand.
"""

from typing import TYPE_CHECKING, Any

from loopdeck.cli.pictures import GROUND, INK, LINE, QUIET, check_picture, new_figure, save

if TYPE_CHECKING:
    from loopdeck.bass.neck import Neck, Position

#: Frets drawn, and those that carry a dot on most necks, two dots at the octave (common practice,
#: no source).
_FRETS, _DOTS, _OCTAVES = 15, (3, 5, 7, 9, 15), (12,)

#: The height of a row of positions, in strings.
_ROW = 0.7


def draw(neck: "Neck", path: str, left_handed: bool = False) -> None:
    """Draw into ``path``. Raises UserError, OSError."""
    check_picture(path)
    frets, strings = min(neck.frets, _FRETS), len(neck.tuning.strings)
    hands = _rows([one for one in neck.positions if one.high <= frets])
    below = _ROW * len(hands)
    figure, (plot,) = new_figure(1.0 + 0.72 * frets, 1.4 + 0.55 * (strings + below))
    plot.set_axis_off()
    plot.set_xlim((frets + 0.7, -1.4) if left_handed else (-1.4, frets + 0.7))
    plot.set_ylim(-1.1 - below, strings + 0.3)
    plot.set_title(f"{neck.scale} on {neck.tuning}", loc="left", color=INK, fontsize=17, fontweight="bold")
    _wood(plot, neck, frets)
    for string, lowest in enumerate(neck.tuning.strings, 1):
        for fret in range(frets + 1):
            if (lowest + fret) % 12 in neck.scale.pitch_classes:
                _note(plot, _place(fret), strings - string, neck.scale.degree(lowest + fret))
    for row, positions in enumerate(hands):
        for position in positions:
            _hand(plot, position, -1.1 - _ROW * (row + 0.6))
    save(figure, path)


def _rows(positions: "list[Position]") -> "list[list[Position]]":
    """Positions in as few rows as they need, none beside another without room between."""
    rows: list[list[Position]] = []
    for position in positions:
        row = next((one for one in rows if one[-1].high + 1 < position.low), None)
        if row is None:
            rows.append(row := [])
        row.append(position)
    return rows


def _hand(plot: Any, position: "Position", height: float) -> None:
    """A position as a bracket under its frets."""
    left, right = (_place(position.low) - 0.42, _place(position.high) + 0.42)
    plot.plot(
        [left, left, right, right], [height + 0.22, height, height, height + 0.22], color=INK, linewidth=2.5, zorder=2
    )
    plot.text(
        (left + right) / 2,
        height,
        f"{position.low} to {position.high}",
        ha="center",
        va="center",
        color=INK,
        fontsize=14,
        zorder=3,
        bbox={"facecolor": GROUND, "edgecolor": "none", "pad": 3},
    )


def _place(fret: int) -> float:
    """Where a fret is pressed; the open string before the nut."""
    return fret - 0.5 if fret else -0.45


def _wood(plot: Any, neck: "Neck", frets: int) -> None:
    """Strings, frets and dots."""
    strings = len(neck.tuning.strings)
    top, bottom = strings - 1, 0
    for fret in range(frets + 1):
        if fret == 0 or not neck.tuning.fretless:
            plot.plot(
                [fret, fret], [bottom, top], color=INK if fret == 0 else LINE, linewidth=5 if fret == 0 else 2, zorder=1
            )
        if fret in _DOTS or fret in _OCTAVES:
            plot.text(fret - 0.5, -0.8, str(fret), ha="center", va="center", color=QUIET, fontsize=14)
            for height in (top / 2,) if fret in _DOTS else (top / 2 - 1, top / 2 + 1):
                plot.plot(fret - 0.5, height, "o", color=LINE, markersize=11, zorder=0)
    for string in range(1, strings + 1):
        height = strings - string
        plot.plot([-0.9, frets], [height, height], color=QUIET, linewidth=0.8 + 0.5 * string, zorder=1)
        plot.text(-1.2, height, neck.tuning.name_of(string), ha="center", va="center", color=INK, fontsize=15)


def _note(plot: Any, place: float, height: float, degree: str) -> None:
    text = degree.replace("b", "♭").replace("#", "♯")
    if degree == "1":
        plot.plot(place, height, "s", color=GROUND, markeredgecolor=INK, markeredgewidth=2.2, markersize=30, zorder=2)
    plot.plot(place, height, "o", color=INK, markersize=24, zorder=3)
    plot.text(
        place,
        height - 0.01,
        "R" if degree == "1" else text,
        ha="center",
        va="center",
        color=GROUND,
        fontsize=12,
        fontweight="bold",
        zorder=4,
    )
