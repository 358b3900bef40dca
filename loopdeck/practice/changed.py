"""A take at another tempo or in another key, to be heard: what was played stays as it is on the
shelf.
"""

from dataclasses import replace

from loopdeck.capture.events import Event
from loopdeck.errors import UserError
from loopdeck.looper.heard import moved_views
from loopdeck.looper.layers import Layer
from loopdeck.rhythm.tempo import FASTEST_QPM, SLOWEST_QPM
from loopdeck.shelf.take import Take
from loopdeck.theory.pitch import pitch_name

#: More than four octaves up or down is a slip.
MOST_SEMITONES = 48
#: Channel 10, counted from 0: the drums of an imported file (General MIDI level 1).
_DRUMS = 9


def at_tempo(take: Take, qpm: float) -> Take:
    """The take so that it begins at ``qpm`` quarters a minute; every change of tempo in it keeps
    its proportion. Raises UserError.
    """
    if not SLOWEST_QPM <= qpm <= FASTEST_QPM:
        raise UserError(
            f"A tempo of {qpm:g} is out of range; it must lie between {SLOWEST_QPM} and {FASTEST_QPM} quarters "
            "a minute."
        )
    points = take.tempo().points
    begun = [point for point in points if point[1] <= 0] or points[:1]
    ratio = begun[-1][2] / qpm
    events = (
        event._replace(time_sec=(event.time_sec - take.recording.late.get(event.port, 0.0)) * ratio)
        for event in take.recording.events
    )
    return take.changed(
        # The order of events is that of their moments, also of inputs that were late by different
        # amounts.
        events=tuple(sorted(events, key=lambda event: event.time_sec)) if take.recording.late else tuple(events),
        tempo_map=tuple(
            anchor._replace(sec=anchor.sec * ratio, qpm=anchor.qpm / ratio) for anchor in take.recording.tempo_map
        ),
        end_sec=take.recording.end_sec * ratio,
        late={},
        views=moved_views(take.recording.views, slower=ratio),
        brief=take.brief.replace(tempo=f"{qpm:.6f}".rstrip("0").rstrip("."), ramp="off"),
    )


def transposed(take: Take, semitones: int) -> Take:
    """The take moved by ``semitones``, up above 0; drums stay. Raises UserError if a note would
    leave MIDI's range.
    """
    if abs(semitones) > MOST_SEMITONES:
        raise UserError(f"{semitones} semitones are out of range; at most {MOST_SEMITONES} up or down would be right.")
    if semitones == 0:
        return take
    scale = take.brief.scale
    brief = take.brief
    if scale is not None:
        root = pitch_name((scale.root.pitch_class + semitones) % 12, flats=True).rstrip("-0123456789")
        brief = brief.replace(scale=f"{root} {scale.name}")
    return take.changed(
        views=moved_views(take.recording.views, semitones=semitones),
        brief=brief,
        events=tuple(_moved(event, semitones, bool(take.recording.meters)) for event in take.recording.events),
        layers=tuple(_moved_layer(layer, semitones) for layer in take.recording.layers),
    )


def _checked(pitch: int, semitones: int) -> int:
    if not 0 <= pitch + semitones <= 127:
        raise UserError(f"{semitones:+d} semitones would move a note beyond what MIDI has; move it less.")
    return pitch + semitones


def _moved(event: Event, semitones: int, drums: bool) -> Event:
    data = event.data
    # Note-off, note-on and key pressure carry a pitch (MIDI 1.0).
    if len(data) != 3 or not 0x80 <= data[0] < 0xB0 or (drums and data[0] & 0x0F == _DRUMS):
        return event
    return event._replace(data=bytes((data[0], _checked(data[1], semitones), data[2])))


def _moved_layer(layer: Layer, semitones: int) -> Layer:
    notes = layer.notes.copy()
    for pitch in notes["pitch"].tolist():
        _checked(int(pitch), semitones)
    notes["pitch"] += semitones
    return replace(layer, notes=notes)
