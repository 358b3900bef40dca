"""Pictures of reports, ink on paper, readable in grey: what all commands with ``--picture`` share.

matplotlib draws them; it is the extra ``loopdeck[report]`` and is imported only when a picture is
asked for. A command calls ``check_picture`` before it works, ``new_figure``, ``head``, and
``save``.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from loopdeck.errors import UserError, to_install

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from loopdeck.theory.scale import Scale

ENDINGS = (".png", ".svg")
#: Colours as matplotlib reads them: the ground, ink, what is of second rank, thin lines, a quiet
#: surface, the one accent.
GROUND, INK, QUIET, LINE, SHADE, NOW = "#f4efe3", "#1b1814", "#635c50", "#c4bba7", "#e4dcc9", "#b03a1c"
#: Dots an inch of a PNG.
_DPI = 120
#: More names than this would touch on an axis of pitches.
_MOST_NAMES = 16
#: Seconds from mark to mark of a clock axis, and how many of these steps it may have at most.
_STEPS, _MOST_MARKS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800), 10
#: So many seconds always hold a whole one.
_NARROW = 1.2


def check_picture(path: str) -> None:
    """Refuse a picture that cannot be written.

    Raises UserError with what can be, or how to get the library.
    """
    if not path:
        raise UserError("The picture to draw has no name.")
    if Path(path).suffix.lower() not in ENDINGS:
        raise UserError(f"{path} has an ending that no picture has; pictures are written as {' or '.join(ENDINGS)}.")
    try:
        import matplotlib  # noqa: F401
    except ImportError:
        raise UserError(f"Pictures need the library matplotlib; install it with: {to_install('report')}.") from None


def new_figure(width: float, height: float, rows: int = 1, **options: Any) -> "tuple[Figure, list[Axes]]":
    """A figure of ``width`` by ``height`` inches with ``rows`` plots below each other; ``options``
    go to ``Figure.subplots``.
    """
    from matplotlib import rcParams
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    rcParams["svg.hashsalt"] = "loopdeck"
    # A dollar sign in the name of a take is a dollar sign, and begins no formula.
    rcParams["text.parse_math"] = False
    figure = Figure(figsize=(width, height), facecolor=GROUND, layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.subplots(rows, 1, squeeze=False, **options)
    plots = [grid[row][0] for row in range(rows)]
    for plot in plots:
        plot.set_facecolor(GROUND)
        plot.tick_params(colors=QUIET, labelsize=11)
        for side, spine in plot.spines.items():
            spine.set_color(LINE)
            spine.set_visible(side in ("left", "bottom"))
    return figure, plots


def head(plot: "Axes", name: str, said: str, size: float = 17.0, share: float = 1.0) -> None:
    """A headline of at most two lines, as wide as this share of the figure: a name and what is said
    of it. Where both are too long, the name loses its end.
    """
    figure = plot.get_figure(root=True)
    # A bold letter is about five eighths of its size wide; 72 points are an inch.
    letters = int(share * 72.0 * (figure.get_figwidth() if figure else 13.0) / (size * 0.64))
    text = headline(name, said, max(letters, 20))
    plot.set_title(text, loc="left", color=INK, fontsize=size, fontweight="bold")


def headline(name: str, said: str, letters: int) -> str:
    """Two lines at most, of so many letters each."""
    import textwrap

    text, kept = name + said, name[: 2 * letters]
    while kept and len(textwrap.wrap(text, letters)) > 2:
        kept = kept[:-1].rstrip()
        text = f"{kept} ...{said}"
    return "\n".join(textwrap.wrap(text, letters, max_lines=2, placeholder=" ..."))


def clock_axis(plot: "Axes") -> None:
    """The level axis in minutes and seconds, with marks at whole seconds. Call it when all is
    drawn.
    """
    from matplotlib.ticker import MultipleLocator

    low, high = plot.get_xlim()
    wide = high - low
    if wide < _NARROW:
        plot.set_xlim((low + high - _NARROW) / 2, (low + high + _NARROW) / 2)
    hours = 3600 * max(int(np.ceil(wide / _MOST_MARKS / 3600)), 1)
    plot.xaxis.set_major_locator(MultipleLocator(next((one for one in _STEPS if wide / one <= _MOST_MARKS), hours)))
    plot.xaxis.set_major_formatter(_clock)
    plot.set_xlabel("minutes : seconds", color=QUIET, fontsize=11)


def _clock(second: float, _position: object) -> str:
    whole = round(second)
    return f"{'-' if whole < 0 else ''}{abs(whole) // 60}:{abs(whole) % 60:02d}"


def name_pitches(plot: "Axes", pitch: ArrayLike, scale: "Scale | None") -> None:
    """The upright axis in note names: those that were played, the commonest of neighbours that
    would touch; or every C and G where there are too many. ``pitch`` of shape (k,), MIDI numbers.
    """
    from loopdeck.theory.pitch import pitch_name

    played, times = np.unique(np.asarray(pitch, np.int64), return_counts=True)
    low, high = plot.get_ylim()
    apart = max((high - low) / _MOST_NAMES, 1.0)
    names = played[np.argsort(-times, kind="stable")].tolist()
    if len(played) > _MOST_NAMES:
        names = [one for one in range(128) if one % 12 in (0, 7) and low <= one <= high]
    shown: list[int] = []
    for one in names:
        if all(abs(one - other) >= apart for other in shown):
            shown.append(one)
    plot.set_yticks(shown, [(pitch_name if scale is None else scale.spell)(one) for one in shown])


def save(figure: "Figure", path: str) -> None:
    """Write the figure; whole or not at all. Raises OSError."""
    from loopdeck.atomic import whole_file

    ending = Path(path).suffix.lower().lstrip(".")
    with whole_file(path) as out:
        figure.savefig(
            out, format=ending, dpi=_DPI, facecolor=GROUND, metadata={"Date": None} if ending == "svg" else None
        )
