"""What the window says to the player: the sentence of the moment, and the questions that wait for
an answer. Pure.
"""

from loopdeck.protocol.messages import Question, QuestionsPending, Said
from loopdeck.window.spoken import Spoken


class Notices:
    """``questions`` wait for an answer, the oldest first; no sentence pushes them aside."""

    def __init__(self) -> None:
        self.spoken = Spoken()
        self.questions: tuple[Question, ...] = ()

    def receive(self, message: Said | QuestionsPending) -> None:
        """Take in what the engine tells."""
        if isinstance(message, Said):
            self.spoken.hear(message.text, message.wrong, message.time_sec, message.about)
        else:
            self.questions = message.questions

    def answer(self, question: Question) -> None:
        """The player has answered: the question waits no longer."""
        self.questions = tuple(one for one in self.questions if one is not question)
