"""A take laid out for the built-in sound: which parts sound, and every message at its sample.

Conventions
    Parts are named as on the command line: ``playing``, ``layer1``, ``layer2`` and so on,
    ``click``, ``groove``. Samples count from the start of the piece as ``export.piece`` lays it
    out, so a rendered file and an exported one lie on top of each other: when something was played
    before the first pass, a bar of the first meter stands in front. The playing sounds as it was
    played. A layer sounds by the take's brief; beside the playing from the pass after the one it
    was played in, as it did; without the playing in every pass, for then it is the loop that is
    wanted. What was muted sounds only when it is named. In an imported file channel 10 is drums
    (General MIDI level 1). Click and groove are those of the brief from the first pass on.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.brief.brief import OFF
from loopdeck.capture.bend import bend_data, range_data
from loopdeck.errors import UserError
from loopdeck.export.piece import Piece, PieceTrack, piece_of_take
from loopdeck.looper.layers import Layer, slot_of
from loopdeck.looper.strokes import CLICK_NOTES, CLICK_WEIGHT, strokes
from loopdeck.looper.touching import DECAY, NO_DECAY, PORTAMENTO_CONTROL, USUAL_DECAY
from loopdeck.rhythm.anchor import Anchor
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.tempo import TempoMap
from loopdeck.shelf.material import has_drums
from loopdeck.shelf.take import Take
from loopdeck.synth.band import DRIVEN_PROGRAMS
from loopdeck.synth.events import CLICK, DRUMS, LIVE, SoundEvent, layer_part

PLAYING, GROOVE = "playing", "groove"
_LAYER = re.compile(r"layer ?:?([1-9][0-9]{0,5})")
_DRUM_CHANNEL = 9
#: The order of messages at one sample: what sets something, note-offs, bends, note-ons.
_SETUP, _OFF, _BEND, _ON = range(4)
#: Notes nearer than this, in quarters, are the same note of a pass and of the layer that was made
#: of it.
_SAME_Q = 1e-6

#: A file may ring on for so long after its end, and what is played in that time is heard.
_TAIL_SEC = 60.0

_Row = tuple[int, int, SoundEvent]


@dataclass(frozen=True)
class Score:
    """``events`` in order of time; the piece begins at ``first`` (sample) and ends at ``end``.
    ``parts``: what sounds, as named.
    """

    events: tuple[SoundEvent, ...]
    first: int
    end: int
    parts: tuple[str, ...]


def parts_of(take: Take) -> tuple[str, ...]:
    """The parts a take has, in order: the playing, its layers, the groove if its brief has one, and
    the click.
    """
    layers = tuple(f"layer{layer.number}" for layer in take.recording.layers)
    groove = (GROOVE,) if _has_groove(take) else ()
    return (PLAYING, *layers, *groove, CLICK)


def usual_parts(take: Take) -> tuple[str, ...]:
    """What was heard: everything but the click and what was muted, in the loop or in the mixer."""
    muted = {f"layer{number}" for number in take.recording.muted}
    return tuple(part for part in parts_of(take) if part not in (CLICK, *muted) and not _mixed(take, part)[1])


def mix_of_take(take: Take) -> dict[str, float]:
    """The levels its parts were heard at, in dB, by the score's names of the mixer's parts
    (``layer:N`` is layer N, whatever its place was).
    """
    return {mixer_name(part): _mixed(take, part)[0] for part in parts_of(take) if _mixed(take, part)[0] != 0.0}


def mixer_name(part: str) -> str:
    """The mixer's name of a part: ``live`` for the playing, ``layer:2`` for ``layer2``."""
    if part.startswith("layer"):
        return layer_part(int(part[5:]))
    return {PLAYING: LIVE, GROOVE: DRUMS}.get(part, part)


def _mixed(take: Take, part: str) -> tuple[float, bool]:
    """Level and mute of a part in the mixer when the take was kept.

    There are fewer places than layers may be: they share them.
    """
    place = layer_part(slot_of(int(part[5:]))) if part.startswith("layer") else mixer_name(part)
    return take.recording.mix.get(place, (0.0, False))


def parse_parts(text: str, take: Take) -> tuple[str, ...]:
    """``playing,layer1,click``; ``layers`` stands for all layers. In the order of ``parts_of``.
    Raises UserError if a part does not exist.
    """
    there = parts_of(take)
    wanted: set[str] = set()
    for word in text.split(","):
        name = word.strip().lower()
        number = _LAYER.fullmatch(name)
        name = f"layer{number[1]}" if number is not None else name
        if name == "layers" and take.recording.layers:
            wanted.update(part for part in there if part.startswith("layer"))
        elif name in there:
            wanted.add(name)
        else:
            raise UserError(f"There is no part {word.strip()[:40]!r} in this take; there are {', '.join(there)}.")
    return tuple(part for part in there if part in wanted)


def score_of_take(
    take: Take,
    rate: int,
    parts: Sequence[str] | None = None,
    straight: bool = False,
    from_bar: int = 1,
    bars: int | None = None,
) -> Score:
    """Lay out the chosen parts (``usual_parts`` by default) of a take, or ``bars`` bars of it,
    counted from 1 at the first pass.

    ``straight`` puts notes and layers at their written places. Raises UserError if a bar does not
    exist.
    """
    chosen = tuple(parts) if parts is not None else usual_parts(take)
    piece = piece_of_take(take, straight)
    tempo = tempo_of(piece)
    playing, layers = _split(take, piece)
    lead_q = _lead_q(take, piece)
    first, end = _span(take, piece, tempo, lead_q, from_bar, bars)
    rows: list[_Row] = []
    if PLAYING in chosen:
        taken: dict[tuple[int, int], int] = {}
        drums = has_drums(take) or bool(take.recording.meters)
        for index, track in enumerate(playing):
            track = _until(track, tempo, end)
            own = sorted(set(track.channel.tolist()))
            channels = {channel: _channel(taken, index, channel) for channel in own}
            rows += _track_rows(track, tempo, rate, LIVE, channels, drums=drums)
            rows += _driven_rows(track, tempo, rate, channels)
    played = take.notes().array
    for layer, track in zip(take.recording.layers, layers, strict=True):
        if f"layer{layer.number}" in chosen:
            from_q = _heard_from(layer, take, played, lead_q) if PLAYING in chosen else -np.inf
            heard = _until(_later(track, from_q), tempo, end)
            part = layer_part(layer.number)
            rows += _track_rows(heard, tempo, rate, part, {}, drums=False)
            if layer.program - 1 in DRIVEN_PROGRAMS:
                rows.append((0, _SETUP, SoundEvent(0, part, bytes((0xC0 | layer.channel, layer.program - 1)))))
    for part, name in ((CLICK, CLICK), (DRUMS, GROOVE)):
        if name in chosen:
            rows += _stroke_rows(take, piece, tempo, rate, lead_q, part)
    rows.sort(key=lambda row: row[:2])
    if from_bar == 1 and PLAYING not in chosen:
        # The bar in front is for what was played before the first pass.
        first = float(tempo.seconds(lead_q))
    return Score(tuple(row[2] for row in rows), round(first * rate), round(end * rate), chosen)


def first_pass(take: Take, rate: int) -> tuple[int, float]:
    """The sample at which the first pass of a take begins in its score, and the seconds of a
    quarter there.
    """
    piece = piece_of_take(take)
    tempo, lead_q = tempo_of(piece), _lead_q(take, piece)
    sec = float(tempo.seconds(lead_q))
    return round(sec * rate), float(tempo.seconds(lead_q + 1)) - sec


def tempo_of(piece: Piece) -> TempoMap:
    """Quarters of a piece to its seconds and back, from quarter 0 at second 0."""
    points: list[Anchor] = []
    for quarter, qpm in piece.tempi:
        sec = points[-1].sec_at(quarter) if points else 0.0
        points.append(Anchor(sec, quarter if points else 0.0, qpm))
    return TempoMap(points)


def _has_groove(take: Take) -> bool:
    return not take.recording.meters and take.brief.groove.partition(" ")[0] != OFF


def _split(take: Take, piece: Piece) -> tuple[tuple[PieceTrack, ...], tuple[PieceTrack, ...]]:
    """The tracks of the playing, and those of the layers, which come last in a piece."""
    count = len(piece.tracks) - len(take.recording.layers)
    return piece.tracks[:count], piece.tracks[count:]


def _lead_q(take: Take, piece: Piece) -> float:
    """The bars that a piece has in front of the first pass, in quarters."""
    if take.recording.meters:
        bar_q = float(take.recording.meters[0][1].quarters)
    else:
        bar_q = float(take.brief.cycle.meters[0].quarters)
    own = _first_q(take)
    found = min((float(track.onset_q.min()) for track in piece.tracks if len(track.onset_q)), default=None)
    return 0.0 if own is None or found is None else max(round((found - own) / bar_q), 0) * bar_q


def _first_q(take: Take) -> float | None:
    """Where the first note of a take sounds, in quarters from the start of its first pass; None
    without notes.
    """
    onsets = take.notes().array["onset_sec"]
    places = [take.tempo().quarters(onsets), *(layer.places(take.brief) for layer in take.recording.layers)]
    every = np.concatenate(places)
    every = every[~np.isnan(every)]
    return float(every.min()) if len(every) else None


def _heard_from(layer: Layer, take: Take, array: NDArray[Any], lead_q: float) -> float:
    """From where on a layer was heard beside the playing (``array``, its notes): after the last
    pass that it was made of, if it was.
    """
    cycle_q = float(take.brief.cycle.quarters)
    if not len(layer) or not len(array) or not take.recording.passes:
        return -np.inf
    played = take.tempo().quarters(take.judged_sec)
    made_of = -1
    for index in range(take.recording.passes):
        there = [
            bool(((np.abs(played - index * cycle_q - onset) < _SAME_Q) & (array["pitch"] == pitch)).any())
            for onset, pitch in zip(layer.notes["onset_q"].tolist(), layer.notes["pitch"].tolist(), strict=True)
        ]
        if all(there):
            made_of = index
    if made_of < 0:
        return -np.inf
    return lead_q + (made_of + 1) * cycle_q - take.brief.slots.half_q - _SAME_Q


def _until(track: PieceTrack, tempo: TempoMap, end_sec: float) -> PieceTrack:
    """The track without what begins at ``end_sec`` or later: nobody will hear it."""
    rows = np.flatnonzero(tempo.seconds(track.onset_q) < end_sec + _TAIL_SEC)
    return track if len(rows) == len(track.onset_q) else track.only(rows)


def _later(track: PieceTrack, from_q: float) -> PieceTrack:
    """The track without what sounds before ``from_q``."""
    rows = np.flatnonzero(track.onset_q >= from_q)
    if len(rows) == len(track.onset_q):
        return track
    return track.only(rows)


def _channel(taken: dict[tuple[int, int], int], track: int, channel: int) -> int:
    """A channel of the live part for a channel of a track: its own while it is free, so that tracks
    do not end each other's notes.
    """
    if (track, channel) not in taken:
        free = [one for one in (channel, *range(16)) if one not in taken.values()]
        taken[track, channel] = free[0] if free else channel
    return taken[track, channel]


def _track_rows(
    track: PieceTrack, tempo: TempoMap, rate: int, part: str, channel_of: Mapping[int, int], drums: bool
) -> Iterable[_Row]:
    reach = max((float(np.abs(curve[:, 1]).max()) for curve in track.bends if len(curve)), default=0.0)
    bend_range = min(max(2, ceil(reach)), 96)
    on, off = (
        np.round(tempo.seconds(where) * rate).astype(np.int64)
        for where in (track.onset_q, track.onset_q + track.duration_q)
    )
    off = np.maximum(off, on + 1)
    source = track.source if track.source is not None else np.full(len(on), -1, np.int64)
    dead = track.dead if track.dead is not None else np.zeros(len(on), bool)
    goes_on = np.flatnonzero(source >= 0)
    # A string that another note goes on from is held until then, and ends with it.
    off[source[goes_on]] = np.maximum(on[goes_on], on[source[goes_on]]) + 1
    columns = zip(
        on.tolist(), off.tolist(), track.onset_q.tolist(), track.pitch.tolist(), track.velocity.tolist(),
        track.channel.tolist(), track.bends, source.tolist(), dead.tolist(), strict=True,
    )  # fmt: skip
    bends: dict[tuple[int, int], bytes] = {}
    channels: set[int] = set()
    muffled: set[int] = set()
    for start, stop, onset_q, pitch, velocity, own, curve, before, muted in columns:
        if drums and own == _DRUM_CHANNEL:
            yield start, _ON, SoundEvent(start, DRUMS, bytes((0x90 | own, pitch, min(max(velocity, 1), 127))))
            continue
        channel = channel_of.get(own, own)
        channels.add(channel)
        for after_q, semitones in curve.tolist():
            when = round(float(tempo.seconds(onset_q + after_q)) * rate)
            if when < stop:
                bends[when, channel] = bend_data(channel, semitones, bend_range)
        if muted != (channel in muffled):
            (muffled.add if muted else muffled.discard)(channel)
            value = NO_DECAY if muted else USUAL_DECAY
            yield start, _ON, SoundEvent(start, part, bytes((0xB0 | channel, DECAY, value)))
        if before >= 0 and track.pitch[before] != pitch:
            came = int(track.pitch[before])
            yield start, _ON, SoundEvent(start, part, bytes((0xB0 | channel, PORTAMENTO_CONTROL, came)))
        yield start, _ON, SoundEvent(start, part, bytes((0x90 | channel, pitch, min(max(velocity, 1), 127))))
        yield stop, _OFF, SoundEvent(stop, part, bytes((0x80 | channel, pitch, 64)))
    yield from _bend_rows(bends, bend_range, part)
    if bend_range > 2:
        for channel in sorted(channels):
            for setting in range_data(channel, bend_range, close=True):
                yield 0, _SETUP, SoundEvent(0, part, setting)


def _bend_rows(bends: Mapping[tuple[int, int], bytes], bend_range: int, part: str) -> Iterable[_Row]:
    """The bends by (sample, channel), but for those that change nothing."""
    now: dict[int, bytes] = {}
    for (when, channel), data in sorted(bends.items()):
        if now.get(channel, bend_data(channel, 0.0, bend_range)) != data:
            yield when, _BEND, SoundEvent(when, part, data)
        now[channel] = data


def _driven_rows(track: PieceTrack, tempo: TempoMap, rate: int, channel_of: Mapping[int, int]) -> Iterable[_Row]:
    """The programs of a track of the playing, where one of them is an overdriven guitar; all others
    sound alike.
    """
    chosen = [(0.0, channel, track.program) for channel in channel_of if track.program is not None]
    chosen += track.programs
    if not any(program - 1 in DRIVEN_PROGRAMS for _, _, program in chosen):
        return
    for quarter, channel, program in chosen:
        at = round(float(tempo.seconds(quarter)) * rate)
        yield at, _SETUP, SoundEvent(at, LIVE, bytes((0xC0 | channel_of.get(channel, channel), program - 1)))


def _stroke_rows(take: Take, piece: Piece, tempo: TempoMap, rate: int, lead_q: float, part: str) -> Iterable[_Row]:
    """The click or the groove from the first pass to the end of the piece."""
    level = take.brief.click_level
    places: list[tuple[float, int, int]] = []
    if take.recording.meters:
        for start, end, cycle in _bars(piece):
            for click in cycle.clicks:
                quarter = start + float(click.position)
                if quarter < end:
                    places.append((quarter, CLICK_NOTES[click.kind], round(level * CLICK_WEIGHT[click.kind])))
    else:
        cycle_q = float(take.brief.cycle.quarters)
        for index in range(ceil((piece.length_q - lead_q) / cycle_q - 1e-6)):
            first_bar = take.recording.first_bar + index * len(take.brief.cycle.meters)
            for stroke in strokes(take.brief, take.recording.run_pass + index, first_bar):
                quarter = lead_q + index * cycle_q + stroke.quarter
                if stroke.part == part and quarter < piece.length_q - 1e-9:
                    velocity = stroke.velocity if stroke.velocity is not None else round(level * stroke.weight)
                    places.append((quarter, stroke.note, velocity))
    for quarter, note, velocity in places:
        sample = round(float(tempo.seconds(quarter)) * rate)
        if velocity > 0:
            yield sample, _ON, SoundEvent(sample, part, bytes((0x90 | _DRUM_CHANNEL, note, velocity)))


def _bars(piece: Piece) -> Iterable[tuple[float, float, Cycle]]:
    """(start, end, meter as a cycle) of every bar of a piece; a meter that changes in mid-bar cuts
    the bar short.
    """
    ends = [float(start) for start, _ in piece.meters[1:]] + [piece.length_q]
    for (start, meter), end in zip(piece.meters, ends, strict=True):
        cycle, long = Cycle((meter,)), float(meter.quarters)
        count = max(ceil((end - float(start)) / long - 1e-6), 0)
        for index in range(count):
            begin = float(start) + index * long
            yield begin, min(begin + long, end), cycle


def _span(
    take: Take, piece: Piece, tempo: TempoMap, lead_q: float, from_bar: int, bars: int | None
) -> tuple[float, float]:
    """The seconds from which to which the piece is wanted."""
    if from_bar == 1 and bars is None:
        return 0.0, float(tempo.seconds(piece.length_q))
    if take.recording.meters:
        starts = [start for start, _, _ in _bars(piece) if start >= lead_q - 1e-9]
    else:
        cycle = take.brief.cycle
        cycle_q = float(cycle.quarters)
        passes = ceil((piece.length_q - lead_q) / cycle_q - 1e-6)
        starts = [lead_q + index * cycle_q + float(start) for index in range(passes) for start in cycle.bar_starts]
    if not 1 <= from_bar <= len(starts):
        raise UserError(f"There is no bar {from_bar}: the take has {len(starts)} bars, counted from 1.")
    if bars is not None and bars < 1:
        raise UserError(f"{bars} bars cannot be rendered; 1 or more would be right.")
    last = from_bar - 1 + (bars if bars is not None else len(starts))
    end_q = starts[last] if last < len(starts) else max(piece.length_q, starts[-1])
    return float(tempo.seconds(starts[from_bar - 1])), float(tempo.seconds(end_q))
