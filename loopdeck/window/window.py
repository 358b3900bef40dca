"""The window: events in, messages out, sixty frames a second.

Theory of operation
    The link to the engine is polled before every frame; between frames the loop waits for events,
    so that a key's time is taken when the key comes and not when the next frame is due. What a key
    means is decided in ``ui``, what is shown in ``view``, how in ``paint``. The window owns no
    note: when it loses the keyboard's attention or ends, it ends what its keys began.

    When the engine is gone the window says so and stays, so that what was last said can be read. It
    looks for the engine at the same address for a while (whoever supervises may have started it
    again there); ``revive`` lets the player ask for that by a key.
"""

import gc
import os
import sys
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from loopdeck import pygame_lean  # noqa: F401 - before pygame

# Not only where it is missing: an engine that has imported pygame hands down a name that pygame
# made up.
os.environ["SDL_VIDEO_X11_WMCLASS"] = "loopdeck"
# Frames are drawn in memory. Handing them to the screen through a texture took 12 ms a frame on a
# machine without a graphics card, straight to the screen it takes 1.5 ms (measured with
# tests/bench/bench_frames.py).
os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")

import pygame

from loopdeck.errors import UserError
from loopdeck.protocol.address import LinkError
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import WindowAsked
from loopdeck.window import keys
from loopdeck.window.event_wait import wait_for_events
from loopdeck.window.harvest_process import SessionFiles
from loopdeck.window.leaving import Leaving
from loopdeck.window.opening import fits, window_size
from loopdeck.window.paint import Painter
from loopdeck.window.sent import Sent
from loopdeck.window.technique import catch_up
from loopdeck.window.theme import THEMES, theme_named
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View

FRAME_SEC = 1 / 60
AGAIN_SEC = 0.5  # how often a lost engine is looked for
PATIENCE_SEC = 15.0  # how long, before the window gives up by itself
#: For so long after the window has changed, every frame is drawn as a whole: what the screen shows
#: of it meanwhile is anybody's guess.
UNSETTLED_SEC = 1.0
READ_SEC = 0.05  # how often what was just played is read for how it was played
COMES_UP_SEC = 30.0  # how long an engine may take to come up, on a slow machine too
QUIT, ENGINE_LOST = 0, 3
#: Stands for SDL's window while that is yet to fill the screen.
TO_FILL = object()
UNSEEN = ("offscreen", "dummy")


class DisplayError(UserError):
    """The window cannot be opened; ``str(error)`` is one full sentence."""


@dataclass
class _Loss:
    """When the engine was lost, None while it is there; and when it is looked for again."""

    at_sec: float | None = None
    look_again_sec: float = 0.0


class Window:
    """One window on one engine."""

    def __init__(
        self,
        address: str,
        *,
        fullscreen: bool,
        theme: str,
        revive: Callable[[], str] | None,
        shelf: str = "",
        practise: Mapping[str, Any] | None = None,
        said: str = "",
        files: SessionFiles | None = None,
    ) -> None:
        self.revive = revive
        self.view = View()
        # A reading takes as long as drawing a frame does.
        self.view.played.reads_later = True
        self.ui = UiState()
        for page in self.ui.pages.values():
            page.shelf = shelf
        self.view.played.practising.shelf = shelf
        if practise:
            from loopdeck.window.target.asked import ask

            ask(self.view, self.ui, practise)
        self._said = said
        self.leaving = Leaving(files, self.ui)
        self.painter = Painter(theme_named(theme))
        # The window shows itself first: the engine comes up meanwhile.
        self.link = LinkClient(address, wait_sec=None)
        self._met = False
        self.fullscreen = fullscreen
        self.frame_sec: list[float] = []
        """How long each frame took to draw and show, the last 100,000 of them, for measuring."""
        self._loss = _Loss()
        self._unsettled_until = 0.0
        self._sdl_window: Any = None
        self._size: tuple[int, int] | None = None
        """The size before full screen."""
        self._open()
        self._opened_sec = time.perf_counter()

    # ---- the screen ------------------------------------------------------------------------------

    @property
    def screen(self) -> pygame.Surface:
        """The surface of the window; another one after each change of its size."""
        return pygame.display.get_surface()

    def _open(self) -> None:
        # Only what is needed: initialising everything would open the sound device, which is the
        # engine's.
        try:
            pygame.display.init()
            if pygame.display.get_driver() in UNSEEN and not os.environ.get("SDL_VIDEODRIVER"):
                # SDL's last resort where no screen answers: a window that nobody can see.
                raise pygame.error("no screen answers")
            pygame.font.init()
            self._set_mode()
        except pygame.error as error:
            raise DisplayError(
                f"The window cannot be opened ({error}); on a machine without a screen use loopdeck jam --headless."
            ) from error

    def _set_mode(self) -> None:
        pygame.display.set_caption("loopdeck")
        pygame.display.set_icon(_icon())
        desktop = pygame.display.get_desktop_sizes()[0]
        if self.fullscreen:
            pygame.display.set_mode((0, 0), pygame.FULLSCREEN)
        else:
            size = self._size or window_size(desktop)
            pygame.display.set_mode(size, pygame.RESIZABLE)
            self._sdl_window = None if fits(desktop) else TO_FILL
        pygame.key.set_repeat()
        pygame.key.stop_text_input()
        self._unsettle()

    def _fill_screen(self) -> None:
        """Once the window shows something: SDL waits a tenth of a second for a window manager."""
        from pygame._sdl2.video import Window as SdlWindow

        # Kept: SDL holds on to this object, and its events hand it out.
        self._sdl_window = None
        with suppress(pygame.error):
            self._sdl_window = SdlWindow.from_display_module()
            self._sdl_window.maximize()
        self._unsettle()

    def _turn_full(self) -> None:
        """To full screen, or back, with a new window: one that changes by itself is left in the
        wrong place or with black patches by some window managers, and where there is none.
        """
        if not self.fullscreen:
            self._size = self.screen.get_size()
        self.fullscreen = not self.fullscreen
        pygame.display.quit()
        self._sdl_window = None
        pygame.display.init()
        self._set_mode()

    def _unsettle(self) -> None:
        """The window has changed, or will."""
        self.painter.refresh()
        self._unsettled_until = time.perf_counter() + UNSETTLED_SEC

    # ---- the loop --------------------------------------------------------------------------------

    def run(self) -> int:
        """Until the player leaves (0), or the engine is gone and nobody asked to stay (3)."""
        try:
            settled = False
            due = read_due = time.perf_counter()
            while not self._has_left(time.perf_counter()):
                now = time.perf_counter()
                if not self.leaving.active:
                    self._receive(now)
                self._poll_pages(now)
                if self._given_up(now):
                    return ENGINE_LOST
                self._frame(now)
                if not settled:
                    # Whoever starts a window need not look for circles before: what is loaded has
                    # none.
                    settled = True
                    gc.freeze()
                    gc.enable()
                if self._sdl_window is TO_FILL:
                    self._fill_screen()
                if now >= read_due:
                    read_due = now + READ_SEC
                    catch_up(self.view)
                due = max(due + FRAME_SEC, time.perf_counter())
                self._wait_until(due)
            return QUIT
        finally:
            self._say_goodbye()
            pygame.display.quit()
            self.leaving.end()

    def _has_left(self, now: float) -> bool:
        """The player has left, and no page of riffs stays."""
        if self.leaving.over(now):
            return True
        return self.ui.quit and not self.leaving.begins(self.view, now, self._say_goodbye)

    def _say_goodbye(self) -> None:
        self._send(self.ui.release_all(time.perf_counter()))
        # What was practised so far goes on record.
        self._send([*self.view.played.practising.end(self.view, time.perf_counter())])
        self.link.close()

    def _frame(self, now: float) -> None:
        if now < self._unsettled_until:
            self.painter.refresh()
        pygame.display.update(self.painter.draw(self.screen, self.view, self.ui, now))
        self.frame_sec.append(time.perf_counter() - now)
        if len(self.frame_sec) > 100_000:
            del self.frame_sec[:50_000]

    def _wait_until(self, due: float) -> None:
        """Handle events as they come until the next frame is due."""
        for event in pygame.event.get():
            self._event(event)
        while not self.ui.quit:
            left = due - time.perf_counter()
            if left <= 0.0005:
                return
            for event in wait_for_events(left):
                self._event(event)

    def _event(self, event: pygame.event.Event) -> None:
        now = time.perf_counter()
        if event.type == pygame.KEYDOWN:
            typing = self.ui.entry is not None
            self._send(self.ui.press(_code(event), bool(event.mod & pygame.KMOD_SHIFT), self.view, now))
            self._turn_typing(typing)
            self._own_acts(now)
        elif event.type == pygame.KEYUP:
            self._send(self.ui.release(_code(event), now))
        elif event.type == pygame.TEXTINPUT:
            self.ui.typed(event.text)
        elif event.type == pygame.WINDOWFOCUSLOST:
            self._send(self.ui.release_all(now))
        elif event.type == pygame.QUIT:
            self.ui.quit = True
        elif event.type in _UNSETTLING:
            self._unsettle()

    def _poll_pages(self, now: float) -> None:
        typing = self.ui.entry is not None
        self._send(self.ui.poll(self.view, now))
        self._turn_typing(typing)

    def _turn_typing(self, before: bool) -> None:
        """Text comes as events of its own, with accents and national layouts, only while a line is
        typed; ``before``: whether one was.
        """
        if before != (self.ui.entry is not None):
            (pygame.key.start_text_input if self.ui.entry is not None else pygame.key.stop_text_input)()
            pygame.event.clear(pygame.TEXTINPUT)

    def _own_acts(self, now: float) -> None:
        """What the player asked of the window itself."""
        turns = self.ui.take_turns()
        for _ in range(turns["theme"]):
            names = list(THEMES)
            at = names.index(self.painter.canvas.theme.name)
            self.painter.set_theme(THEMES[names[(at + 1) % len(names)]])
        if turns["full"] % 2:
            self._send(self.ui.release_all(now))
            self._turn_full()
        if self.ui.stay and self.revive is not None:
            self.ui.stay = False
            self._revive(now)

    # ---- the engine ------------------------------------------------------------------------------

    def _send(self, sent: list[Sent]) -> None:
        for message in sent:
            self.link.send(replace(message, time_sec=time.perf_counter()))

    def _meet(self, now: float) -> None:
        """Try to reach the engine for the first time. Raises LinkError when it does not come up."""
        self._met = self.link.connect()
        if not self._met and now > self._opened_sec + COMES_UP_SEC:
            raise LinkError("The engine does not answer; restart loopdeck.")

    def _receive(self, now: float) -> None:
        if not self._met:
            self._meet(now)
            if not self._met:
                return
        for message in self.link.poll():
            if isinstance(message, WindowAsked):
                typing = self.ui.entry is not None
                self._send(self.ui.asked(message.name, message.args, self.view, now))
                self._turn_typing(typing)
                self._own_acts(now)
            self.view.receive(message)
            self.ui.receive(message)
        self._send([*self.view.played.practising.step(self.view, now)])
        if self._said and self.view.brief is not None:
            self.view.tell(self._said, True, now)
            self._said = ""
        if self.link.closed:
            if self._loss.at_sec is None:
                self._lose(now)
            elif now >= self._loss.look_again_sec:
                self._loss.look_again_sec = now + AGAIN_SEC
                self.link.connect()
        elif self._loss.at_sec is not None and not self.view.engine_lost:
            # The hello of an engine that answered has cleared the loss.
            self._loss.at_sec = None
        if self.view.changed["layers"] and self.ui.chosen is not None:
            numbers = [row.number for row in self.view.layers]
            self.ui.chosen = self.ui.chosen if self.ui.chosen in numbers else None

    def _lose(self, now: float) -> None:
        self.ui.keyboard.held.clear()
        self._loss = _Loss(now, now + AGAIN_SEC)
        how = (
            "Shift F5 starts it again, F12 leaves."
            if self.revive is not None
            else "Waiting for it to come back; F12 leaves."
        )
        self.view.lose_engine(f"The engine has ended. {how}")

    def _revive(self, now: float) -> None:
        assert self.revive is not None
        try:
            self.link = LinkClient(self.revive())
        except OSError as error:
            self.view.lose_engine(f"The engine cannot be started again ({error}) F12 leaves.")
            return
        self._loss.at_sec = now

    def _given_up(self, now: float) -> bool:
        return (
            self._loss.at_sec is not None
            and not self.leaving.active
            and self.revive is None
            and not self.ui.stay
            and now - self._loss.at_sec > PATIENCE_SEC
        )


def screen_answers() -> bool:
    """Whether a window that can be seen could be opened now."""
    if os.environ.get("SDL_VIDEODRIVER") in UNSEEN:
        return False
    try:
        pygame.display.init()
        return pygame.display.get_driver() not in UNSEEN
    except pygame.error:
        return False
    finally:
        pygame.display.quit()


def _icon() -> pygame.Surface:
    """An arch and the disc that rides on it."""
    icon = pygame.Surface((64, 64), pygame.SRCALPHA, 32)
    paper = THEMES["paper"]
    pygame.draw.rect(icon, paper.ground, (0, 0, 64, 64), border_radius=8)
    pygame.draw.ellipse(icon, paper.ink, (6, 18, 52, 76), 6)
    pygame.draw.rect(icon, paper.ink, (6, 54, 52, 6))
    icon.fill(paper.ground, (0, 60, 64, 4))
    pygame.draw.circle(icon, paper.now, (44, 22), 10)
    return icon


#: Events after which the window may show something else than what was drawn.
_UNSETTLING = (
    pygame.VIDEORESIZE, pygame.WINDOWSIZECHANGED, pygame.WINDOWEXPOSED, pygame.WINDOWSHOWN, pygame.WINDOWRESTORED,
    pygame.WINDOWMAXIMIZED, pygame.WINDOWMOVED, pygame.WINDOWDISPLAYCHANGED,
)  # fmt: skip


def _code(event: pygame.event.Event) -> int:
    """The key's place on the board. A keyboard that reports none (a virtual one) is read by what
    the key writes.
    """
    if event.scancode:
        return int(event.scancode)
    return _BY_SIGN.get(event.key, 0)


_BY_SIGN = {
    **{ord(letter): 4 + index for index, letter in enumerate("abcdefghijklmnopqrstuvwxyz")},
    **{ord(figure): 30 + index for index, figure in enumerate("1234567890")},
    pygame.K_RETURN: keys.CODES["Enter"],
    pygame.K_ESCAPE: keys.CODES["Esc"],
    pygame.K_BACKSPACE: keys.CODES["Backspace"],
    pygame.K_TAB: keys.CODES["Tab"],
    pygame.K_SPACE: keys.CODES["Space"],
}


def run(
    address: str,
    *,
    fullscreen: bool = False,
    theme: str = "paper",
    revive: Callable[[], str] | None = None,
    shelf: str = "",
    practise: Mapping[str, Any] | None = None,
    said: str = "",
    files: SessionFiles | None = None,
) -> int:
    """Open the window on the engine at ``address`` and stay until the player leaves.

    ``revive``, when given, starts the engine again and returns its address; it is called when the
    player asks for it after the engine was lost; ``shelf`` is the path of the session's shelf ("":
    the usual one); ``practise`` what is to be practised from the start, if anything; ``said`` a
    sentence for the player to begin with; ``files`` the session's, without which it is not
    searched for riffs at the end. Returns 0 when the player left, 3 when the engine was
    lost and nobody asked to stay. Raises DisplayError when there is no screen, OSError when there
    is no engine at the address.
    """
    return Window(
        address,
        fullscreen=fullscreen,
        theme=theme,
        revive=revive,
        shelf=shelf,
        practise=practise,
        said=said,
        files=files,
    ).run()


def main(argv: list[str] | None = None) -> int:
    """``python -m loopdeck.window.window ADDRESS [paper|slate]``: the window alone, as the
    supervisor starts it.
    """
    words: list[Any] = sys.argv[1:] if argv is None else argv
    return run(words[0], theme=words[1] if len(words) > 1 else "paper")


if __name__ == "__main__":
    sys.exit(main())
