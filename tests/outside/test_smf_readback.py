"""Our Standard MIDI Files read back by others: tempo, time signatures and every note, to within one tick.

The readers are mido (1.3.3 here) and pretty_midi (0.2.11 here), neither of which knows anything of ours; the expected times are worked
out from the take itself. A tick is 1/960 quarter: 0.65 ms at 96.
"""

from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loopdeck.capture.events import Event
from loopdeck.export.piece import piece_of_take
from loopdeck.export.smf import write_smf
from loopdeck.looper.brief import Brief
from loopdeck.looper.layers import LAYER_DTYPE, Layer, channel_of
from loopdeck.looper.transport import Anchor
from loopdeck.rhythm.tempo import TempoMap
from loopdeck.shelf.take import Take

pretty_midi = pytest.importorskip("pretty_midi")

READERS = f"mido {version('mido')}, pretty_midi {version('pretty_midi')}"
TICK_Q = 1 / 960
CYCLES = ["4/4", "4/4 4+3/8", "6/8", "3/4 2+2+3/8 5/16", "4/4 4/4 7/8", "12/8"]


@st.composite
def takes(draw: st.DrawFn) -> Take:
    """Playing on a few channels, layers, and up to three tempo changes; times as ragged as hands are."""
    cycle, passes = draw(st.sampled_from(CYCLES)), draw(st.integers(1, 4))
    tempi = draw(st.lists(st.integers(40, 220), min_size=1, max_size=4))
    brief = Brief.default().replace(
        cycle=cycle, tempo=str(tempi[0]), swing=draw(st.sampled_from(["1:1", "2:1", "58%"])),
        grid=draw(st.sampled_from(["1/8", "1/16", "1/8T"])), scale=draw(st.sampled_from(["", "G dorian", "Db major"])),
    )  # fmt: skip
    cycle_q = float(brief.cycle.quarters)
    end_q = passes * cycle_q
    # A change of tempo lies between ticks as a command does.
    places = [0.0, *sorted(draw(st.lists(st.floats(0.1, end_q), min_size=len(tempi) - 1, max_size=len(tempi) - 1)))]
    anchors, sec = [Anchor(0.0, 0.0, float(tempi[0]))], 0.0
    for index in range(1, len(tempi)):
        sec += (places[index] - places[index - 1]) * 60.0 / tempi[index - 1]
        anchors.append(Anchor(sec, places[index], float(tempi[index])))
    clock = TempoMap(anchors)
    events = []
    for onset_q, length_q, pitch, velocity, channel in draw(
        st.lists(
            st.tuples(
                st.floats(0, end_q * 0.99),
                st.floats(0.02, 3.0),
                st.integers(20, 60),
                st.integers(1, 127),
                st.integers(0, 3),
            ),
            max_size=20,
        )
    ):
        on, off = clock.seconds([onset_q, onset_q + length_q]).tolist()
        events += [
            Event(on, 0, bytes((0x90 | channel, pitch, velocity))),
            Event(off, 0, bytes((0x80 | channel, pitch, 64))),
        ]
    layers = []
    for number in range(1, draw(st.integers(0, 2)) + 1):
        notes = draw(
            st.lists(st.tuples(st.floats(0, cycle_q * 0.99), st.floats(0.05, cycle_q), st.integers(20, 60)), max_size=8)
        )
        rows = np.array([(on, long, pitch, 80, 0, 0, 1) for on, long, pitch in notes], LAYER_DTYPE)
        layers.append(Layer(number, rows, (np.zeros((1, 2)),) * len(notes), 0, 34, channel_of(number)))
    events.sort(key=lambda event: event.time_sec)
    return Take(
        "piece", "2031-05-06T07:08:09+00:00", brief, tuple(events), tuple(layers), tempo_map=tuple(anchors), passes=passes,
        end_sec=float(clock.seconds(end_q)),
    )  # fmt: skip


def expected(take: Take) -> dict[str, list[tuple[float, float, int]]]:
    """For each track the notes that should stand in it, (onset, end, pitch) in quarters; ends before the next onset of the pitch."""
    clock = take.tempo()
    array = take.notes().array
    on = clock.quarters(array["onset_sec"])
    off = clock.quarters(array["onset_sec"] + array["duration_sec"])
    rows = {
        "as played": list(
            zip(on.tolist(), off.tolist(), array["pitch"].tolist(), array["channel"].tolist(), strict=True)
        )
    }
    cycle_q = float(take.brief.cycle.quarters)
    for layer in take.layers:
        places = layer.places(take.brief)
        rows[f"layer {layer.number}"] = [
            (
                place + turn * cycle_q,
                place + turn * cycle_q + float(note["duration_q"]),
                int(note["pitch"]),
                layer.channel,
            )
            for turn in range(take.passes)
            for place, note in zip(places.tolist(), layer.notes, strict=True)
        ]
    return {name: cut(notes) for name, notes in rows.items()}


def cut(notes: list[tuple[float, float, int, int]]) -> list[tuple[float, float, int]]:
    """No note of one pitch and channel reaches into the next one; those that begin at one tick end together, with the longest."""
    found = []
    for on, _, pitch, channel in notes:
        alike = [(o, e) for o, e, p, c in notes if (p, c) == (pitch, channel)]
        same = [end for other, end in alike if round(other * 960) == round(on * 960)]
        later = [other for other, _ in alike if round(other * 960) > round(on * 960)]
        found.append((on, max(on, min([max(same), *later])), pitch))
    return sorted(found)


def check(
    take: Take, folder: Path, read: Callable[[Path, Take], tuple[dict[str, list[tuple[float, float, int]]], Any, Any]]
) -> None:
    """Everything a reader finds against what the take holds."""
    path = folder / "piece.mid"
    write_smf(path, piece_of_take(take))
    found, meters, tempi = read(path, take)
    want = expected(take)
    for name, notes in want.items():
        got = found.get(name, [])
        assert len(got) == len(notes), (READERS, name)
        used = [False] * len(got)
        for on, off, pitch in notes:
            # The nearest that is left: two notes within a tick of one another may stand in either order. An end has a tick's
            # rounding of its own, and a note is never shorter than a tick.
            near = [
                index
                for index, (g_on, g_off, g_pitch) in enumerate(got)
                if not used[index]
                and g_pitch == pitch
                and abs(g_on - on) <= TICK_Q
                and abs(g_off - off) <= 2.1 * TICK_Q
            ]
            assert near, (READERS, name, (on, off, pitch), got)
            used[min(near, key=lambda index: abs(got[index][0] - on))] = True
    cycle = take.brief.cycle
    bars = [
        (turn * float(cycle.quarters) + float(start), meter.numerator, meter.unit)
        for turn in range(take.passes)
        for start, meter in zip(cycle.bar_starts, cycle.meters, strict=True)
    ]
    changes = [bar for before, bar in zip([None, *bars], bars, strict=False) if before is None or before[1:] != bar[1:]]
    # What rings on after the last pass may have a bar of its own.
    assert len(meters) >= len(changes)
    for (quarter, over, under), got_meter in zip(changes, meters, strict=False):
        assert got_meter[1:] == (over, under), READERS
        assert abs(got_meter[0] - quarter) <= TICK_Q
    assert len(tempi) >= 1
    for anchor in take.tempo_map:
        # At one tick the last tempo counts.
        at = [other for other in take.tempo_map if round(other.quarter * 960) == round(anchor.quarter * 960)][-1]
        near = [qpm for quarter, qpm in tempi if abs(quarter - anchor.quarter) <= TICK_Q]
        assert near and abs(near[-1] - at.qpm) < 1e-3 * at.qpm, READERS


def by_mido(path: Path, take: Take) -> tuple[dict[str, list[tuple[float, float, int]]], Any, Any]:
    """Notes by the ticks in the file; meters; tempi."""
    file = mido.MidiFile(path)
    assert (file.type, file.ticks_per_beat) == (1, 960)
    found: dict[str, list[tuple[float, float, int]]] = {}
    meters, tempi = [], []
    for track in file.tracks:
        now, open_notes = 0, {}
        notes = found.setdefault(track.name, [])
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                open_notes.setdefault((message.channel, message.note), []).append(now)
            elif message.type in ("note_off", "note_on"):
                on = open_notes[message.channel, message.note].pop(0)
                notes.append((on / 960, now / 960, message.note))
            elif message.type == "time_signature":
                meters.append((now / 960, message.numerator, message.denominator))
            elif message.type == "set_tempo":
                tempi.append((now / 960, 60e6 / message.tempo))
        assert not any(open_notes.values()), "a note without its end"
        notes.sort()
    return found, meters, tempi


def by_pretty_midi(path: Path, take: Take) -> tuple[dict[str, list[tuple[float, float, int]]], Any, Any]:
    """The same by pretty_midi, whose seconds are turned into its ticks by itself."""
    file = pretty_midi.PrettyMIDI(str(path))

    def quarter(sec: float) -> float:
        return file.time_to_tick(sec) / 960

    found: dict[str, list[tuple[float, float, int]]] = {}
    for instrument in file.instruments:
        found.setdefault(instrument.name, []).extend(
            (quarter(note.start), quarter(note.end), note.pitch) for note in instrument.notes
        )
    for notes in found.values():
        notes.sort()
    meters = [(quarter(m.time), m.numerator, m.denominator) for m in file.time_signature_changes]
    times, qpms = file.get_tempo_changes()
    return found, meters, [(quarter(sec), qpm) for sec, qpm in zip(times, qpms, strict=True)]


@pytest.mark.parametrize("read", [by_mido, by_pretty_midi])
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(take=takes())
def test_read_back(tmp_path_factory: pytest.TempPathFactory, read: Any, take: Take) -> None:
    check(take, tmp_path_factory.mktemp("smf"), read)


def test_seconds_of_a_steady_take_by_pretty_midi(tmp_path: Path) -> None:
    """Onsets in seconds, whatever the ticks: within half a tick, 0.33 ms at 96, in the last pass as in the first."""
    brief = Brief.default().replace(cycle="4/4 4+3/8", tempo="96")
    pass_sec = 4.6875  # facts of 96 and the cycle: 2,500 ms and 2,187.5 ms
    onsets = [turn * pass_sec + sec for turn in range(16) for sec in (0.0123, 0.7, 2.5, 4.68)]
    events = [
        event for sec in onsets for event in (Event(sec, 0, b"\x90\x28\x50"), Event(sec + 0.003, 0, b"\x80\x28\x00"))
    ]
    take = Take(
        "steady", "2031-05-06T07:08:09+00:00", brief, tuple(events), tempo_map=(Anchor(0.0, 0.0, 96.0),), passes=16,
        end_sec=16 * pass_sec,
    )  # fmt: skip
    write_smf(tmp_path / "s.mid", piece_of_take(take))
    file = pretty_midi.PrettyMIDI(str(tmp_path / "s.mid"))
    found = sorted(note.start for note in file.instruments[0].notes)
    assert np.abs(np.array(found) - np.array(onsets)).max() <= 0.5 * 60 / 96 / 960 + 1e-9
    assert file.get_end_time() <= 16 * pass_sec + 1e-6
    assert [m.time for m in file.time_signature_changes] == pytest.approx(
        [turn * pass_sec + at for turn in range(16) for at in (0.0, 2.5)], abs=1e-9
    )
