"""A bass player and a pickup that turns strings into MIDI, as numbers: what was played is known,
what arrives is made from it.

What is modelled, and from where
    Strings and frets sound in equal temperament (ISO 16). A pitch follower names a note after about
    two periods (Fonseca & Tavares, "Low-Latency f0 Estimation for the Finger Plucked Electric Bass
    Guitar", RITA 27(4), 2020); what it says of a pitch that changes is smoothed over about one
    period. Pitch bend is 14 bits around 8192 and its range is RPN 0,0 (MIDI 1.0). Frets make a
    slide a stair; a string bend is smooth; vibrato is a wave of some hertz. Common practice, no
    source: how long slides, bends and hammer-ons take, how loud a hammered note is beside a plucked
    one, how evenly people play, how pickups chatter.

Two modes
    *bend*: a note-on for every pluck, and the bend follows the pitch, on a channel for each string.
    *chromatic*: a new note-on for every semitone that the pitch reaches, no bends; a channel for
    each string, or one for all.

Conventions
    Seconds, MIDI numbers, semitones. ``Truth`` is the note a player would write: its onset is a
    slide's arrival.
"""

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import mido
import numpy as np

BASS = (43, 38, 33, 28)
PLAIN, SLIDE, HAMMER, PULL, BEND, RELEASE, VIBRATO, SLIDE_FROM, SLIDE_TO = (
    "plain", "slide", "hammer-on", "pull-off", "bend", "release", "vibrato", "slide-from", "slide-to",
)  # fmt: skip


@dataclass
class Truth:
    """One written note."""

    onset_sec: float
    pitch: int
    string: int
    velocity: int
    reached: str = "pluck"
    marks: tuple[str, ...] = ()
    bend_semitones: float = 0.0


@dataclass(frozen=True)
class Pickup:
    """How the pickup behaves.

    ``delay_sec`` is beyond the two periods; ``bend_range`` in semitones.
    """

    mode: str = "bend"
    per_string: bool = True
    bend_range: int = 12
    delay_sec: float = 0.003
    jitter_sec: float = 0.0015
    noise_cents: float = 3.0
    every_sec: float = 0.005
    ghosts: float = 0.0
    octaves: float = 0.0


@dataclass
class Stream:
    """What arrives: (seconds, bytes) in order, and what was played."""

    events: list[tuple[float, bytes]] = field(default_factory=list)
    truth: list[Truth] = field(default_factory=list)


@dataclass
class Stroke:
    """A pluck and all that happens until the next one on its string: ``path`` is (seconds after the
    pluck, semitones above the fretted pitch).
    """

    onset_sec: float
    end_sec: float
    string: int
    pitch: int
    velocity: int
    path: list[tuple[float, float]]
    soft_at: dict[float, float] = field(default_factory=dict)


def perform(
    seed: int, count: int = 60, tempo: float = 100.0, kinds: tuple[str, ...] | None = None
) -> tuple[list[Stroke], list[Truth]]:
    """About ``count`` strokes at ``tempo``, plain ones and ones with techniques; ``kinds`` limits
    which.
    """
    choice = np.random.default_rng(seed)
    beat = 60.0 / tempo
    at, strokes, truth = 1.0, [], []
    pool = kinds or (PLAIN,) * 6 + (SLIDE, HAMMER, PULL, BEND, VIBRATO, SLIDE_FROM, SLIDE_TO)
    fret = 5
    for _ in range(count):
        kind = str(choice.choice(pool))
        string = int(choice.integers(1, 5))
        fret = int(np.clip(fret + choice.integers(-4, 5), 2, 14))
        pitch = BASS[string - 1] + fret
        velocity = int(np.clip(choice.normal(92, 8), 50, 120))
        length = beat * float(choice.choice([0.5, 1.0, 1.0, 2.0] if kind == PLAIN else [1.0, 2.0]))
        if kind in (VIBRATO, BEND):
            length = max(length, 0.7)
        onset = at + float(choice.normal(0, 0.008))
        sounding = length * float(choice.uniform(0.8, 0.93))
        maker = _MAKERS[kind]
        stroke, written = maker(choice, onset, sounding, string, pitch, velocity)
        strokes.append(stroke)
        truth += written
        at += length
    return strokes, truth


def _plain(
    choice: Any, onset: float, length: float, string: int, pitch: int, velocity: int
) -> tuple[Stroke, list[Truth]]:
    return Stroke(onset, onset + length, string, pitch, velocity, [(0.0, 0.0)]), [Truth(onset, pitch, string, velocity)]


def _stairs(start: float, frets: int, step_sec: float, level: int = 0) -> list[tuple[float, float]]:
    """A stair of ``frets`` steps (up or down) from ``level``; each step is over in a
    millisecond.
    """
    sign = 1 if frets > 0 else -1
    path = []
    for step in range(abs(frets)):
        now = start + step * step_sec
        path += [(now, float(level + sign * step)), (now + 0.001, float(level + sign * (step + 1)))]
    return path


def _slide(
    choice: Any, onset: float, length: float, string: int, pitch: int, velocity: int
) -> tuple[Stroke, list[Truth]]:
    frets = int(choice.choice([-5, -4, -3, -2, 2, 3, 4, 5]))
    frets = abs(frets) if pitch - BASS[string - 1] + frets < 1 else frets
    step = float(choice.uniform(0.02, 0.045))
    start = length * float(choice.uniform(0.3, 0.5))
    step = min(step, max((length - start - 0.1) / abs(frets), 0.018))
    path = [(0.0, 0.0), *_stairs(start, frets, step)]
    arrival = onset + path[-1][0]
    return Stroke(onset, onset + length, string, pitch, velocity, path), [
        Truth(onset, pitch, string, velocity),
        Truth(arrival, pitch + frets, string, velocity, "slide"),
    ]


def _legato(
    choice: Any, onset: float, length: float, string: int, pitch: int, velocity: int, up: bool
) -> tuple[Stroke, list[Truth]]:
    by = int(choice.integers(1, 5)) * (1 if up else -1)
    if not up and pitch - BASS[string - 1] + by < 0:
        by = -1
    start = length * float(choice.uniform(0.4, 0.6))
    path = [(0.0, 0.0), (start, 0.0), (start + 0.001, float(by))]
    soft = float(choice.uniform(0.4, 0.65))
    return Stroke(onset, onset + length, string, pitch, velocity, path, {start: soft}), [
        Truth(onset, pitch, string, velocity),
        Truth(onset + start, pitch + by, string, velocity, HAMMER if up else PULL),
    ]


def _bend(
    choice: Any, onset: float, length: float, string: int, pitch: int, velocity: int
) -> tuple[Stroke, list[Truth]]:
    by = float(choice.choice([0.5, 1.0, 1.0, 1.5, 2.0]))
    begin, rise = float(choice.uniform(0.02, 0.15)), float(choice.uniform(0.1, 0.25))
    path = [(0.0, 0.0), *((begin + rise * x, by * float(np.sin(x * np.pi / 2) ** 2)) for x in np.linspace(0, 1, 24))]
    marks: tuple[str, ...] = ("bend",)
    if choice.random() < 0.5 and begin + 2.4 * rise < length - 0.05:
        back = begin + 1.4 * rise
        path += [(back + rise * x, by * (1 - float(np.sin(x * np.pi / 2) ** 2))) for x in np.linspace(0, 1, 24)]
        marks = ("bend", "release")
    return Stroke(onset, onset + length, string, pitch, velocity, path), [
        Truth(onset, pitch, string, velocity, "pluck", marks, by)
    ]


def _vibrato(
    choice: Any, onset: float, length: float, string: int, pitch: int, velocity: int
) -> tuple[Stroke, list[Truth]]:
    hertz, cents = float(choice.uniform(4.0, 7.5)), float(choice.uniform(25, 80))
    begin = float(choice.uniform(0.05, 0.2))
    times = np.arange(begin, length, 0.004)
    # A finger on a fret can only raise the pitch.
    wave = cents / 100 * (0.5 - 0.5 * np.cos(2 * np.pi * hertz * (times - begin)))
    path = [(0.0, 0.0), *zip(times.tolist(), wave.tolist(), strict=True)]
    return Stroke(onset, onset + length, string, pitch, velocity, path), [
        Truth(onset, pitch, string, velocity, "pluck", ("vibrato",))
    ]


def _from_nowhere(
    choice: Any, onset: float, length: float, string: int, pitch: int, velocity: int
) -> tuple[Stroke, list[Truth]]:
    frets, step = int(choice.choice([-4, -3, 3, 4])), float(choice.uniform(0.018, 0.03))
    path = [(0.0, float(-frets)), *((sec, level) for sec, level in _stairs(0.012, frets, step, -frets))]
    goal = onset + path[-1][0]
    start = pitch - frets if pitch - frets >= BASS[string - 1] else pitch
    if start == pitch:
        return _plain(choice, onset, length, string, pitch, velocity)
    return Stroke(onset, onset + length, string, pitch, velocity, path), [
        Truth(goal, pitch, string, velocity, "pluck", ("slide-from",))
    ]


def _to_nowhere(
    choice: Any, onset: float, length: float, string: int, pitch: int, velocity: int
) -> tuple[Stroke, list[Truth]]:
    frets, step = int(choice.choice([-5, -4, -3, 3, 4])), float(choice.uniform(0.018, 0.03))
    if pitch + frets < BASS[string - 1]:
        frets = abs(frets)
    stairs = _stairs(length - abs(frets) * step - 0.01, frets, step)
    return Stroke(onset, onset + length, string, pitch, velocity, [(0.0, 0.0), *stairs]), [
        Truth(onset, pitch, string, velocity, "pluck", ("slide-to",))
    ]


_MAKERS = {
    PLAIN: _plain,
    SLIDE: _slide,
    HAMMER: lambda *rest: _legato(*rest, True),
    PULL: lambda *rest: _legato(*rest, False),
    BEND: _bend,
    VIBRATO: _vibrato,
    SLIDE_FROM: _from_nowhere,
    SLIDE_TO: _to_nowhere,
}


def pick_up(strokes: list[Stroke], pickup: Pickup, seed: int = 0) -> list[tuple[float, bytes]]:
    """The MIDI stream of what was played."""
    choice = np.random.default_rng(seed + 1000)
    events: list[tuple[float, int, bytes]] = []
    channels = sorted({_channel(stroke, pickup) for stroke in strokes})
    if pickup.mode == "bend":
        for channel in channels:
            for control, value in ((101, 0), (100, 0), (6, pickup.bend_range), (38, 0)):
                events.append((0.0, 0, bytes((0xB0 | channel, control, value))))
    for stroke in strokes:
        period = 1.0 / (440.0 * 2 ** ((stroke.pitch - 69) / 12))
        late = pickup.delay_sec + 2 * period + float(np.abs(choice.normal(0, pickup.jitter_sec)))
        times = np.arange(0.0, stroke.end_sec - stroke.onset_sec, 0.001)
        path = np.array(stroke.path)
        curve = np.interp(times, path[:, 0], path[:, 1])
        smoothing = np.exp(-0.001 / max(period * 0.5, 0.002))
        # A chromatic stream names a note when it is sure of it, and says nothing of what lies
        # between.
        curve = _smoothed(curve, float(smoothing)) if pickup.mode == "bend" else curve
        send = _bent if pickup.mode == "bend" else _stepped
        send(events, stroke, times, curve, late, pickup, choice)
    events += _errors(strokes, pickup, choice)
    events.sort(key=lambda event: (event[0], event[1]))
    return [(sec, data) for sec, _, data in events]


def _smoothed(curve: np.ndarray, keep: float) -> np.ndarray:
    out, level = np.empty_like(curve), float(curve[0])
    for index, value in enumerate(curve.tolist()):
        level = keep * level + (1 - keep) * value
        out[index] = level
    return out


def _channel(stroke: Stroke, pickup: Pickup) -> int:
    return stroke.string - 1 if pickup.per_string else 0


def _bent(
    events: list[Any], stroke: Stroke, times: np.ndarray, curve: np.ndarray, late: float, pickup: Pickup, choice: Any
) -> None:
    channel = _channel(stroke, pickup)
    start = stroke.onset_sec + late
    first, level = round(stroke.pitch + float(curve[0])), stroke.velocity
    last = 8192
    drift = float(choice.uniform(0, 10))
    events.append((start - 0.0005, 2, _bend_bytes(channel, 0.0, pickup.bend_range)))
    events.append((start, 3, bytes((0x90 | channel, first, level))))
    for at in np.arange(pickup.every_sec, times[-1], pickup.every_sec):
        value = float(np.interp(at, times, curve)) + stroke.pitch - first
        value += (drift * np.exp(-at / 0.05) + float(choice.normal(0, pickup.noise_cents))) / 100
        if abs(value) > pickup.bend_range:
            # Beyond its range a bend cannot tell the pitch: the pickup begins another note there.
            events.append((start + float(at), 1, bytes((0x80 | channel, first, 0))))
            first, value = first + round(value), value - round(value)
            level = max(int(level * 0.9), 20)
            events.append((start + float(at), 2, _bend_bytes(channel, value, pickup.bend_range)))
            events.append((start + float(at), 3, bytes((0x90 | channel, first, level))))
        data = _bend_bytes(channel, value, pickup.bend_range)
        number = data[1] | data[2] << 7
        if abs(number - last) * pickup.bend_range / 8192 > 0.015:
            events.append((start + float(at), 2, data))
            last = number
    events.append((start + float(times[-1]), 1, bytes((0x80 | channel, first, 0))))


def _bend_bytes(channel: int, semitones: float, bend_range: int) -> bytes:
    number = int(np.clip(8192 + round(semitones / bend_range * 8192), 0, 16383))
    return bytes((0xE0 | channel, number & 0x7F, number >> 7))


def _stepped(
    events: list[Any], stroke: Stroke, times: np.ndarray, curve: np.ndarray, late: float, pickup: Pickup, choice: Any
) -> None:
    channel = _channel(stroke, pickup)
    notes = np.round(stroke.pitch + curve).astype(int)
    changes = [0, *(np.flatnonzero(np.diff(notes)) + 1).tolist(), len(notes)]
    level = stroke.velocity
    for index, (begin, end) in enumerate(pairwise(changes)):
        if index:
            soft = next((share for sec, share in stroke.soft_at.items() if abs(times[begin] - sec) < 0.03), None)
            level = (
                int(stroke.velocity * soft)
                if soft is not None
                else max(int(level * float(choice.uniform(0.85, 0.97))), 20)
            )
        start = stroke.onset_sec + late + float(times[begin]) + (float(choice.normal(0, 0.001)) if index else 0.0)
        stop = stroke.onset_sec + late + float(times[min(end, len(times) - 1)])
        events.append((start, 3, bytes((0x90 | channel, int(notes[begin]), min(max(level, 1), 127)))))
        events.append((stop, 1, bytes((0x80 | channel, int(notes[begin]), 0))))


def _errors(strokes: list[Stroke], pickup: Pickup, choice: Any) -> list[tuple[float, int, bytes]]:
    """Ghosts (short soft notes that nobody played) and octave errors (a short octave above at the
    onset).
    """
    events = []
    for stroke in strokes:
        if choice.random() < pickup.ghosts:
            at = stroke.onset_sec + float(choice.uniform(0.05, 0.3))
            other = int(choice.integers(1, 5))
            channel = other - 1 if pickup.per_string else 0
            pitch = BASS[other - 1] + int(choice.integers(0, 12))
            events.append((at, 3, bytes((0x90 | channel, pitch, int(choice.integers(8, 28))))))
            events.append((at + float(choice.uniform(0.012, 0.045)), 1, bytes((0x80 | channel, pitch, 0))))
        if choice.random() < pickup.octaves:
            channel = _channel(stroke, pickup)
            at = stroke.onset_sec + 0.02
            events.append((at, 3, bytes((0x90 | channel, stroke.pitch + 12, stroke.velocity))))
            events.append((at + float(choice.uniform(0.015, 0.04)), 1, bytes((0x80 | channel, stroke.pitch + 12, 0))))
    return events


def stream(
    seed: int, pickup: Pickup, count: int = 60, tempo: float = 100.0, kinds: tuple[str, ...] | None = None
) -> Stream:
    """A performance through a pickup."""
    strokes, truth = perform(seed, count, tempo, kinds)
    return Stream(pick_up(strokes, pickup, seed), truth)


def save(stream: Stream, path: str, tempo: float = 100.0) -> None:
    """As a Standard MIDI File at ``tempo``."""
    file = mido.MidiFile(ticks_per_beat=9600)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=round(60e6 / tempo)))
    per_sec, last = 9600 * tempo / 60, 0
    for sec, data in stream.events:
        tick = max(round(sec * per_sec), last)
        track.append(mido.Message.from_bytes(data, time=tick - last))
        last = tick
    file.save(path)
