"""Takes to bytes and back, bit for bit.

The bytes: a version byte (2), then zlib over the body, whose own checksum tells a damaged one.
Events: for each ``<dII`` (seconds, port, length of the message) and the message; in version 1
``<dBH``, which is still read. Layers: JSON, in which Python writes floats so that they read back
exactly.
"""

import json
import math
import re
import struct
import zlib
from fractions import Fraction
from typing import Any

import numpy as np

from loopdeck.capture.events import Event
from loopdeck.errors import UserError
from loopdeck.looper.layers import LAYER_DTYPE, Layer
from loopdeck.looper.transport import Anchor
from loopdeck.rhythm.meter import Meter, parse_meter
from loopdeck.shelf.errors import DamagedTake

VERSION = 2
#: What stands before the bytes of each message, by the version of the bytes.
_HEADS = {1: struct.Struct("<dBH"), 2: struct.Struct("<dII")}
#: A take is at most some hours of dense playing, or a file of a million events; more than this is a
#: damaged or hostile shelf.
MAX_BODY = 128 << 20
#: Playing packs to a third or so; bytes that grow more than this are no take's, but made to fill
#: the memory.
MAX_GROWTH, ALWAYS_ALLOWED = 200, 1 << 20
#: No layer has a higher number, and no time in a layer is longer, in quarters.
MAX_LAYER, MAX_LAYER_Q, MAX_LAYER_QPM = 1_000_000, 1e6, 10_000.0
_QUARTER = re.compile(r"-?[0-9]{1,400}(/[0-9]{1,400})?", re.ASCII)


def _pack(body: bytes) -> bytes:
    if len(body) > MAX_BODY:
        raise UserError(
            f"This is larger than any take ({len(body):,} bytes, {MAX_BODY:,} at most); keep a shorter one."
        )
    return bytes((VERSION,)) + zlib.compress(body, 6)


def _unpack(blob: Any) -> tuple[int, bytes]:
    if not isinstance(blob, bytes) or not blob:
        raise DamagedTake("A take on this shelf is damaged.")
    if blob[0] not in _HEADS:
        raise DamagedTake("A take on this shelf is damaged, or written in a way this version does not know.")
    inflate = zlib.decompressobj()
    most = min(MAX_BODY, MAX_GROWTH * len(blob) + ALWAYS_ALLOWED)
    try:
        body = inflate.decompress(blob[1:], most)
        # The end of the stream may not have been looked at yet when the body is just as long as
        # allowed.
        more = inflate.decompress(inflate.unconsumed_tail, 1)
    except zlib.error as error:
        raise DamagedTake("A take on this shelf is damaged.") from error
    if more or not inflate.eof:
        raise DamagedTake("A take on this shelf is damaged, or larger than any take.")
    return blob[0], body


def pack_events(events: tuple[Event, ...]) -> bytes:
    """Raw events to bytes. Raises UserError when they are more than a take can have."""
    head = _HEADS[VERSION]
    return _pack(b"".join(head.pack(e.time_sec, e.port, len(e.data)) + e.data for e in events))


def unpack_events(blob: bytes) -> tuple[Event, ...]:
    """The inverse of ``pack_events``. Raises DamagedTake."""
    version, body = _unpack(blob)
    head = _HEADS[version]
    events, at = [], 0
    while at < len(body):
        if at + head.size > len(body):
            raise DamagedTake("A take on this shelf is damaged.")
        sec, port, length = head.unpack_from(body, at)
        at += head.size
        events.append(Event(sec, port, body[at : at + length]))
        at += length
    if at != len(body):
        raise DamagedTake("A take on this shelf is damaged.")
    return tuple(events)


def pack_layers(layers: tuple[Layer, ...], muted: frozenset[int]) -> bytes:
    """Layers, and which of them were muted, to bytes."""
    rows = [
        {
            "number": layer.number,
            "notes": [list(note) for note in layer.notes.tolist()],
            "bends": [curve.tolist() for curve in layer.bends],
            "pass": layer.pass_index,
            "program": layer.program,
            "channel": layer.channel,
            "ids": list(layer.ids),
            "muted": layer.number in muted,
            "qpm": layer.qpm,
        }
        for layer in layers
    ]
    return _pack(json.dumps(rows).encode())


def unpack_layers(blob: bytes) -> tuple[tuple[Layer, ...], frozenset[int]]:
    """The inverse of ``pack_layers``. Raises DamagedTake, also for what no layer can be."""
    try:
        rows = json.loads(_unpack(blob)[1])
        layers = tuple(_checked_layer(_layer(row)) for row in rows)
        return layers, frozenset(row["number"] for row in rows if row["muted"])
    except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError, RecursionError) as error:
        raise DamagedTake("A take on this shelf is damaged.") from error


def _layer(row: dict[str, Any]) -> Layer:
    return Layer(
        row["number"],
        np.array([tuple(note) for note in row["notes"]], LAYER_DTYPE),
        tuple(np.array(curve, float).reshape(-1, 2) for curve in row["bends"]),
        row["pass"],
        row["program"],
        row["channel"],
        tuple(row["ids"]),
        # Layers of before do not say.
        float(row.get("qpm", 0.0)),
    )


def _checked_layer(layer: Layer) -> Layer:
    """The layer itself. Raises ValueError for numbers that would break whoever believes them."""
    notes = layer.notes
    whole = (layer.number, layer.pass_index, layer.program, layer.channel, *layer.ids)
    if any(isinstance(number, bool) or not isinstance(number, int) for number in whole):
        raise ValueError("A layer's numbers are whole.")
    if not (0 < layer.number < MAX_LAYER and 1 <= layer.program <= 128 and 0 <= layer.channel <= 15):
        raise ValueError("There is no such layer.")
    if not 0.0 <= layer.qpm <= MAX_LAYER_QPM:
        raise ValueError("No layer was played at such a tempo.")
    if len(layer.bends) != len(notes) or not all(len(curve) for curve in layer.bends):
        raise ValueError("A layer has a bend curve for each of its notes.")
    curves = np.concatenate([np.zeros((1, 2)), *layer.bends])
    quarters = np.concatenate([notes["onset_q"], notes["duration_q"], curves.ravel()])
    if not (np.abs(quarters) <= MAX_LAYER_Q).all() or (notes["duration_q"] < 0).any():
        raise ValueError("A layer's times are those of a cycle.")
    for name, highest in (("pitch", 127), ("velocity", 127), ("channel", 15), ("string", 127)):
        if len(notes) and not (notes[name].min() >= 0 and notes[name].max() <= highest):
            raise ValueError(f"There is no such {name}.")
    return layer


def dump_meters(meters: tuple[tuple[Fraction, Meter], ...]) -> str:
    """The meters of an imported file as JSON text."""
    return json.dumps([[str(quarter), str(meter)] for quarter, meter in meters])


def load_meters(text: str) -> tuple[tuple[Fraction, Meter], ...]:
    """The inverse of ``dump_meters``.

    Raises ValueError, TypeError, ZeroDivisionError for anything else.
    """
    found = []
    for quarter, meter in json.loads(text):
        if not isinstance(quarter, str) or not _QUARTER.fullmatch(quarter):
            # Fraction would work for ever at "1e999999999".
            raise ValueError("A place of a meter is not a number.")
        found.append((Fraction(quarter), parse_meter(meter)))
    return tuple(found)


def load_tempo(text: str) -> tuple[Anchor, ...]:
    """A tempo map from JSON text."""
    return tuple(Anchor(*map(float, row)) for row in json.loads(text))


def dump_late(late: Any) -> str:
    """Latencies per port as JSON text."""
    return json.dumps(sorted(dict(late).items()))


def load_late(text: str) -> dict[int, float]:
    """The inverse of ``dump_late``."""
    return {int(port): float(sec) for port, sec in json.loads(text)}


def dump_mix(mix: Any) -> str:
    """Levels and mutes of the parts as JSON text."""
    return json.dumps({part: [float(decibels), bool(muted)] for part, (decibels, muted) in sorted(dict(mix).items())})


def load_mix(text: str) -> dict[str, tuple[float, bool]]:
    """The inverse of ``dump_mix``.

    Raises ValueError, TypeError, AttributeError for anything else.
    """
    found = {str(part): (float(decibels), bool(muted)) for part, (decibels, muted) in json.loads(text).items()}
    if not all(math.isfinite(decibels) for decibels, _ in found.values()):
        raise ValueError("A level is not a number.")
    return found
