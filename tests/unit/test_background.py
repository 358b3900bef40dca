"""The window's thread for what takes long: nothing that goes wrong in it ends it."""

from loopdeck.window.background import Background, Done, sentence
from tests.waiting import until


def test_what_nobody_foresaw_gets_a_sentence_and_the_next_job_is_done() -> None:
    background, done = Background(), list[Done]()
    background.start("first", lambda: {}["missing"])
    background.start("second", lambda: 2)

    def all_done() -> bool:
        if (one := background.poll()) is not None:
            done.append(one)
        return len(done) == 2

    until(all_done)
    assert done[0].error is not None
    assert sentence(done[0].error) == "That failed because of a bug in loopdeck (KeyError)."
    assert (done[1].job, done[1].value, background.busy) == ("second", 2, 0)
