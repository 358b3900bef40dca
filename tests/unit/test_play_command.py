"""``loopdeck play``: what comes out of a real device driver (SDL's, into a file), and takes at
another tempo and in another key.
"""

import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopdeck.audio.listening import Player, ToHear
from loopdeck.brief.brief import Brief
from loopdeck.capture.events import Event
from loopdeck.cli.main import main
from loopdeck.cli.play import changed
from loopdeck.errors import UserError
from loopdeck.export.heard import on_the_beat, rows_to_hear, sound_events
from loopdeck.export.piece import piece_of_take
from loopdeck.export.score import parts_of, score_of_take
from loopdeck.export.smf import write_smf
from loopdeck.looper.recording import Recording
from loopdeck.practice.changed import at_tempo, transposed
from loopdeck.shelf.source import open_take
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take, now_text
from loopdeck.synth.events import LIVE, SoundEvent

RATE = 48_000


def take_of(pitches: list[int], tempo: str = "120", gap_q: float = 1.0, cycle: str = "4/4") -> Take:
    """Notes of half the gap, one after the other from the start, at the brief's tempo."""
    brief = Brief.default().replace(tempo=tempo, cycle=cycle, scale="E aeolian")
    quarter = 60.0 / brief.tempo.quarters_per_minute
    events = []
    for index, pitch in enumerate(pitches):
        start = index * gap_q * quarter
        events += [
            Event(start, 0, bytes((0x90, pitch, 90))),
            Event(start + gap_q / 2 * quarter, 0, bytes((0x80, pitch, 0))),
        ]
    passes = max(1, -(-len(pitches) * gap_q // float(brief.cycle.quarters)))
    return Take(
        name="steps",
        kept_at=now_text(),
        recording=Recording(
            brief=brief,
            events=tuple(events),
            passes=int(passes),
            end_sec=passes * float(brief.cycle.quarters) * quarter,
        ),
    )


@pytest.fixture
def file(tmp_path: Path) -> Path:
    write_smf(tmp_path / "steps.mid", piece_of_take(take_of([40, 43, 45, 47, 40, 43, 45, 47])))
    return tmp_path / "steps.mid"


def played(folder: Path, *words: str) -> np.ndarray:
    """What a run of the command sends to the device, one channel, from the first sample that
    sounds.
    """
    sound = folder / "sound.raw"
    env = os.environ | {"SDL_AUDIODRIVER": "disk", "SDL_DISKAUDIOFILE": str(sound), "SDL_DISKAUDIODELAY": "0"}
    done = subprocess.run(
        [sys.executable, "-m", "loopdeck", "play", *words],
        env=env,
        capture_output=True,
        text=True,
        timeout=360,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    samples = np.fromfile(sound, np.float32)[::2]
    loud = np.flatnonzero(np.abs(samples) > 1e-4)
    return samples[loud[0] :]


def strokes_of(samples: np.ndarray) -> np.ndarray:
    """Where it is loud after silence."""
    loud = np.flatnonzero(np.abs(samples) > 1e-4)
    return loud[np.concatenate(([True], np.diff(loud) > 2000))]


def test_clicks_come_at_the_tempo_that_was_asked_for(tmp_path: Path, file: Path) -> None:
    words = (str(file), "--click", "--parts", "click", "--tempo", "240", "--from", "1", "--to", "1", "--times", "2")
    found = strokes_of(played(tmp_path, *words))
    assert found[:8].tolist() == [12_000 * index for index in range(8)] and len(found) == 8


@given(st.floats(20, 400), st.floats(30, 300))
def test_another_tempo_moves_no_note_in_its_bar(qpm: float, own: float) -> None:
    take = take_of([40, 41, 42, 43], f"{own:.3f}")
    other = at_tempo(take, qpm)
    for one in (take, other):
        quarters = one.tempo().quarters(one.notes().array["onset_sec"])
        assert np.allclose(quarters, [0, 1, 2, 3], atol=1e-4)
    assert np.isclose(other.tempo().points[0][2], qpm, rtol=1e-5)


def test_lateness_is_not_stretched() -> None:
    late = take_of([40, 41])
    events = tuple(event._replace(time_sec=event.time_sec + 0.03) for event in late.recording.events)
    slow = at_tempo(late.changed(events=events, late={0: 0.03}), 60.0)
    assert np.allclose(slow.notes().array["onset_sec"], [0.0, 1.0])


@given(st.integers(-24, 24))
def test_another_key(semitones: int) -> None:
    take = transposed(take_of([40, 52]), semitones)
    assert take.notes().array["pitch"].tolist() == [40 + semitones, 52 + semitones]
    assert take.brief.scale is not None and take.brief.scale.root.pitch_class == (4 + semitones) % 12
    with pytest.raises(UserError, match="beyond"):
        transposed(take_of([120]), 12)


def test_a_loop_comes_again_to_the_sample() -> None:
    events = (SoundEvent(0, LIVE, bytes((0x90, 40, 100))), SoundEvent(3000, LIVE, bytes((0x80, 40, 0))))
    player = Player(ToHear(events, 9600, 0))
    sound = np.concatenate([player.fill(512) for _ in range(80)])[:, 0]
    once = Player(ToHear(events, 9600, 1))
    alone = np.concatenate([once.fill(512) for _ in range(80)])[:, 0]
    assert np.array_equal(sound[:9600], alone[:9600])
    assert np.abs(alone[30_000:]).max() < 1e-3 < np.abs(sound[30_000:]).max()
    assert player.frames == np.inf


def early_take() -> Take:
    """A bar that comes twice, the first note of each 30 ms before the click."""
    take = take_of([40, 43, 45, 47, 40, 43, 45, 47])
    first = {event.time_sec for event in take.recording.events if event.data[1] == 40}
    moved = (one._replace(time_sec=one.time_sec - 0.03 * (one.time_sec in first)) for one in take.recording.events)
    return take.changed(events=tuple(moved))


def struck(events: Iterable[SoundEvent]) -> list[tuple[int, int]]:
    return [(one.sample, one.data[1]) for one in events if one.data[0] & 0xF0 == 0x90]


def test_an_early_downbeat_costs_a_loop_no_bar() -> None:
    """No bar of silence stands in front; when the loop comes round, the early note lies before
    it.
    """
    take = early_take()
    score, room = on_the_beat(score_of_take(take, RATE), take)
    piece = ToHear(sound_events(score, "steps", room), score.end - score.first, 0)
    assert piece.length == 4 * RATE and piece.lead == 1440
    assert struck(piece.turn(0))[:2] == [(0, 40), (1440 + 24_000, 43)]
    assert struck(piece.turn(0))[-1] == (4 * RATE, 40), "1440 samples before the second time round"
    assert struck(piece.turn(1))[0] == (1440 + 4 * RATE + 24_000, 43)
    once = ToHear(piece.events, piece.length, 1)
    assert len(struck(once.turn(0))) == 8
    rows, length = rows_to_hear(take)
    assert length == 4.03 and [sec for sec, _, data in rows if data[0] == 0x90][:2] == [0.0, 0.53]


def test_bars_have_their_own_early_notes_and_not_those_of_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[ToHear] = []
    monkeypatch.setattr("loopdeck.cli.play.to_midi", lambda piece, out, said: heard.append(piece))
    with Shelf(tmp_path / "s.sqlite") as shelf:
        shelf.add(early_take())
    for bars in (["--to", "1"], ["--from", "2"]):
        assert main(["play", "1", "--out", "any", "--shelf", str(tmp_path / "s.sqlite"), *bars]) == 0
        assert [pitch for _, pitch in struck(heard[-1].events)] == [40, 43, 45, 47], bars
        assert heard[-1].length == 2 * RATE and heard[-1].lead == 1440


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--tempo", "900"], "out of range"),
        (["--from", "9"], "There is no bar 9"),
        (["--to", "9"], "There is no bar 9"),
        (["--from", "2", "--to", "1"], "before"),
        (["--transpose", "100"], "out of range"),
        (["--loop", "--times", "2"], "one of them"),
        (["--times", "0"], "1 to 10000"),
        (["--groove", "loud"], "no groove 'loud'"),
        (["--parts", "layer4"], "no part"),
    ],
)
def test_wrong_words_get_a_sentence(
    words: list[str], says: str, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["play", str(file), *words]) == 2
    text = capsys.readouterr().err
    assert says in text and text.count("\n") == 1


def test_a_file_has_drums_where_it_fits_a_cycle(file: Path, tmp_path: Path) -> None:
    take = changed(open_take(str(file)), None, groove="sparse alone")
    assert take.brief.groove == "sparse alone" and "groove" in parts_of(take)
    assert take.notes().array["pitch"].tolist() == [40, 43, 45, 47, 40, 43, 45, 47]
    write_smf(tmp_path / "long.mid", piece_of_take(take_of([40] * 300)))
    with pytest.raises(UserError, match="too long for a cycle"):
        changed(open_take(str(tmp_path / "long.mid")), None, groove="sparse")


def test_an_empty_take_is_a_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_smf(tmp_path / "empty.mid", piece_of_take(take_of([])))
    assert main(["play", str(tmp_path / "empty.mid")]) == 2
    assert "no notes" in capsys.readouterr().err
