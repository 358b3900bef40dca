"""A third simulated pickup, written from the other end: not how a follower works, but in how many
ways pickups tell of one and the same technique.

What is modelled, and from where
    Pitches are in equal temperament (ISO 16), a note comes about two periods late (Fonseca &
    Tavares, RITA 27(4), 2020) while its end is heard without that delay; bends are 14 bits over the
    range of RPN 0,0 (MIDI 1.0). Each stream draws its own ``Manner``: whether a hammer-on is a new
    note or a jump of the bend, whether a slide is followed by the bend to its end or arrives as a
    new note, whether a bend that leaves its range begins another note, how a slide speeds up or
    slows down and how many frets it leaves out, whether a new note overlaps the old one or leaves a
    gap, how often the sensor speaks and whether of changes only. Common practice, no source: all
    lengths, levels and shares.
"""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass

from tests.simulators.pickup import BASS, Stream, Truth

KINDS = ("plain",) * 10 + ("slide", "slide", "hammer-on", "pull-off", "slide-from", "slide-to", "trill")
BENT = ("bend", "vibrato")
Glide = Callable[[float], float]


@dataclass(frozen=True)
class Manner:
    """How one pickup tells, and how one player plays."""

    chromatic: bool
    tempo: float
    bend_range: int
    every_sec: float
    noise: float
    changes_only: bool
    jumps: bool
    arrives: bool
    curve: float
    skip: float
    gap: tuple[float, float]
    soft: float
    uneven: float


def manner(choice: random.Random, chromatic: bool) -> Manner:
    """A manner drawn at random."""
    return Manner(
        chromatic,
        choice.uniform(50, 190),
        choice.choice((2, 12, 24)),
        choice.uniform(0.005, 0.018),
        choice.uniform(0.03, 0.08),
        choice.random() < 0.4,
        choice.random() < 0.5,
        choice.random() < 0.4,
        choice.choice((1.0, 1.6, 0.65)),
        choice.choice((0.0, 0.15, 0.3)),
        choice.choice(((-0.008, 0.0), (0.0, 0.008), (-0.004, 0.004), (0.002, 0.012))),
        choice.uniform(0.55, 0.72),
        choice.uniform(0.04, 0.08),
    )


def late_sec(pitch: float) -> float:
    """Two periods and three milliseconds."""
    return 0.003 + 2.0 / (440.0 * 2.0 ** ((pitch - 69.0) / 12.0))


class Renderer:
    """Writes the messages of one stream; ``truth`` is what a player would write."""

    def __init__(self, how: Manner, choice: random.Random) -> None:
        self.how, self.choice = how, choice
        self.rows: list[tuple[float, int, bytes]] = []
        self.truth: list[Truth] = []
        for channel in range(len(BASS)):
            for control, value in ((101, 0), (100, 0), (6, how.bend_range)):
                self.rows.append((0.0, 0, bytes((0xB0 | channel, control, value))))

    def note(self, string: int, start: float, end: float, pitch: int, level: float) -> None:
        velocity = max(1, min(127, round(level)))
        self.rows.append((start, 2, bytes((0x90 | string, pitch, velocity))))
        self.rows.append((max(end, start + 0.004), 1, bytes((0x80 | string, pitch, 0))))

    def bend(self, string: int, at: float, semitones: float) -> None:
        value = max(0, min(16383, 8192 + round(semitones / self.how.bend_range * 8192)))
        self.rows.append((at, 1, bytes((0xE0 | string, value & 127, value >> 7))))

    def follow(self, string: int, start: float, end: float, glide: Glide) -> None:
        """The bend over a note: at its beginning, and then as often as the sensor speaks."""
        if self.how.chromatic:
            return
        self.bend(string, start - 0.0005, glide(0.0))
        at, last = start + self.how.every_sec * self.choice.uniform(0.3, 1.0), math.inf
        while at < end - 0.002:
            now = glide(at - start) + self.choice.uniform(-self.how.noise, self.how.noise)
            if not self.how.changes_only or abs(now - last) >= 0.04:
                self.bend(string, at, now)
                last = now
            at += self.how.every_sec * self.choice.uniform(0.8, 1.2)

    def bent(self, string: int, start: float, end: float, pitch: int, glide: Glide, level: float) -> None:
        """A note whose bend follows ``glide``; beyond its range it begins anew."""
        begun, base, at = start, 0, start
        while at < end:
            if abs(glide(at - start) - base) > self.how.bend_range + 0.001:
                self._part(string, begun, at, pitch, base, start, glide, level)
                begun, base, level = at, round(glide(at - start)), level * 0.85
            at += 0.002
        self._part(string, begun, end, pitch, base, start, glide, level)

    def _part(
        self, string: int, begun: float, end: float, pitch: int, base: int, start: float, glide: Glide, level: float
    ) -> None:
        self.note(string, begun, end, pitch + base, level)
        self.follow(string, begun, end, lambda sec: glide(sec + begun - start) - base)

    def stairs(self, begin: float, length: float, frets: int) -> Glide:
        """Fret after fret from ``begin`` on."""

        def glide(sec: float) -> float:
            way = min(max((sec - begin) / length, 0.0), 1.0) ** self.how.curve
            return math.copysign(math.floor(way * abs(frets) + 1e-9), frets)

        return glide

    def run(self, string: int, start: float, length: float, pitch: int, frets: int, end: float, level: float) -> float:
        """A new note for most of the frets of a slide; when the first of them begins."""
        sign, fall = int(math.copysign(1, frets)), 0.94
        skip = self.how.skip if abs(frets) >= 5 else 0.0
        steps = [n for n in range(1, abs(frets)) if self.choice.random() >= skip] or [1]
        steps.append(abs(frets))
        times = [start + length * (n / abs(frets)) ** (1 / self.how.curve) for n in steps]
        for row, step in enumerate(steps):
            until = times[row + 1] - self.choice.uniform(*self.how.gap) if row + 1 < len(steps) else end
            self.note(string, times[row], until, pitch + sign * step, level * fall**row)
        return times[0]

    def says(self, onset: float, string: int, pitch: int, level: float, reached: str = "pluck", *marks: str) -> None:
        self.truth.append(Truth(onset, pitch, string + 1, round(level), reached, marks))


def _plain(to: Renderer, string: int, onset: float, end: float, pitch: int, level: float) -> None:
    start = onset + late_sec(pitch)
    to.bent(string, start, end, pitch, lambda sec: 0.0, level)
    to.says(onset, string, pitch, level)


def _slide(to: Renderer, string: int, onset: float, end: float, pitch: int, level: float) -> None:
    frets = to.choice.choice((3, 4, 5, 7, -3, -4))
    arrival = onset + (end - onset) * 0.5
    length = min(to.choice.uniform(0.028, 0.05) * abs(frets), (arrival - onset) * 0.55)
    start, there = onset + late_sec(pitch), arrival + late_sec(pitch + frets / 2)
    to.says(onset, string, pitch, level)
    to.says(arrival, string, pitch + frets, level * 0.8, "slide")
    if to.how.chromatic:
        first = to.run(string, there - length, length, pitch, frets, end, level * 0.85)
        to.note(string, start, first - to.choice.uniform(*to.how.gap), pitch, level)
        return
    glide = to.stairs(there - length - start, length, frets)
    if to.how.arrives and abs(frets) <= to.how.bend_range:
        to.bent(string, start, there - to.choice.uniform(*to.how.gap), pitch, glide, level)
        to.bent(string, there, end, pitch + frets, lambda sec: 0.0, level * 0.75)
    else:
        to.bent(string, start, end, pitch, glide, level)


def _legato(to: Renderer, string: int, onset: float, end: float, pitch: int, level: float, by: int) -> None:
    second = onset + (end - onset) * 0.5
    goal, soft = pitch + by, level * to.how.soft * to.choice.uniform(0.95, 1.05)
    start, there = onset + late_sec(pitch), second + late_sec(goal)
    to.says(onset, string, pitch, level)
    to.says(second, string, goal, soft, "hammer-on" if by > 0 else "pull-off")
    if to.how.chromatic or not to.how.jumps or abs(by) > to.how.bend_range:
        to.bent(string, start, there - to.choice.uniform(*to.how.gap), pitch, lambda sec: 0.0, level)
        to.bent(string, there, end, goal, lambda sec: 0.0, soft)
    else:
        to.bent(string, start, end, pitch, lambda sec: float(by) if sec >= there - start else 0.0, level)


def _slide_from(to: Renderer, string: int, onset: float, end: float, pitch: int, level: float) -> None:
    frets = to.choice.choice((3, 4, 5))
    length = 0.026 * frets
    there, start = onset + late_sec(pitch - frets / 2), onset + late_sec(pitch - frets / 2) - length - 0.01
    to.says(onset, string, pitch, level, "pluck", "slide-from")
    if to.how.chromatic:
        first = to.run(string, there - length, length, pitch - frets, frets, end, level)
        to.note(string, start, first - to.choice.uniform(*to.how.gap), pitch - frets, level)
    else:
        to.bent(string, start, end, pitch - frets, to.stairs(0.01, length, frets), level)


def _slide_to(to: Renderer, string: int, onset: float, end: float, pitch: int, level: float) -> None:
    frets, start = -to.choice.choice((3, 4, 5)), onset + late_sec(pitch)
    length = 0.032 * abs(frets)
    to.says(onset, string, pitch, level, "pluck", "slide-to")
    if to.how.chromatic:
        first = to.run(string, end - length - 0.03, length, pitch, frets, end, level * 0.7)
        to.note(string, start, first - to.choice.uniform(*to.how.gap), pitch, level)
    else:
        to.bent(string, start, end, pitch, to.stairs(end - length - 0.005 - start, length, frets), level)


def _trill(to: Renderer, string: int, onset: float, end: float, pitch: int, level: float) -> None:
    start, half = onset + late_sec(pitch), to.choice.uniform(0.07, 0.1)
    to.says(onset, string, pitch, level, "pluck", "trill")
    if not to.how.chromatic and to.how.jumps:
        to.bent(string, start, end, pitch, lambda sec: 2.0 * (int(sec / half) % 2), level)
        return
    for row in range(int((end - start) / half)):
        at, soft = start + row * half, 1.0 if row == 0 else to.how.soft
        to.bent(
            string, at, at + half - to.choice.uniform(*to.how.gap), pitch + 2 * (row % 2), lambda sec: 0.0, level * soft
        )


def _bend(to: Renderer, string: int, onset: float, end: float, pitch: int, level: float) -> None:
    by, rise = to.choice.choice((0.5, 1.0, 1.9)), to.choice.uniform(0.1, 0.25)
    to.says(onset, string, pitch, level, "pluck", "bend")
    wave = lambda sec: by * (0.5 - 0.5 * math.cos(math.pi * min(max((sec - 0.1) / rise, 0.0), 1.0)))  # noqa: E731
    to.bent(string, onset + late_sec(pitch), end, pitch, wave, level)


def _vibrato(to: Renderer, string: int, onset: float, end: float, pitch: int, level: float) -> None:
    hz, half = to.choice.uniform(4.0, 7.0), to.choice.uniform(0.13, 0.4)
    to.says(onset, string, pitch, level, "pluck", "vibrato")
    to.bent(
        string,
        onset + late_sec(pitch),
        end,
        pitch,
        lambda sec: half * math.sin(2 * math.pi * hz * (sec - 0.1)) if sec > 0.1 else 0.0,
        level,
    )


_MAKE: dict[str, tuple[Callable[..., None], float]] = {
    "plain": (_plain, 0.14),
    "slide": (_slide, 0.8),
    "slide-from": (_slide_from, 0.5),
    "slide-to": (_slide_to, 0.6),
    "trill": (_trill, 0.7),
    "bend": (_bend, 0.7),
    "vibrato": (_vibrato, 1.1),
}


def stream(seed: int, chromatic: bool, count: int = 60) -> Stream:
    """What arrives of ``count`` gestures, and what should be written of them."""
    choice = random.Random(f"renderings {seed} {chromatic}")
    how = manner(choice, chromatic)
    to, now, usual = Renderer(how, choice), 1.0, choice.uniform(70, 92)
    kinds = [choice.choice(KINDS if chromatic else KINDS + BENT) for _ in range(count)]
    for kind, following in zip(kinds, [*kinds[1:], ""], strict=True):
        string = choice.randrange(len(BASS))
        pitch = BASS[string] + choice.randint(7, 12)
        make, least = _MAKE.get(kind, (_legato, 0.4))
        # A slide from nowhere begins before its note.
        room = 0.15 if following == "slide-from" else 0.0
        lasts = max(60.0 / how.tempo * choice.choice((0.5, 0.5, 1.0)), least) + 2 * room
        onset, level = now + choice.gauss(0.0, 0.006), usual * choice.gauss(1.0, how.uneven)
        more = (choice.choice((1, 2, 3)) * (1 if kind == "hammer-on" else -1),) if make is _legato else ()
        make(to, string, onset, now + lasts * 0.9 - room, pitch, level, *more)
        now += lasts
    rows = sorted(to.rows, key=lambda row: (row[0], row[1]))
    return Stream([(sec, data) for sec, _, data in rows], to.truth)
