"""What a looper is made of: its parts side by side, and what several of those who act on them need.

The parts do not act on each other: ``state``, ``settings``, ``transport``, ``recorder``, ``stack``
(the layers), ``playback``, ``through``, ``practice`` and ``picker``. Those who act on them
(``passes``, ``inputs``, ``layering``, ``layer_commands``, ``brief_commands``, ``keep_command``)
hold a Core.
"""

from loopdeck.brief.brief import Brief
from loopdeck.looper.layer_stack import LayerStack
from loopdeck.looper.loop_picker import LoopPicker
from loopdeck.looper.news import Answer, News
from loopdeck.looper.playback import Playback
from loopdeck.looper.practice import Practice
from loopdeck.looper.recorder import PassRecord, Recorder
from loopdeck.looper.settings import Settings
from loopdeck.looper.state import COUNTING_IN, State
from loopdeck.looper.through import LiveThrough
from loopdeck.looper.transport import Transport
from loopdeck.protocol.messages import Said


class Core:
    """The parts of one looper, at the moment ``now_sec`` up to which everything has been
    performed.
    """

    def __init__(self, brief: Brief, start_sec: float) -> None:
        self.now_sec = start_sec
        self.settings = Settings(brief)
        self.state = State()
        self.transport = Transport()
        self.recorder = Recorder()
        self.stack = LayerStack()
        self.playback = Playback()
        self.through = LiveThrough(self.playback.voices, self.playback.outs.append)
        self.practice = Practice()
        self.picker = LoopPicker(self.recorder, self.stack, self.state)
        self.news: list[News] = []
        #: Which pass "loop that" would take next, as it was told last.
        self.told_promise: int | None = None

    @property
    def brief(self) -> Brief:
        """The brief of the moment."""
        return self.settings.brief

    def now_q(self) -> float:
        """The position now."""
        return self.transport.quarter_at(self.now_sec)

    def record(self) -> PassRecord:
        """The pass that runs; only while time runs."""
        record = self.recorder.current
        if record is None:
            raise LookupError("No pass runs.")
        return record

    def lay_out(self, now_q: float | None = None, only: int | None = None) -> None:
        """Lay out the active layers (or one of them) from here on, if time runs."""
        if self.recorder.current is not None and self.state.running:
            place_q = self.now_q() if now_q is None else now_q
            self.playback.lay_out(place_q, self.recorder.current, self.stack, self.brief, only)

    # ---- where a press falls ---------------------------------------------------------------------

    def _in_pass_q(self) -> float:
        return self.now_q() - float(self.record().start_q)

    def press_is_late(self) -> bool:
        """At most half a beat after the start of a pass: the press meant the start."""
        clicks = self.brief.cycle.clicks
        beat = clicks[1].position if len(clicks) > 1 else self.brief.cycle.quarters
        return self.state.name != COUNTING_IN and self._in_pass_q() <= float(beat) / 2.0

    def press_is_early(self) -> bool:
        """At most half a beat before the end of a pass: the press meant the end."""
        record = self.recorder.current
        if not self.state.passing or record is None:
            return False
        beat = record.cycle_q - self.brief.cycle.clicks[-1].position
        return self._in_pass_q() >= float(record.cycle_q) - float(beat) / 2.0

    def next_beat_q(self) -> float:
        """The next place of the click from now on."""
        record = self.record()
        start_q = float(record.start_q)
        places = [start_q + float(place.position) for place in self.brief.cycle.clicks]
        to_come = (place for place in places if self.transport.sec_at(place) > self.now_sec)
        return next(to_come, start_q + float(record.cycle_q))

    # ---- telling ---------------------------------------------------------------------------------

    def tell(self, news: News) -> None:
        """Tell the window or whoever saves takes."""
        self.news.append(news)

    def say(self, said: Answer | str, wrong: bool = False) -> str:
        """Put a sentence for the player into the news."""
        text, about = (said, "") if isinstance(said, str) else said
        self.tell(Said(time_sec=self.now_sec, text=text, wrong=wrong, about=about))
        return text

    def parts(self) -> tuple[object, ...]:
        """Everything that a later input could depend on."""
        owners = (
            self.state,
            self.settings,
            self.recorder,
            self.stack,
            self.playback,
            self.through,
            self.practice,
            self.picker,
        )
        return (self.transport.parts(), *(owner.parts() for owner in owners))
