"""Strings of a layer that are bent apart: channels of their own, live and in files; what sounds on
them belongs to the layer's part of the mixer, and ends.
"""

from dataclasses import replace
from pathlib import Path

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.brief.brief import Brief
from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from loopdeck.looper.given_layers import check_layers, layer_from
from loopdeck.looper.layers import LAYER_CHANNELS
from loopdeck.looper.machine import Looper
from loopdeck.looper.string_channels import string_channels
from loopdeck.looper.voices import Out
from tests.unit.shelf_tools import small_take

BRIEF = Brief.default().replace(tempo="120", cycle="4/4", count_in="0", strength="0")


def _given(strings: int, bent: tuple[int, ...], program: int = 34) -> dict[str, object]:
    """A chord: a note on each of so many strings, the ``bent`` ones a semitone and more."""
    notes = [[0.0, 1.0, 40 + 5 * one, 90, 0, strings - one] for one in range(strings)]
    bends = {str(one): [[0.0, 0.0], [0.3, 1.0 + one / 4]] for one in bent}
    return {"notes": notes, "bends": bends, "program": program, "muted": False, "qpm": 120.0}


def _played(*given: dict[str, object]) -> list[Out]:
    looper = Looper(BRIEF)
    looper.command(0.0, "bring-back", layers=list(given), name="")
    looper.command(0.0, "start-now")
    looper.advance(1.9)
    looper.command(1.9, "stop")
    return [out for out in looper.take_outs() if out.part == "layer"]


def test_two_strings_of_a_layer_are_bent_apart() -> None:
    outs = _played(_given(2, (0, 1)), _given(1, ()))
    apart = {(out.data[1], out.data[0] & 15) for out in outs if out.data[0] & 0xF0 == 0x90 and out.home == 1}
    bends = {out.data[0] & 15: out.data[1:] for out in outs if out.data[0] & 0xF0 == 0xE0 and out.data[2] > 65}
    assert set(bends) == {1, 3} and bends[1] != bends[3]
    assert apart == {(40, 3)}
    # The second layer has channel 2; what is on channel 3 is the first one's in the mixer.
    assert {out.home for out in outs if out.data[0] & 15 == 3} == {1}
    assert {out.home for out in outs if out.data[0] & 15 in (1, 2)} == {-1}


def test_a_plain_string_is_left_alone_by_the_bend_of_another() -> None:
    outs = _played(_given(2, (1,)))
    bent = {out.data[0] & 15 for out in outs if out.data[0] & 0xF0 == 0xE0 and out.data[2] != 64}
    plain = {out.data[0] & 15 for out in outs if out.data[0] & 0xF0 == 0x90 and out.data[1] == 40}
    assert bent and plain and not bent & plain


@given(st.lists(st.tuples(st.integers(1, 6), st.sets(st.integers(0, 5)), st.sampled_from([34, 30])), max_size=16))
def test_strings_share_only_where_no_channel_is_free(rows: list[tuple[int, set[int], int]]) -> None:
    given_ones = [_given(count, tuple(one for one in bent if one < count), program) for count, bent, program in rows]
    layers = [layer_from(one, number) for number, one in enumerate(check_layers(given_ones) if rows else (), 1)]
    found = string_channels(layers, taken=(12,))
    own = {layer.channel for layer in layers}
    for layer, channels in zip(layers, found, strict=True):
        others = set(channels.tolist()) - {layer.channel}
        assert not others & own and 12 not in others and others <= set(LAYER_CHANNELS)
    extra = [
        one for channels, layer in zip(found, layers, strict=True) for one in set(channels.tolist()) - {layer.channel}
    ]
    assert len(extra) == len(set(extra))
    if len(own) + len(extra) < len(LAYER_CHANNELS) - 1:
        for (count, bent, program), channels in zip(rows, found, strict=True):
            strings = sum(one < count for one in bent)
            wanted = 1 if program == 30 or not strings else strings + (strings < count)
            assert len(set(channels.tolist())) == wanted


@pytest.mark.parametrize("bent", [(0, 1), ()])
def test_in_a_file_too(bent: tuple[int, ...], tmp_path: Path) -> None:
    layer = layer_from(check_layers([_given(2, bent)])[0], 1)
    take = small_take()
    take = replace(take, recording=replace(take.recording, layers=(layer,)))
    path = tmp_path / "bent.mid"
    write_smf(path, piece_of_take(take))
    track = mido.MidiFile(str(path)).tracks[-1]
    assert len({one.channel for one in track if one.type == "note_on"}) == (2 if bent else 1)
    bends: dict[int, int] = {}
    for one in track:
        if one.type == "pitchwheel":
            bends[one.channel] = max(bends.get(one.channel, 0), one.pitch)
    assert len(set(bends.values())) == len(bent)


def test_a_dead_note_on_a_strings_own_channel_rings_again_after_a_stop() -> None:
    notes = [[0.0, 1.0, 40, 90, 0, 2], [0.0, 1.0, 45, 90, 0, 1], [2.0, 0.06, 40, 88, 0, 2]]
    outs = _played({**_given(2, (0, 1)), "notes": notes})
    told = [
        (out.data[0] & 15, out.data[2], out.home) for out in outs if out.data[0] & 0xF0 == 0xB0 and out.data[1] == 75
    ]
    # String 2 has channel 2, which no layer has; both messages are for the part of layer 1.
    assert told == [(2, 0, 1), (2, 64, 1)]


def test_a_layer_is_not_bent_by_what_another_one_left_on_its_channel() -> None:
    wave = {str(one): [[0.0, 0.0], [0.3, 1.0], [0.6, 0.0]] for one in range(2)}
    looper = Looper(BRIEF)
    # Layer 2 ends bent on channel 2, which then is lent to a string of layer 1, which ends
    # straight.
    looper.command(0.0, "bring-back", layers=[{**_given(2, (0, 1)), "bends": wave}, _given(1, (0,))], name="")
    looper.command(0.0, "start-now")
    looper.command(1.5, "delete", layer=2)
    looper.command(3.5, "bring-back", layers=[_given(1, ())], beside=True, name="")
    looper.advance(5.9)
    outs = looper.take_outs()
    assert {out.home for out in outs if 2.0 <= out.time_sec < 3.0 and out.data[0] == 0x92} == {1}
    own = [out.data for out in outs if out.time_sec > 3.9 and out.data[0] & 15 == 2 and out.home == -1]
    first = next(index for index, data in enumerate(own) if data[0] & 0xF0 == 0x90)
    assert bytes((0xE2, 0, 64)) in own[:first], "in the mixer the part of layer 2 is still bent"
