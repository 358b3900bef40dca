"""An engine without ports, sound and journal: the real looper on the real clock behind the real
link. It records what it was sent.
"""

import threading
import time
from dataclasses import replace
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.looper.machine import Looper
from loopdeck.looper.news import Kept
from loopdeck.protocol.messages import (
    Command,
    CommandCall,
    DeviceRow,
    DevicesChanged,
    KeyPlayed,
    Message,
    Question,
    QuestionsPending,
    TakeKept,
)
from loopdeck.protocol.server import LinkServer
from loopdeck.session.snapshot import Snapshot

OFFER = Question(
    key="last-session",
    text="There is an unfinished session from 13:40 with 212 notes; shall it be kept as a take?",
    accept=CommandCall(name="recover"),
    refuse=CommandCall(name="dismiss"),
)


class SmallEngine:
    """Serves ``address`` until ``close``.

    ``commands`` and ``keys`` hold what came from the window, in order.
    """

    def __init__(self, address: str, brief: Brief) -> None:
        now = time.perf_counter()
        self.brief = brief
        self.looper = Looper(brief, now)
        self.snapshot = Snapshot(brief, now)
        self.lock = threading.Lock()
        self.commands: list[tuple[str, dict[str, Any]]] = []
        self.keys: list[KeyPlayed] = []
        self.left: list[bool] = []
        self.joined = threading.Event()
        self.server = LinkServer(address, self._take, self._welcome, lambda client, role, bye: self.left.append(bye))
        self.stopping = False
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()
        self.tell(DevicesChanged(time_sec=now, devices=(DeviceRow(role="in", name="", state="none"),)))

    def tell(self, one: Message) -> None:
        """Send a message, and remember it for whoever joins later."""
        self.snapshot.receive(one)
        self.server.send(one)

    def offer(self) -> None:
        """Offer an unfinished session."""
        self.tell(QuestionsPending(time_sec=time.perf_counter(), questions=(OFFER,)))

    def close(self) -> None:
        """Hang up."""
        self.stopping = True
        self.thread.join(2)
        self.server.close()

    def _welcome(self, client: int, role: str) -> None:
        with self.lock:
            self.server.welcome(client, self.snapshot.messages())
        self.joined.set()

    def _take(self, client: int, one: Message) -> None:
        now = time.perf_counter()
        with self.lock:
            if isinstance(one, Command):
                self.commands.append((one.name, dict(one.args)))
                self.looper.command(now, one.name, **one.args)
            elif isinstance(one, KeyPlayed):
                self.keys.append(one)
                status = 0x90 if one.on else 0x80
                self.looper.midi(now, one.played_sec, 0, bytes((status, one.pitch, one.velocity)))

    def _run(self) -> None:
        kept = 0
        while not self.stopping:
            time.sleep(0.003)
            with self.lock:
                self.looper.advance(time.perf_counter())
                self.looper.take_outs()
                for news in self.looper.take_news():
                    if isinstance(news, Kept):
                        kept += 1
                        keep = news.keep
                        row = TakeKept(number=kept, name=keep.name, when="14:02", passes=keep.passes)
                        self.tell(replace(row, time_sec=news.time_sec))
                    else:
                        self.tell(news)
