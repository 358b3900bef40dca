"""The real window: free playing is offered as a loop and taken, a pass is chosen and looped, and
the last page keeps a riff.
"""

import time
from collections.abc import Callable

from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import KeyPlayed, LayersChanged, Message, QuestionsPending, TempoGuessed
from loopdeck.shelf.store import Shelf
from loopdeck.window.layout import layout
from loopdeck.window.panels import PANELS
from loopdeck.window.theme import PAPER
from tests.waiting import PATIENCE_SEC, until
from tests.window.screen import Screen
from tests.window.test_jam import (
    RIFF,
    Jam,
    _beside_an_instrument,
    begin_pass,
    beside_the_listener,
    close_the_last_page,
    engine_has_ended,
    jam,
    play_riff,
    takes,
)
from tests.window.test_window import share

__all__ = ["jam"]

#: A guess of the process that listens, as it would come; that it guesses right is tested where time
#: is exact.
GUESS = TempoGuessed(
    fields={"tempo": "126", "cycle": "4/4"},
    note=0,
    after_sec=0.0,
    qpm=126.0,
    phrase=0,
    text="♩ = 126 in 4/4, one bar long",
)


def play_freely(engine: LinkClient) -> None:
    """Fewer notes than anybody would guess from."""
    for pitch in (28, 31, 33, 38, 37):
        for on in (True, False):
            engine.send(KeyPlayed(pitch=pitch, on=on, velocity=90 if on else 0, played_sec=time.perf_counter()))
            time.sleep(0.1)


def wait_for(engine: LinkClient, wanted: Callable[[Message], bool], what: str) -> Message:
    """The first message that is wanted."""
    end = time.monotonic() + PATIENCE_SEC
    while time.monotonic() < end:
        for message in engine.poll():
            if wanted(message):
                return message
        time.sleep(0.01)
    raise AssertionError(f"{what} did not come")


def layers(count: int) -> Callable[[Message], bool]:
    return lambda one: isinstance(one, LayersChanged) and len(one.layers) == count


def test_from_free_playing_to_the_last_page(screen: Screen, jam: Jam) -> None:
    screen.key("grave") if _beside_an_instrument(jam) else None
    engine = beside_the_listener(jam)

    # Before the start: what is played is offered, taken, and given back by one undo.
    play_freely(engine)
    engine.send(GUESS)
    asked = wait_for(engine, lambda one: isinstance(one, QuestionsPending) and bool(one.questions), "the offer")
    assert isinstance(asked, QuestionsPending)
    assert asked.questions[0].text == "It sounds like ♩ = 126 in 4/4, one bar long. Loop it so?"
    place = layout(1280, 720, waiting=True).sections["waiting"]
    until(lambda: share(jam.cut("passes-offer", place), PAPER.ink) > 0.05, "the offer in the window")
    screen.key("shift+F5")
    taken = wait_for(engine, layers(1), "the layer")
    assert isinstance(taken, LayersChanged) and taken.layers[0].notes >= 1
    time.sleep(0.3)
    jam.cut("passes-taken", layout(1280, 720).window)
    screen.key("BackSpace")
    wait_for(engine, layers(0), "the undo")

    # While time runs: a pass is chosen, two back, and looped.
    screen.key(*["F3"] * [one.name for one in PANELS].index("passes"))
    screen.key("Tab")
    for _ in range(4):
        last = begin_pass(engine)
        play_riff(engine, last)
    begin_pass(engine)
    screen.key("Prior", "Prior")
    until(lambda: share(jam.cut("passes-chosen", layout(1280, 720).window), PAPER.ink) > 0.02, "the panel")
    screen.key("End")
    looped = wait_for(engine, layers(1), "the layer of the chosen pass")
    assert isinstance(looped, LayersChanged)
    assert 0 <= looped.layers[0].pass_index < last.pass_index, "an earlier one than Space would have taken"
    engine.close()

    # The end: the page of riffs; one goes to the shelf.
    screen.leave(lambda: engine_has_ended(jam))
    until(lambda: kept(screen, jam), "the riff on the shelf")
    jam.cut("passes-harvest", layout(1280, 720).window)
    assert jam.process.poll() is None, "the page stays until it is closed"
    close_the_last_page(screen, jam)
    assert jam.process.wait(PATIENCE_SEC) == 0
    with Shelf(jam.folder / "shelf.sqlite") as shelf:
        assert len(shelf.find()) == 1
        notes = shelf.get(1).notes().array["pitch"].tolist()
    assert len(notes) >= 4 and set(notes) <= {pitch for _, pitch in RIFF}


def kept(screen: Screen, jam: Jam) -> bool:
    """Tick the first riff and put it on the shelf, as soon as there is one."""
    screen.key("Right", "Return")
    time.sleep(0.5)
    return takes(jam) == 1
