"""The page of briefs: choose one, go back to the one before, save the one in force, delete one of
the player's own. Pure but for its files, which a thread reads and writes.

Choosing sends the engine the fields that differ, as a change of the brief like any other. What was
in force before stands at the top of the list until it is chosen again.
"""

from dataclasses import dataclass, field
from typing import Any, NamedTuple

from loopdeck.brief.brief import SPECS, Brief, brief_from_dict
from loopdeck.brief.folder import BriefExistsError, BriefFile, delete_brief, list_briefs, save_brief
from loopdeck.brief.spec import NOW
from loopdeck.window.background import Background, Done, sentence
from loopdeck.window.pages.page import PageState, Reply
from loopdeck.window.sent import Entry, Sent, command
from loopdeck.window.view import View

SAVE, BACK, FILE = "save", "back", "file"
#: How far a big step goes.
BIG = 8
#: Delete has to be pressed again within so long.
SURE_SEC = 5.0


class Row(NamedTuple):
    """A line of the list: what Enter does there (SAVE, BACK or FILE), and its brief."""

    kind: str
    title: str
    brief: Brief | None
    file: BriefFile | None = None


def change_to(brief: Brief, view: View) -> list[Sent]:
    """The command that makes a brief the one in force: the fields that differ; nothing for none."""
    fields = _differing(brief, view)
    return command("brief", fields=fields) if fields else []


def _differing(brief: Brief, view: View) -> dict[str, Any]:
    return {name: text for name, text in brief.to_dict().items() if text != view.brief_texts.get(name)}


def _is_on_its_way(brief: Brief, view: View) -> bool:
    """Whether all that differs from the brief in force takes effect later."""
    return all(SPECS[name].when != NOW for name in _differing(brief, view))


@dataclass
class BriefsPage(PageState):
    """The list, and which line of it is chosen.

    ``before``: the brief before the one chosen here.
    """

    keys = frozenset({"Up", "Down", "Shift+Up", "Shift+Down", "Enter", "Delete"})

    files: tuple[BriefFile, ...] = ()
    before: dict[str, Any] | None = None
    at: int = -1
    """The chosen line; -1 until the list is there."""
    problem: str = ""
    background: Background = field(default_factory=Background)
    _sure: tuple[str, float] | None = None
    _taken: dict[str, Any] | None = None
    """The brief that was chosen here last."""
    _replace: str = ""
    """The name that a second Enter overwrites."""

    def opened(self, view: View, now_sec: float) -> Reply:
        self._read()
        return Reply()

    def _read(self) -> None:
        self.background.start("list", list_briefs)

    def rows(self, view: View) -> list[Row]:
        """The lines of the list, from the top."""
        found = [Row(SAVE, "save the brief in force as ...", view.brief)]
        if self.before is not None:
            brief = brief_from_dict(self.before)
            found.append(Row(BACK, f"back to {brief.name}", brief))
        return found + [
            Row(FILE, one.brief.name if one.brief is not None else one.name, one.brief, one) for one in self.files
        ]

    def row(self, view: View) -> Row:
        """The chosen line."""
        rows = self.rows(view)
        return rows[max(0, min(self.at, len(rows) - 1))]

    def in_force(self, row: Row, view: View) -> bool:
        """Whether a line's brief is the one in force."""
        return row.kind == FILE and row.brief is not None and row.brief.to_dict() == view.brief_texts

    # ---- keys ------------------------------------------------------------------------------------

    def press(self, key: str, view: View, now_sec: float) -> Reply:
        rows = self.rows(view)
        if key.endswith(("Up", "Down")):
            step = (1 if key.endswith("Down") else -1) * (BIG if key.startswith("Shift") else 1)
            at = max(0, self.at) + step
            # Round and round by single steps; a big one stops at the end.
            self.at = at % len(rows) if abs(step) == 1 else max(0, min(at, len(rows) - 1))
            return Reply()
        row = self.row(view)
        if key == "Delete":
            return self._delete(row, now_sec)
        if row.kind == SAVE:
            return self._name(view)
        return self._choose(row, view)

    def _choose(self, row: Row, view: View) -> Reply:
        if row.brief is None:
            wrong = row.file.wrong if row.file is not None else ""
            return Reply(say=wrong or "This brief cannot be read.", wrong=True)
        sent = change_to(row.brief, view)
        if not sent:
            return Reply(say=f"{row.brief.name} is in force already.")
        had_back = self.before is not None
        # Taken again before its cycle has begun: the way back leads where it led.
        if self._taken != row.brief.to_dict() or not _is_on_its_way(row.brief, view):
            self.before, self._taken = dict(view.brief_texts), row.brief.to_dict()
        if not had_back:
            self.at += 1
        return Reply(sent)

    def _name(self, view: View) -> Reply:
        if view.brief is None:
            return Reply(say="There is no brief to save yet.", wrong=True)
        self._replace = ""
        return Reply(entry=Entry("save", view.brief.name, offered=True, page="briefs", title="save as"))

    def entered(self, entry: Entry, view: View, now_sec: float) -> Reply | None:
        if view.brief is None:
            return Reply()
        brief, typed = view.brief, entry.text
        replace = bool(self._replace) and self._replace == typed
        self._replace = typed
        self.background.start("save", lambda: save_brief(brief, typed, replace))
        return Reply()

    def _delete(self, row: Row, now_sec: float) -> Reply:
        file = row.file
        if file is None:
            return Reply(say="Choose one of your own briefs first; Delete deletes it.", wrong=True)
        if file.own and not (
            self._sure is not None and self._sure[0] == file.name and now_sec - self._sure[1] < SURE_SEC
        ):
            self._sure = (file.name, now_sec)
            return Reply(say=f"Press Delete once more to delete your brief {file.name!r} for good.")
        self._sure = None
        self.background.start("delete", lambda: delete_brief(file))
        return Reply()

    # ---- what comes back -------------------------------------------------------------------------

    def poll(self, view: View, now_sec: float) -> Reply | None:
        done = self.background.poll()
        if done is None:
            return None
        if done.job == "list":
            return self._listed(done, view)
        self._read()
        if done.job == "save":
            return self._saved(done, view)
        if done.error is not None:
            return Reply(say=sentence(done.error), wrong=True)
        return Reply(say=f"The brief {done.value.name!r} is deleted.")

    def _listed(self, done: Done, view: View) -> Reply:
        if done.error is not None:
            self.problem = sentence(done.error)
            return Reply(say=self.problem, wrong=True)
        chosen = self.row(view).file if self.at >= 0 else None
        first, self.files, self.problem = self.at < 0, tuple(done.value), ""
        rows = self.rows(view)
        wanted = [at for at, row in enumerate(rows) if chosen is not None and row.file and row.file.path == chosen.path]
        if first:
            wanted = [at for at, row in enumerate(rows) if self.in_force(row, view)] or [min(1, len(rows) - 1)]
        self.at = wanted[0] if wanted else max(0, min(self.at, len(rows) - 1))
        return Reply()

    def _saved(self, done: Done, view: View) -> Reply:
        error = done.error
        if error is None:
            self._replace = ""
            self.files = (*self.files, done.value)
            self.at = len(self.rows(view)) - 1
            fields = {"name": done.value.brief.name}
            sent = command("brief", fields=fields) if fields["name"] != view.brief_texts.get("name") else []
            return Reply(sent, say=f"Saved as {done.value.name!r} among your own briefs.")
        # What was typed comes back to be corrected.
        typed = self._replace
        if isinstance(error, BriefExistsError) and error.own:
            wrong = f"You have a brief {error.name!r} already: Enter replaces it, or type another name."
        else:
            wrong, self._replace = sentence(error), ""
        return Reply(entry=Entry("save", typed, wrong, page="briefs", title="save as"))
