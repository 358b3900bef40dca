"""The clean-up of a pickup's errors while it is played: what counts of the notes that came.

What is out of view belongs to no pass, no layer and no picture; the events and the note itself stay
in the recorder, so whatever was taken out comes back with ``restore-note``, or when the part of the
clean-up that took it out is switched off. Notes are not delayed: see ``bass.pickup.live``.
"""

from dataclasses import replace

import numpy as np

from loopdeck.bass.pickup.cleaning import goes_on, no_louder
from loopdeck.bass.pickup.live import LiveCleaning, Recent
from loopdeck.bass.pickup.profile import PARTS
from loopdeck.bass.technique.curve import up_to_next
from loopdeck.capture.pairing import Ended
from loopdeck.looper.arguments import ALL
from loopdeck.looper.core import Core
from loopdeck.looper.layering import Layering
from loopdeck.looper.news import tell_layers, tell_note_off, tell_note_on, tell_note_withdrawn
from loopdeck.looper.recorder import PassRecord, Played
from loopdeck.looper.state import Refused
from loopdeck.protocol.messages import CleanUpChanged, RemovedNote

HELD, CHOPPED = "held", "chopped"
#: How many of the notes that were taken out are remembered, and told.
REMEMBERED, TOLD = 256, 24
_REASONS = {"ghosts": "ghost", "octaves": "octave", "doubles": "double", "chopped": CHOPPED, "noise": "noise"}


class Hindsight:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core, layering: Layering) -> None:
        self._core, self._layering = core, layering
        self._inputs: dict[int, LiveCleaning] = {}
        #: What is out of view, oldest first.
        self._removed: list[int] = []
        #: By input and channel: the note in view that came last, and when it ended, once it has.
        self._last: dict[tuple[int, int], tuple[int, float | None]] = {}
        #: By input and channel: how far its bend has reached so far, in semitones.
        self._reach: dict[tuple[int, int], float] = {}

    def listen(self, port: int) -> None:
        """An input has a pickup now, or another one."""
        heard = self._core.recorder.pickups[port]
        self._inputs.pop(port, None)
        if heard.cleaning is not None:
            self._inputs[port] = LiveCleaning(heard.cleaning)
        self._tell()

    def cleans(self, port: int) -> bool:
        """True for an input whose errors are taken out."""
        return port in self._inputs

    # ---- what is played --------------------------------------------------------------------------

    def begun(self, played: Played) -> bool:
        """A note has begun, and is entered; True where it is in view at once."""
        cleaning = self._inputs.get(played.port)
        if cleaning is None:
            return True
        place = (played.port, played.channel)
        last, end_sec = self._last.get(place, (-1, None))
        before = self._core.recorder.notes.get(last)
        if before is not None and end_sec is not None and self._goes_on(before, end_sec, played, told=False):
            self._last[place] = (before.id, None)
            return False
        self._last[place] = (played.id, None)
        note = Recent(played.id, played.stamp_sec, played.pitch, played.velocity, played.channel, played.string)
        if not cleaning.begin(note):
            return True
        self._core.recorder.hide(played, HELD)
        return False

    def ended(self, note: Ended, played: Played) -> None:
        """A note has ended."""
        cleaning = self._inputs.get(played.port)
        if cleaning is None:
            return
        cleaning.end(note.id, note.time_sec)
        place, recorder = (played.port, played.channel), self._core.recorder
        curve = recorder.pairer.bend_of(note.id)
        if len(curve) > 1:
            self._reach[place] = max(self._reach.get(place, 0.0), float(np.abs(curve[:, 1]).max()))
        last, _ = self._last.get(place, (-1, None))
        newest = recorder.notes.get(last)
        if played.hidden == CHOPPED:
            self._lengthen(played)
            self._last[place] = (last, note.time_sec)
        elif last == note.id:
            self._last[place] = (last, note.time_sec)
        elif newest is not None and newest.end_q is None and self._goes_on(played, note.time_sec, newest, told=True):
            # The pickup says the new note first, and then the end of the old one.
            self._last[place] = (played.id, None)

    def _goes_on(self, before: Played, end_sec: float, played: Played, told: bool) -> bool:
        """True for the rest of a note that a bend cut apart: it is made part of that one. ``told``:
        it has been told of as a note of its own.
        """
        core, recorder = self._core, self._core.recorder
        if before.hidden or not self._inputs[played.port].cleaning.chopped:
            return False
        last = recorder.notes[before.rest[-1]] if before.rest else before
        bend = up_to_next(recorder.pairer.bend_of(last.id), played.stamp_sec - last.stamp_sec)
        begins = played.pitch + float(recorder.pairer.bend_of(played.id)[0, 1])
        softer, reach = no_louder(played.velocity, before.velocity), self._reach.get((before.port, before.channel), 0.0)
        if not goes_on(played.stamp_sec - end_sec, last.pitch, bend, begins, softer, reach):
            return False
        self._inputs[played.port].forget(played.id)
        shown = told and not played.hidden
        recorder.go_on(before, played)
        recorder.hide(played, CHOPPED)
        if shown:
            tell_note_withdrawn(core, played)
        tell_note_on(core, before)
        self._remove(played)
        return True

    def _qpm(self) -> float:
        core = self._core
        return core.transport.qpm if core.state.running else core.brief.tempo.quarters_per_minute

    def _lengthen(self, part: Played) -> None:
        """The rest of a note has ended, and so has the whole."""
        owner = self._owner(part)
        if owner is None or part.end_q is None:
            return
        owner.end_q = owner.at_q + (part.stamp_sec - owner.stamp_sec) * self._qpm() / 60.0 + part.end_q - part.at_q
        tell_note_off(self._core, owner)
        self._remake(self._core.recorder.passes.get(owner.pass_index))

    def _owner(self, part: Played) -> Played | None:
        return next((one for one in self._core.recorder.notes.values() if part.id in one.rest), None)

    # ---- verdicts --------------------------------------------------------------------------------

    def due_sec(self) -> float | None:
        """When to look next; None when nothing waits."""
        return min((sec for one in self._inputs.values() if (sec := one.due_sec()) is not None), default=None)

    def check(self) -> None:
        """Act on what is known by now."""
        core = self._core
        for cleaning in self._inputs.values():
            for verdict in cleaning.check(core.now_sec):
                played = core.recorder.notes.get(verdict.id)
                if played is None:
                    continue
                if verdict.why:
                    self._take_out(played, verdict.why)
                elif played.hidden == HELD:
                    self._show(played)

    def _take_out(self, played: Played, why: str) -> None:
        shown = not played.hidden
        record = self._core.recorder.hide(played, why)
        if shown:
            tell_note_withdrawn(self._core, played)
            self._remake(record)
        self._remove(played)

    def _show(self, played: Played) -> None:
        core = self._core
        record = core.recorder.reveal(played)
        tell_note_on(core, played)
        if played.end_q is not None:
            tell_note_off(core, played)
        self._remake(record)

    def _remake(self, record: PassRecord | None) -> None:
        if record is not None:
            self._layering.remake(record)
        if self._core.picker.promise() != self._core.told_promise:
            tell_layers(self._core)

    def _remove(self, played: Played) -> None:
        self._removed = [*self._removed[-(REMEMBERED - 1) :], played.id]
        self._tell()

    # ---- commands --------------------------------------------------------------------------------

    def restore_note(self, note: int | None = None) -> str:
        """Bring back one note that was taken out, by its number in the list, or the newest. Raises
        Refused.
        """
        hidden = self._out_of_view()
        if not hidden:
            raise Refused("There is nothing left to bring back.")
        found = hidden[-1] if note is None else next((one for one in hidden if one.id == note), None)
        if found is None:
            raise Refused(f"There is no note {note} among those that were taken out.")
        why = found.hidden
        self._back(found)
        self._tell()
        return f"Brought back: note {found.id}, taken out as {_NAMES[why]}."

    def clean(self, part: str, on: bool | None = None) -> str:
        """Switch a part of the clean-up, or ``all``, of every pickup. What it had taken out comes
        back when it is switched off. Raises Refused.
        """
        core = self._core
        wanted = PARTS if part == ALL else (part,)
        if not self._inputs:
            raise Refused("No input has a pickup profile that is cleaned up; see --pickup.")
        rules = [one.cleaning for one in self._inputs.values()]
        turned = not all(getattr(one, name) for one in rules for name in wanted) if on is None else on
        for port, cleaning in self._inputs.items():
            cleaning.cleaning = replace(cleaning.cleaning, **dict.fromkeys(wanted, turned))
            core.recorder.pickups[port] = replace(core.recorder.pickups[port], cleaning=cleaning.cleaning)
        came = 0
        if not turned:
            reasons = {_REASONS[name] for name in wanted}
            for played in self._out_of_view():
                if played.hidden in reasons:
                    self._back(played)
                    came += 1
        self._tell()
        words = "All of the clean-up" if len(wanted) > 1 else f"The clean-up of {wanted[0]}"
        return f"{words} is {'on' if turned else 'off'}.{f' {came} came back.' if came else ''}"

    def _back(self, played: Played) -> None:
        cleaning = self._inputs.get(played.port)
        if cleaning is not None:
            cleaning.forget(played.id)
        owner = self._owner(played)
        if owner is not None:
            # From here on it was a note of its own.
            owner.rest = owner.rest[: owner.rest.index(played.id)]
            owner.end_q = owner.at_q + (played.stamp_sec - owner.stamp_sec) * self._qpm() / 60.0
            tell_note_off(self._core, owner)
        self._removed.remove(played.id)
        self._core.recorder.brought_back.add(played.id)
        self._show(played)

    def _out_of_view(self) -> list[Played]:
        """What is out of view and can come back, oldest first."""
        notes = self._core.recorder.notes
        return [notes[one] for one in self._removed if one in notes and notes[one].hidden]

    def _tell(self) -> None:
        """How much is out of view, and the newest of it."""
        hidden = self._out_of_view()
        rows = tuple(
            RemovedNote(one.id, one.pass_index, round(one.at_q, 4), one.pitch, one.velocity, one.string, one.hidden)
            for one in hidden[-TOLD:]
        )
        on = sorted({part for one in self._inputs.values() for part in PARTS if getattr(one.cleaning, part)})
        now_sec = self._core.now_sec
        self._core.tell(CleanUpChanged(time_sec=now_sec, count=len(hidden), parts=tuple(on), notes=rows))

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        inputs = [(port, repr(vars(one))) for port, one in sorted(self._inputs.items())]
        return (inputs, self._removed, sorted(self._last.items()), sorted(self._reach.items()))


_NAMES = {
    "ghost": "a ghost",
    "octave": "an octave error",
    "double": "a double trigger",
    CHOPPED: "the rest of a bent note",
    "noise": "string noise",
    HELD: "an error",
}
