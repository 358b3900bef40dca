"""Make the pictures in docs/pictures again: ``python docs/make_pictures.py [FOLDER]``. Needs no screen.

The pictures are no drawings: the built-in player's session runs through the looper, its news go to the window's view, and the view is
drawn at chosen moments by the same code that draws the window.
"""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from loopdeck.brief.brief import Brief
from loopdeck.engine.demo_session import performance
from loopdeck.looper.machine import Looper
from loopdeck.protocol.messages import (
    BriefChanged,
    CommandCall,
    DeviceRow,
    DevicesChanged,
    Message,
    MixerChanged,
    PartRow,
    Question,
    TakeKept,
)
from loopdeck.session.news import message_of_news
from loopdeck.window.desk import Desk
from loopdeck.window.picture import save_picture
from loopdeck.window.view import View

BRIEF = {
    "name": "quay steps",
    "tempo": "96",
    "cycle": "4/4 4+3/8",
    "swing": "58%",
    "scale": "E dorian",
    "count_in": "1",
}
DEVICES = DevicesChanged(
    devices=(
        DeviceRow(role="in", name="pickup", state="connected"),
        DeviceRow(role="out", name="loopdeck out", state="connected"),
        DeviceRow(role="controls", name="pedal", state="not found, looking"),
    )
)
_SET = {"master": (-12.0, False), "click": (-4.0, False), "drums": (-3.0, False), "layer:1": (0.0, True)}
_WAYS = {"master": "", "click": "sound", "drums": "sound", "live": "both", "layer:1": "sound", "layer:2": "sound"}
LEVELS = MixerChanged(
    device="headphones",
    parts=tuple(
        PartRow(part=part, db=_SET.get(part, (0.0, False))[0], muted=_SET.get(part, (0.0, False))[1], way=way)
        for part, way in _WAYS.items()
    ),
)
QUESTION = Question(
    key="last-session",
    text="There is an unfinished session from 13:40 with 212 notes; shall it be kept as a take?",
    accept=CommandCall(name="keep-last-session"),
    refuse=CommandCall(name="leave-last-session"),
)


class Session:
    """The player's session up to any moment, as the window sees it."""

    def __init__(self, **brief: str) -> None:
        self.brief = Brief.default().replace(**(BRIEF | brief))
        self.looper = Looper(self.brief)
        self.view = View()
        self.steps: Iterator[Any] = iter(performance(self.brief))
        self.coming = next(self.steps, None)
        self.tell(BriefChanged(fields=self.brief.to_dict()))
        self.tell(DEVICES)

    def tell(self, message: Message) -> None:
        """A message of the engine's own."""
        self.view.receive(message)

    def run_to(self, now: float) -> None:
        """Perform everything up to ``now`` (seconds)."""
        while self.coming is not None and self.coming.sec <= now:
            step = self.coming
            if step.kind == "midi":
                self.looper.midi(step.sec, step.sec, 0, step.data)
            else:
                self.looper.command(step.sec, step.name, **step.args)
            self.coming = next(self.steps, None)
        self.looper.advance(now)
        self.pass_on()

    def pass_on(self) -> None:
        """Give the looper's news to the view, a keep as the engine reports it."""
        for news in self.looper.take_news():
            if news.kind == "kept":
                keep = news.data["keep"]
                self.tell(TakeKept(number=1, name=keep.name, when="14:02", passes=keep.passes))
            else:
                self.tell(message_of_news(news))

    def place(self, pass_index: int, at_q: float) -> float:
        """When the session reaches a place, in seconds."""
        second = 60 / self.brief.tempo.quarters_per_minute
        first = float(self.brief.cycle.meters[0].quarters) * self.brief.count_in
        return 0.5 + (first + pass_index * float(self.brief.cycle.quarters) + at_q) * second


def main(folder: Path) -> None:
    """Write every picture into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)

    def take(name: str, session: Session, now: float, **how: Any) -> None:
        session.run_to(now)
        save_picture(folder / f"{name}.png", session.view, now, **how)
        print(folder / f"{name}.png")

    session = Session()
    take("stopped", session, 0.1)
    take("counting-in", session, session.place(0, -1.3))
    take("listening", session, session.place(1, 5.1))
    # In the third pass the riff has a D sharp, which E dorian does not have.
    take("out-of-scale", session, session.place(2, 5.72))
    take("layering", session, session.place(4, 6.2))
    take("slate", session, session.place(6, 7.1), theme="slate")
    take("help", session, session.place(6, 7.2), desk=Desk(page="help"))
    take("brief", session, session.place(6, 7.3), desk=Desk(page="brief", brief_line=6))
    session.tell(LEVELS)
    take("sound", session, session.place(6, 7.35), desk=Desk(page="sound", sound_part="click"))
    take("kept", session, session.place(8, 1.4))
    take("pitches", *_pitches())


def _pitches() -> tuple[Session, float]:
    """The same riff on lanes of pitches instead of strings."""
    session = Session()
    session.view.set_lanes("pitches")
    return session, session.place(2, 7.2)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent / "pictures")
