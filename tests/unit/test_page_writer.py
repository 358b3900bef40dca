"""Writing the loop, or the last keep, out of a running engine: tab and page beside the shelf, and a
sentence where.
"""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from loopdeck.brief.brief import Brief
from loopdeck.engine import page_writer, page_writing
from loopdeck.engine.page_writer import BUSY, NO_KEEP, NO_LAYER, PageWriter
from loopdeck.errors import UserError
from loopdeck.looper.layers import LAYER_DTYPE, Layer
from loopdeck.page.loop import take_of_loop
from loopdeck.page.tab_read import read_tab
from loopdeck.shelf.store import Shelf

BRIEF = Brief.default().replace(cycle="4/4 4+3/8", tempo="96", scale="E dorian", name="quay steps")


def layer(number: int, *notes: tuple[float, float, int]) -> Layer:
    array = np.zeros(len(notes), LAYER_DTYPE)
    for row, (onset, duration, pitch) in enumerate(notes):
        array[row] = (onset, duration, pitch, 90, 1, 0, 0)
    return Layer(number, array, tuple(np.zeros((1, 2)) for _ in notes), 0, 34, 1)


class FakeLooper:
    """Layers that stand; the second one is muted."""

    brief = BRIEF
    muted = frozenset({2})

    def __init__(self, *layers: Layer) -> None:
        self._layers = list(layers)

    def layers(self) -> list[Layer]:
        return self._layers


LOW, HIGH = layer(1, (0.0, 0.9, 28), (1.01, 0.9, 31), (5.5, 1.0, 33)), layer(2, (2.0, 0.9, 45))


def writer(tmp_path: Path, *layers: Layer) -> tuple[PageWriter, list[tuple[str, bool]]]:
    said: list[tuple[str, bool]] = []
    looper: Any = FakeLooper(*layers)
    return PageWriter(tmp_path / "shelf.sqlite", looper, lambda text, wrong: said.append((text, wrong))), said


def test_the_loop_is_written_in_a_process_of_its_own(tmp_path: Path) -> None:
    one, said = writer(tmp_path, LOW, HIGH)
    one.acts()["write-loop"]({"layer": "all"})
    one.acts()["write-loop"]({"layer": "all"})
    assert said == [(BUSY, True)] and one.wait(120)
    text, wrong = said[1]
    assert not wrong and str(tmp_path / "pages") in text and text.endswith(".")
    (tab,) = (tmp_path / "pages").glob("*.txt")
    page = read_tab(tab.read_text())
    assert [note.pitch for bar in page.bars for note in bar.notes] == [28, 31, 33]
    assert [str(bar.meter) for bar in page.bars] == ["4/4", "4+3/8"]


def test_a_muted_layer_is_written_when_it_is_chosen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    jobs: list[dict[str, Any]] = []
    one, said = writer(tmp_path, LOW, HIGH)
    monkeypatch.setattr(one, "_begin", jobs.append)
    one.acts()["write-loop"]({"layer": 2})
    one.acts()["write-loop"]({"layer": "all"})
    assert [len(job["layers"][0]["notes"]) for job in jobs] == [1, 3] and not said
    one.acts()["write-loop"]({"layer": 7})
    assert said == [("There is no layer 7.", True)]


def test_without_a_layer_or_a_keep_there_is_a_sentence(tmp_path: Path) -> None:
    one, said = writer(tmp_path)
    one.acts()["write-loop"]({"layer": "all"})
    one.acts()["write-take"]({})
    assert said == [(NO_LAYER, True), (NO_KEEP, True)] and not list(tmp_path.iterdir())


def test_a_take_is_written_by_its_number(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = tmp_path / "shelf.sqlite"
    with Shelf(shelf) as one:
        number = one.add(take_of_loop([LOW], BRIEF, "tide: gate"))
    text = page_writing.write({"shelf": str(shelf), "take": number}, _now())
    assert (tmp_path / "pages" / f"{number} tide- gate.txt").read_text().startswith("tide: gate\n")
    assert text == f"The tab and the page are in {tmp_path / 'pages'}: {number} tide- gate.txt and .pdf."
    assert (tmp_path / "pages" / f"{number} tide- gate.pdf").read_bytes().startswith(b"%PDF")


def test_where_the_typesetter_is_missing_the_tab_is_written_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> Path:
        raise UserError("PDF needs the typesetter.")

    monkeypatch.setattr("loopdeck.page.engraver.typesetter", missing)
    job = {"shelf": str(tmp_path / "s"), "brief": BRIEF.to_dict(), "layers": page_writing.layers_as_json([LOW])}
    text = page_writing.write(job, _now())
    assert text.endswith("2026-11-26 14.02.33.txt. PDF needs the typesetter.")
    assert [path.suffix for path in (tmp_path / "pages").iterdir()] == [".txt"]


def test_layers_travel_whole() -> None:
    (back,) = page_writing.layers_of_json(page_writing.layers_as_json([LOW]))
    assert back.notes.tolist() == LOW.notes.tolist() and [one.tolist() for one in back.bends] == [[[0.0, 0.0]]] * 3


def test_what_cannot_be_written_is_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A note below the lowest string: said, and no file left."""
    one, said = writer(tmp_path, layer(1, (0.0, 1.0, 12)))
    one.acts()["write-loop"]({"layer": "all"})
    assert one.wait(120) and said[0][1] and "has no place on the tuning" in said[0][0]
    assert not list((tmp_path / "pages").glob("*"))
    monkeypatch.setattr(page_writer, "python_command", lambda module: ("/nowhere/at/all",))
    one.acts()["write-loop"]({"layer": "all"})
    assert one.wait(30) and said[1][0].startswith("The page cannot be written:")


def _now() -> Any:
    from datetime import datetime

    return datetime(2026, 11, 26, 14, 2, 33)
