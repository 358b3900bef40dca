"""An engine without ports, sound and journal: the real looper on the real clock behind the real link. It records what it was sent."""

import threading
import time
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.looper.machine import Looper
from loopdeck.protocol.messages import LinkServer, Message, message
from loopdeck.session.mirror import Mirror

OFFER = {
    "text": "There is an unfinished session from 13:40 with 212 notes: Shift+F5 keeps it as a take, Shift+F8 leaves it.",
    "accept": {"name": "recover", "args": {}},
    "refuse": {"name": "dismiss", "args": {}},
}


class SmallEngine:
    """Serves ``address`` until ``close``. ``commands`` and ``keys`` hold what came from the window, in order."""

    def __init__(self, address: str, brief: Brief) -> None:
        now = time.perf_counter()
        self.brief = brief
        self.looper = Looper(brief, now)
        self.mirror = Mirror(brief, now)
        self.lock = threading.Lock()
        self.commands: list[tuple[str, dict[str, Any]]] = []
        self.keys: list[dict[str, Any]] = []
        self.left: list[bool] = []
        self.joined = threading.Event()
        self.server = LinkServer(address, self._take, self._welcome, lambda client, role, bye: self.left.append(bye))
        self.stopping = False
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()
        self.tell(message("devices", now, devices=[{"role": "in", "name": "", "state": "none"}]))

    def tell(self, one: Message) -> None:
        """Send a message, and remember it for whoever joins later."""
        self.mirror.receive(one)
        self.server.send(one)

    def offer(self) -> None:
        """Offer an unfinished session."""
        self.tell(message("offer", time.perf_counter(), **OFFER))

    def close(self) -> None:
        """Hang up."""
        self.stopping = True
        self.thread.join(2)
        self.server.close()

    def _welcome(self, client: int, role: str) -> None:
        with self.lock:
            self.server.welcome(client, self.mirror.snapshot())
        self.joined.set()

    def _take(self, client: int, one: Message) -> None:
        now, data = time.perf_counter(), one["data"]
        with self.lock:
            if one["kind"] == "command":
                self.commands.append((data["name"], data["args"]))
                self.looper.command(now, data["name"], **data["args"])
            elif one["kind"] == "key":
                self.keys.append(data)
                status = 0x90 if data["on"] else 0x80
                self.looper.midi(now, data["time_sec"], 0, bytes((status, data["pitch"], data["velocity"])))

    def _run(self) -> None:
        kept = 0
        while not self.stopping:
            time.sleep(0.003)
            with self.lock:
                self.looper.advance(time.perf_counter())
                self.looper.take_outs()
                for news in self.looper.take_news():
                    if news.kind == "kept":
                        kept += 1
                        keep = news.data["keep"]
                        row = {"number": kept, "name": keep.name, "when": "14:02", "passes": keep.passes, "rating": 0}
                        self.tell(message("kept", news.time_sec, **row))
                    else:
                        self.tell(message(news.kind, news.time_sec, **news.data))
