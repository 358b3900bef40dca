"""Long random sessions for the looper: hundreds of presses and notes, chosen so that passes go by,
layers pile up, and edges are met.

Conventions: a step is (seconds, what), where what is a command ``(name, args)``, a channel message
``(stamp_sec, data)``, or the one byte of a clock source's message. Tempos are mostly quick, so that
a session of two minutes has many passes.
"""

import random
from typing import Any

Step = tuple[float, tuple[str, dict[str, Any]] | tuple[float, bytes] | bytes]

_KEPT = {"notes": [[-0.1, 0.4, 40, 90, 0, 4], [1.5, 3.0, 43, 70, 0, 0]], "bends": {"1": [[0.0, 0.0], [0.5, 1.0]]}}

#: (how often, command, arguments); a callable makes arguments anew.
_PRESSES: tuple[tuple[int, str, tuple[dict[str, Any], ...]], ...] = (
    (6, "loop-that", ({}, {}, {"reach": 1}, {"reach": 4})),
    (4, "loop-pass", ({"number": 1}, {"number": 3}, {"number": 8}, {"number": 20})),
    (2, "loop-free", ({"fields": {"tempo": "97", "cycle": "7/8"}, "note": 3, "after_sec": 0.5, "qpm": 96.5},
                      {"fields": {"cycle": "2/4 2/4"}, "note": 40, "qpm": 150.0}, {"fields": {}, "note": -1, "qpm": 0.0})),
    (5, "layer", ({},)),
    (3, "layer-on", ({},)),
    (3, "layer-off", ({},)),
    (6, "replace", ({},)),
    (5, "undo", ({},)),
    (4, "redo", ({},)),
    (2, "delete", ({"layer": 1}, {"layer": 2}, {"layer": 3}, {"layer": "all"})),
    (2, "solo", ({"layer": 1}, {"layer": 2}, {"layer": "all"})),
    (2, "mute", ({"layer": 1}, {"layer": "all"})),
    (2, "unmute", ({"layer": 1}, {"layer": "all"})),
    (2, "mute-toggle", ({"layer": 1}, {"layer": 2})),
    (1, "clear", ({},)),
    (3, "half", ({},)),
    (3, "double", ({},)),
    (3, "keep", ({}, {"passes": 3, "name": "x"}, {"passes": 16})),
    (2, "count-in", ({"bars": 0}, {"bars": 1}, {"bars": 2})),
    (3, "tempo", ({"tempo": "90"}, {"tempo": "8th=300"}, {"tempo": "380"}, {"tempo": 240})),
    (6, "brief", tuple({"fields": fields} for fields in (
        {"swing": "3:1"}, {"swing": "straight"}, {"strength": 0}, {"strength": 100, "grid": "1/8T"}, {"grid": "1/32"}, {"window": 40},
        {"cycle": "4+3/8"}, {"cycle": "4/4 4+3/8"}, {"cycle": "2/4"}, {"cycle": "4/4"}, {"cycle": "3/4", "tempo": "300"}, {"program": 40},
    ))),
    (1, "clicks", ({"clicks": "2 4; 1 on, 1 off"}, {"clicks": "all; double"}, {})),
    (1, "groove", ({"groove": "busy alone"}, {"groove": "medium"}, {"groove": "off"})),
    (1, "ramp", ({"ramp": "+40 every 1 to 300"}, {"ramp": "off"})),
    (2, "tap", ({},)),
    (2, "nudge", ({"ms": -150.0}, {"ms": 150.0}, {"ms": 3.0})),
    (1, "thru", ({"port": 0, "on": True}, {"port": 0, "on": False}, {"port": 1})),
    (1, "late", ({"port": 0, "sec": 0.04}, {"port": 1, "sec": 0.2}, {})),
    (1, "pickup", ({"periods": 2.0, "channels": "1 2 3 4"}, {"port": 1, "constant_ms": 5.0, "bend_range": 12}, {"channels": "0"}, {})),
    (2, "vary", ({"how": "octave +1"}, {"how": "power-chords"}, {"how": "thin 50", "layer": 1}, {"how": "swing 60%"}, {"how": "?"})),
    (3, "bring-back", (
        {"layers": [_KEPT], "fields": {"cycle": "4+3/8", "tempo": "300"}}, {"layers": [_KEPT, {**_KEPT, "muted": True}]},
        {"layers": [_KEPT], "beside": True}, {"layers": []}, {"layers": [{"notes": [[0.0, float("nan"), 40, 90, 0, 0]]}]},
    )),
    (1, "silence", ({},)),
    (2, "stop", ({},)),
    (4, "start", ({}, {"bars": 1}, {"bars": 2}, {"bars": 0})),
    (2, "start-stop", ({},)),
    (1, "start-now", ({},)),
    # What no door lets through must change nothing here either.
    (1, "nudge", ({"ms": float("nan")}, {"ms": 10**400})),
    (1, "start", ({"bars": -1}, {"bars": 2147483648})),
    (1, "late", ({"port": float("inf")}, {"sec": float("nan")})),
    (1, "follow", ({"qpm": float("nan")}, {"qpm": 0.0})),
    (1, "brief", ({"fields": 0}, {"fields": {"cycle": "1/0"}})),
)  # fmt: skip
_WEIGHTS = [weight for weight, _, _ in _PRESSES]
PITCHES = (40, 40, 43, 45, 50, 64)


class _Writer:
    """Writes one script."""

    def __init__(self, rng: random.Random) -> None:
        self.rng, self.now, self.steps = rng, 0.0, list[Step]()
        self._held: list[tuple[int, int, int]] = []

    def press(self, name: str = "", args: dict[str, Any] | None = None) -> None:
        if not name:
            _, name, choices = self.rng.choices(_PRESSES, _WEIGHTS)[0]
            args = self.rng.choice(choices)
        self.steps.append((self.now, (name, args or {})))

    def play(self) -> None:
        """A note-on, mostly soon after it was played, sometimes long after; it may be held for a
        long time.
        """
        port, channel, pitch = self.rng.choice((0, 0, 1)), self.rng.choice((0, 0, 3)), self.rng.choice(PITCHES)
        late = self.rng.uniform(0.0, 0.03) if self.rng.random() < 0.8 else self.rng.uniform(0.0, 0.6)
        self.steps.append((self.now, (self.now - late, bytes((0x90 | channel, pitch, self.rng.choice((1, 90, 127)))))))
        self._held.append((port, channel, pitch))

    def let_go(self) -> None:
        if self._held:
            _, channel, pitch = self._held.pop(self.rng.randrange(len(self._held)))
            self.steps.append((self.now, (self.now - self.rng.uniform(0.0, 0.02), bytes((0x80 | channel, pitch, 0)))))

    def control(self) -> None:
        messages = (bytes((0xE0, 0, self.rng.randrange(128))), bytes((0xE0, 0, 64)), bytes((0xB0, 64, self.rng.choice((0, 127)))),
                    bytes((0xB0, 123, 0)), bytes((0xB0, 6, 12)), bytes((0xC0, 30)), b"\xf8", b"")  # fmt: skip
        self.steps.append((self.now, (self.now, self.rng.choice(messages))))

    def follow_clock(self) -> None:
        """A clock source starts, wavers, and stops (or falls silent)."""
        self.steps.append((self.now, b"\xfa"))
        interval = 60.0 / (self.rng.uniform(100.0, 300.0) * 24)
        for _ in range(self.rng.randrange(20, 250)):
            self.now += interval * self.rng.uniform(0.8, 1.25)
            self.steps.append((self.now, b"\xf8"))
            if self.rng.random() < 0.03:
                self.rng.choice((self.play, self.let_go, self.press))()
        if self.rng.random() < 0.7:
            self.steps.append((self.now, b"\xfc"))

    def wait(self) -> None:
        kind = self.rng.random()
        self.now += 0.0 if kind < 0.25 else self.rng.uniform(0.0, 0.08 if kind < 0.5 else 0.4 if kind < 0.9 else 3.0)


def script(rng: random.Random, steps: int) -> list[Step]:
    """A session of about so many steps, a third of them presses."""
    one = _Writer(rng)
    one.press("start", {"bars": rng.choice((0, 1))})
    while len(one.steps) < steps:
        one.wait()
        kind = rng.random()
        if kind < 0.33:
            one.press()
            if rng.random() < 0.3:
                # Pressing on: twice and more within a beat.
                for _ in range(rng.randrange(1, 4)):
                    one.now += rng.choice((0.0, 0.05))
                    one.steps.append((one.now, one.steps[-1][1]) if rng.random() < 0.5 else one.steps[-1])
                    one.steps[-1] = (one.now, one.steps[-1][1])
        elif kind < 0.63:
            one.play()
        elif kind < 0.92:
            one.let_go()
        elif kind < 0.985:
            one.control()
        elif kind < 0.99:
            one.follow_clock()
        else:
            # Time has mostly stopped by now and then: on it goes.
            one.press("start")
    return one.steps
