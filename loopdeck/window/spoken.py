"""The one sentence at the foot of the window, and how long it is true.

A sentence goes with what it speaks of: when the state or what comes next changes, when its pass is
over, when another takes its place, or when it has been read. A sentence about nothing that passes
(a keep, a device) stays ``READ_SEC``. What is announced stands for that long, too, and does not
give way to a device that has come. Pure.
"""

from dataclasses import dataclass, replace

READ_SEC = 8.0
#: A pass may end right after a sentence came: it stays at least as long.
LEAST_SEC = 2.5
#: News of one act come one after the other: what changes so soon after the sentence is what the
#: sentence speaks of.
SETTLE_SEC = 0.05
#: What is put back after something has ended brings news of its own within that.
WAKE_SEC = 0.5
#: What the news of a port that has come or gone are about.
DEVICE = "device"
#: What a sentence is about that says what came of something that has ended.
END = "end"


@dataclass(frozen=True)
class Context:
    """What a sentence may speak of: the state in words, what comes with the next cycle, the pass,
    the tempo in quarters a minute, and whether anything comes with the next ``beat``.
    """

    state: str = ""
    coming: str = ""
    pass_index: int = -1
    qpm: float = 0.0
    beat: bool = False


@dataclass(frozen=True)
class Sentence:
    """A sentence, whether something is wrong, and what it speaks of ("state", "pass", "tempo" or
    ""). ``until_sec`` None: until another one.
    """

    text: str
    wrong: bool
    said_sec: float
    about: str = ""
    until_sec: float | None = None


class Spoken:
    """Holds the sentence of the moment."""

    def __init__(self) -> None:
        self._said: Sentence | None = None
        self._context = Context()
        self._announced = ""
        self._holds_until_sec = self._wake_until_sec = float("-inf")

    def announce(self, text: str) -> None:
        """Say something as soon as the time is known, and hold it against news of devices."""
        self._announced = text

    def say(self, text: str, wrong: bool, now_sec: float, about: str = "") -> None:
        """Say something in place of what was said; "" takes it away."""
        if now_sec < self._holds_until_sec and about == DEVICE and not wrong:
            return
        self._holds_until_sec = float("-inf")
        self._wake_until_sec = now_sec + WAKE_SEC if about == END else float("-inf")
        passing = "" if about in (DEVICE, END) else about
        self._said = Sentence(text, wrong, now_sec, passing, now_sec + READ_SEC) if text else None

    def hear(self, text: str, wrong: bool, now_sec: float, about: str = "") -> None:
        """The engine says something; news of what is put back do not hide what came of it."""
        if wrong or now_sec >= self._wake_until_sec:
            self.say(text, wrong, now_sec, about)

    def enter(self, context: Context, now_sec: float) -> bool:
        """Things stand like this now: a sentence that spoke of how they stood goes. Returns
        whether one went.
        """
        was, self._context = self._context, context
        if self._announced:
            self.say(self._announced, False, now_sec)
            self._announced, self._holds_until_sec = "", now_sec + READ_SEC
            return True
        said = self._said
        if said is None or was == context or now_sec < self._wake_until_sec:
            return False
        if was.beat and not context.beat and said.about == "state" and said.until_sec is not None:
            # What it said of the next beat has come, sooner than one can read it.
            self._said = said = replace(said, until_sec=min(said.until_sec, now_sec + LEAST_SEC))
        since = now_sec - said.said_sec
        turned = (was.state, was.coming) != (context.state, context.coming)
        over = was.pass_index != context.pass_index and (said.about == "pass" or since >= LEAST_SEC)
        turned = turned and (bool(said.about) or not said.wrong)
        retimed = said.about == "tempo" and was.qpm != context.qpm
        if since > SETTLE_SEC and (turned or over or retimed):
            self._said = None
            return True
        return False

    def now(self, now_sec: float) -> Sentence | None:
        """The sentence, while it is true."""
        said = self._said
        return said if said is not None and (said.until_sec is None or now_sec < said.until_sec) else None
