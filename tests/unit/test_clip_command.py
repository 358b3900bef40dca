"""``loopdeck clip``, read back: length, frame rate, size, click against frame, and what is
clear.
"""

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from loopdeck.cli.clip import _notes, _score
from loopdeck.cli.main import main
from loopdeck.export.piece import piece_of_take
from loopdeck.export.render import render
from loopdeck.export.smf import write_smf
from loopdeck.shelf.excerpt import in_a_brief
from loopdeck.shelf.source import open_take
from loopdeck.window.clip_frame import ClipPainter
from loopdeck.window.clip_layout import SHOWN, clip_layout
from loopdeck.window.clip_planes import Planes
from loopdeck.window.clip_play import ClipNote
from loopdeck.window.layout import Box
from tests.unit.test_play_command import take_of

av = pytest.importorskip("av")
FPS, SIZE = 25, (480, 270)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    write_smf(tmp_path / "four.mid", piece_of_take(take_of([40, 43, 45, 47], tempo="120")))
    return tmp_path / "four.mid"


def made(file: Path, name: str, *words: str) -> Path:
    out = file.with_name(name)
    size = f"{SIZE[0]}x{SIZE[1]}"
    assert main(["clip", str(file), "-o", str(out), "--size", size, "--fps", str(FPS), *words]) == 0
    return out


def pictures(path: Path, form: str = "rgb24") -> tuple[np.ndarray, np.ndarray]:
    """Frames and their seconds."""
    with av.open(str(path)) as clip:
        found = [(frame.to_ndarray(format=form), float(frame.time)) for frame in clip.decode(video=0)]
    return np.array([one for one, _ in found]), np.array([sec for _, sec in found])


def sound(path: Path) -> tuple[np.ndarray, float]:
    """Samples of one channel, and the second of the first."""
    with av.open(str(path)) as clip:
        frames: list[Any] = list(clip.decode(audio=0))
        return np.concatenate([frame.to_ndarray()[0] for frame in frames]), float(frames[0].time)


def test_the_frames_are_the_windows(file: Path) -> None:
    """What is shown is drawn by the window's own parts: blocks on the lanes, the fret on the tab,
    the note on the neck.
    """
    take = in_a_brief(open_take(str(file), None))
    notes = [ClipNote(beat, 0.9, pitch, 90, 4 - (pitch > 44)) for beat, pitch in enumerate((40, 43, 45, 47))]
    painter = ClipPainter(take.brief, notes, (1280, 720), "paper", SHOWN, 120.0)
    painter.canvas.pen.log, painter.canvas.pen.log_size = [], (1280, 720)
    before = painter.pixels(0.5)
    lanes = clip_layout(1280, 720, SHOWN).sections["lanes"]
    said = [text for text, _ in painter.canvas.pen.log]
    assert "1.1" in said and {"E", "A", "D", "G"} <= set(said) and "12" in said
    assert painter.view.played.sounding()[0].pitch == 40
    after = painter.pixels(1.5)
    changed = (before[..., :3] != after[..., :3]).any(axis=2)[lanes.y : lanes.bottom]
    assert changed.mean() > 0.005 and painter.view.played.sounding()[0].pitch == 43
    # Frames do not depend on what was drawn before.
    assert (painter.pixels(0.5) == ClipPainter(take.brief, notes, (1280, 720), "paper", SHOWN, 120.0).pixels(0.5)).all()


@pytest.mark.parametrize("shown", [("lanes",), ("tab",), ("neck",), ("count",), SHOWN])
@pytest.mark.parametrize("size", [(320, 180), (1920, 1080), (720, 1280)])
def test_parts_share_the_frame_without_overlapping(size: tuple[int, int], shown: tuple[str, ...]) -> None:
    boxes = list(clip_layout(*size, shown).sections.values())
    assert all(Box(0, 0, *size).holds(box) for box in boxes)
    assert not any(one.overlaps(other) for index, one in enumerate(boxes) for other in boxes[index + 1 :])


@pytest.mark.parametrize("shown", [("count",), ("tab", "neck"), SHOWN])
@pytest.mark.parametrize("ground", ["paper", "clear"])
def test_what_is_told_to_have_changed_is_all_that_has(file: Path, shown: tuple[str, ...], ground: str) -> None:
    """Frame after frame, into the next pass and back: the same as drawn from nothing."""
    take, size = in_a_brief(open_take(str(file), None)), (320, 400)
    notes = [ClipNote(beat, 0.9, pitch, 90, 4 - (pitch > 44)) for beat, pitch in enumerate((40, 43, 45, 47, 52))]
    painter = ClipPainter(take.brief, notes, size, ground, shown, 120.0)
    planes, anew, area = Planes(size, ground == "clear"), Planes(size, ground == "clear"), 0
    for at_q in (*np.arange(0, 6, 0.17), 1.0):
        painter.planes(float(at_q), planes)
        area += sum(box.w * box.h for box in painter.changed)
        anew.take(painter.pixels(float(at_q)), Box(0, 0, *size))
        assert all((one == other).all() for one, other in zip(planes.all(), anew.all(), strict=True)), at_q
        painter.planes(float(at_q), planes)
    assert area / 37 < 0.7 * size[0] * size[1], "most of a frame stands still"


def test_planes_are_those_of_the_recommendation() -> None:
    """ITU-R BT.601-7, narrow range: white 235, black 16; pure red has the most of Cr, 240."""
    planes = Planes((2, 2), False)
    for colour, expected in [
        ((255, 255, 255), (235, 128, 128)),
        ((0, 0, 0), (16, 128, 128)),
        ((0, 0, 255), (81, 90, 240)),
        ((255, 0, 0), (41, 240, 110)),
    ]:
        planes.take(np.full((2, 2, 4), (*colour, 255), np.uint8), Box(0, 0, 2, 2))
        assert tuple(int(plane[0, 0]) for plane in planes.all()) == expected, colour


@pytest.mark.parametrize("ending", ["mp4", "webm"])
def test_a_clip_read_back(file: Path, ending: str) -> None:
    out = made(file, f"clip.{ending}")
    frames, seconds = pictures(out)
    assert frames.shape == (50, SIZE[1], SIZE[0], 3)
    assert np.allclose(np.diff(seconds), 1 / FPS, atol=1e-3) and seconds[0] == pytest.approx(0, abs=1e-3)
    samples, start = sound(out)
    assert len(samples) / 48_000 == pytest.approx(2.0, abs=0.05)
    # The count stands at the top on the left, and nothing else does.
    box = clip_layout(*SIZE, SHOWN).sections["count"]
    count = frames[:, box.y : box.bottom, box.x : box.right].astype(int)
    changes = np.abs(np.diff(count, axis=0)).mean(axis=(1, 2, 3))
    beats = seconds[1:][changes > 3.0]
    assert np.allclose(beats, [0.52, 1.0, 1.52], atol=0.021), "the first frame at or after the beat"
    power = np.abs(samples)
    clicks = []
    for beat in (0.5, 1.0, 1.5):
        near = slice(round((beat - start - 0.1) * 48_000), round((beat - start + 0.1) * 48_000))
        clicks.append(
            start + (near.start + int(np.argmax(np.diff(np.convolve(power[near], np.ones(48) / 48, "same"))))) / 48_000
        )
    assert np.abs(beats - clicks).max() <= 1 / FPS


def test_a_clear_ground_lets_the_picture_below_through(file: Path) -> None:
    out = made(file, "clear.webm", "--background", "clear", "--tempo", "240")
    with av.open(str(out)) as clip:
        stream = clip.streams.video[0]
        assert stream.metadata.get("alpha_mode", stream.metadata.get("ALPHA_MODE")) == "1"
        decoder = av.CodecContext.create("libvpx-vp9", "r")
        frames = [frame for packet in clip.demux(video=0) if packet.size for frame in decoder.decode(packet)]
    alpha = frames[0].to_ndarray(format="rgba")[..., 3]
    assert alpha[0, 0] < 10 and alpha.max() > 245 and len(frames) == 25


def test_a_gif_without_sound(file: Path) -> None:
    frames, seconds = pictures(made(file, "CLIP.GIF", "--tempo", "240", "--show", "lanes,tab"))
    assert len(frames) == 25 and seconds[-1] == pytest.approx(0.96, abs=0.02)


def test_a_gif_is_clear_around_the_parts(file: Path) -> None:
    out = made(file, "clear.gif", "--tempo", "240", "--show", "lanes,count", "--background", "clear")
    frames, _ = pictures(out, "bgra")
    boxes = clip_layout(*SIZE, ("lanes", "count")).sections
    lanes = boxes["lanes"]
    assert len(frames) == 25 and (frames[:, 0, :, 3] == 0).all(), "the edge is clear in every frame"
    assert (frames[3][lanes.y + 2 : lanes.bottom - 2, lanes.x + 2 : lanes.right - 2, 3] == 255).all()


def test_a_file_without_alpha_has_a_green_to_be_keyed_out(file: Path) -> None:
    take = in_a_brief(open_take(str(file), None))
    notes = [ClipNote(0, 0.9, 40, 90, 4)]
    painter = ClipPainter(take.brief, notes, (480, 270), "clear", ("neck", "count"), 120.0, "steps", keyed=True)
    frame = painter.pixels(0.5)
    boxes = clip_layout(480, 270, ("neck", "count")).sections
    assert (frame[..., 3] == 255).all() and frame[0, 0].tolist() == [0, 255, 0, 255]
    for box in boxes.values():
        inside = frame[box.y : box.bottom, box.x : box.right, :3]
        assert not (inside == (0, 255, 0)).all(axis=2).any()


def test_an_early_downbeat_is_seen_and_heard(tmp_path: Path) -> None:
    """30 ms before the first click, as people play: in its pass on the lanes, and in the sound."""
    take = take_of([40, 43, 45, 47, 52, 43, 45, 47])
    early = take.changed(events=tuple(one._replace(time_sec=one.time_sec - 0.03) for one in take.recording.events))
    notes = _notes(early)
    painter = ClipPainter(early.brief, notes, (480, 270), "paper", SHOWN, 120.0)
    for at_q, pitch in ((0.1, 40), (1.1, 43), (4.1, 52)):
        painter.pixels(at_q)
        assert [one.pitch for one in painter.view.played.sounding()] == [pitch]
    score = _score(early, ("playing",))
    assert score.first == 0 and score.end == 192_000
    assert [one.sample for one in score.events if one.data[0] & 0xF0 == 0x90][:2] == [0, 22_560]
    heard = np.concatenate(list(render(score, {}, 0)))
    assert np.abs(heard[:2400]).max() > 0.05


@pytest.mark.parametrize("size", [(1280, 720), (720, 1280), (640, 360)])
@pytest.mark.parametrize("shown", [("neck",), ("neck", "count"), SHOWN])
def test_the_neck_reaches_as_far_as_the_riff(file: Path, size: tuple[int, int], shown: tuple[str, ...]) -> None:
    take = in_a_brief(open_take(str(file), None))
    # The nineteenth fret of the highest string.
    painter = ClipPainter(take.brief, [ClipNote(0, 0.9, 62, 90, 1)], size, "paper", shown, 120.0)
    painter.canvas.pen.log, painter.canvas.pen.log_size = [], size
    painter.pixels(0.5)
    assert "D" in [text for text, box in painter.canvas.pen.log if box.x > size[0] / 2]


@pytest.mark.parametrize("shown", [("tab",), ("tab", "neck"), ("lanes",), ("count",)])
def test_every_frame_moves(file: Path, shown: tuple[str, ...]) -> None:
    take = in_a_brief(open_take(str(file), None))
    painter = ClipPainter(take.brief, [ClipNote(0, 3.9, 40, 90, 4)], (480, 270), "paper", shown, 120.0)
    frames = [painter.pixels(at_q).copy() for at_q in np.arange(0.1, 3.5, 0.2)]
    assert all((one != other).any() for one, other in pairwise(frames))


def test_the_grounds_differ(file: Path) -> None:
    light, _ = pictures(made(file, "a.mp4", "--tempo", "240", "--show", "neck", "--no-click"))
    dark, _ = pictures(made(file, "b.mp4", "--tempo", "240", "--background", "slate"))
    assert light[0].mean() > 200 > 90 > dark[0].mean()


def test_wrong_words_get_a_sentence(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_smf(tmp_path / "empty.mid", piece_of_take(take_of([])))
    (tmp_path / "a.folder").mkdir()
    out = ["-o", str(tmp_path / "x.mp4")]
    cases = [
        ([str(tmp_path / "empty.mid"), *out], "no notes"),
        ([str(file), "-o", str(tmp_path / "x.avi")], "cannot be written"),
        ([str(file), *out, "--size", "big"], "not a size"),
        ([str(file), *out, "--size", "641x360"], "even"),
        ([str(file), *out, "--fps", "900"], "out of range"),
        ([str(file), *out, "--show", "drums"], "cannot be shown"),
        ([str(file), *out, "--tempo", "9"], "out of range"),
        ([str(file), "-o", str(tmp_path / "a.folder")], "is a folder"),
    ]
    for words, says in cases:
        assert main(["clip", *words]) == 2
        text = capsys.readouterr().err
        assert says in text and text.count("\n") == 1
        assert not list(tmp_path.glob("x.*")) and not list(tmp_path.glob(".x*"))
