"""One track of a Standard MIDI File: delta times, running status, meta events. See ``smf_read`` for
what is forgiven.

Conventions
    Ticks count from the start of the track. Offsets in errors count bytes from the start of the
    file, so that they can be found with any hex viewer.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

from loopdeck.capture.bytestream import DATA_BYTES
from loopdeck.errors import UserError

#: Events of one file, of all kinds together: nine hours of bass at 30 a second.
MAX_EVENTS = 1_000_000
#: Tempos, meters, keys and names of one file together.
MAX_METAS = 50_000

META_NAME, META_END, META_TEMPO, META_METER, META_KEY = 0x03, 0x2F, 0x51, 0x58, 0x59
_KEPT_METAS = (META_NAME, META_TEMPO, META_METER, META_KEY)

_STATUS = [bytes((status,)) for status in range(256)]


class Meta(NamedTuple):
    """A meta event that says something of the music: tempo, meter, key, or the name of the
    track.
    """

    tick: int
    kind: int
    data: bytes


@dataclass
class Track:
    """What one track holds.

    ``ticks`` and ``messages`` (whole channel messages) go together; ``read`` counts events of all
    kinds.
    """

    ticks: list[int] = field(default_factory=list)
    messages: list[bytes] = field(default_factory=list)
    metas: list[Meta] = field(default_factory=list)
    end_tick: int = 0
    ended: bool = False
    clipped: int = 0
    read: int = 0


def read_quantity(data: bytes, at: int, end: int) -> tuple[int, int]:
    """A variable-length quantity at offset ``at`` (seven bits a byte, highest first, all but the
    last with bit 7 set) and where it ends.

    Raises ValueError when it runs into ``end``, OverflowError when it is longer than the four bytes
    that the standard allows.
    """
    value = 0
    for place in range(at, min(at + 4, end)):
        byte = data[place]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, place + 1
    if at + 4 > end:
        raise ValueError
    raise OverflowError


def read_track(data: bytes, begin: int, end: int, name: str, events: int = 0, metas: int = 0) -> Track:
    """The track whose bytes are ``data[begin:end]``; ``name`` says which one in errors ("track 2 of
    riff.mid").

    ``events`` and ``metas`` were read of the file before. Raises UserError for what breaks off,
    what cannot be told apart, and for more than MAX_EVENTS or MAX_METAS.
    """
    track = Track()
    at, tick, status = begin, 0, 0
    try:
        while at < end:
            if data[at] < 0x80:  # nearly all of them: a quantity of one byte
                tick += data[at]
                at += 1
            else:
                delta, at = read_quantity(data, at, end)
                tick += delta
            track.read += 1
            if events + track.read > MAX_EVENTS:
                raise UserError(f"{name} goes beyond {MAX_EVENTS:,} events, the most that one file can have.")
            if metas + len(track.metas) > MAX_METAS:
                raise UserError(f"{name} goes beyond {MAX_METAS:,} changes of tempo, meter or key in one file.")
            if at >= end:
                raise ValueError
            byte = data[at]
            if byte >= 0xF0:
                at = _system(data, at, end, name, tick, track)
                if track.ended:
                    break
                continue
            if byte >= 0x80:
                status = byte
                at += 1
            elif not status:
                raise UserError(f"{name} has the data byte {byte:#04x} at offset {at}, where a status byte is due.")
            last = at + DATA_BYTES[status & 0xF0]
            if last > end:
                raise ValueError
            values = data[at:last]
            if not values.isascii():
                values = bytes(min(value, 127) for value in values)
                track.clipped += 1
            track.ticks.append(tick)
            track.messages.append(_STATUS[status] + values)
            at = last
    except ValueError as error:
        if isinstance(error, UserError):
            raise
        raise UserError(f"{name} breaks off in the middle of an event, near offset {at}.") from None
    except OverflowError:
        raise UserError(f"{name} has a quantity of more than four bytes at offset {at}.") from None
    track.end_tick = tick
    return track


def _system(data: bytes, at: int, end: int, name: str, tick: int, track: Track) -> int:
    """A meta event (FF) or a system exclusive one (F0, F7) at offset ``at``; returns where it
    ends.
    """
    status, kind = data[at], 0
    begin = at + 1
    if status == 0xFF:
        if begin >= end:
            raise ValueError
        kind = data[begin]
        begin += 1
    elif status not in (0xF0, 0xF7):
        raise UserError(f"{name} has the byte {status:#04x} at offset {at}, which has no business in a file.")
    length, begin = read_quantity(data, begin, end)
    if begin + length > end:
        raise ValueError
    if status == 0xFF:
        if kind == META_END:
            track.ended = True
        elif kind in _KEPT_METAS:
            # The longest that means anything is a name; the rest of a megabyte of it does not.
            track.metas.append(Meta(tick, kind, data[begin : begin + min(length, 1024)]))
    return begin + length
