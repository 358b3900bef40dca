"""For any sequence of playing and commands: nothing hangs, nothing is struck twice, and replaying
gives the identical state.

Hypothesis makes short sequences that shrink well; ``tests.attack.attack_looper`` plays long ones,
by the thousand in its nightly form.
"""

from itertools import pairwise
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from loopdeck.looper.machine import Looper, Out
from tests.unit.looper_tools import brief, check_pairs

#: Two kept takes: one with its brief and a muted layer, one to stand beside the loop.
KEPT = {"notes": [[-0.1, 0.4, 40, 90, 0, 4], [1.5, 3.0, 43, 70, 0, 0]], "bends": {"1": [[0.0, 0.0], [0.5, 1.0]]}}
BROUGHT = {
    "layers": [KEPT, {**KEPT, "muted": True}],
    "fields": {"cycle": "4+3/8", "tempo": "300", "swing": "2:1"},
    "name": "tide",
}

COMMANDS: list[tuple[str, dict[str, Any]]] = [
    ("start", {}), ("stop", {}), ("start-stop", {}), ("layer-on", {}), ("layer-off", {}), ("layer", {}), ("loop-that", {}),
    ("keep", {"passes": 2}), ("undo", {}), ("redo", {}), ("mute", {"layer": 1}), ("unmute", {"layer": "all"}),
    ("mute-toggle", {"layer": 2}), ("replace", {}), ("clear", {}), ("half", {}), ("double", {}), ("count-in", {"bars": 1}),
    ("tempo", {"tempo": "90"}), ("tempo", {"tempo": "380"}), ("brief", {"fields": {"swing": "3:1"}}),
    ("brief", {"fields": {"cycle": "4+3/8"}}), ("brief", {"fields": {"cycle": "4/4 4+3/8"}}),
    ("brief", {"fields": {"strength": "0"}}), ("brief", {"fields": {"grid": "1/8T", "strength": "100"}}),
    ("clicks", {"clicks": "2 4; 1 on, 1 off"}), ("groove", {"groove": "busy alone"}), ("ramp", {"ramp": "+40 every 1 to 300"}),
    ("tap", {}), ("nudge", {"ms": -150.0}), ("nudge", {"ms": 150.0}),
    ("solo", {"layer": 1}), ("solo", {"layer": "all"}), ("delete", {"layer": 1}), ("delete", {"layer": 2}), ("loop-that", {"reach": 3}),
    ("replace", {}), ("undo", {}), ("start", {"bars": 1}), ("follow", {"qpm": 201.3, "ms": 5.0}), ("brief", {"fields": {"cycle": "2/4"}}),
    ("loop-free", {"fields": {"tempo": "97", "cycle": "7/8"}, "note": 0, "after_sec": -0.1, "qpm": 96.5}),
    ("loop-free", {"fields": {"tempo": "133"}, "note": 5, "qpm": 240.0}),
    ("loop-pass", {"number": 1}), ("loop-pass", {"number": 2}), ("loop-pass", {"number": 4}),
    ("thru", {"port": 0, "on": True}), ("thru", {"port": 0, "on": False}), ("late", {"port": 0, "sec": 0.04}),
    ("bring-back", BROUGHT), ("bring-back", {"layers": [KEPT], "beside": True}), ("undo", {}), ("undo", {}), ("redo", {}),
]  # fmt: skip

steps = st.lists(
    st.tuples(
        st.floats(0.0, 1.5, allow_nan=False),  # pause before the step, seconds
        st.one_of(
            st.tuples(st.just("command"), st.sampled_from(COMMANDS)),
            st.tuples(
                st.just("midi"),
                st.tuples(
                    st.sampled_from([0x90, 0x90, 0x80, 0xE0, 0xB0]),
                    st.sampled_from([40, 40, 43, 64, 123]),
                    st.sampled_from([0, 64, 100, 127]),
                    st.floats(0.0, 0.03),
                ),
            ),
        ),
    ),
    max_size=150,
)


def play(script: list[Any], pieces: int = 0) -> tuple[Looper, list[Out]]:
    """Run a script; with ``pieces`` time is also advanced in that many small steps before every
    input.
    """
    looper, now = Looper(brief(tempo="240")), 0.0
    outs: list[Out] = []
    for pause, (kind, what) in script:
        for piece in range(pieces):
            looper.advance(now + pause * (piece + 1) / (pieces + 1))
            outs += looper.take_outs()
        now += pause
        if kind == "command":
            name, args = what
            looper.command(now, name, **args)
        else:
            status, first, second, late = what
            looper.midi(now, now - late, 0, bytes((status, first, second)))
    looper.advance(now + 0.5)
    looper.command(now + 0.5, "silence")
    looper.command(now + 0.5, "stop")
    return looper, outs + looper.take_outs()


@settings(max_examples=120, deadline=None)
@given(steps)
def test_nothing_hangs_and_nothing_is_struck_twice(script: list[Any]) -> None:
    _, outs = play(script)
    check_pairs(outs)


@settings(max_examples=60, deadline=None)
@given(steps, st.integers(1, 7))
def test_same_inputs_same_state_however_time_is_cut(script: list[Any], pieces: int) -> None:
    once, outs_once = play(script)
    again, outs_again = play(script, pieces)
    assert outs_once == outs_again
    assert once.digest() == again.digest()


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.0, 3.99), st.floats(0.01, 2.0), st.integers(30, 60)), min_size=1, max_size=12),
    st.sampled_from(["1/16", "1/8", "1/8T", "1/4"]),
    st.sampled_from(["1:1", "2:1", "3:1"]),
    st.integers(0, 100),
)
def test_every_note_of_a_layer_sounds_exactly_once_a_pass(
    notes: list[tuple[float, float, int]], grid: str, swing: str, strength: int
) -> None:
    looper = Looper(brief(tempo="120", grid=grid, swing=swing, strength=strength))
    looper.command(0.0, "layer-on")
    stream = []
    for serial, (at_q, length_q, _) in enumerate(notes):
        pitch = 30 + serial  # one pitch a note, so that each can be counted
        stream += [(at_q / 2, 0x90, pitch, 90), ((at_q + length_q) / 2, 0x80, pitch, 0)]
    stream.sort()
    asked_off = False
    for sec, status, pitch, velocity in stream:
        if sec > 1.5 and not asked_off:
            looper.command(1.5, "layer-off")
            asked_off = True
        looper.midi(sec, sec, 0, bytes((status, pitch, velocity)))
    if not asked_off:
        looper.command(1.5, "layer-off")
    looper.advance(4.0 + 12 * 2.0 + 0.6)
    outs = [out for out in looper.take_outs() if out.part == "layer" and out.data[0] & 0xF0 == 0x90]
    (layer,) = looper.layers()
    assert len(layer)
    for pitch in layer.notes["pitch"].tolist():
        times = [out.time_sec for out in outs if out.data[1] == pitch]
        gaps = [round(later - earlier, 9) for earlier, later in pairwise(times)]
        # A note of pass 0 sounds in passes 1 to 13, an early downbeat of pass 1 in 2 to 13; whole
        # cycles of 2 s lie between.
        assert len(times) in (12, 13, 14)
        assert set(gaps[1:]) <= {2.0} and gaps[0] >= 1.7
