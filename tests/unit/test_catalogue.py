"""The shelf looked through in slices: pages, searches, and what other programs change, against
plain lists.
"""

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from loopdeck.shelf import catalogue as module
from loopdeck.shelf.catalogue import Catalogue
from loopdeck.shelf.cycle_picture import cycle_picture
from loopdeck.shelf.rows import row_of_take
from loopdeck.shelf.store import Shelf
from tests.unit.test_looping import RIFF_NOTES, played

NAMES = ("tide", "Gate", "tide gate", "Öl", "steps", "tides") * 20


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shelf]:
    """A shelf that is only read."""
    with Shelf(tmp_path_factory.mktemp("shelf") / "shelf.sqlite") as one:
        row = row_of_take(played(1, odd=9, layer=False), "")
        names, marks = ", ".join(row), ", ".join(f":{name}" for name in row)
        with one._change() as db:
            for index, name in enumerate(NAMES):
                db.execute(f"INSERT INTO take ({names}) VALUES ({marks})", {**row, "name": name, "rating": index % 6})
        for index in range(0, len(NAMES), 10):
            one.tag(index + 1, ["riff"])
        one.remove(7)
        yield one


def numbers(catalogue: Catalogue, asked: str = "", binned: bool = False) -> list[int]:
    while catalogue.complete and not catalogue.page(asked, binned)["complete"]:
        pass
    return [row["number"] for row in catalogue.page(asked, binned, room=1000)["rows"]]


def test_pages_are_those_of_the_whole_list_however_much_was_read(shelf: Shelf) -> None:
    catalogue = Catalogue(shelf)
    whole = [number for number in range(len(NAMES), 0, -1) if number != 7]
    while not catalogue.complete:
        catalogue.load(13)
        assert numbers(catalogue) == whole[: len(numbers(catalogue))]
        assert numbers(catalogue, "TIDE g") == [n for n in numbers(catalogue) if NAMES[n - 1] == "tide gate"]
    assert numbers(catalogue) == whole and numbers(catalogue, binned=True) == [7]
    for chosen, step in (
        (None, 0),
        (60, 0),
        (60, 1),
        (60, -3),
        (1, 5),
        (len(NAMES), -5),
        (7, 0),
        (60, 10**9),
        (60, -(10**9)),
    ):
        page = catalogue.page(chosen=chosen, step=step, room=5)
        # A take that is not there stands where the next older one does.
        at = 0 if chosen is None else next((i for i, n in enumerate(whole) if n <= chosen), len(whole))
        at = max(0, min(len(whole) - 1, at + step))
        assert (page["at"], page["total"]) == (at, len(whole))
        assert [row["number"] for row in page["rows"]] == whole[page["first"] : page["first"] + 5]
        assert page["first"] <= at < page["first"] + 5


@pytest.mark.parametrize(
    "asked",
    [
        "t",
        "ti",
        "tide",
        "tide g",
        "tide gate",
        "öl",
        "riff",
        "riff t",
        "E dorian",
        "120",
        "***",
        "*** tide",
        "*",
        "zz",
        "4/4",
    ],
)
def test_a_search_finds_what_has_all_of_its_words_whatever_was_searched_before(shelf: Shelf, asked: str) -> None:
    catalogue = Catalogue(shelf)
    while not catalogue.complete:
        catalogue.load()
    words = [word for word in asked.casefold().split() if word.strip("*")]
    least = max((len(word) for word in asked.split() if not word.strip("*")), default=0)

    def fits(number: int) -> bool:
        text = f"{NAMES[number - 1]} e dorian 4/4 120 {number}".casefold() + (" riff" if (number - 1) % 10 == 0 else "")
        return number != 7 and (number - 1) % 6 >= least and all(word in text for word in words)

    wanted = [number for number in range(len(NAMES), 0, -1) if fits(number)]
    for length in range(len(asked) + 1):
        catalogue.page(asked[:length])
    assert numbers(catalogue, asked) == wanted
    assert numbers(Catalogue(shelf), asked) == []


def test_a_search_answers_before_it_has_looked_at_everything(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "AT_ONCE", 25)
    catalogue = Catalogue(shelf)
    while not catalogue.complete:
        catalogue.load()
    page = catalogue.page("tide", room=3)
    assert not page["complete"] and [row["name"] for row in page["rows"]] == ["tides", "tide gate", "tide"]
    totals = [page["total"]]
    while not page["complete"]:
        page = catalogue.page("tide", room=3)
        totals.append(page["total"])
    assert totals == sorted(set(totals)) and totals[-1] == len(NAMES) // 2 - 1
    # A step from a chosen take counts all that lie above it.
    assert Catalogue(shelf).page("tide", chosen=1)["complete"] is False
    catalogue.page("steps")
    assert catalogue.page("steps", chosen=5)["at"] == len(NAMES) // 6 - 1


def test_what_is_changed_here_and_elsewhere(shelf: Shelf, tmp_path: Path) -> None:
    path = tmp_path / "copy.sqlite"
    with sqlite3.connect(path) as copy:
        shelf._db.backup(copy)
    with Shelf(path) as own:
        changed_here_and_elsewhere(own)


def changed_here_and_elsewhere(shelf: Shelf) -> None:
    catalogue = Catalogue(shelf)
    while not catalogue.complete:
        catalogue.load()
    assert not catalogue.refresh()
    catalogue.change(5, name="ember", tags=("new",))
    assert numbers(catalogue, "ember") == numbers(catalogue, "new") == [5]
    catalogue.change(5, binned=True)
    assert 5 not in numbers(catalogue) and numbers(catalogue, binned=True) == [7, 5]
    with Shelf(shelf.path) as other:
        added = other.add(replace(played(1, layer=False), name="lantern"))
        other.rename(3, "dune")
    assert catalogue.refresh() and not catalogue.refresh()
    # The new one is there at once; the rest is read again while the rows of before answer.
    assert numbers(catalogue)[0] == added
    while not catalogue.complete:
        catalogue.load()
    assert numbers(catalogue, "dune") == [3] and numbers(catalogue, "ember") == []


def test_the_picture_of_a_cycle_says_how_often_each_note_came() -> None:
    picture = cycle_picture(played(4, odd=2))
    assert picture["groups"] == [0.0, 0.25, 0.5, 0.75]
    layers = [note for note in picture["notes"] if note[4]]
    often = [note for note in picture["notes"] if not note[4] and note[3] >= 0.5]
    rare = [note for note in picture["notes"] if not note[4] and note[3] < 0.5]
    assert [note[2] for note in layers] == [note[2] for note in often] == [pitch for _, pitch in RIFF_NOTES]
    assert [note[2] for note in rare] == [pitch + 1 for _, pitch in RIFF_NOTES]
    assert all(0.0 <= note[0] < 1.0 and 0.0 < note[1] <= 1.0 for note in picture["notes"])


def test_a_search_goes_on_between_questions(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "AT_ONCE", 2)
    catalogue = Catalogue(shelf)
    while not catalogue.complete:
        catalogue.load()
    assert catalogue.page(asked="riff")["complete"] is False
    turns = 0
    while catalogue.look_on():
        turns += 1
        assert turns <= len(NAMES)
    found = catalogue.page(asked="riff", room=1000)
    assert found["complete"] and [row["number"] for row in found["rows"]] == list(range(len(NAMES) - 9, 0, -10))
