"""A second simulated pickup, written apart from ``pickup``: strings as levels over time, a follower
that looks at them tick by tick.

What is modelled, and from where
    A string is two functions of time: its pitch (equal temperament, ISO 16) and its level, which
    falls by half every ``half_sec`` after a pluck (common practice, no source). The follower wakes
    every ``tick_sec``; it begins a note when it has seen ``periods`` of it (two: Fonseca & Tavares,
    RITA 27(4), 2020), and what it says of the pitch from then on is the plain mean over the last
    ``window`` periods, with noise. Pitch bend is 14 bits, its range RPN 0,0 (MIDI 1.0); a bend
    beyond it begins a new note. Times and levels of slides, bends, hammer-ons and ghosts: common
    practice, no source.

Modes
    *bend*: the bend follows the pitch, and is sent only where it changed. *struck*: the same, but a
    hammer-on or pull-off begins a note. *chromatic*: every semitone that the pitch stays on for
    ``settle`` ticks is a note.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.simulators.pickup import Stream, Truth

STANDARD, DROP_D, FIVE = (43, 38, 33, 28), (43, 38, 33, 26), (43, 38, 33, 28, 23)
_STEP = 0.0005


@dataclass(frozen=True)
class Follower:
    """How the pickup behaves."""

    mode: str = "bend"
    per_string: bool = True
    bend_range: int = 12
    tick_sec: float = 0.006
    periods: float = 2.0
    window: float = 1.0
    noise_cents: float = 2.0
    least_cents: float = 1.0
    settle: int = 2
    after_sec: float = 0.002
    ghosts: float = 0.0
    octaves: float = 0.0


@dataclass(frozen=True)
class Style:
    """How the player plays: ``kinds`` with their shares, quarters a minute, the strings, how
    unevenly loud (a share).
    """

    kinds: tuple[str, ...]
    tempo: float = 100.0
    strings: tuple[int, ...] = STANDARD
    uneven: float = 0.08
    half_sec: float = 0.8
    fretless: bool = False


@dataclass
class Touch:
    """A pluck: ``pitch`` and ``level`` of the string at seconds after it, and where a hand struck
    the string (seconds).
    """

    onset: float
    end: float
    string: int
    level: float
    pitch: Callable[[np.ndarray], np.ndarray]
    struck: tuple[tuple[float, float], ...] = ()
    until: float = 1e9


def _steps(base: int, moves: list[tuple[float, float]]) -> Callable[[np.ndarray], np.ndarray]:
    """A pitch that jumps at each moment to ``base`` plus so many semitones."""
    return lambda times: base + np.array([0.0, *(to for _, to in moves)])[np.searchsorted([at for at, _ in moves], times, "right")]  # fmt: skip


def _glide(base: int, start: float, length: float, by: float, first: float = 0.0) -> Callable[[np.ndarray], np.ndarray]:
    return lambda times: base + first + by * np.clip((times - start) / length, 0.0, 1.0)


def play(style: Style, seed: int, count: int) -> tuple[list[Touch], list[Truth]]:
    """What a player does, and what should be written of it."""
    rng = np.random.default_rng(seed + 77_000)
    beat, now = 60.0 / style.tempo, 0.7
    touches: list[Touch] = []
    truth: list[Truth] = []
    for _ in range(count):
        kind = str(rng.choice(style.kinds))
        string = int(rng.integers(1, len(style.strings) + 1))
        pitch = style.strings[string - 1] + int(rng.integers(5, 13))
        quarters = float(rng.choice([0.5, 0.5, 1.0, 1.5] if kind == "plain" else [1.0, 1.0, 2.0]))
        length = max(quarters * beat, {"bend": 0.9, "vibrato": 0.9, "slide": 0.5, "plain": 0.1}.get(kind, 0.34))
        onset, holds = now + float(rng.normal(0, 0.006)), length * float(rng.uniform(0.75, 0.97))
        level = float(np.clip(rng.normal(88, 88 * style.uneven), 30, 124))
        touch, written = _MAKE[kind](rng, style, onset, holds, string, pitch, level)
        touches.append(touch)
        truth += written
        if touches[:-1]:
            # A pluck ends what its string, or its only channel, still had on.
            touches[-2].until = onset + 0.01
        now += length
    return touches, truth


def _plain(rng, style, onset, holds, string, pitch, level):  # type: ignore[no-untyped-def]
    return Touch(onset, onset + holds, string, level, _steps(pitch, [])), [Truth(onset, pitch, string, round(level))]


def _slide(rng, style, onset, holds, string, pitch, level):  # type: ignore[no-untyped-def]
    frets = int(rng.choice([-4, -3, -2, 2, 3, 4, 5]))
    start = holds * float(rng.uniform(0.35, 0.5))
    fret_sec = min(float(rng.uniform(0.022, 0.05)), max((holds - start - 0.11) / abs(frets), 0.018))
    if style.fretless:
        length = fret_sec * abs(frets)
        curve, arrives = _glide(pitch, start, length, frets), start + length
    else:
        sign = 1 if frets > 0 else -1
        moves = [(start + fret_sec * one, float(sign * (one + 1))) for one in range(abs(frets))]
        curve, arrives = _steps(pitch, moves), moves[-1][0]
    return Touch(onset, onset + holds, string, level, curve), [
        Truth(onset, pitch, string, round(level)),
        Truth(onset + arrives, pitch + frets, string, round(level), "slide"),
    ]


def _legato(rng, style, onset, holds, string, pitch, level, up):  # type: ignore[no-untyped-def]
    frets = int(rng.integers(1, 5)) * (1 if up else -1)
    at = holds * float(rng.uniform(0.4, 0.6))
    soft = level * float(rng.uniform(0.38, 0.62))
    return Touch(onset, onset + holds, string, level, _steps(pitch, [(at, float(frets))]), ((at, soft),)), [
        Truth(onset, pitch, string, round(level)),
        Truth(onset + at, pitch + frets, string, round(soft), "hammer-on" if up else "pull-off"),
    ]


def _bend(rng, style, onset, holds, string, pitch, level):  # type: ignore[no-untyped-def]
    by, start, rise = float(rng.choice([0.5, 1.0, 1.0, 2.0])), float(rng.uniform(0.05, 0.15)), float(rng.uniform(0.12, 0.4))  # fmt: skip
    back = bool(rng.random() < 0.5) and start + 2.6 * rise < holds

    def curve(times: np.ndarray) -> np.ndarray:
        up = np.clip((times - start) / rise, 0, 1)
        down = np.clip((times - start - 1.5 * rise) / rise, 0, 1) if back else 0.0
        return pitch + by * (up - down)

    return Touch(onset, onset + holds, string, level, curve), [
        Truth(onset, pitch, string, round(level), "pluck", ("bend", "release") if back else ("bend",), by)
    ]


def _vibrato(rng, style, onset, holds, string, pitch, level):  # type: ignore[no-untyped-def]
    hertz, cents, start = float(rng.uniform(4, 7)), float(rng.uniform(30, 80)), float(rng.uniform(0.05, 0.2))
    both = 0.5 if style.fretless else 0.0

    def curve(times: np.ndarray) -> np.ndarray:
        wave = 0.5 - both - 0.5 * np.cos(2 * np.pi * hertz * np.maximum(times - start, 0))
        return pitch + np.where(times > start, cents / 100 * wave, 0.0)

    return Touch(onset, onset + holds, string, level, curve), [
        Truth(onset, pitch, string, round(level), "pluck", ("vibrato",))
    ]


_MAKE = {
    "plain": _plain,
    "slide": _slide,
    "hammer-on": lambda *rest: _legato(*rest, True),
    "pull-off": lambda *rest: _legato(*rest, False),
    "bend": _bend,
    "vibrato": _vibrato,
}


def follow(touches: list[Touch], pickup: Follower, style: Style, seed: int) -> list[tuple[float, bytes]]:
    """The MIDI that comes of it."""
    rng = np.random.default_rng(seed + 88_000)
    out: list[tuple[float, int, bytes]] = []
    if pickup.mode != "chromatic":
        for string in range(len(style.strings) if pickup.per_string else 1):
            for order, (control, value) in enumerate(((101, 0), (100, 0), (6, pickup.bend_range), (38, 0))):
                out.append((0.0, order - 9, bytes((0xB0 | string, control, value))))
    voices = [_Voice(out, channel, pickup.bend_range) for channel in range(len(style.strings))]
    for touch in touches:
        _one(voices[touch.string - 1 if pickup.per_string else 0], touch, pickup, style, rng)
        _errors(out, touch, pickup, style, rng)
    out.sort(key=lambda event: event[:2])
    return [(sec, data) for sec, _, data in out]


class _Voice:
    """The note that a follower has on, and what it sent of it."""

    def __init__(self, out: list[tuple[float, int, bytes]], channel: int, bend_range: int) -> None:
        self.out, self.channel, self.range = out, channel, bend_range
        self.note, self.sent = -1, 8192

    def bend(self, at: float, semitones: float, least: float = 0.0) -> None:
        value = int(np.clip(8192 + round(semitones / self.range * 8192), 0, 16383))
        if abs(value - self.sent) * self.range / 81.92 > least:
            self.sent = value
            self.out.append((at, 2, bytes((0xE0 | self.channel, value & 127, value >> 7))))

    def begin(self, at: float, note: int, level: float, bend: float | None) -> None:
        self.end(at)
        if bend is not None:
            self.bend(at, bend)
        self.note = note
        self.out.append((at, 3, bytes((0x90 | self.channel, note, int(np.clip(level, 1, 127))))))

    def end(self, at: float) -> None:
        if self.note >= 0:
            self.out.append((at, 1, bytes((0x80 | self.channel, self.note, 0))))
        self.note = -1


def _one(voice: _Voice, touch: Touch, pickup: Follower, style: Style, rng) -> None:  # type: ignore[no-untyped-def]
    length = touch.end - touch.onset
    times = np.arange(0.0, length, _STEP)
    pitch = touch.pitch(times)
    sums = np.concatenate([[0.0], np.cumsum(pitch)])
    bends = pickup.mode != "chromatic"
    struck = list(touch.struck)
    seen = pickup.periods / (440 * 2 ** ((float(pitch[0]) - 69) / 12)) + pickup.after_sec
    stayed, other = 0, -1
    for at in np.arange(float(rng.uniform(0, pickup.tick_sec)), length, pickup.tick_sec):
        if at < seen:
            continue
        last = min(int(at / _STEP), len(pitch) - 1)
        window = max(int(pickup.window / (440 * 2 ** ((float(pitch[last]) - 69) / 12)) / _STEP), 1)
        first = max(last - window, 0)
        heard = float((sums[last + 1] - sums[first]) / (last + 1 - first)) + float(rng.normal(0, pickup.noise_cents)) / 100  # fmt: skip
        level = touch.level * 0.5 ** (at / style.half_sec)
        sec, whole = touch.onset + float(at), round(heard)
        if voice.note < 0:
            voice.begin(sec, whole, touch.level, heard - whole if bends else None)
            continue
        if bends:
            hit = struck[0] if struck and at >= struck[0][0] + seen else None
            if pickup.mode == "struck" and hit is not None:
                struck.pop(0)
                voice.begin(sec, whole, hit[1], heard - whole)
            elif pickup.mode == "struck" and struck and at >= struck[0][0]:
                continue
            elif abs(heard - voice.note) > pickup.bend_range:
                voice.begin(sec, whole, level, heard - whole)
            else:
                voice.bend(sec, heard - voice.note, pickup.least_cents)
            continue
        stayed = stayed + 1 if whole == other else 1
        other = whole
        if whole != voice.note and stayed >= pickup.settle and abs(heard - whole) < 0.35:
            hit = next((one for one in touch.struck if 0 <= at - one[0] < 0.12), None)
            voice.begin(sec, whole, hit[1] if hit is not None else level, None)
    voice.end(min(touch.end + seen, touch.until))


def _errors(out, touch: Touch, pickup: Follower, style: Style, rng) -> None:  # type: ignore[no-untyped-def]
    if rng.random() < pickup.ghosts:
        string = int(rng.integers(1, len(style.strings) + 1))
        at, note = touch.onset + float(rng.uniform(0.05, 0.25)), style.strings[string - 1] + int(rng.integers(0, 15))
        channel, level = string - 1 if pickup.per_string else 0, int(rng.integers(6, 36))
        out.append((at, 3, bytes((0x90 | channel, note, level))))
        out.append((at + float(rng.uniform(0.01, 0.05)), 1, bytes((0x80 | channel, note, 0))))
    if rng.random() < pickup.octaves:
        channel = touch.string - 1 if pickup.per_string else 0
        note = round(float(touch.pitch(np.zeros(1))[0])) + 12
        at = touch.onset + float(rng.uniform(0.012, 0.03))
        out.append((at, 3, bytes((0x90 | channel, note, int(min(touch.level * 0.9, 127))))))
        out.append((at + float(rng.uniform(0.015, 0.045)), 1, bytes((0x80 | channel, note, 0))))


def stream(seed: int, pickup: Follower, style: Style, count: int = 60) -> Stream:
    """A performance through the follower."""
    touches, truth = play(style, seed, count)
    return Stream(follow(touches, pickup, style, seed), truth)
