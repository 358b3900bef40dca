"""A take: a kept stretch of playing with the brief it was played in, and what the player says of
it.

Conventions
    What was played is a ``Recording`` (``looper.recording``), whose times and quarters count from
    the start of the first pass. Nothing that was played is ever changed: notes, bars and offsets
    are views computed from the events.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.analysis.timing import Feel, place_onsets
from loopdeck.analysis.transcription.beats import Stretch
from loopdeck.brief.brief import Brief
from loopdeck.capture.bulk_pairing import pair
from loopdeck.capture.events import Event
from loopdeck.capture.notes import Notes
from loopdeck.looper.heard import Views, views_of_text
from loopdeck.looper.keep import Keep
from loopdeck.looper.recording import RECORDED, Recording, recorded
from loopdeck.looper.transport import Anchor
from loopdeck.rhythm.meter import Cycle
from loopdeck.rhythm.tempo import TempoMap

if TYPE_CHECKING:
    from loopdeck.capture.smf_read import SmfRecording

PLAYED, IMPORTED, RECOVERED = "played", "imported", "recovered"
MAX_RATING = 5
MAX_NAME = 200


@dataclass(frozen=True, kw_only=True)
class Take:
    """One take: a recording and what the player says of it. ``number`` is None until the shelf has
    given it one.
    """

    recording: Recording
    name: str
    kept_at: str
    origin: str = PLAYED
    rating: int = 0
    tags: tuple[str, ...] = ()
    note: str = ""
    number: int | None = None

    @property
    def brief(self) -> Brief:
        """The constraints it was played in."""
        return self.recording.brief

    @property
    def named(self) -> str:
        """Its number and name inside a sentence: ``take 3, 'quay steps'``, and ``'quay steps'`` for
        one that has no number.
        """
        return f"{self.name!r}" if self.number is None else f"take {self.number}, {self.name!r}"

    @property
    def said(self) -> str:
        """The same where a sentence begins: ``Take 3, 'quay steps',``."""
        return self.named if self.number is None else f"T{self.named[1:]},"

    def changed(self, **fields: Any) -> "Take":
        """The same with other fields, of the take's own or of its recording."""
        played = {name: fields.pop(name) for name in RECORDED if name in fields}
        return replace(self, recording=replace(self.recording, **played), **fields)

    def notes(self) -> Notes:
        """What was played, as notes, with the latency of each input taken off."""
        return self._notes

    @cached_property
    def _notes(self) -> Notes:
        return pair(self._in_time(self.recording.events), self._end())

    def _in_time(self, events: Iterable[Event]) -> list[Event]:
        """Events with the latency of their input taken off."""
        if not self.recording.late:
            return list(events)
        return [event._replace(time_sec=event.time_sec - self.recording.late.get(event.port, 0.0)) for event in events]

    @cached_property
    def seen(self) -> Views:
        """How its inputs heard their strings; no inputs where no pickup was named."""
        return views_of_text(self.recording.views)

    @cached_property
    def judged_sec(self) -> NDArray[np.float64]:
        """When each of ``notes`` was played as it was judged then: onsets with the delay of the
        input's pickup taken off, shape (n,).
        """
        array = self._notes.array
        inputs = self.seen.inputs
        if not inputs:
            return np.asarray(array["onset_sec"])
        ports = {
            (event.time_sec - self.recording.late.get(event.port, 0.0), event.data[0] & 0x0F, event.data[1]): event.port
            for event in self.recording.events
            if len(event.data) == 3 and event.data[0] & 0xF0 == 0x90 and event.data[2]
        }
        places = zip(array["onset_sec"].tolist(), array["channel"].tolist(), array["pitch"].tolist(), strict=True)
        heard = [(inputs.get(ports.get((sec, channel, pitch), -1)), pitch) for sec, channel, pitch in places]
        return np.asarray(array["onset_sec"] - [0.0 if one is None else one.late_sec(pitch) for one, pitch in heard])

    def notes_by_input(self) -> dict[int, Notes]:
        """The same notes by the input they came from (the track, in an imported file), in order of
        inputs.
        """
        events: dict[int, list[Event]] = {}
        for event in self.recording.events:
            events.setdefault(event.port, []).append(event)
        if len(events) == 1:
            return {port: self._notes for port in events}
        return {port: pair(self._in_time(events[port]), self._end()) for port in sorted(events)}

    def _end(self) -> float:
        return max([self.recording.end_sec, *(event.time_sec for event in self.recording.events[-1:])])

    def tempo(self) -> TempoMap:
        """Seconds to quarters and back."""
        start = Anchor(0.0, 0.0, self.brief.tempo.quarters_per_minute)
        return TempoMap(self.recording.tempo_map or (start,))

    def stretches(self) -> tuple[Stretch, ...]:
        """The meters: the brief's cycle over and over, or the bars of an imported file."""
        if self.recording.meters:
            return tuple(Stretch(quarter, Cycle((meter,))) for quarter, meter in self.recording.meters)
        return (Stretch(Fraction(0), self.brief.cycle),)

    def bars(self, onsets_sec: ArrayLike) -> NDArray[np.int64]:
        """The bar of each onset, counted from 1; an early downbeat belongs to the bar it begins."""
        onsets = np.asarray(onsets_sec, float)
        if not len(onsets):
            return np.zeros(0, np.int64)
        return place_onsets(
            self.tempo().quarters(onsets), self.stretches(), Feel(self.brief.grid, self.brief.swing)
        ).bar


def name_of_brief(brief: Brief) -> str:
    """What a take without a name is called: its brief's name, or, where that has none, its scale or
    its meters.
    """
    if brief.name and brief.name != Brief.default().name:
        return brief.name
    return f"{brief.scale or 'riff'} in {brief.cycle}"[:MAX_NAME]


def clean(text: str) -> str:
    """One line without what a terminal would obey instead of showing."""
    return text if text.isprintable() else "".join(sign if sign.isprintable() else "?" for sign in text)


def now_text() -> str:
    """This moment in UTC, as ISO 8601 with seconds."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def name_of_keep(keep: Keep) -> str:
    """The name that was given with a keep, as a take can have it; empty for none."""
    return clean(keep.name.strip())[:MAX_NAME].strip()


def take_of_keep(
    keep: Keep,
    origin: str = PLAYED,
    kept_at: str | None = None,
    mix: Mapping[str, tuple[float, bool]] | None = None,
) -> Take:
    """A take of what the looper kept, as loud as it was in the mixer.

    Without a name it is called after its brief.
    """
    kept_at = kept_at or now_text()
    return Take(
        recording=Recording(**{**recorded(keep), "mix": dict(mix or {})}),
        name=name_of_keep(keep) or name_of_brief(keep.brief),
        kept_at=kept_at,
        origin=origin,
    )


def take_of_file(path: str | Path, name: str | None = None) -> Take:
    """Any Standard MIDI File as a take. Raises UserError if it is not one."""
    from loopdeck.capture.smf_read import read_smf

    return take_of_recording(read_smf(path), name or Path(path).stem)


def take_of_recording(recording: "SmfRecording", name: str) -> Take:
    """What stands in a Standard MIDI File as a take of that name."""
    # A file may have a name that no terminal should be sent, or that is not text at all.
    words = clean(name)
    fields: dict[str, Any] = {}
    qpm = recording.tempo_map[0][2] if recording.tempo_map else 120.0
    if 20.0 <= qpm <= 400.0:
        # The shortest number that is written with the same whole microseconds a quarter: 97, not
        # 96.999953.
        texts = (f"{qpm:.{digits}f}" for digits in range(7))
        fields["tempo"] = next((t for t in texts if round(60e6 / float(t)) == round(60e6 / qpm)), f"{qpm:.6f}")
    meters = recording.meters or ((Fraction(0), Brief.default().cycle.meters[0]),)
    if meters[0][0] > 0:
        meters = ((Fraction(0), Brief.default().cycle.meters[0]), *meters)
    fields["cycle"] = str(meters[0][1])
    return Take(
        name=words.strip()[:MAX_NAME] or "imported",
        kept_at=now_text(),
        origin=IMPORTED,
        recording=Recording(
            brief=Brief.default().replace(**{**fields, "name": "imported"}),
            events=recording.events,
            # A file that names no tempo has that of its brief, and says so by naming none here.
            tempo_map=tuple(Anchor(*point) for point in recording.tempo_map) if recording.names_tempo else (),
            end_sec=recording.end_sec,
            meters=meters,
            key=recording.key,
        ),
    )
