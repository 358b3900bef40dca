"""The built-in player: an invented session, performed with human timing, for the demo and for
tests.

The scenario: a ferry lies at the quay, the bass player waits below deck with an instrument and a
click, and looks for a riff in ``4/4 4+3/8``. First some noodling, then the riff, with one wrong
note; it is played again without it, and a third time with a downbeat that comes early, after which
the window says that it is the third time; loop-that, because nobody had pressed anything; two
overdubs, of which the second is sloppy and is undone; two last passes with all of it, and the keep.

Conventions
    A performance is a list of steps in order of time, in seconds from its start. It is made of MIDI
    messages and commands, exactly what an instrument and a foot would send. The timing is drawn
    from a generator with a fixed seed: a performance is always the same. The size of the human
    errors is common practice, no source: about 8 ms of spread, and a habit of sitting a little
    late.
"""

import random
from typing import Any, NamedTuple

from loopdeck.brief.brief import Brief

#: Where the downbeat that comes early is played, in seconds before the line.
EARLY_DOWNBEAT_SEC = 0.045
SPREAD_SEC = 0.008
HABIT_SEC = 0.004
#: How long to wait after the last step, seconds.
END_SEC_AFTER = 1.0
#: The pause before the foot comes down for the first time, seconds.
LEAD_IN_SEC = 0.5


class Step(NamedTuple):
    """One thing the player does: ``midi`` with its bytes, or ``command`` with its name and
    arguments.
    """

    sec: float
    kind: str
    data: bytes = b""
    name: str = ""
    args: dict[str, Any] = {}  # noqa: RUF012 - never changed: a NamedTuple's default


class Stroke(NamedTuple):
    """One note: place and length in quarters from the start of the cycle, MIDI pitch and velocity,
    string (1 the highest).
    """

    at_q: float
    length_q: float
    pitch: int
    velocity: int
    string: int


#: The riff, in E dorian: a bar of four and a bar of four and three eighths. D sharp is the wrong
#: note.
RIFF = (
    Stroke(0.0, 0.7, 28, 108, 4),
    Stroke(0.75, 0.2, 28, 84, 4),
    Stroke(1.0, 0.45, 31, 96, 4),
    Stroke(1.5, 0.4, 33, 92, 3),
    Stroke(2.25, 0.2, 28, 70, 4),
    Stroke(2.5, 0.45, 35, 104, 3),
    Stroke(3.0, 0.4, 38, 98, 2),
    Stroke(3.75, 0.2, 37, 80, 2),
    Stroke(4.0, 0.9, 28, 110, 4),
    Stroke(5.0, 0.4, 33, 94, 3),
    Stroke(5.5, 0.2, 39, 88, 2),
    Stroke(6.0, 0.45, 38, 100, 2),
    Stroke(6.5, 0.4, 35, 92, 3),
    Stroke(7.0, 0.4, 31, 90, 4),
)
#: The riff as it was meant.
RIFF_AGAIN = tuple(stroke._replace(pitch=37) if stroke.pitch == 39 else stroke for stroke in RIFF)
#: First overdub: long notes above.
ABOVE = (
    Stroke(0.0, 1.8, 47, 78, 1),
    Stroke(2.0, 1.7, 50, 80, 1),
    Stroke(4.0, 1.9, 49, 82, 1),
    Stroke(6.0, 1.3, 45, 76, 1),
)
#: Second overdub: too much of everything, and out of time.
SLOPPY = (
    Stroke(0.5, 0.3, 43, 110, 1),
    Stroke(1.25, 0.3, 44, 112, 1),
    Stroke(2.75, 0.3, 46, 115, 1),
    Stroke(4.5, 0.3, 43, 108, 1),
    Stroke(5.75, 0.3, 41, 112, 2),
)
#: The last pass, over the loop: a fill that leaves room.
FILL = (
    Stroke(1.75, 0.2, 40, 88, 2),
    Stroke(3.5, 0.3, 42, 92, 2),
    Stroke(5.25, 0.2, 40, 84, 2),
    Stroke(6.75, 0.5, 43, 96, 1),
)
#: What fingers do before they know: steps of the scale, here and there.
NOODLE_PITCHES = (28, 30, 31, 33, 35, 37, 38, 40)


def moments(brief: Brief) -> list[tuple[float, str]]:
    """Where a picture is worth taking: (seconds, name), the riff just played, and the loop at the
    end.
    """
    spq = 60.0 / brief.tempo.quarters_per_minute
    first_q = float(brief.cycle.meters[0].quarters) * brief.count_in
    cycle_q = float(brief.cycle.quarters)
    places = (("riff", 2, cycle_q - 0.2), ("loop", 9, cycle_q - 0.3))
    return [(LEAD_IN_SEC + (first_q + index * cycle_q + at_q) * spq, name) for name, index, at_q in places]


def performance(brief: Brief) -> list[Step]:
    """The whole session in the given brief (made for ``4/4 4+3/8`` in E dorian with a count-in of
    one bar).
    """
    rng = random.Random(1407)
    spq = 60.0 / brief.tempo.quarters_per_minute
    cycle_q = float(brief.cycle.quarters)
    first_q = float(brief.cycle.meters[0].quarters) * brief.count_in
    steps: list[Step] = []

    def place(pass_index: int, at_q: float) -> float:
        return LEAD_IN_SEC + (first_q + pass_index * cycle_q + at_q) * spq

    def foot(pass_index: int, at_q: float, name: str, /, **args: Any) -> None:
        sec = 0.0 if name == "start" else place(pass_index, at_q)
        steps.append(Step(LEAD_IN_SEC if name == "start" else sec, "command", name=name, args=args))

    def play(
        pass_index: int, strokes: tuple[Stroke, ...], spread: float = SPREAD_SEC, early_first: bool = False
    ) -> None:
        for number, stroke in enumerate(strokes):
            error = rng.gauss(HABIT_SEC, spread)
            if early_first and number == 0:
                error = -EARLY_DOWNBEAT_SEC
            start = place(pass_index, stroke.at_q) + error
            end = start + stroke.length_q * spq * rng.uniform(0.85, 1.0)
            # A pickup sends each string on a channel of its own.
            channel = stroke.string - 1
            velocity = min(max(stroke.velocity + rng.randint(-9, 9), 1), 127)
            steps.append(Step(start, "midi", bytes((0x90 | channel, stroke.pitch, velocity))))
            steps.append(Step(end, "midi", bytes((0x80 | channel, stroke.pitch, 64))))

    def noodle(pass_index: int, count: int) -> None:
        places = sorted(rng.sample(range(int(cycle_q * 4) - 2), count))
        strokes = []
        for at in places:
            pitch = rng.choice(NOODLE_PITCHES)
            string = 4 if pitch < 33 else 3 if pitch < 38 else 2
            strokes.append(Stroke(at / 4.0, rng.uniform(0.15, 0.5), pitch, rng.randint(55, 85), string))
        play(pass_index, tuple(strokes), spread=0.03)

    foot(0, 0.0, "start")
    noodle(0, 7)
    noodle(1, 9)
    play(2, RIFF)
    play(3, RIFF_AGAIN)
    play(4, RIFF_AGAIN, early_first=True)
    foot(5, 1.2, "loop-that")
    foot(5, cycle_q - 0.4, "layer-on")
    play(6, ABOVE, early_first=True)
    play(7, SLOPPY, spread=0.035)
    foot(7, cycle_q - 0.8, "layer-off")
    foot(8, 1.0, "undo")
    play(8, FILL)
    play(9, FILL)
    foot(10, 0.6, "keep", passes=8, name="quay steps")
    foot(10, 2.0, "stop")
    return sorted(steps, key=lambda step: step.sec)
