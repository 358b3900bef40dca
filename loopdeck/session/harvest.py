"""What a whole session brought: the riffs in everything that its journal holds, and those the
player wants onto the shelf. One search for ``loopdeck harvest`` and for the window's page.

``python -m loopdeck.session.harvest JOURNAL SHELF`` serves the window, in a process of its own
since an hour of playing takes a while: it prints one line of JSON, what ``loopdeck harvest --json``
would print; then, for each line of letters it reads, a line with what was kept. A mistake is a line
with ``error``, a sentence. It ends with its standard input.
"""

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from loopdeck.errors import UserError
from loopdeck.process.priority import lower_priority
from loopdeck.session.recover import take_of_journal
from loopdeck.shelf.material import material_of
from loopdeck.shelf.riff_report import chosen_riff, keep_riff, report_riffs


class Harvest:
    """The riffs of a session. Raises UserError when nothing was played; OSError."""

    def __init__(self, journal: Path, scale: str | None = None) -> None:
        """``scale``: rank by this one instead of the brief's."""
        take = take_of_journal(journal)
        if take is None:
            raise UserError(f"Nothing was played in the session {journal.stem}, so there is nothing to find.")
        brief = take.brief.replace(scale=scale) if scale is not None else take.brief
        # Without the layers, which were played as well.
        self._material = material_of(take, brief, layers=False)
        self.found: dict[str, Any] = report_riffs(self._material)

    def keep(self, asked: Iterable[str], shelf: str | None) -> list[dict[str, Any]]:
        """Put the cleanest performances of these riffs on the shelf, by letter or place. All are
        looked up before one is kept: a wrong one keeps nothing. Raises UserError, OSError.
        """
        wanted: dict[str, Any] = {}
        for word in asked:
            riff = chosen_riff(self.found["riffs"], word, self._material.take.named)
            wanted[riff["name"]] = riff
        name = self._material.take.name[:180]
        return [keep_riff(self._material, riff, f"{name}, riff {riff['name']}", shelf) for riff in wanted.values()]


def main() -> int:
    """Serve one window."""
    lower_priority()
    journal, shelf = Path(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else ""
    try:
        harvest = Harvest(journal)
    except (UserError, OSError) as error:
        _answer({"error": str(error)})
        return 2
    _answer(harvest.found)
    for line in sys.stdin:
        try:
            _answer({"kept": harvest.keep(line.split(), shelf or None)})
        except (UserError, OSError) as error:
            _answer({"error": str(error)})
    return 0


def _answer(what: dict[str, Any]) -> None:
    print(json.dumps(what), flush=True)


if __name__ == "__main__":
    sys.exit(main())
