"""Standard MIDI Files read into raw events, with their tempo, meters and key.

Task
    Any file of formats 0, 1 and 2, by whomever it was made, and never one that hangs us or fills
    the memory. The file is read in one go by ourselves: every length in it is checked before it is
    believed.

Conventions
    Times are seconds from the start of the file, positions quarters; ``Event.port`` is the track,
    counted from 0, so that notes of two tracks never end each other. Channel messages become
    events; system exclusive ones set up somebody's device and are left out. Within one instant
    events stand in the order of tracks, then of the file. The tempo is 120 quarters a minute until
    set. The patterns of a format 2 file follow one another, each starting at 120. A file that
    counts in frames (SMPTE division) has its times from the frames; its tempo map says where
    quarters would fall.

What is forgiven, and said in ``remarks``
    Data bytes above 127 are clipped to it. Meters, keys and tempos that mean nothing are ignored. A
    track may lack its end mark. Running status goes on after a meta event or system exclusive
    message, as many files want it. More tracks than announced are read; bytes after the last track
    are not.
What is not: a file or track that ends in the middle of something, data where a status byte is due,
quantities longer than four bytes.

Source: Standard MIDI Files 1.0 (RP-001), from memory; the check values in
tests/outside/test_smf_spec.py.
"""

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.capture.events import Event
from loopdeck.capture.smf_track import META_KEY, META_METER, META_NAME, META_TEMPO, Meta, Track, read_track
from loopdeck.errors import UserError
from loopdeck.files import open_ordinary
from loopdeck.rhythm.meter import Meter, parse_meter
from loopdeck.rhythm.tempo import TempoMap

MAX_FILE = 64 << 20
MAX_TRACKS = 4096
#: A longer piece is a mistake or an attack: whoever goes through it bar by bar would never come
#: back.
MAX_SEC = 7 * 24 * 3600.0
MAX_QUARTERS = 10_000_000
#: Remarks kept of one file.
MAX_REMARKS = 20

DEFAULT_TEMPO_US = 500_000
_FRAMES = {24: Fraction(24), 25: Fraction(25), 29: Fraction(30_000, 1001), 30: Fraction(30)}
#: The resolution of the positions of a file that has none of its own because it counts in frames.
_FRAME_FILE_TICKS = 960


@dataclass(frozen=True)
class SmfRecording:
    """A MIDI file as it was read.

    ``tempo_map``: (second, quarter, quarters a minute) where each tempo begins; the first one at 0.
    ``meters``: (quarter, meter) where each begins, empty when the file names none. ``key``:
    (sharps, or flats below 0; minor), the first one named. ``track_names``: one a track, "" without
    name. ``ticks_per_quarter``: the file's resolution (960 when it counts in frames). ``end_sec``:
    where the longest track ends. ``remarks``: sentences on what was ignored or corrected.
    ``names_tempo``: False where the tempo is the standard's 120 because the file names none.
    """

    events: tuple[Event, ...]
    tempo_map: tuple[tuple[float, float, float], ...]
    meters: tuple[tuple[Fraction, Meter], ...]
    key: tuple[int, bool] | None
    track_names: tuple[str, ...]
    ticks_per_quarter: int
    end_sec: float
    remarks: tuple[str, ...] = ()
    names_tempo: bool = True

    def seconds(self, quarters: ArrayLike) -> NDArray[np.float64]:
        """When positions fall, in seconds: any shape in, the same shape out. Before 0 and after the
        end the tempo goes on.
        """
        return TempoMap(self.tempo_map).seconds(quarters)

    def quarters(self, seconds: ArrayLike) -> NDArray[np.float64]:
        """Where times lie, in quarters: any shape in, the same shape out; the inverse of
        ``seconds``.
        """
        return TempoMap(self.tempo_map).quarters(seconds)


def read_smf(path: str | Path) -> SmfRecording:
    """Read a Standard MIDI File.

    Raises UserError if it is not one, broken or too large; OSError if it cannot be opened.
    """
    with open_ordinary(path, "a Standard MIDI File", MAX_FILE) as file:
        # One byte more than the limit shows a file that grew since it was looked at.
        data = file.read(MAX_FILE + 1)[:MAX_FILE]
    return parse_smf(data, str(path))


def parse_smf(data: bytes, name: str) -> SmfRecording:
    """Read the bytes of a Standard MIDI File; ``name`` says which one in errors. Raises
    UserError.
    """
    kind, division, announced, at = _header(data, name)
    tracks = _tracks(data, at, announced, name)
    remarks = _Remarks()
    for number, track in enumerate(tracks, 1):
        if track.clipped:
            remarks.add(f"Track {number} has {track.clipped} messages with data above 127; they were clipped to 127.")
        if not track.ended:
            remarks.add(f"Track {number} has no end mark; it was taken to end with its last event.")
    if len(tracks) > announced:
        remarks.add(f"The file announces {announced} tracks and has {len(tracks)}; all were read.")
    starts = [0] * len(tracks)
    if kind == 2:
        starts = list(accumulate((track.end_tick for track in tracks[:-1]), initial=0))
        for track in tracks[1:]:
            track.metas.insert(0, Meta(0, META_TEMPO, DEFAULT_TEMPO_US.to_bytes(3, "big")))
    metas = [
        Meta(start + meta.tick, meta.kind, meta.data)
        for start, track in zip(starts, tracks, strict=True)
        for meta in track.metas
    ]
    metas.sort(key=lambda meta: meta.tick)
    clock = _Clock(division, metas, name, remarks)
    end_tick = max(start + track.end_tick for start, track in zip(starts, tracks, strict=True))
    end_sec, end_quarter = float(clock.seconds(np.array([end_tick]))[0]), clock.quarter(end_tick)
    if end_sec > MAX_SEC or end_quarter > MAX_QUARTERS:
        raise UserError(
            f"{name} lasts {end_sec / 3600:,.0f} hours and {float(end_quarter):,.0f} quarters by its own account; "
            f"{MAX_SEC / 3600:,.0f} hours and {MAX_QUARTERS:,} quarters are the most that can be read."
        )
    return SmfRecording(
        _events(tracks, starts, clock),
        clock.tempo_map,
        _meters(metas, clock, remarks),
        _key(metas, remarks),
        tuple(_name(track) for track in tracks),
        clock.ticks_per_quarter,
        end_sec,
        tuple(remarks.sentences),
        clock.names_tempo,
    )


class _Remarks:
    """Sentences on what was ignored or corrected, the first MAX_REMARKS of them."""

    def __init__(self) -> None:
        self.sentences: list[str] = []

    def add(self, sentence: str) -> None:
        if len(self.sentences) < MAX_REMARKS:
            self.sentences.append(sentence)


# ---- the file's chunks ---------------------------------------------------------------------------


def _header(data: bytes, name: str) -> tuple[int, int, int, int]:
    """Format, division, number of tracks announced, and the offset after the header chunk."""
    if not data:
        raise UserError(f"{name} is empty; a Standard MIDI File was expected.")
    if data[:4] != b"MThd"[: len(data)]:
        raise UserError(f"{name} is not a Standard MIDI File; it does not begin with MThd.")
    if len(data) < 14:
        raise UserError(f"{name} breaks off inside its header; a Standard MIDI File has at least 14 bytes of it.")
    length = int.from_bytes(data[4:8], "big")
    kind, announced, division = (int.from_bytes(data[at : at + 2], "big") for at in (8, 10, 12))
    if length < 6 or 8 + length > len(data):
        raise UserError(f"{name} says that its header has {length:,} bytes; 6 were expected.")
    if kind > 2:
        raise UserError(f"{name} is a Standard MIDI File of format {kind}; there are only 0, 1 and 2.")
    return kind, division, announced, 8 + length


def _tracks(data: bytes, at: int, announced: int, name: str) -> list[Track]:
    """All the track chunks; chunks of other kinds are skipped, as the standard asks."""
    tracks: list[Track] = []
    events = metas = 0
    while at + 8 <= len(data):
        kind, length = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        begin, at = at + 8, at + 8 + length
        if at > len(data):
            if len(tracks) >= announced and kind != b"MTrk":
                break
            raise UserError(
                f"{name} is cut off: a part of {length:,} bytes begins at offset {begin}, and "
                f"{len(data) - begin:,} are there."
            )
        if kind == b"MTrk":
            if len(tracks) == MAX_TRACKS:
                raise UserError(f"{name} has more than {MAX_TRACKS:,} tracks, which is too many to be music.")
            tracks.append(read_track(data, begin, at, f"Track {len(tracks) + 1} of {name}", events, metas))
            events += tracks[-1].read
            metas += len(tracks[-1].metas)
    if not tracks:
        raise UserError(f"{name} is a Standard MIDI File without any track; there is nothing to read in it.")
    if len(tracks) < announced:
        raise UserError(f"{name} is cut off: it announces {announced} tracks and has {len(tracks)}.")
    return tracks


def _events(tracks: list[Track], starts: list[int], clock: "_Clock") -> tuple[Event, ...]:
    ticks = np.concatenate(
        [np.array(track.ticks, np.int64) + start for start, track in zip(starts, tracks, strict=True)]
    )
    ports = np.repeat(np.arange(len(tracks)), [len(track.ticks) for track in tracks])
    messages = [message for track in tracks for message in track.messages]
    order = np.argsort(ticks, kind="stable")
    times, sources = clock.seconds(ticks[order]).tolist(), ports[order].tolist()
    return tuple(
        Event(time, port, messages[row]) for time, port, row in zip(times, sources, order.tolist(), strict=True)
    )


# ---- what the meta events say --------------------------------------------------------------------


class _Clock:
    """Ticks to seconds and quarters, for both kinds of division."""

    def __init__(self, division: int, metas: list[Meta], name: str, remarks: _Remarks) -> None:
        self.ticks_per_quarter = division
        #: Seconds a tick of a file that counts in frames.
        self._tick_sec: Fraction | None = None
        if division & 0x8000:
            frames, parts = 256 - (division >> 8), division & 0xFF
            if frames not in _FRAMES or not parts:
                raise UserError(
                    f"{name} counts {parts} parts of {frames} frames a second; the standard has 24, 25, 29 and "
                    "30 frames."
                )
            self._tick_sec = 1 / (_FRAMES[frames] * parts)
            self.ticks_per_quarter = _FRAME_FILE_TICKS
        elif not division:
            raise UserError(f"{name} has 0 ticks a quarter; at least 1 was expected.")
        self._ticks, self._secs, self._quarters, self._tempos = [0], [0.0], [0.0], [DEFAULT_TEMPO_US]
        self.names_tempo = False
        for meta in metas:
            if meta.kind == META_TEMPO:
                self._tempo(meta, remarks)
        self.tempo_map = tuple(
            (sec, quarter, 60e6 / tempo)
            for sec, quarter, tempo in zip(self._secs, self._quarters, self._tempos, strict=True)
        )

    def _tempo(self, meta: Meta, remarks: _Remarks) -> None:
        tempo = int.from_bytes(meta.data, "big")
        if len(meta.data) != 3 or not tempo:
            remarks.add(f"A tempo of {tempo} microseconds a quarter, in {len(meta.data)} bytes, was ignored.")
            return
        self.names_tempo = True
        if tempo == self._tempos[-1]:
            return
        if meta.tick == self._ticks[-1]:
            self._tempos[-1] = tempo
            return
        ticks = meta.tick - self._ticks[-1]
        if self._tick_sec is None:
            quarters = ticks / self.ticks_per_quarter
            secs = quarters * self._tempos[-1] / 1e6
        else:
            secs = float(ticks * self._tick_sec)
            quarters = secs * 1e6 / self._tempos[-1]
        self._ticks.append(meta.tick)
        self._secs.append(self._secs[-1] + secs)
        self._quarters.append(self._quarters[-1] + quarters)
        self._tempos.append(tempo)

    def seconds(self, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
        """Ticks from the start of the file in seconds."""
        if self._tick_sec is not None:
            return np.asarray(ticks * (self._tick_sec.numerator / self._tick_sec.denominator), np.float64)
        row = np.searchsorted(self._ticks, ticks, side="right") - 1
        since = (ticks - np.array(self._ticks)[row]) / self.ticks_per_quarter
        result: NDArray[np.float64] = np.array(self._secs)[row] + since * np.array(self._tempos)[row] / 1e6
        return result

    def quarter(self, tick: int) -> Fraction:
        """One tick in quarters, exact where the file counts in quarters."""
        if self._tick_sec is None:
            return Fraction(tick, self.ticks_per_quarter)
        row = bisect_right(self._ticks, tick) - 1
        since = float((tick - self._ticks[row]) * self._tick_sec) * 1e6 / self._tempos[row]
        return Fraction(self._quarters[row] + since).limit_denominator(_FRAME_FILE_TICKS)


def _meters(metas: list[Meta], clock: _Clock, remarks: _Remarks) -> tuple[tuple[Fraction, Meter], ...]:
    meters: list[tuple[Fraction, Meter]] = []
    known: dict[bytes, Meter | None] = {}
    for meta in metas:
        if meta.kind != META_METER:
            continue
        written = meta.data[:2]
        if written not in known:
            known[written] = _meter(written, remarks)
        meter = known[written]
        if meter is None:
            continue
        quarter = clock.quarter(meta.tick)
        if meters and meters[-1][0] == quarter:
            meters.pop()
        if not meters or meters[-1][1] != meter:
            meters.append((quarter, meter))
    return tuple(meters)


def _meter(written: bytes, remarks: _Remarks) -> Meter | None:
    """A time signature's first two bytes: units in the bar, and the unit as a power of two."""
    try:
        units, power = written
        # 2 to the 200th is a legal byte and an absurd unit; as a word it stays short.
        text = f"{units}/{2**power}" if power <= 16 else f"{units}/2^{power}"
        return parse_meter(text)
    except UserError:
        remarks.add(f"The time signature {text} was ignored; it is not a meter that can be counted.")
    except ValueError:
        remarks.add(f"A time signature of {len(written)} bytes was ignored.")
    return None


def _key(metas: list[Meta], remarks: _Remarks) -> tuple[int, bool] | None:
    for meta in metas:
        if meta.kind != META_KEY:
            continue
        fifths = int.from_bytes(meta.data[:1], "big", signed=True)
        if len(meta.data) >= 2 and -7 <= fifths <= 7 and meta.data[1] <= 1:
            return fifths, bool(meta.data[1])
        remarks.add(f"The key signature {meta.data[:4].hex(' ') or 'without bytes'} was ignored.")
    return None


def _name(track: Track) -> str:
    """The first name of a track, without the control characters that could upset a terminal."""
    for meta in track.metas:
        if meta.kind == META_NAME:
            try:
                text = meta.data.decode("utf-8")
            except UnicodeDecodeError:
                text = meta.data.decode("latin-1")
            return "".join(letter for letter in text if letter.isprintable())[:100].strip()
    return ""
