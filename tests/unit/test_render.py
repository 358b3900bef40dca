"""``loopdeck render``: parts and bars, the same sound as the mixer's in one process and in several,
wrong input, nothing left behind.
"""

import io
import multiprocessing
import os
import signal
import subprocess
import sys
import time
import wave
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from loopdeck.capture.events import Event
from loopdeck.cli.main import main
from loopdeck.cli.progress_bar import Bar
from loopdeck.errors import UserError
from loopdeck.export.lanes import RATE, Job, PartGains, jobs_of, strings_of
from loopdeck.export.piece import PieceTrack
from loopdeck.export.render import render
from loopdeck.export.score import Score, _track_rows, mix_of_take, parse_parts, score_of_take, usual_parts
from loopdeck.looper.layers import Layer
from loopdeck.looper.machine import Looper
from loopdeck.looper.news import Kept
from loopdeck.rhythm.tempo import TempoMap
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take, take_of_keep
from loopdeck.synth.events import SoundEvent, is_note_on
from loopdeck.synth.mixer import Mixer
from tests.unit.looper_tools import brief
from tests.unit.shelf_tools import layer, note_off, note_on, small_take
from tests.unit.sound_tools import peak_hz

ROOT = Path(__file__).resolve().parents[2]


def mixed(events: tuple[SoundEvent, ...], frames: int, levels: dict[str, float] | None = None) -> NDArray[np.float32]:
    """What the mixer of live playing makes of the events."""
    mixer = Mixer(RATE)
    for part, level in {"master": 0.0, **(levels or {})}.items():
        mixer.set_level(part, level)
    mixer.feed(events)
    return np.concatenate([mixer.render(at, min(128, frames - at)) for at in range(0, frames, 128)])


def busy_take(passes: int = 8, notes: int = 16) -> Take:
    """Eight passes of 2 s: a layer with a bend in each of three, repeated notes that are struck
    while they ring, loud enough to be limited.
    """
    rng = np.random.default_rng(7)
    pitches = rng.integers(28, 45, (3, 16)).tolist()
    layers: list[Layer] = [
        layer(number + 1, [(slot * 0.25, 0.24, pitch) for slot, pitch in enumerate(row)], {3: [(0, 0), (0.1, 1.5)]})
        for number, row in enumerate(pitches)
    ]
    events: list[Event] = []
    for index in range(passes * notes):
        sec = index * 2.0 / notes + 0.004
        events += [note_on(sec, 33, velocity=127), note_off(sec + 0.11, 33)]
    return small_take(groove="busy").changed(
        layers=tuple(layers), events=tuple(events), passes=passes, end_sec=2.0 * passes
    )


def sound(take: Take, processes: int = 1, lanes: int = 1, tail: int = 0) -> NDArray[np.float32]:
    return together(score_of_take(take, RATE), None, tail, processes, lanes)


def together(score: Score, *options: Any) -> NDArray[np.float32]:
    return np.concatenate(list(render(score, *options)))


@pytest.fixture
def short_lanes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lanes of a second, so that a short piece has many of them."""
    monkeypatch.setattr("loopdeck.export.lanes.LEAST", RATE)
    monkeypatch.setattr("loopdeck.export.lanes.USUAL", RATE)


def test_a_take_sounds_as_loud_as_it_was_set() -> None:
    """Levels and mutes of the mixer are the take's; layer 15 shares the place of layer 1."""
    take = busy_take(1).changed(
        layers=(layer(1, [(0.0, 1.0, 40)]), layer(2, [(0.0, 1.0, 45)]), layer(15, [(0.0, 1.0, 47)])),
        mix={"layer:1": (-6.0, False), "layer:2": (3.0, True), "live": (-60.0, False), "click": (2.0, False)},
    )
    assert usual_parts(take) == ("playing", "layer1", "layer15", "groove")
    assert mix_of_take(take) == {"live": -60.0, "layer:1": -6.0, "layer:2": 3.0, "layer:15": -6.0, "click": 2.0}


def test_without_the_playing_there_is_no_bar_in_front() -> None:
    """The bar is for what was played before the first pass; a loop to repeat is as long as its
    passes.
    """
    take = busy_take(2).changed(events=(note_on(-0.2, 40), note_off(0.3, 40)))
    whole, loop = score_of_take(take, RATE), score_of_take(take, RATE, ("layer1", "click"))
    assert whole.first == 0 and whole.end == 6 * RATE
    assert (loop.first, loop.end) == (2 * RATE, 6 * RATE)


@pytest.mark.parametrize("name", ["take.mid", "shelf"])
def test_what_is_read_is_not_written_over(
    name: str, shelf: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    midi = tmp_path / "take.mid"
    assert main(["takes", "--shelf", shelf, "export", "1", "-o", str(midi)]) == 0
    target = midi if name == "take.mid" else Path(shelf)
    before = target.read_bytes()
    words = [["render", str(midi) if target == midi else "1", "--shelf", shelf, "-o", str(target)]]
    if target != midi:
        words += [
            ["takes", "--shelf", shelf, "export", "1", "-o", str(target)],
            ["quantize", "1", "--shelf", shelf, "-o", str(target)],
        ]
    for one in words:
        capsys.readouterr()
        assert main(one) == 2
        err = capsys.readouterr().err
        assert err.count("\n") == 1 and err.endswith("name another file.\n")
        assert target.read_bytes() == before


POSIX = pytest.mark.skipif(
    not hasattr(os, "killpg"), reason="this system has no groups of processes, or limits of files"
)


@POSIX
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_a_render_that_is_ended_leaves_nothing_behind(name: str, tmp_path: Path) -> None:
    number = getattr(signal, name)
    with Shelf(tmp_path / "shelf") as store:
        store.add(busy_take(400))
    out = tmp_path / "out"
    out.mkdir()
    words = ["render", "1", "--shelf", str(tmp_path / "shelf"), "-o", str(out / "x.wav")]
    # Whoever started the tests may have chosen to ignore it (nohup), and so would what we start.
    before = signal.signal(number, signal.SIG_DFL)
    process = subprocess.Popen(
        [sys.executable, "-m", "loopdeck", *words], cwd=ROOT, stderr=subprocess.PIPE, start_new_session=True
    )
    signal.signal(number, before)
    until = time.monotonic() + 90
    while not list(out.iterdir()):
        assert time.monotonic() < until and process.poll() is None
        time.sleep(0.02)
    time.sleep(0.3)
    process.send_signal(number)
    assert process.wait(90) == 128 + number
    assert list(out.iterdir()) == []
    with pytest.raises(ProcessLookupError):
        # Its group is empty: the processes it had begun are gone.
        while time.monotonic() < until + 90:
            os.killpg(process.pid, 0)
            time.sleep(0.05)


def test_a_worker_that_dies_is_one_sentence(monkeypatch: pytest.MonkeyPatch, short_lanes: None) -> None:
    monkeypatch.setattr("loopdeck.export.render._work", _die)
    with pytest.raises(UserError, match=r"^A process that rendered was ended from outside .*\.$"):
        list(render(score_of_take(busy_take(8), RATE), None, 0, 2))


def _die(job: Any) -> Any:
    os._exit(9)


@pytest.mark.parametrize("clicks", ["1 on, 1 off", "all; half", "2 on, 1 off; half"])
def test_click_and_groove_are_those_that_were_heard(clicks: str) -> None:
    """A take from the middle of a run: which bars were silent, and which of two beats clicked, is
    counted from the start.
    """
    looper = Looper(brief(cycle="4/4 3/4", clicks=clicks, groove="sparse"))
    looper.command(0.0, "start")
    for quarter in range(30):
        looper.midi(quarter * 0.5, quarter * 0.5, 0, bytes((0x90, 40, 90)))
        looper.midi(quarter * 0.5 + 0.2, quarter * 0.5 + 0.2, 0, bytes((0x80, 40, 0)))
    looper.advance(21 * 0.5 + 0.1)
    looper.command(21 * 0.5 + 0.1, "keep", passes=2)
    keep = next(news.keep for news in looper.take_news() if isinstance(news, Kept))
    heard = {
        (round((out.time_sec - keep.start_sec) * RATE), out.part, out.data[1])
        for out in looper.take_outs()
        if out.data[0] == 0x99 and keep.start_sec - 1e-6 <= out.time_sec < keep.start_sec + keep.end_sec - 1e-6
    }
    take = take_of_keep(keep)
    score = score_of_take(take, RATE, ("groove", "click"))
    assert {(event.sample, event.part, event.data[1]) for event in score.events} == heard
    assert keep.run_pass > 0 and heard


@pytest.mark.parametrize("lanes", [1, 8])
def test_the_same_as_the_mixer_of_live_playing(short_lanes: None, lanes: int) -> None:
    take = busy_take(2)
    score = score_of_take(take, RATE, (*usual_parts(take), "click"))
    levels = {"master": 11.0, "live": 6.0, "layer:2": -9.0}
    got = together(score, levels, 4000, 1, lanes)
    expected = mixed(score.events, len(got), levels)
    assert len(got) == 4 * RATE + 4000
    # Loud enough that the limiter has to work.
    assert np.abs(expected).max() > 0.8
    np.testing.assert_allclose(got, expected, rtol=0, atol=1e-6)


def test_an_overdriven_guitar_beside_the_riff_sounds_as_it_does_live() -> None:
    """A take with two inputs, the second with program 30 of General MIDI (counted from 1)."""
    rows = [(0.1, 0, (0x90, 28, 90)), (0.1, 1, (0x91, 40, 90)), (0.1, 1, (0x91, 47, 90)), (0.4, 0, (0x80, 28, 0))]
    rows += [(0.7, 1, (0x81, 40, 0)), (0.7, 1, (0x81, 47, 0)), (0.8, 0, (0x90, 31, 90)), (1.1, 0, (0x80, 31, 0))]
    events = tuple(Event(sec, port, bytes(data)) for sec, port, data in [(0.0, 1, (0xC1, 29)), *rows])
    plain = events[1:]
    take = small_take()
    scores = [
        score_of_take(replace(take, recording=replace(take.recording, events=one, layers=())), RATE)
        for one in (events, plain)
    ]
    levels = {"master": 0.0}
    driven, dry = (together(score, levels, 0, 1, 1) for score in scores)
    np.testing.assert_allclose(driven, mixed(scores[0].events, len(driven), levels), rtol=0, atol=1e-6)
    # The chord is another sound, the riff's own note after it is the same.
    first, last = scores[0].first, round(1.5 * RATE)
    assert np.abs(driven - dry)[: RATE // 2].max() > 0.01
    assert first >= 0 and np.abs(driven - dry)[last:].max() < 1e-4


@pytest.mark.parametrize("processes", [1, 2])
def test_lanes_and_processes_make_the_same_sound_as_one_go(short_lanes: None, processes: int) -> None:
    take = busy_take()
    score = score_of_take(take, RATE)
    struck = [event for event in score.events if event.part != "drums" and is_note_on(event.data)]
    jobs = jobs_of(17 * RATE, 8, processes)
    begins = [begin for job in jobs for begin in job.begins()]
    assert len(jobs) > 2 and len(begins) > 12
    # Strings ring over the cuts, and are struck again beyond them: that is what could go wrong.
    for begin in begins[1:-2]:
        assert any(begin - 7000 < event.sample < begin for event in struck)
    several, alone = sound(take, processes, 8, RATE), sound(take, 1, 1, RATE)
    assert several.shape == alone.shape == (17 * RATE, 2)
    np.testing.assert_allclose(several, alone, rtol=0, atol=1e-6)


def test_bends_and_their_range_hold_over_a_cut(short_lanes: None) -> None:
    # A range of 7 semitones, set and bent in the first second, sounds in the fifth.
    bent = layer(1, [(0.0, 0.2, 33), (9.0, 0.5, 33)], {0: [(0.0, 0.0), (0.1, 7.0)], 1: [(0.0, 7.0)]})
    take = small_take(cycle="4/4 4/4 4/4").changed(layers=(bent,), events=(), passes=1, end_sec=6.0)
    np.testing.assert_allclose(sound(take, 1, 8), sound(take, 1, 1), rtol=0, atol=1e-6)
    higher = take.changed(layers=(layer(1, [(9.0, 0.5, 40)]),))
    heard, wanted = (
        peak_hz(sound(one, 1, 8)[round(4.52 * RATE) : round(4.7 * RATE), 0].astype(float), 70, 95)
        for one in (take, higher)
    )
    assert abs(1200 * np.log2(heard / wanted)) < 10


def test_a_hammer_on_leaves_every_later_note_plucked(short_lanes: None) -> None:
    """Whichever lane the later notes begin in."""
    rows = [(0.0, 0x90, 36, 95), (0.6, 0xB0, 84, 36), (0.6, 0x90, 38, 50), (0.601, 0x80, 36, 0), (1.1, 0x80, 38, 0)]
    for beat in range(1, 3):
        rows += [(beat + 0.5, 0x90, 36, 95), (beat + 0.8, 0x80, 36, 0)]
    events = [SoundEvent(round(sec * RATE), "live", bytes((status, *data))) for sec, status, *data in rows]
    gains = PartGains(("live",), {})
    one, several = (
        strings_of(Job(0, 3 * RATE, length), events, 3 * RATE, gains)[:, : 3 * RATE] for length in (3 * RATE, RATE)
    )
    np.testing.assert_allclose(several, one, rtol=0, atol=1e-6)
    for beat in range(1, 3):
        assert np.abs(several[:, round((beat + 0.5) * RATE) :][:, : RATE // 4]).max() > 0.01


@pytest.mark.parametrize("before", [1, 66, 128, 129])
def test_a_note_struck_right_before_a_cut_rings_on(before: int) -> None:
    """Four seconds are two lanes of this piece: what is struck in the last cell of one is heard."""
    at = 4 * RATE - before
    events = (SoundEvent(at, "live", bytes((0x90, 33, 90))), SoundEvent(at + RATE // 2, "live", bytes((0x80, 33, 64))))
    cut = np.concatenate(list(render(Score(events, 0, 8 * RATE, ("playing",)), processes=1)))
    whole = np.concatenate(list(render(Score(events, 0, 8 * RATE, ("playing",)), processes=1, lanes=1)))
    assert np.abs(cut[at + 9600 : at + 12_000]).max() > 0.05 and np.abs(cut - whole).max() < 1e-6


def test_a_dead_note_leaves_no_other_note_of_its_string_dead() -> None:
    """Whatever sounds on other channels between the two."""
    count = np.arange(3)
    track = PieceTrack(
        "strings", count * 1.0, np.full(3, 0.5), np.array([43, 38, 43]), np.full(3, 90), np.array([0, 1, 0]),
        tuple(np.zeros((1, 2)) for _ in count), dead=count == 0,
    )  # fmt: skip
    rows = _track_rows(track, TempoMap.steady(small_take().brief.tempo), RATE, "live", {}, drums=False)
    decay = [row[2].data for row in sorted(rows, key=lambda row: row[:2]) if row[2].data[0] & 0xF0 == 0xB0]
    assert decay == [bytes((0xB0, 75, 0)), bytes((0xB0, 75, 64))]


def test_a_file_has_room_for_every_string() -> None:
    def chord(*pitches: int) -> Score:
        ons = [SoundEvent(0, f"layer:{2 * pitch}", bytes((0x90, pitch, 100))) for pitch in pitches]
        return Score(tuple(ons), 0, RATE, ())

    levels = {"master": -40.0}
    every = together(chord(*range(24, 64)), levels)
    apart = together(chord(*range(24, 44)), levels) + together(chord(*range(44, 64)), levels)
    assert np.abs(every).max() > 0.001
    np.testing.assert_allclose(every, apart, rtol=0, atol=1e-6)


def test_a_layer_sounds_from_the_pass_after_the_one_it_was_played_in() -> None:
    take = small_take()
    # The layer is what was played in the first pass, exactly.
    own = layer(1, [(0.02, 0.78, 43), (2.04, 0.56, 46)])
    beside = [e.sample for e in score_of_take(take.changed(layers=(own,)), RATE).events if is_layer_on(e)]
    assert beside == [2 * RATE, 3 * RATE]
    alone = score_of_take(take.changed(layers=(own,)), RATE, ("layer1",))
    assert [e.sample for e in alone.events if is_layer_on(e)] == [0, RATE, 2 * RATE, 3 * RATE]
    # Another layer stood before: it was heard in both passes. (0.03 and 2.48 quarters at 120, moved
    # to sixteenths.)
    other = [e.sample for e in score_of_take(take, RATE).events if is_layer_on(e)]
    assert other == [0, round(1.25 * RATE), 2 * RATE, round(3.25 * RATE)]


def is_layer_on(event: SoundEvent) -> bool:
    return event.part.startswith("layer") and is_note_on(event.data)


def test_parts() -> None:
    take = busy_take().changed(muted=frozenset({2}))
    assert usual_parts(take) == ("playing", "layer1", "layer3", "groove")
    assert parse_parts("click, Layer 2,playing", take) == ("playing", "layer2", "click")
    assert parse_parts("layers", take) == ("layer1", "layer2", "layer3")
    with pytest.raises(
        UserError, match=r"no part 'layer9' in this take; there are playing, layer1, layer2, layer3, groove, click\."
    ):
        parse_parts("layer9", take)
    with pytest.raises(UserError, match="no part 'groove'"):
        parse_parts("groove", small_take())


def test_an_early_downbeat_has_a_bar_in_front() -> None:
    take = small_take().changed(events=(note_on(-0.05, 40), note_off(0.3, 40)))
    score = score_of_take(take, RATE, ("playing", "click"))
    ons = [(e.part, e.sample) for e in score.events if is_note_on(e.data)]
    assert ons[0] == ("live", round(1.95 * RATE)) and ons[1] == ("click", 2 * RATE)
    assert score.end == 6 * RATE
    # The whole begins with that bar; bar 1 is the first of the first pass.
    assert score.first == 0 and score_of_take(take, RATE, bars=1).first == 2 * RATE


def test_bars() -> None:
    take = small_take(cycle="4/4 3/4")
    score = score_of_take(take, RATE, ("click",), from_bar=2, bars=2)
    assert (score.first, score.end) == (2 * RATE, round(5.5 * RATE))
    with pytest.raises(UserError, match=r"no bar 9: the take has 4 bars"):
        score_of_take(take, RATE, from_bar=9)
    with pytest.raises(UserError, match=r"0 bars cannot be rendered"):
        score_of_take(take, RATE, bars=0)
    # What is struck before and rings on is heard.
    whole, part = sound(small_take()), together(score_of_take(small_take(), RATE, from_bar=2))
    np.testing.assert_allclose(part, whole[2 * RATE :], rtol=0, atol=1e-6)
    assert np.abs(part[:100]).max() > 0.0


def test_sustain_is_heard() -> None:
    pedal = (Event(0.0, 0, bytes((0xB0, 64, 127))), note_on(0.1, 40), note_off(0.2, 40))
    held = sound(small_take().changed(layers=(), events=(*pedal, Event(1.5, 0, bytes((0xB0, 64, 0))))))
    let_go = sound(small_take().changed(layers=(), events=pedal[1:]))
    assert np.abs(held[RATE : RATE + 9600]).max() > 100 * np.abs(let_go[RATE : RATE + 9600]).max()


# ---- the command ---------------------------------------------------------------------------------


@pytest.fixture
def shelf(tmp_path: Path) -> str:
    path = tmp_path / "shelf.sqlite"
    with Shelf(path) as one:
        one.add(small_take())
    return str(path)


def test_the_command(shelf: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out.wav"
    assert main(["render", "1", "--shelf", shelf, "-o", str(out), "--click", "--level", "-6", "--tail", "0"]) == 0
    said = capsys.readouterr()
    assert said.out.startswith(f"{out}: 4.0 s of playing, layer1, click, 16 bit") and said.err == ""
    with wave.open(str(out)) as file:
        assert file.getparams()[:4] == (2, 2, RATE, 4 * RATE)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--parts", "layer7"], "There is no part 'layer7' in this take; there are playing, layer1, click."),
        (["--level", "layer1=99"], "'layer1=99' is not a level; write one like -6 or layer1=-6, from -60 to 12 dB."),
        (
            ["--level", "click=-3"],
            "There is no part 'click' to set a level of; there are master, playing, layer1, and layers.",
        ),
        (["--from-bar", "5"], "There is no bar 5: the take has 2 bars, counted from 1."),
        (["--tail", "-1"], "A tail of -1 seconds cannot be rendered; 0 to 60 would be right."),
        (["-o", "/nowhere/at/all.wav"], "/nowhere/at/all.wav: No such file or directory."),
    ],
)
def test_wrong_input_is_one_sentence(
    shelf: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], sentence: str
) -> None:
    out = tmp_path / "out.wav"
    assert main(["render", "1", "--shelf", shelf, "-o", str(out), *words]) == 2
    assert capsys.readouterr().err == f"loopdeck: {sentence}\n"
    assert not out.exists()


def test_a_take_without_notes_makes_no_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Shelf(tmp_path / "shelf") as store:
        store.add(small_take("rest").changed(events=(), layers=()))
    out = tmp_path / "rest.wav"
    words = ["render", "1", "--shelf", str(tmp_path / "shelf"), "-o", str(out)]
    assert main(words) == 2 and not out.exists()
    assert "has no notes to hear" in capsys.readouterr().err
    assert main([*words, "--click"]) == 0 and out.exists()


@POSIX
def test_a_full_disk_leaves_nothing_behind(shelf: str, tmp_path: Path) -> None:
    import resource

    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "take.wav").write_bytes(b"the one before")

    def little_room() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))

    done = subprocess.run(
        [sys.executable, "-m", "loopdeck", "render", "1", "--shelf", shelf, "-o", str(folder / "take.wav")],
        cwd=ROOT, preexec_fn=little_room, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == f"loopdeck: {folder / 'take.wav'}: File too large.\n"
    assert [one.name for one in folder.iterdir()] == ["take.wav"]
    assert (folder / "take.wav").read_bytes() == b"the one before"


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_the_bar_shows_after_a_second_and_on_a_terminal_only(monkeypatch: pytest.MonkeyPatch) -> None:
    def drawn(stream: io.StringIO, began: float) -> str:
        monkeypatch.setattr("sys.stderr", stream)
        bar = Bar(100, began)
        monkeypatch.setattr("time.perf_counter", lambda: 10.0)
        bar.show(50)
        bar.close()
        return stream.getvalue()

    assert "[####################....................]  50%" in drawn(Terminal(), 8.9)
    assert drawn(Terminal(), 9.1) == ""
    assert drawn(io.StringIO(), 0.0) == ""


AT_WORK = """
import multiprocessing, sys, time
from concurrent.futures import ProcessPoolExecutor
from loopdeck.export.render import _begin

multiprocessing.set_start_method(sys.argv[1])
pool = ProcessPoolExecutor(1, initializer=_begin, initargs=((), 0, ((), {}, 0)))
pool.submit(print, "at work", flush=True).result()
pool.submit(time.sleep, 600).result()
"""


@POSIX
@pytest.mark.parametrize("method", multiprocessing.get_all_start_methods())
def test_a_worker_ends_with_its_parent_however_python_starts_it(method: str) -> None:
    """That depends on Python's version and on the system; ``forkserver`` puts a process between."""
    words = [sys.executable, "-c", AT_WORK, method]
    process = subprocess.Popen(words, cwd=ROOT, start_new_session=True, stdout=subprocess.PIPE)
    assert process.stdout is not None and process.stdout.readline() == b"at work\n"
    process.kill()
    process.wait()
    until = time.monotonic() + 90
    with pytest.raises(ProcessLookupError):
        while time.monotonic() < until:
            os.killpg(process.pid, 0)
            time.sleep(0.05)


@POSIX
def test_workers_end_with_a_render_that_is_killed(tmp_path: Path) -> None:
    """Killed without a chance to say so; its workers are gone soon after."""
    with Shelf(tmp_path / "shelf") as store:
        store.add(busy_take(400))
    out = tmp_path / "out"
    out.mkdir()
    words = ["render", "1", "--shelf", str(tmp_path / "shelf"), "-o", str(out / "x.wav")]
    process = subprocess.Popen([sys.executable, "-m", "loopdeck", *words], cwd=ROOT, start_new_session=True)
    until = time.monotonic() + 90
    while not list(out.iterdir()):
        assert time.monotonic() < until and process.poll() is None
        time.sleep(0.02)
    time.sleep(0.3)
    process.kill()
    process.wait()
    with pytest.raises(ProcessLookupError):
        while time.monotonic() < until + 90:
            os.killpg(process.pid, 0)
            time.sleep(0.05)
