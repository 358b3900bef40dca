"""What every command reads of a take: the playing and the layers as one row of notes.

Conventions
    Notes stand in order of onset, notes of one onset in order of pitch, the rest in the order they
    came; this order gives every note the index by which all commands name it. ``source`` tells
    where a note comes from: 0 the playing, n the layer of that number. A layer stands once, as it
    was played, in the pass it was played in where that lies inside the take, else in the first
    pass. Where both are read, notes of a layer that are the very notes of the playing are not
    counted twice. Muted layers count: they were kept. Notes of a layer beyond the end of a cycle
    that was made shorter since are silent, and left out. Notes that were written down on strings
    (tab, sheet music) are on them. Times are seconds from the start of the first pass, positions
    quarters from the same start, by ``tempo``.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.timing import Feel, Placed, first_bars, meter_of_bar, place_onsets, repeating
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.analysis.transcription.placing import KnownNotes
from loopdeck.bass.technique.strings import strings_by_channel
from loopdeck.brief.brief import Brief
from loopdeck.capture.notes import NOTE_DTYPE, Notes
from loopdeck.looper.layers import Layer
from loopdeck.rhythm.counting import count_of
from loopdeck.rhythm.meter import Meter
from loopdeck.rhythm.tempo import TempoMap
from loopdeck.shelf.take import IMPORTED, Take

#: Channel 10, counted from 0: the drums of an imported file (General MIDI level 1).
DRUM_CHANNEL = 9
#: Nearer than this, in quarters, two onsets are one note's: what floats lose between a pass and the
#: layer made of it.
_SAME_Q = 1e-6
PLAYED = 0


@dataclass(frozen=True, eq=False)
class Material:
    """The notes of a take with everything needed to place them; ``k`` notes, all arrays of shape
    ``(k,)``.

    ``source``: int64, 0 for the playing, else the layer's number. ``onset_q`` and ``duration_q``:
    float64, quarters from the start of the first pass. ``pitched``: bool, False for drums.
    ``stretches``: the meters in force. ``brief``: the take's, with what was asked for in its place.
    """

    take: Take
    notes: Notes
    source: NDArray[np.int64]
    onset_q: NDArray[np.float64]
    duration_q: NDArray[np.float64]
    pitched: NDArray[np.bool_]
    tempo: TempoMap
    stretches: tuple[Stretch, ...]
    brief: Brief

    def __len__(self) -> int:
        return len(self.notes)

    @cached_property
    def placed(self) -> Placed:
        """The slot of each note by the brief's grid and swing: its bar, its written place in it,
        and where it is played.
        """
        rows = self.notes.array
        playing = KnownNotes(rows["onset_sec"], rows["duration_sec"], self.duration_q, rows["pitch"])
        return place_onsets(self.onset_q, self.stretches, Feel(self.brief.grid, self.brief.swing), playing)

    @property
    def bars(self) -> NDArray[np.int64]:
        """The bar of each onset, counted from 1; an early downbeat belongs to the bar it begins."""
        return self.placed.bar

    def meter_of(self, bar: int) -> Meter:
        """The meter of a bar, counted from 1."""
        return meter_of_bar(self.stretches, self._first_bars, bar)

    @cached_property
    def _first_bars(self) -> list[int]:
        """The number of the first bar of each stretch."""
        return first_bars(self.stretches)

    def count_of(self, index: int) -> str:
        """Where a note lies in its bar, as players count: ``2 and``."""
        return count_of(self.meter_of(int(self.bars[index])), self.placed.written[index])

    @property
    def title(self) -> str:
        """The take's number and name, as reports name it."""
        return self.take.name if self.take.number is None else f"{self.take.number} {self.take.name}"


def material_of(
    take: Take,
    brief: Brief | None = None,
    *,
    played: bool = True,
    layers: bool = True,
    tempo: TempoMap | None = None,
    stretches: tuple[Stretch, ...] | None = None,
) -> Material:
    """All of a take, or only what was ``played``, or only its ``layers``.

    ``brief``, ``tempo`` and ``stretches`` stand in for those of the take; a layer keeps the moment
    at which the take's own tempo has it.
    """
    brief = brief or take.brief
    own_tempo = take.tempo()
    notes, source = _gathered(take, own_tempo, played, layers)
    if take.seen.strings:
        strings_by_channel(notes.array, brief.tuning, written=True)
    tempo = tempo or own_tempo
    onset_sec = notes.array["onset_sec"]
    onset_q = tempo.quarters(onset_sec)
    # A file with a time signature a bar tells of a cycle, too.
    stretches = stretches or repeating(take.stretches(), float(onset_q[-1]) if len(onset_q) else 0.0)
    return Material(
        take=take,
        notes=notes,
        source=source,
        onset_q=onset_q,
        duration_q=tempo.quarters(onset_sec + notes.array["duration_sec"]) - onset_q,
        pitched=(notes.array["channel"] != DRUM_CHANNEL) | (not has_drums(take)),
        tempo=tempo,
        stretches=stretches,
        brief=brief,
    )


def has_drums(take: Take) -> bool:
    """True where channel 10 is the drums: in an imported file, unless its pickup has a string
    there.
    """
    return take.origin == IMPORTED and not any(DRUM_CHANNEL + 1 in of.channels for of in take.seen.inputs.values())


def tracks_apart(material: Material) -> bool:
    """Whether each of several tracks has a channel of its own, as exported layers have: these are
    no strings of a pickup, whose channels come in by one.
    """
    struck = {
        (event.port, event.data[0] & 0x0F) for event in material.take.recording.events if event.data[0] & 0xF0 == 0x90
    }
    ports = {port for port, _ in struck}
    return len(struck) == len(ports) > 1


def one_cycle(brief: Brief) -> tuple[Stretch, ...]:
    """The brief's cycle, over and over."""
    return (Stretch(Fraction(0), brief.cycle),)


def _gathered(take: Take, tempo: TempoMap, played: bool, layers: bool) -> tuple[Notes, NDArray[np.int64]]:
    playing = take.notes()
    played_q = tempo.quarters(take.judged_sec)
    parts: list[tuple[int, Notes]] = [(PLAYED, playing)] if played else []
    for layer in take.recording.layers if layers else ():
        home, double = _place(layer, take, playing.array, played_q)
        rows = np.flatnonzero(_audible(layer, take) & ~(double & played))
        parts.append((layer.number, _as_played(layer, rows, home, take, tempo)))
    return _merged(parts)


def _audible(layer: Layer, take: Take) -> NDArray[np.bool_]:
    return np.asarray(layer.notes["onset_q"] < float(take.brief.cycle.quarters))


def _place(
    layer: Layer, take: Take, playing: NDArray[np.void], played_q: NDArray[np.float64]
) -> tuple[int, NDArray[np.bool_]]:
    """The pass of the take in which a layer stands, and which of its notes are the very notes of
    the playing.
    """
    cycle_q = float(take.brief.cycle.quarters)
    onsets, pitches = layer.notes["onset_q"], layer.notes["pitch"]
    found = [
        _passes_of(played_q[playing["pitch"] == pitch], onset, cycle_q)
        for onset, pitch in zip(onsets, pitches, strict=True)
    ]
    counts: dict[int, int] = {}
    for passes in found:
        for index in passes:
            counts[index] = counts.get(index, 0) + 1
    inside = {index: count for index, count in counts.items() if 0 <= index < max(take.recording.passes, 1)}
    home = max(inside, key=lambda index: (inside[index], -index), default=0)
    if (
        take.recording.first_pass is not None
        and 0 <= layer.pass_index - take.recording.first_pass < take.recording.passes
    ):
        # It is known in which pass the layer was played, and that lies inside the take.
        home = layer.pass_index - take.recording.first_pass
        return home, np.array(
            [_again(home, passes, onset) for onset, passes in zip(onsets, found, strict=True)], np.bool_
        )
    # One note that happens to lie at the place of another is not a sign of its pass.
    if inside.get(home, 0) * 2 < len(onsets):
        return 0, np.zeros(len(onsets), np.bool_)
    return home, np.array([_again(home, passes, onset) for onset, passes in zip(onsets, found, strict=True)], np.bool_)


def _again(home: int, passes: set[int], onset_q: float) -> bool:
    """Whether a note of a layer in pass ``home`` is there already.

    A downbeat that was played early at the end stands in the pass after it.
    """
    return home in passes or (onset_q < 0 and home + 1 in passes)


def _passes_of(played_q: NDArray[np.float64], onset_q: float, cycle_q: float) -> set[int]:
    """The passes in which a note stands ``onset_q`` after the start."""
    passes = np.round((played_q - onset_q) / cycle_q)
    there = np.abs(played_q - onset_q - passes * cycle_q) < _SAME_Q
    return {int(index) for index in passes[there]}


def _as_played(layer: Layer, rows: NDArray[np.int64], home: int, take: Take, tempo: TempoMap) -> Notes:
    """Notes of a layer, in seconds, in one pass."""
    chosen = layer.notes[rows]
    onset_q = chosen["onset_q"] + home * float(take.brief.cycle.quarters)
    onset_sec = tempo.seconds(onset_q)
    array = np.zeros(len(rows), NOTE_DTYPE)
    array["onset_sec"] = onset_sec
    array["duration_sec"] = tempo.seconds(onset_q + chosen["duration_q"]) - onset_sec
    for name in ("pitch", "velocity", "channel", "string"):
        array[name] = chosen[name]
    bends = []
    for row, at_q, at_sec in zip(rows.tolist(), onset_q.tolist(), onset_sec.tolist(), strict=True):
        curve = layer.bends[row]
        bends.append(np.column_stack([tempo.seconds(at_q + curve[:, 0]) - at_sec, curve[:, 1]]))
    return Notes(array, tuple(bends))


def _merged(parts: Iterable[tuple[int, Notes]]) -> tuple[Notes, NDArray[np.int64]]:
    chosen = list(parts)
    array = np.concatenate([notes.array for _, notes in chosen]) if chosen else np.zeros(0, NOTE_DTYPE)
    source = np.concatenate(
        [np.full(len(notes), number, np.int64) for number, notes in chosen] or [np.zeros(0, np.int64)]
    )
    bends = [curve for _, notes in chosen for curve in notes.bends]
    order = np.lexsort((array["pitch"], array["onset_sec"]))
    return Notes(array[order], tuple(bends[row] for row in order.tolist())), source[order]
