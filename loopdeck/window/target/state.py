"""What the window knows of practising: the run that goes on, the one that was last, and how it went
on other days.

What practising needs is imported when it begins: most sessions have none of it.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loopdeck.errors import UserError
from loopdeck.protocol.messages import Command, LayerRow, TargetSet
from loopdeck.window.sent import Sent
from loopdeck.window.spoken import END
from loopdeck.window.target import NEVER

if TYPE_CHECKING:
    from loopdeck.practice.practising import Plan, PracticeRun
    from loopdeck.practice.target import Target
    from loopdeck.window.target.run import TargetRun
    from loopdeck.window.view import View

#: As many runs of other days as the panel draws.
DAYS = 24


@dataclass(frozen=True)
class Asked:
    """What is to be practised: ``number`` of a take on the shelf, or ``layer`` of the loop, as far
    as it is one of these. ``fields``: of the brief, as it was played in.
    """

    target: "Target"
    plan: "Plan"
    number: int | None = None
    layer: int | None = None
    fields: dict[str, Any] = field(default_factory=dict)
    sounds: str = NEVER
    most: int = 0

    @property
    def stays(self) -> bool:
        """A take, which is there to be practised again; the loop goes on to be something else."""
        return self.layer is None and bool(self.number is not None or self.fixed)

    fixed: bool = False
    """A file, or a lesson."""


@dataclass
class Practising:
    """``whole``: what was asked for, where the run is of some bars of it."""

    shelf: str = ""
    asked: Asked | None = None
    """To begin with as soon as there is a session."""
    whole: Asked | None = None
    run: "TargetRun | None" = None
    last: "PracticeRun | None" = None
    sounds: str = NEVER
    history: list[dict[str, Any]] = field(default_factory=list)
    changed: int = 0
    _before: dict[str, Any] = field(default_factory=dict)
    _muted: tuple[int, ...] = ()
    _gone: bool = False
    _fitted: bool = False
    _owed: bool = False
    """The session is still to be set as it was, by an engine that is not there yet."""

    # ---- begin and end ---------------------------------------------------------------------------

    def begin(self, asked: Asked, view: "View", now: float) -> list[Sent]:
        """Begin a run; one that goes on is ended by it. Raises UserError for what the session
        cannot be set to.
        """
        from loopdeck.window.target.run import TargetRun

        assert view.brief is not None
        fields: dict[str, Any] = {
            **asked.fields,
            "cycle": str(asked.target.cycle),
            "tempo": f"{asked.plan.from_qpm:.6g}",
            "ramp": "off",
            "count_in": 1,
        }
        view.brief.replace(**fields)
        muting: list[Sent] = []
        if self.run is not None:
            # How things stood before the first of them is what comes back in the end.
            self._close(view, now)
        else:
            self._before = {}
            self._muted = tuple(row.number for row in view.layers if not row.muted)
            muting = [Command(name="mute", args={"layer": number}) for number in self._muted]
        texts = view.brief_texts
        self._before = {**{name: texts[name] for name in fields if name in texts}, **self._before}
        self._gone, self._fitted, self.last = False, False, None
        self.whole = self.whole or asked
        self.run = TargetRun(asked.target, asked.plan, asked.most)
        self.sounds = asked.sounds
        self.history = self._read(asked.target.mark)
        self.changed += 1
        return [
            *_stop(view),
            *muting,
            Command(name="brief", args={"fields": fields}),
            self.run.tell_target(self.sounds),
            *self.run.begin(),
        ]

    def end(self, view: "View", now: float, why: str = "") -> list[Sent]:
        """End the run: it goes on record, and the session is set as it was before. ``why``: a
        sentence to say first.
        """
        if self.run is None:
            return []
        self._close(view, now, why)
        return self._as_before(view)

    def _as_before(self, view: "View") -> list[Sent]:
        """The session as it was before the run."""
        there = {row.number for row in view.layers}
        return [
            *_stop(view),
            TargetSet(),
            Command(name="brief", args={"fields": self._before}),
            *(Command(name="unmute", args={"layer": one}) for one in self._muted if one in there),
        ]

    def _close(self, view: "View", now: float, why: str = "") -> None:
        run, self.run = self.run, None
        assert run is not None
        self.last = run.practice
        self.changed += 1
        view.tell(f"{why} {self._keep(run.practice)}{self._missing()}".lstrip(), False, now, END)

    def step(self, view: "View", now: float) -> list[Sent]:
        """Before every frame."""
        if self.asked is not None and view.brief is not None:
            asked, self.asked = self.asked, None
            self.whole = asked
            return self._try(asked, view, now)
        if self._owed and not view.engine_lost and view.brief is not None:
            self._owed = False
            return self._as_before(view)
        run = self.run
        if run is None:
            return []
        if view.engine_lost:
            # The one that takes over goes on in the middle of the run.
            self._close(view, now)
            self._owed = True
            return []
        # The cycle is the target's from the moment on when the session has taken it over.
        fits = abs(view.cycle_layout.quarters - run.target.length_q) <= 1e-6
        self._fitted = self._fitted or fits
        if self._fitted and not fits and view.clock.running:
            return self.end(view, now, "The cycle was changed.")
        before = run.changed
        sent: list[Sent] = [*run.step(view, now, self.sounds)]
        self.changed += run.changed - before
        self._look_for_layer(view.layers, view, now)
        return self.end(view, now) if run.over else sent

    def _try(self, asked: Asked, view: "View", now: float) -> list[Sent]:
        try:
            return self.begin(asked, view, now)
        except UserError as error:
            view.tell(str(error), True, now)
            return []

    # ---- what may go meanwhile -------------------------------------------------------------------

    def _look_for_layer(self, layers: tuple[LayerRow, ...], view: "View", now: float) -> None:
        layer = self.whole.layer if self.whole is not None else None
        if layer is not None and not self._gone and all(row.number != layer for row in layers):
            self._gone = True
            view.tell(f"Layer {layer} is gone; you keep practising its notes.", True, now)

    def _missing(self) -> str:
        number = self.whole.number if self.whole is not None else None
        if number is None or not self.shelf or not Path(self.shelf).exists():
            return ""
        from loopdeck.shelf.store import Shelf

        try:
            with Shelf(self.shelf) as shelf:
                shelf.number_of(number)
        except UserError:
            return f" Take {number} has left the shelf meanwhile; the record of practising it stays."
        return ""

    # ---- the record ------------------------------------------------------------------------------

    def _keep(self, practice: "PracticeRun") -> str:
        if not any(one.played for one in practice.judged):
            return "Practising has ended; no whole pass was played."
        from loopdeck.practice.progress import add_run
        from loopdeck.shelf.take import now_text

        words = practice.summary()
        try:
            if self.shelf:
                add_run(Path(self.shelf), practice.to_dict(), now_text())
                self.history = self._read(practice.target.mark)
        except UserError as error:
            return f"{words} It could not be put on record: {error}"
        return words

    def _read(self, mark: str) -> list[dict[str, Any]]:
        from loopdeck.practice.progress import read_progress

        try:
            return read_progress(Path(self.shelf), mark).runs[-DAYS:] if self.shelf else []
        except UserError:
            return []

    # ---- in words --------------------------------------------------------------------------------

    def words(self) -> str:
        """What goes on, for the line under the state; "" while nothing does."""
        return self.run.words() if self.run is not None else ""


def _stop(view: "View") -> list[Sent]:
    return [Command(name="stop")] if view.clock.running else []
