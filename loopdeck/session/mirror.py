"""What was told so far, boiled down to what still matters: for a window that comes later.

Conventions: messages as in ``live.messages``. Notes of the running pass, the one before and the one to come are remembered, each as one
``note_on`` with its ``length_q`` once it has ended; of free playing (pass -1) the newest ``FREE_NOTES``.
"""

from collections import OrderedDict

from loopdeck.brief.brief import Brief
from loopdeck.looper.history import FREE
from loopdeck.looper.state import STOPPED
from loopdeck.protocol.messages import Message, message

FREE_NOTES = 64
KEPTS = 8


class Mirror:
    """Takes in every message, and can tell the present state again."""

    def __init__(self, brief: Brief, start_sec: float) -> None:
        self._latest: dict[str, Message] = {
            "brief": message("brief", start_sec, **brief.to_dict()),
            "clock": message(
                "clock",
                start_sec,
                state=STOPPED,
                next="",
                anchor_sec=start_sec,
                anchor_q=0.0,
                qpm=brief.tempo.quarters_per_minute,
                pass_start_q=0.0,
                cycle=str(brief.cycle),
                cycle_q=float(brief.cycle.quarters),
                running=False,
                **{"pass": FREE},
            ),
            "layers": message("layers", start_sec, layers=[]),
        }
        self._layers: dict[int, Message] = {}
        self._notes: OrderedDict[int, Message] = OrderedDict()
        self._kepts: list[Message] = []

    def receive(self, one: Message) -> None:
        """Take in one message."""
        kind, data = one["kind"], one["data"]
        if kind in ("brief", "clock", "devices", "levels", "offer"):
            self._latest[kind] = one
            if kind == "clock":
                self._forget_notes(int(data["pass"]))
        elif kind == "layers":
            self._latest[kind] = one
            standing = {row["number"] for row in data["layers"]}
            self._layers = {number: layer for number, layer in self._layers.items() if number in standing}
        elif kind == "layer":
            self._layers[data["number"]] = one
        elif kind == "note_on":
            self._notes[data["id"]] = message("note_on", one["time_sec"], **data)
            if data["pass"] == FREE:
                free = [key for key, note in self._notes.items() if note["data"]["pass"] == FREE]
                for key in free[:-FREE_NOTES]:
                    del self._notes[key]
        elif kind == "note_off":
            note = self._notes.get(data["id"])
            if note is not None:
                note["data"]["length_q"] = data["length_q"]
        elif kind == "kept":
            self._kepts = [*self._kepts, one][-KEPTS:]

    def _forget_notes(self, running: int) -> None:
        for key in [key for key, note in self._notes.items() if FREE < note["data"]["pass"] < running - 1]:
            del self._notes[key]

    def snapshot(self) -> list[Message]:
        """The messages that tell the present state, in an order that can be followed."""
        latest = self._latest
        # A later note-off may still change what stands here, so the notes are told as they are now.
        notes = [message("note_on", note["time_sec"], **note["data"]) for note in self._notes.values()]
        told = [latest["brief"], latest["clock"], latest["layers"], *self._layers.values(), *notes, *self._kepts]
        return [*told, *(latest[kind] for kind in ("devices", "levels", "offer") if kind in latest)]
