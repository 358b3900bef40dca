"""A real window under Xvfb, driven by xdotool, on the real looper behind the real link."""

import time

import numpy as np

from loopdeck.audio.levels import Levels
from loopdeck.audio.routes import Routes
from loopdeck.protocol.messages import MixerChanged, WindowAsked
from loopdeck.window.layout import Box, layout
from loopdeck.window.theme import PAPER, SLATE
from tests.waiting import PATIENCE_SEC, until
from tests.window.conftest import Opened
from tests.window.looking import seen, still
from tests.window.screen import Screen


def names(opened: Opened) -> list[str]:
    return [name for name, _ in opened.engine.commands]


def inside(screen: Screen, opened: Opened, name: str) -> np.ndarray:
    """A screenshot cut to the window; nothing may be drawn beside it."""
    while True:
        x, y, w, h = place = screen.geometry(opened.id)
        whole = screen.shot(name)
        if screen.geometry(opened.id) == place:
            break
    outside = whole.copy()
    outside[y : y + h, x : x + w] = 0
    assert not outside.any(), "something is drawn outside the window"
    return whole[y : y + h, x : x + w]


def open_line(screen: Screen, opened: Opened, name: str) -> None:
    """Press Return and wait for the line to type on, in the message's place: what is typed before
    is not for it.
    """
    box = layout(1280, 720).sections["message"]

    def line() -> np.ndarray:
        return inside(screen, opened, name)[box.y : box.bottom, box.x : box.right]

    screen.key("Return")
    seen(line, is_framed, "a line to type on")


def is_framed(line: np.ndarray) -> bool:
    """Whether this is a line that is being typed: it has a frame."""
    return bool((line[0] == np.array(PAPER.ink, np.uint8)).all(axis=1).mean() > 0.9)


def share(pixels: np.ndarray, colour: tuple[int, int, int]) -> float:
    """The share of pixels that have exactly this colour."""
    return float((pixels == np.array(colour, np.uint8)).all(axis=2).mean())


def pointed(cut: np.ndarray, before: np.ndarray) -> bool:
    """Whether there is a lozenge with a point on its left that was not there before: on its middle
    row the first ink from the left, earlier than on the rows above and below.
    """
    if (cut != before).any(axis=2).mean() <= 0.05:
        return False
    height, width, _ = cut.shape
    ink = (cut.astype(int).sum(axis=2) < 200)[: round(height * 0.6)]
    starts = [int(row.argmax()) if row.any() else width for row in ink]
    middle = int(np.argmin(starts))
    return 20 < middle < 50 and starts[middle] + 15 < min(starts[4], starts[middle * 2 - 6])


def test_play_layer_undo_keep_resize_leave(screen: Screen, opened: Opened) -> None:
    engine = opened.engine
    first = seen(lambda: inside(screen, opened, "stopped"), lambda one: share(one, PAPER.ground) > 0.5, "the paper")
    assert first.shape[:2] == (720, 1280)

    # The letter rows are the strings: Z is the open E, X a fret higher, which E dorian does not
    # have.
    screen.key("Tab")
    until(lambda: engine.looper.state == "LISTENING", "the start")
    screen.note("z")
    screen.note("a")
    until(lambda: len(engine.keys) == 4, "two notes to begin and end")
    assert [(key.pitch, key.on) for key in engine.keys] == [(28, True), (28, False), (33, True), (33, False)]

    # A flagged note is drawn: hollow, so the ground lies inside an outline where a block of ink
    # would be.
    box = layout(1280, 720).sections["readout"]

    def readout(name: str) -> np.ndarray:
        return inside(screen, opened, name)[box.y : box.bottom, box.x : box.right]

    def play_wrong() -> np.ndarray:
        screen.note("x", 0.1)
        return readout("out-of-scale")

    time.sleep(0.1)
    before = readout("before-the-wrong-note")
    seen(play_wrong, lambda one: pointed(one, before), "the lozenge")
    # Loop that: the pass that went by becomes a layer although nothing was pressed.
    passes = engine.looper.pass_index
    until(lambda: engine.looper.pass_index > passes, "the next pass")
    time.sleep(0.5)
    screen.key("space")
    until(lambda: len(engine.looper.layers()) == 1, "a layer")
    screen.key("Return")
    until(lambda: engine.looper.state == "LAYERING", "layering")
    screen.note("q")
    state = layout(1280, 720).sections["state"]
    seen(
        lambda: inside(screen, opened, "layering")[state.y : state.bottom, state.x : state.right],
        lambda one: share(one, PAPER.ink) > 0.15,
        "LAYERING on ink",
    )
    screen.key("Return")
    until(lambda: len(engine.looper.layers()) >= 2 and engine.looper.state == "LISTENING", "two layers")
    screen.key("Up", "Left")
    until(lambda: len(engine.looper.muted) == 1, "a muted layer")
    time.sleep(0.2)
    inside(screen, opened, "muted")
    stand = len(engine.looper.layers())
    screen.key("BackSpace")
    until(lambda: len(engine.looper.layers()) == stand - 1, "the undo")
    screen.key("shift+BackSpace")
    until(lambda: len(engine.looper.layers()) == stand, "the redo")
    screen.key("F7", "F5")
    until(lambda: ("keep", {"passes": 2}) in engine.commands, "a keep")
    time.sleep(0.3)
    inside(screen, opened, "kept")

    # The brief, by steps and typed.
    screen.key("F2", "Right")
    until(lambda: ("brief", {"fields": {"tempo": "151"}}) in engine.commands, "a step of tempo")
    open_line(screen, opened, "brief")
    screen.key("BackSpace", "BackSpace", "BackSpace")
    screen.do("type", "--delay", "30", "120")
    screen.key("Return")
    until(lambda: engine.looper.brief.to_dict()["tempo"] == "120", "the typed tempo")
    screen.key("Escape", "F1")
    time.sleep(0.2)
    inside(screen, opened, "help")
    screen.key("F1", "F4")
    seen(lambda: inside(screen, opened, "slate"), lambda one: share(one, SLATE.ground) > 0.5, "the other theme")

    screen.do("windowmove", opened.id, "40", "40")
    for width, height in ((800, 450), (1000, 900), (1500, 600)):
        screen.do("windowsize", "--sync", opened.id, str(width), str(height))
        # Drawn to the new size: the devices' line stands at its foot.
        foot = layout(width, height).sections["devices"]

        def right(shot: np.ndarray, size: tuple[int, int] = (height, width), foot: Box = foot) -> bool:
            line = shot[foot.y : foot.bottom, foot.x : foot.right]
            return shot.shape[:2] == size and share(shot, SLATE.ground) > 0.4 and share(line, SLATE.ground) < 0.99

        seen(lambda size=(width, height): inside(screen, opened, "x".join(map(str, size))), right, "the new size")

    screen.key("F12")
    time.sleep(0.2)
    assert opened.process.poll() is None, "one press must not end a session"
    screen.leave(lambda: opened.process.poll() is not None)
    assert opened.process.wait(PATIENCE_SEC) == 0
    until(lambda: opened.engine.left == [True], "the goodbye")


def test_a_key_held_while_the_window_ends_lets_its_note_go(screen: Screen, opened: Opened) -> None:
    screen.do("keydown", "s")
    until(lambda: len(opened.engine.keys) == 1, "a note")
    screen.leave(lambda: opened.process.poll() is not None)
    screen.do("keyup", "s")
    assert opened.process.wait(PATIENCE_SEC) == 0
    until(lambda: [key.on for key in opened.engine.keys] == [True, False], "the end of the note")


def test_the_sound_page_is_a_mixer(screen: Screen, opened: Opened) -> None:
    """The page asks, and shows what the engine answers: a level that fell is a shorter bar."""
    levels = Levels()

    def tell() -> None:
        opened.engine.tell(
            MixerChanged(time_sec=time.perf_counter(), device="a box", parts=levels.state(Routes("sound")))
        )

    foot = layout(1280, 720).sections["devices"]

    def foot_now() -> np.ndarray:
        return inside(screen, opened, "sound-foot")[foot.y : foot.bottom, foot.x : foot.right]

    silent = still(foot_now, "the foot")
    tell()
    # The foot says that there is sound; before that the page has no line to choose.
    until(lambda: bool((foot_now() != silent).any()), "the parts that sound")
    page = layout(1280, 720).page

    def lines(name: str) -> np.ndarray:
        return inside(screen, opened, name)[page.y : page.bottom, page.x : page.right]

    closed = lines("sound-closed")
    screen.key("shift+F2")
    first = still(lambda: lines("sound-first"), "the page", closed)
    screen.key("Down")
    before = still(lambda: lines("sound"), "the next line", first)
    screen.key("shift+Left", "shift+Left", "Return")
    asked = [("level", {"part": "click", "by": -6.0})] * 2 + [("sound-mute", {"part": "click"})]
    until(lambda: opened.engine.commands == asked, "what was asked for")
    for name, args in asked[:2]:
        levels.apply(name, args)
    tell()
    after = still(lambda: lines("sound-softer"), "a shorter bar", before)
    changed = (before != after).any(axis=2)
    # Only the chosen line has changed, and there the bar is 12 dB of 72 shorter.
    rows = np.flatnonzero(changed.any(axis=1))
    assert 0 < rows.max() - rows.min() < 60
    gone = (before == PAPER.ink).all(axis=2) & ~(after == PAPER.ink).all(axis=2)
    widths = gone[:, 430:].sum(axis=1)
    assert abs(widths.max() - 586 * 12 / 72) < 12
    screen.key("Escape")
    time.sleep(0.2)
    assert opened.process.poll() is None


def test_an_offer_is_answered_by_key(screen: Screen, opened: Opened) -> None:
    opened.engine.offer()
    box = layout(1280, 720, waiting=True).sections["waiting"]
    seen(
        lambda: inside(screen, opened, "offer")[box.y : box.bottom, box.x : box.right],
        lambda one: share(one, PAPER.ink) > 0.05,
        "the offer",
    )
    screen.key("shift+F5")
    until(lambda: names(opened) == ["recover"], "the answer")


def test_the_engines_death_is_said_and_its_return_noticed(screen: Screen, opened: Opened) -> None:
    message = layout(1280, 720).sections["message"]

    def line(name: str) -> np.ndarray:
        return inside(screen, opened, name)[message.y : message.bottom, message.x : message.right]

    empty = still(lambda: line("alive"), "nothing said")
    address = opened.process.args[-1]  # type: ignore[index]
    opened.engine.close()
    loss = share(empty, PAPER.ink) + 0.02
    said = seen(lambda: line("engine-lost"), lambda one: share(one, PAPER.ink) > loss, "the sentence of the loss")
    assert opened.process.poll() is None
    from tests.window.small_engine import SmallEngine

    again = SmallEngine(str(address), opened.engine.brief)
    try:
        assert again.joined.wait(PATIENCE_SEC), "the window did not come back to the engine"
        # The sentence of the loss does not stay when the engine is back.
        seen(lambda: line("engine-back"), lambda one: not np.array_equal(one, said), "another sentence, or none")
    finally:
        again.close()


def test_a_pedal_turns_the_panel(screen: Screen, opened: Opened) -> None:
    """The engine passes on what a foot asks of the window; without it the panel stays."""
    panel = layout(1280, 720).panel
    layers = still(lambda: inside(screen, opened, "panel-layers")[panel.y : panel.bottom], "the panel")
    opened.engine.tell(WindowAsked(name="window-panel", args={"step": 1}))
    seen(
        lambda: inside(screen, opened, "panel-neck")[panel.y : panel.bottom],
        lambda neck: bool((neck != layers).any(axis=2).mean() > 0.05),
        "the neck",
    )


def test_layers_are_seen_on_the_lanes(screen: Screen, opened: Opened) -> None:
    """A loop that sounds is on the lanes, hollow when it is muted, and gone when it is deleted."""
    engine, lanes = opened.engine, layout(1280, 720).lanes

    def quiet(name: str) -> float:
        # The marker may lie over the line of a beat: the most of three moments.
        time.sleep(0.3)
        shots = []
        for _ in range(3):
            shots.append(share(inside(screen, opened, name)[lanes.y : lanes.bottom], PAPER.quiet))
            time.sleep(0.1)
        return max(shots)

    screen.key("Tab")
    until(lambda: engine.looper.state == "LISTENING", "the start")
    screen.note("a", 0.3)
    passes = engine.looper.pass_index
    until(lambda: engine.looper.pass_index > passes, "the next pass")
    empty = quiet("lanes-empty")
    screen.key("space")
    until(lambda: len(engine.looper.layers()) == 1, "a layer")
    sounding = until(
        lambda: share_found if (share_found := quiet("lanes-sounding")) > empty + 0.002 else 0, "the layer"
    )
    screen.key("Down", "Left")
    until(lambda: len(engine.looper.muted) == 1, "the mute")
    until(lambda: empty < quiet("lanes-muted") < sounding, "the hollow layer")
    screen.key("Delete")
    until(lambda: not engine.looper.layers(), "the layer's end")
    until(lambda: abs(quiet("lanes-deleted") - empty) < 0.001, "the lanes without it")
