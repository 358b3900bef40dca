"""The page that draws a brief from a mood: what is drawn, what is held, and why; drawn again, taken
back. Pure but for its files, which a thread reads and writes.

A draw is in force at once, by the same change of the brief as any other, and remembered in the same
file as those of the command: no draw comes twice in a row, and each can be taken back.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from loopdeck.brief.brief import Brief, brief_from_dict
from loopdeck.errors import UserError
from loopdeck.practice.draw import DRAWN, LIKE_KEPT, UNTRIED, Draw
from loopdeck.practice.drawn import default_draws, read_draws, write_draws
from loopdeck.practice.moods import MOODS, find_mood
from loopdeck.shelf.paths import default_shelf
from loopdeck.window.background import Background, Done, sentence
from loopdeck.window.pages.briefs import change_to
from loopdeck.window.pages.page import PageState, Reply
from loopdeck.window.sent import Entry
from loopdeck.window.view import View

ANY = "any"
CHOICES = (ANY, *MOODS)
LIMITS = {"": "everything", LIKE_KEPT: "what you rated well", UNTRIED: "what you never tried"}
#: The lines of the page: the mood, what it is drawn from, and the fields.
MOOD, FROM = "mood", "from"
LINES = (MOOD, FROM, *DRAWN)
DRAW, BACK = "window-draw", "window-draw-back"
#: So many draws can be taken back.
MOST_BACK = 50


@dataclass
class MoodPage(PageState):
    """``mood`` is one of CHOICES, ``limit`` of LIMITS; ``held`` the fields that stay.

    ``found`` is the draw that is shown, as ``Draw.to_dict`` writes it; None before the first.
    """

    keys = frozenset({"Up", "Down", "Left", "Right", "Enter", "Shift+Enter", "Backspace"})
    acts = frozenset({DRAW, BACK})

    mood: str = ANY
    limit: str = ""
    held: frozenset[str] = frozenset()
    at: int = 0
    found: dict[str, Any] | None = None
    background: Background = field(default_factory=Background)
    _before: list[tuple[dict[str, Any], dict[str, Any] | None]] = field(default_factory=list)
    """What was in force, and shown, before each draw of this window."""

    @property
    def line(self) -> str:
        """The chosen line, one of LINES."""
        return LINES[self.at]

    def why(self, name: str, view: View) -> str:
        """The reason for a field as it is now; "" where there is none."""
        if self.found is None:
            return ""
        if name in self.found["brief"] and self.found["brief"][name] != view.brief_texts.get(name):
            return "You have changed it since it was drawn."
        return str(self.found["why"].get(name, ""))

    def press(self, key: str, view: View, now_sec: float) -> Reply:
        if key in ("Up", "Down"):
            self.at = (self.at + (1 if key == "Down" else -1)) % len(LINES)
            return Reply()
        if key in ("Left", "Right"):
            self._turn(1 if key == "Right" else -1)
            return Reply()
        if key == "Backspace":
            return self.act(BACK, {}, view, now_sec)
        if key == "Shift+Enter":
            return Reply(entry=Entry("mood", page="mood", title="mood"))
        return self.act(DRAW, {}, view, now_sec)

    def _turn(self, by: int) -> None:
        if self.line == MOOD:
            self.mood = CHOICES[(CHOICES.index(self.mood) + by) % len(CHOICES)]
        elif self.line == FROM:
            kinds = list(LIMITS)
            self.limit = kinds[(kinds.index(self.limit) + by) % len(kinds)]
        else:
            self.held = self.held ^ {self.line}

    def entered(self, entry: Entry, view: View, now_sec: float) -> Reply | None:
        if not entry.text.strip():
            return Reply()
        try:
            self.mood = find_mood(entry.text)
        except UserError as error:
            entry.wrong = str(error)
            return None
        return Reply()

    # ---- drawing ---------------------------------------------------------------------------------

    def act(self, name: str, args: Any, view: View, now_sec: float) -> Reply:
        if view.brief is None:
            return Reply(say="There is no brief yet: the engine is not there.", wrong=True)
        if self.background.busy:
            # A draw is on its way; a second press does not draw twice.
            return Reply()
        if name == BACK:
            return self._take_back(view)
        mood = None if self.mood == ANY else self.mood
        base, held, limit, last = view.brief, self.held, self.limit, self.found
        shelf = Path(self.shelf) if self.shelf else default_shelf()
        self.background.start("draw", lambda: _draw(mood, base, held, limit, shelf, last))
        return Reply(open="mood")

    def _take_back(self, view: View) -> Reply:
        if not self._before:
            self.background.start("before", _take_back)
            return Reply(open="mood")
        texts, self.found = self._before.pop()
        # What happens to the file is no matter for the brief: it is as it was.
        self.background.start("forget", _take_back)
        return Reply(change_to(brief_from_dict(texts), view), say="The draw is taken back.", open="mood")

    def poll(self, view: View, now_sec: float) -> Reply | None:
        done = self.background.poll()
        if done is None:
            return None
        if done.job == "forget":
            return Reply()
        if done.error is not None:
            return Reply(say=sentence(done.error), wrong=True)
        return self._drawn(done, view) if done.job == "draw" else self._older(done, view)

    def _drawn(self, done: Done, view: View) -> Reply:
        found, problem = done.value
        self._before = [*self._before, (dict(view.brief_texts), self.found)][-MOST_BACK:]
        self.found = found.to_dict()
        said = f"{found.mood.capitalize()}: {found.first_step}."
        return Reply(change_to(found.brief, view), say=problem or said, wrong=bool(problem))

    def _older(self, done: Done, view: View) -> Reply:
        """A draw of before this window."""
        if done.value is None:
            return Reply(say="There is no draw to take back.", wrong=True)
        self.found = done.value
        return Reply(change_to(brief_from_dict(done.value["brief"]), view), say="The draw before that is back.")


# ---- in the thread -------------------------------------------------------------------------------


def _draw(
    mood: str | None, base: Brief, held: frozenset[str], limit: str, shelf: Path, last: dict[str, Any] | None
) -> tuple[Draw, str]:
    """A draw that is not the one before, and a sentence where it could not be remembered."""
    # Loaded here, in the thread: it brings the shelf, and the window would open later for it.
    from loopdeck.practice.redraw import draw_anew, limit_of

    memory = default_draws()
    draws = read_draws(memory)
    last = draws[-1] if draws else last
    found = draw_anew(mood, base, held, limit_of(limit, shelf) if limit else None, last)
    try:
        write_draws(memory, [*draws, found.to_dict()])
    except OSError as error:
        return found, f"The draw is in force, but cannot be remembered: {sentence(error)}"
    return found, ""


def _take_back() -> dict[str, Any] | None:
    """Forget the newest draw, and return the one before it; None where there is none (and then
    nothing is forgotten).
    """
    memory = default_draws()
    draws = read_draws(memory)
    if len(draws) < 2:
        return None
    write_draws(memory, draws[:-1])
    return draws[-2]
