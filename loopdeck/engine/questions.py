"""What waits for the player's answer: every question by its key, told as a whole."""

from collections.abc import Callable

from loopdeck.protocol.messages import CommandCall, Message, Question, QuestionsPending, TempoGuessed


class Questions:
    """``tell`` passes a message on to the windows."""

    def __init__(self, tell: Callable[[Message], None], now: Callable[[], float]) -> None:
        self._tell, self._now = tell, now
        self._waiting: dict[str, Question] = {}

    def ask(self, question: Question) -> None:
        """Ask, in place of what was asked by the same key."""
        if self._waiting.get(question.key) != question:
            self._waiting[question.key] = question
            self._told()

    def drop(self, key: str) -> None:
        """Forget a question: it is answered, or no longer asked."""
        if self._waiting.pop(key, None) is not None:
            self._told()

    def _told(self) -> None:
        self._tell(QuestionsPending(time_sec=self._now(), questions=tuple(self._waiting.values())))


class TempoOffer:
    """The question whether playing before the start is to be the loop, with the tempo and the meter
    it sounds like. A refusal holds for the phrase it was asked of.
    """

    KEY = "free-tempo"

    def __init__(self, questions: Questions, free: Callable[[], bool]) -> None:
        """``free()``: no time runs and no layer stands, so that an offer could be taken."""
        self._questions, self._free = questions, free
        self._phrase = self._refused = -1

    def guessed(self, one: TempoGuessed) -> None:
        """A guess has come: offer it, if it can be taken and was not refused."""
        if not self._free() or one.phrase <= self._refused:
            return
        self._phrase = one.phrase
        args = {"fields": dict(one.fields), "note": one.note, "after_sec": one.after_sec, "qpm": one.qpm}
        accept, refuse = CommandCall(name="loop-free", args=args), CommandCall(name="leave-free-tempo")
        text = f"It sounds like {one.text}. Loop it so?"
        self._questions.ask(Question(key=self.KEY, text=text, accept=accept, refuse=refuse))

    def refused(self) -> None:
        """The player said no."""
        self._refused = self._phrase
        self._questions.drop(self.KEY)

    def update(self) -> None:
        """Withdraw the offer while time runs or a layer stands."""
        if not self._free():
            self._questions.drop(self.KEY)
