"""Takes for the tests of shelf and export: random ones by hypothesis, and one by hand."""

from fractions import Fraction

import numpy as np
from hypothesis import strategies as st

from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.looper.layers import LAYER_DTYPE, Layer, channel_of
from loopdeck.looper.recording import Recording
from loopdeck.looper.transport import Anchor
from loopdeck.rhythm.meter import Meter
from loopdeck.shelf.take import Take

#: Every float but "not a number", which is not even equal to itself.
any_float = st.floats(allow_nan=False)
words = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=12)


def layer(
    number: int,
    notes: list[tuple[float, float, int]],
    bends: dict[int, list[tuple[float, float]]] | None = None,
    program: int = 34,
) -> Layer:
    """A layer of (onset, duration, pitch) in quarters; ``bends`` by the note's place in the
    list.
    """
    rows = np.array([(on, long, pitch, 90, 0, 0, 1) for on, long, pitch in notes], LAYER_DTYPE)
    curves = tuple(np.array((bends or {}).get(index, [(0.0, 0.0)]), float) for index in range(len(notes)))
    return Layer(number, rows, curves, 0, program, channel_of(number), tuple(range(len(notes))))


@st.composite
def layers(draw: st.DrawFn, number: int) -> Layer:
    """Any layer that can be."""
    count = draw(st.integers(0, 5))
    place, midi, wire = st.floats(-1e6, 1e6), st.integers(0, 127), st.integers(0, 15)
    row = st.tuples(place, st.floats(0, 1e6), midi, midi, wire, midi, st.integers(-(2**31), 2**31 - 1))
    rows = np.array(draw(st.lists(row, min_size=count, max_size=count)), LAYER_DTYPE)
    curve = st.lists(st.tuples(place, place), min_size=1, max_size=4)
    curves = tuple(np.array(one, float) for one in draw(st.lists(curve, min_size=count, max_size=count)))
    return Layer(
        number, rows, curves, draw(st.integers(-3, 99)), draw(st.integers(1, 128)), draw(st.integers(0, 15)),
        tuple(draw(st.lists(st.integers(0, 10**9), min_size=count, max_size=count))),
    )  # fmt: skip


events = st.lists(
    st.builds(Event, any_float, st.integers(0, 70_000), st.one_of(st.binary(max_size=6), st.just(bytes(70_000)))),
    max_size=12,
)
briefs = st.fixed_dictionaries(
    {
        "tempo": st.sampled_from(["96", "8th=184", "dotted-quarter=120", "33.333333"]),
        "cycle": st.sampled_from(["4/4", "4/4 4+3/8", "6/8", "3+2/16 5/4"]),
        "grid": st.sampled_from(["1/16", "1/8T", "auto"]),
        "swing": st.sampled_from(["straight", "2:1", "58%"]),
        "scale": st.sampled_from(["", "G dorian", "Bb altered"]),
    }
).map(lambda texts: Brief.default().replace(**texts))


@st.composite
def takes(draw: st.DrawFn) -> Take:
    """Any take at all."""
    numbers = sorted(draw(st.sets(st.integers(1, 40), max_size=3)))
    meters = st.builds(
        lambda start, groups, unit: (start, Meter(tuple(groups), unit)),
        st.fractions(0, 100), st.lists(st.integers(1, 5), min_size=1, max_size=3), st.sampled_from([2, 4, 8, 16]),
    )  # fmt: skip
    return Take(
        name=draw(words),
        kept_at="2031-05-06T07:08:09+00:00",
        origin=draw(st.sampled_from(["played", "imported", "recovered"])),
        rating=draw(st.integers(0, 5)),
        tags=tuple(sorted(draw(st.sets(words, max_size=3)))),
        note=draw(st.text(st.characters(exclude_categories=("Cs",)), max_size=40)),
        recording=Recording(
            brief=draw(briefs),
            events=tuple(draw(events)),
            layers=tuple(draw(layers(number)) for number in numbers),
            muted=frozenset(draw(st.sets(st.sampled_from(numbers)))) if numbers else frozenset(),
            tempo_map=tuple(draw(st.lists(st.builds(Anchor, any_float, any_float, any_float), max_size=4))),
            passes=draw(st.integers(0, 16)),
            end_sec=draw(st.floats(-4e6, 4e6)),
            meters=tuple(draw(st.lists(meters, max_size=3))),
            key=draw(st.none() | st.tuples(st.integers(-7, 7), st.booleans())),
            late=draw(st.dictionaries(st.integers(0, 20), any_float, max_size=3)),
            run_pass=draw(st.integers(0, 999)),
            first_bar=draw(st.integers(0, 9999)),
            first_pass=draw(st.none() | st.integers(0, 999)),
            mix=draw(
                st.dictionaries(
                    st.sampled_from(["click", "drums", "live", "layer:1", "layer:14"]),
                    st.tuples(st.floats(-60.0, 12.0), st.booleans()),
                    max_size=3,
                )
            ),
        ),
    )


def note_on(sec: float, pitch: int, port: int = 0, velocity: int = 90) -> Event:
    """A note-on on the first channel."""
    return Event(sec, port, bytes((0x90, pitch, velocity)))


def note_off(sec: float, pitch: int, port: int = 0) -> Event:
    """A note-off on the first channel."""
    return Event(sec, port, bytes((0x80, pitch, 64)))


def small_take(name: str = "first idea", **brief: str) -> Take:
    """Two passes of one bar of 4/4 at 120 with two notes played and one layer of two."""
    own = Brief.default().replace(**{"tempo": "120", "cycle": "4/4", "grid": "1/16", "scale": "G dorian", **brief})
    sec = own.tempo.seconds(float(own.cycle.quarters))
    return Take(
        name=name,
        kept_at="2031-05-06T07:08:09+00:00",
        recording=Recording(
            brief=own,
            events=(note_on(0.01, 43), note_off(0.4, 43), note_on(1.02, 46), note_off(1.3, 46)),
            layers=(layer(1, [(0.03, 0.5, 31), (2.48, 0.25, 34)]),),
            tempo_map=(Anchor(0.0, 0.0, own.tempo.quarters_per_minute),),
            passes=2,
            end_sec=2 * sec,
            meters=(),
        ),
    )


def imported_meters() -> tuple[tuple[Fraction, Meter], ...]:
    """A bar of 3/4, then 7/8."""
    return (Fraction(0), Meter((1, 1, 1), 4)), (Fraction(3), Meter((4, 3), 8))


def content(take: Take) -> tuple[object, ...]:
    """Everything in a take but its number, as values that compare bit for bit."""
    return (
        take.name, take.kept_at, take.brief.to_dict(), take.recording.events, take.recording.muted,
        tuple(map(tuple, take.recording.tempo_map)), take.recording.passes, take.recording.end_sec, take.origin, take.rating, take.tags, take.note,
        take.recording.meters, take.recording.key, dict(take.recording.late), dict(take.recording.mix), take.recording.run_pass, take.recording.first_bar, take.recording.first_pass,
        tuple(
            (one.number, one.notes.tobytes(), one.notes.dtype, tuple((c.tobytes(), c.shape) for c in one.bends),
             one.pass_index, one.program, one.channel, one.ids)
            for one in take.recording.layers
        ),
    )  # fmt: skip
