"""What is played: notes enter the recorder, sound through, and bring layers up to date."""

from loopdeck.bass.pickup.profile import cleaning_of_words
from loopdeck.capture.bend import range_data
from loopdeck.capture.events import Event
from loopdeck.capture.pairing import Ended, Started
from loopdeck.looper.core import Core
from loopdeck.looper.heard import Heard, channels_of
from loopdeck.looper.hindsight import Hindsight
from loopdeck.looper.layering import Layering
from loopdeck.looper.news import tell_layers, tell_note_bend, tell_note_off, tell_note_on
from loopdeck.looper.recorder import Played

#: How often the moving pitch of a note is told at most.
BEND_EVERY_SEC = 0.04
_PLAIN = Heard()
#: The pitches whose delay is said: the lowest and the highest open string of the usual four.
_SAID = (28, 43)


class Inputs:
    """Acts on the parts of one looper."""

    def __init__(self, core: Core, layering: Layering, hindsight: Hindsight) -> None:
        self._core, self._layering, self._hindsight = core, layering, hindsight
        #: When the bend of a held note was told last.
        self._bent_sec: dict[int, float] = {}

    def event(self, event: Event) -> None:
        """One channel message of an instrument."""
        core, note_id = self._core, None
        outcomes = core.recorder.pairer.feed(event)
        core.through.bend(core.now_sec, event.port, event.data)
        if event.data[0] & 0xF0 == 0xE0:
            self._bent(event)
        for outcome in outcomes:
            if isinstance(outcome, Started):
                self._started(outcome)
            else:
                self._ended(outcome)
            note_id = outcome.id if note_id is None or isinstance(outcome, Started) else note_id
        core.recorder.event(event, note_id, core.state.running)

    def _bent(self, event: Event) -> None:
        """A string is bent: tell of the notes it moves, but not of every step."""
        channel = event.data[0] & 0x0F
        for played in self._core.recorder.held():
            if (played.port, played.channel) != (event.port, channel) or played.hidden:
                continue
            if event.time_sec - self._bent_sec.get(played.id, -1.0) >= BEND_EVERY_SEC:
                self._bent_sec[played.id] = event.time_sec
                tell_note_bend(self._core, played)

    def _started(self, note: Started) -> None:
        core = self._core
        string = core.recorder.pickups.get(note.port, _PLAIN).string_of(note.channel)
        note = note._replace(string=note.string or string)
        played, record = core.recorder.begin(note, core.transport.quarter_at if core.state.running else None)
        if self._hindsight.begun(played):
            tell_note_on(core, played)
        if record is not None:
            self._layering.remake(record, self._alone(played))
        core.through.begin(core.now_sec, note)
        if core.picker.promise() != core.told_promise:
            tell_layers(core)

    def _ended(self, note: Ended) -> None:
        core = self._core
        core.through.end(core.now_sec, note.id)
        quarter_at = core.transport.quarter_at if core.state.running else None
        played, record = core.recorder.end(note, quarter_at, core.brief.tempo.quarters_per_minute)
        self._bent_sec.pop(note.id, None)
        if played is not None:
            if not played.hidden:
                tell_note_off(core, played)
            self._hindsight.ended(note, played)
        if record is not None:
            self._layering.remake(record, self._alone(played))

    def _alone(self, played: Played | None) -> Played | None:
        """The note, where it changes no other one; the clean-up may have changed the one before."""
        return played if played is not None and not self._hindsight.cleans(played.port) else None

    # ---- commands --------------------------------------------------------------------------------

    def thru(self, on: bool, port: int | None = None) -> str:
        """Let an input (None: every one) sound through, or not."""
        self._core.through.set(port, on)
        which = "" if port is None else f" for input {port + 1}"
        return f"Thru is {'on' if on else 'off'}{which}."

    def thru_toggle(self) -> str:
        """What is played sounds through, or does not any more: the other way round than the input
        that was played last; before anything was played, than any.
        """
        core = self._core
        played = next(reversed(core.recorder.notes.values()), None)
        sounds = core.through.sounds(played.port) if played is not None else core.through.anything_sounds()
        return self.thru(not sounds)

    def late(self, port: int, sec: float) -> str:
        """Judge an input by so much earlier than it arrives."""
        self._core.recorder.late_sec[port] = float(sec)
        if not sec:
            return f"Input {port + 1} is judged as it arrives."
        return f"Input {port + 1} is judged {float(sec) * 1000.0:.1f} ms earlier than it arrives."

    def pickup(
        self,
        port: int,
        channels: str,
        constant_ms: float,
        periods: float,
        bend_range: float | None = None,
        name: str = "",
        cleaning: str = "",
    ) -> str:
        """Judge an input as its pickup hears: what is played from now on. Raises UserError."""
        recorder, now = self._core.recorder, self._core.now_sec
        rules = cleaning_of_words(cleaning)
        reach = None if bend_range is None else float(bend_range)
        heard = Heard(channels_of(channels), float(constant_ms), float(periods), name, rules, reach)
        recorder.pickups[port] = heard
        self._hindsight.listen(port)
        if bend_range is not None:
            for channel in range(16):
                for data in range_data(channel, bend_range, close=True):
                    recorder.pairer.feed(Event(now, port, data))
        low, high = (1000 * heard.late_sec(pitch) for pitch in _SAID)
        strings = f"{len(heard.channels)} strings by channel" if heard.channels else "all strings on one channel"
        cleaned = "" if rules is None else " Its errors are taken out."
        return f"Input {port + 1}: {strings}; E1 is judged {low:.0f} ms earlier than it arrives, G2 {high:.0f} ms.{cleaned}"

    def silence(self) -> str:
        """End every sounding note."""
        self._core.playback.voices.silence(self._core.now_sec)
        return "Silence."
