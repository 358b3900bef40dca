"""The processes of ``bench_live``, each measured from inside: the real engine, the real window, the
real command, and bare ones to compare with.

    python -m tests.bench.live_parts ROLE FILE ...

Every role writes its figures to FILE as JSON. Nothing here changes what is measured: a list is
appended to.
"""

import json
import os
import sys
import time
from array import array
from pathlib import Path
from typing import Any

os.environ["PYGAME_HIDE_SUPPORT_PROMPT"] = "1"


def bare_sleep(path: Path, seconds: float, every_sec: float) -> None:
    """A loop that sleeps until its next moment and does nothing else: how late is it?"""
    late = array("d")
    due = time.perf_counter() + every_sec
    for _ in range(int(seconds / every_sec)):
        while (left := due - time.perf_counter()) > 0:
            time.sleep(left)
        late.append(time.perf_counter() - due)
        due += every_sec
    path.write_text(json.dumps(late.tolist()))


def engine(path: Path, listens: str = "yes") -> None:
    """The engine as jam starts it; what it sends is noted with how late it was. ``listens`` "no":
    without the process that listens.
    """
    from loopdeck.engine.build import Devices, build
    from loopdeck.engine.listener import NoListener
    from loopdeck.process.options import options_from_environment

    options = options_from_environment()
    assert options is not None
    devices = Devices(listener=lambda options, inbox: NoListener()) if listens == "no" else Devices()
    one = build(options, devices)
    late = array("d")
    when = array("d")
    ticks = array("d")
    scheduler = one.parts.outputs.scheduler
    send, clock = scheduler._send, one.parts.clock

    def noted(out: Any) -> None:
        now = clock.now()
        send(out)
        if out.data == b"\xf8":
            ticks.append(now)
        elif out.part != "live":
            late.append(now - out.time_sec)
            when.append(now)

    scheduler._send = noted  # type: ignore[method-assign]
    code = one.run()
    path.write_text(json.dumps({"late": late.tolist(), "when": when.tolist(), "ticks": ticks.tolist(), "code": code}))


def window(path: Path, address: str) -> None:
    """The window on an engine, until the engine or the player ends it."""
    from loopdeck.window import window as display

    one = display.Window(address, fullscreen=False, theme="paper", revive=None)
    frames: list[tuple[float, float]] = []
    frame = one._frame

    def noted(now: float) -> None:
        frame(now)
        frames.append((now, time.perf_counter() - now))
        if path.with_suffix(".stop").exists():
            one.ui.quit = True

    one._frame = noted  # type: ignore[method-assign]
    one.run()
    path.write_text(json.dumps(frames))


def first_frame(path: Path, *words: str) -> None:
    """``loopdeck jam`` until its window has shown one frame."""
    from loopdeck.cli import main as cli
    from loopdeck.window import window as display

    frame = display.Window._frame

    def noted(self: Any, now: float) -> None:
        frame(self, now)
        if not path.exists():
            path.write_text(json.dumps(time.perf_counter()))
        self.ui.quit = True

    display.Window._frame = noted  # type: ignore[method-assign]
    cli.main(["jam", *words])


def bare_window(path: Path) -> None:
    """A bare pygame window until it has shown one frame."""
    import pygame

    pygame.display.init()
    screen = pygame.display.set_mode((1280, 720), pygame.RESIZABLE)
    screen.fill((250, 248, 240))
    pygame.display.flip()
    path.write_text(json.dumps(time.perf_counter()))
    pygame.quit()


def long_session(path: Path, hours: float) -> None:
    """A session on a simulated clock with 8 layers of 64 notes and a player who goes on playing:
    resident memory on the way.
    """
    import psutil

    from loopdeck.brief.brief import Brief
    from loopdeck.capture.journal import JournalWriter
    from loopdeck.session.session import Session, header
    from loopdeck.window.view import View

    brief = Brief.default().replace(tempo="96", cycle="4/4 4/4 4/4 4/4", scale="E dorian", count_in=0)
    pass_sec = 16 * 60 / 96
    journal_path = path.with_suffix(".journal")
    kept: list[int] = []
    with JournalWriter(journal_path, header(brief, 0.0)) as journal:
        session = Session(brief, 0.0, journal, lambda keep: kept.append(len(keep.events)))
        view = View()

        def until(sec: float) -> None:
            session.advance(sec)
            session.take_outs()
            for one in session.take_messages():
                view.receive(one)

        def bar(start: float, notes: int, pitch: int) -> None:
            for index in range(notes):
                sec = start + index * pass_sec / notes + 0.004
                for after, status in ((0.0, 0x90), (0.08, 0x80)):
                    until(sec + after)
                    session.midi(0, bytes((status, pitch + index % 5, 90)), sec + after, sec + after)

        session.command("layer-on", {}, 0.0)
        for index in range(8):
            bar(index * pass_sec, 64, 30 + index)
        session.command("layer-off", {}, 8 * pass_sec - 0.1)
        process, figures, index = psutil.Process(), {}, 8
        while index * pass_sec < hours * 3600:
            bar(index * pass_sec, 16, 28)
            if index % 30 == 0:
                session.command("keep", {"passes": 16}, index * pass_sec + pass_sec * 0.99)
                session.command("loop-that", {}, (index + 1) * pass_sec + 1.0)
                session.command("undo", {}, (index + 1) * pass_sec + 2.0)
            index += 1
            journal.flush(sync=False)
            minutes = index * pass_sec / 60
            if minutes >= 10 and "after_10_min_mb" not in figures:
                figures["after_10_min_mb"] = process.memory_info().rss / 1e6
        figures["at_the_end_mb"] = process.memory_info().rss / 1e6
    path.write_text(json.dumps({**figures, "hours": hours, "keeps": len(kept), "layers": len(session.looper.layers())}))
    journal_path.unlink()


def main() -> None:
    """One role."""
    role, path, *rest = sys.argv[1:]
    file = Path(path)
    if role == "bare-sleep":
        bare_sleep(file, float(rest[0]), float(rest[1]))
    elif role == "engine":
        engine(file, *rest)
    elif role == "window":
        window(file, rest[0])
    elif role == "first-frame":
        first_frame(file, *rest)
    elif role == "bare-window":
        bare_window(file)
    elif role == "long-session":
        long_session(file, float(rest[0]))
    else:
        raise SystemExit(f"no role {role}")


if __name__ == "__main__":
    main()
