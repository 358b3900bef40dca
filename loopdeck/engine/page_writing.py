"""``python -m loopdeck.engine.page_writing``: the process that writes the loop, or a take, out as
text tab and, where the typesetter is, as a page. What to write comes as JSON on standard input,
what became of it goes as JSON to standard output: ``{"text": sentence, "wrong": bool}``.

Conventions: a layer travels as its notes (rows of ``LAYER_DTYPE``) and bend curves. The files lie
in a folder ``pages`` beside the shelf; a loop's carry the moment, so none is written over another.
"""

import json
import re
import signal
import sys
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.atomic import whole_file
from loopdeck.brief.brief import brief_from_dict
from loopdeck.errors import UserError
from loopdeck.looper.layers import LAYER_DTYPE, Layer
from loopdeck.process.children import ready_for_signals
from loopdeck.process.priority import lower_priority

if TYPE_CHECKING:
    from loopdeck.page.form import Page

FOLDER = "pages"


def layers_as_json(layers: Sequence[Layer]) -> list[dict[str, Any]]:
    """Layers as they travel."""
    return [{"notes": one.notes.tolist(), "bends": [curve.tolist() for curve in one.bends]} for one in layers]


def layers_of_json(rows: Sequence[Mapping[str, Any]]) -> list[Layer]:
    """And back, numbered from 1."""
    found = []
    for number, row in enumerate(rows, 1):
        notes = np.array([tuple(note) for note in row["notes"]], LAYER_DTYPE)
        bends = tuple(np.array(curve, float).reshape(-1, 2) for curve in row["bends"])
        found.append(Layer(number, notes, bends, 0, 34, 1))
    return found


def write(job: Mapping[str, Any], now: datetime) -> str:
    """Write what ``job`` says; returns the sentence that says where. Raises UserError, OSError."""
    page, name = _loop(job, now) if "layers" in job else _take(job)
    if not any(bar.notes for bar in page.bars):
        raise UserError("There is nothing to write out: the loop has no notes.")
    folder = Path(job["shelf"]).parent / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    return _written(page, folder / name)


def _loop(job: Mapping[str, Any], now: datetime) -> tuple["Page", str]:
    from loopdeck.page.loop import loop_page
    from loopdeck.shelf.take import name_of_brief

    brief = brief_from_dict(job["brief"])
    title = name_of_brief(brief)
    return loop_page(layers_of_json(job["layers"]), brief, title), f"{_plain(title)} {now:%Y-%m-%d %H.%M.%S}"


def _take(job: Mapping[str, Any]) -> tuple["Page", str]:
    from loopdeck.page.making import page_of
    from loopdeck.shelf.looping import seen
    from loopdeck.shelf.material import material_of
    from loopdeck.shelf.store import Shelf

    with Shelf(job["shelf"]) as shelf:
        take = shelf.get(str(job["take"]))
    return page_of(seen(material_of(take))), f"{take.number} {_plain(take.name)}"


def _plain(name: str) -> str:
    """A name as part of a file's, on any system."""
    return re.sub(r"[^\w .-]+", "-", name).strip(" .-")[:60] or "untitled"


def _written(page: "Page", path: Path) -> str:
    from loopdeck.page.engraver import engrave, typesetter
    from loopdeck.page.lily import sheet
    from loopdeck.page.musicxml import INSTRUMENTS
    from loopdeck.page.tab_text import tab_text

    text = tab_text(page)
    # Not with_suffix: a name may have dots of its own.
    tab, pdf = Path(f"{path}.txt"), Path(f"{path}.pdf")
    with whole_file(tab) as out:
        out.write(text.encode())
    try:
        typesetter()
    except UserError as error:
        return f"The tab is in {_shown(tab)}. {error}"
    engrave(sheet(page, ("staff", "tab"), INSTRUMENTS["bass"], None, False), pdf)
    return f"The tab and the page are in {_shown(path.parent)}: {path.name}.txt and .pdf."


def _shown(path: Path) -> str:
    """A path as short as it can be read."""
    try:
        return f"~/{path.relative_to(Path.home()).as_posix()}"
    except (ValueError, RuntimeError):
        return str(path)


def main() -> int:
    """Write one page; returns the exit code."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    ready_for_signals()
    lower_priority()
    try:
        said = {"text": write(json.load(sys.stdin), datetime.now()), "wrong": False}
    except (UserError, OSError) as error:
        said = {"text": str(error), "wrong": True}
    print(json.dumps(said))
    return 0


if __name__ == "__main__":
    sys.exit(main())
