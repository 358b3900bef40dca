"""``loopdeck measure`` on a rig of its own making: a known delay is found again, what is lost is
counted, and what is wrong is one sentence.
"""

import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from loopdeck.analysis.latency import measure
from loopdeck.cli import measure as command
from loopdeck.cli.main import main
from loopdeck.engine.input_latency import load_corrections
from loopdeck.engine.measuring import Measuring, NoteOnInput, SoundClicks
from loopdeck.errors import UserError
from loopdeck.process.clock import SimClock
from loopdeck.window.latency_picture import SIZE, latency_picture
from loopdeck.window.theme import PAPER
from tests.unit import sound_rig


class Rig:
    """Ports and a clock: each note-on that is sent comes back by ``answer(seconds it was sent, how
    many-th)``, or never (None).
    """

    def __init__(self, answer: Callable[[float, int], float | None]) -> None:
        self.clock = SimClock(100.0)
        self.note_ons = NoteOnInput(self.clock)
        self.sent: list[bytes] = []
        self._answer, self._waiting, self._before = answer, list[float](), 100.0
        self.ports = [SimpleNamespace(role="in", shown="tin cup MIDI 1 24:0")]
        self.quiet = self.closed = False

    def sleep(self, sec: float) -> None:
        self.clock.move_to(self.clock.now() + max(sec, 0.0001))

    def send(self, data: bytes) -> None:
        self.sent.append(data)
        if data[0] & 0xF0 == 0x90:
            strokes = sum(one[0] & 0xF0 == 0x90 for one in self.sent)
            when = self._answer(self.clock.now(), strokes - 1)
            if when is not None:
                self._waiting.append(when)
                self._waiting.sort()

    def poll(self) -> None:
        while self._waiting and self._waiting[0] <= self.clock.now():
            when = self._waiting.pop(0)
            self.note_ons.hear(0, bytes((0x90, 60, 90)), when - self._before)
            self._before = when

    def silence(self) -> None:
        self.quiet = True

    def close(self) -> None:
        self.closed = True

    def measuring(self) -> Measuring:
        return Measuring(self, self.note_ons, self.clock, self.sleep)


def test_a_known_delay_is_found_again() -> None:
    rng = np.random.default_rng(3)
    found = Rig(lambda sec, number: sec + 0.0123 + float(rng.uniform(-0.001, 0.001))).measuring().loop(100)
    assert abs(found.median_ms - 12.3) < 0.6 and found.lost == found.spurious == 0
    assert 0.5 < found.jitter_ms < 1.7 and found.correction_ms == found.median_ms
    assert [one.holds for one in found.judgements] == [False, found.jitter_ms <= 1.0, True]


def test_what_is_lost_is_counted_and_nothing_is_mistaken_for_it() -> None:
    found = Rig(lambda sec, number: None if number % 10 == 5 else sec + 0.09).measuring().loop(50)
    assert found.lost == 5 and abs(found.median_ms - 90.0) < 0.6 and found.jitter_ms < 0.6


def test_every_note_is_let_go() -> None:
    rig = Rig(lambda sec, number: sec + 0.002)
    rig.measuring().loop(5)
    ons, offs = ([one for one in rig.sent if one[0] == status] for status in (0x90, 0x80))
    assert len(ons) == len(offs) >= 6


def test_taps_a_little_early() -> None:
    # The player listens to four clicks, then taps 30 ms before each, give or take 10.
    rng = np.random.default_rng(4)
    rig = Rig(lambda sec, number: sec + 0.6 - 0.03 + float(rng.normal(0, 0.01)) if number >= 3 else None)
    found = rig.measuring().taps(30)
    assert found.kind == "tap" and -36.0 < found.median_ms < -24.0 and found.correction_ms == 0.0
    assert found.lost <= 1 and "so this is you and not the rig" in found.judgements[0].sentence


def test_nobody_there() -> None:
    with pytest.raises(UserError, match=r"^Nothing came back within 20 seconds; .*\.$"):
        Rig(lambda sec, number: None).measuring().loop(5)
    with pytest.raises(UserError, match=r"^Nobody tapped within 30 seconds; .*\.$"):
        Rig(lambda sec, number: None).measuring().taps(5)
    with pytest.raises(UserError, match=r"^Only \d of 20 notes came back"):
        Rig(lambda sec, number: sec + 0.004 if number < 3 else None).measuring().loop(20)


class Played:
    """A player on the simulated sound device, who taps ``late_sec`` after each click is heard; the
    device can be pulled out.
    """

    def __init__(self, patch: pytest.MonkeyPatch, late_sec: float, sounds_for: float = float("inf")) -> None:
        self.rig = sound_rig.Rig(patch, 256)
        self.note_ons = NoteOnInput(self.rig.clock)
        self._late_sec, self._until, self._tapped = late_sec, self.rig.host + sounds_for, 0
        self._due = self.rig.host

    def sleep(self, sec: float) -> None:
        rig, until = self.rig, self.rig.host + max(sec, 0.0001)
        while self._due <= until:
            if self._due < self._until:
                rig.ask(self._due)
            self._due += rig.frames / sound_rig.RATE
        rig.host = until

    def poll(self) -> None:
        rig = self.rig
        for event, _ in rig.mixer.fed[self._tapped :]:
            heard = (rig.clock._origin or 0.0) + event.sample / sound_rig.RATE
            if rig.clock.now() < heard + self._late_sec:
                break
            self._tapped += 1
            self.note_ons.hear(0, bytes((0x90, 60, 90)), 1e9)

    def send(self, data: bytes) -> None:
        raise AssertionError("the click is built in")

    def measuring(self) -> Measuring:
        clicks = SoundClicks(self.rig.sound, self.sleep)
        return Measuring(self, self.note_ons, self.rig.clock, self.sleep, clicks=clicks)


def test_taps_to_the_built_in_click(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is measured counts from the moment a click is heard, not from when it was made."""
    player = Played(monkeypatch, 0.018)
    found = player.measuring().taps(30)
    assert found.kind == "tap" and found.lost == found.spurious == 0
    assert abs(found.median_ms - 18.0) < 0.6 and found.jitter_ms < 0.6
    assert {event.part for event, _ in player.rig.mixer.fed} == {"click"} and player.rig.sound.report()["late"] == 0


def test_a_sound_device_that_goes_or_never_plays_ends_the_measurement(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(UserError, match=r"^The sound device simulated has gone, .*\.$"):
        Played(monkeypatch, 0.018, 6.0).measuring().taps(30)
    with pytest.raises(UserError, match=r"^The sound device simulated does not play; .*\.$"):
        Played(monkeypatch, 0.018, 0.0).measuring()


# ---- the command ---------------------------------------------------------------------------------


@pytest.fixture
def rig(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[[Callable[[float, int], float | None]], Rig]:
    def make(answer: Callable[[float, int], float | None]) -> Rig:
        one = Rig(answer)

        def opened(system: Any, into: str, out: str, note_ons: NoteOnInput) -> Rig:
            one.note_ons = note_ons
            return one

        monkeypatch.setattr(
            command, "_chosen", lambda api, into, out, sends: (None, into or "tin", (out or "tin") if sends else "")
        )
        monkeypatch.setattr(command, "_opened", opened)
        monkeypatch.setattr("loopdeck.process.clock.PerfClock", lambda: one.clock)
        monkeypatch.setattr("time.sleep", one.sleep)
        monkeypatch.setattr("loopdeck.process.priority.RealtimeGuard.begin", lambda guard: None)
        monkeypatch.setattr(
            "loopdeck.engine.paths.default_corrections", lambda: tmp_path / "config" / "corrections.json"
        )
        return one

    return make


def test_the_command_reports_and_stores(rig: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = rig(lambda sec, number: sec + 0.0072)
    assert main(["measure", "--count", "40", "--picture", str(tmp_path / "picture.png")]) == 0
    said = capsys.readouterr()
    assert said.err == "loopdeck: 40 notes go to 'tin' and are awaited on 'tin'.\n"
    assert "median" in said.out and "lost 0 of 40" in " ".join(said.out.split())
    assert "is within 10 ms, what an instrument may have before it feels slow (Wessel & Wright 2002)." in said.out
    assert "Stored for the input 'tin cup MIDI 1'" in said.out
    assert one.quiet and one.closed
    found = load_corrections(tmp_path / "config" / "corrections.json")
    assert abs(found["tin cup MIDI 1"].correction_ms - 7.2) < 0.6
    assert (tmp_path / "picture.png").read_bytes().startswith(b"\x89PNG")


def test_json_alone(rig: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rig(lambda sec, number: sec + 0.0072)
    assert main(["measure", "--count", "20", "--json", "--no-store"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["pairs"] == 20 and found["stored"] is False and abs(found["median_ms"] - 7.2) < 0.6
    assert not (tmp_path / "config").exists()


def test_early_taps_do_not_wipe_out_what_a_loop_has_found(
    rig: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig(lambda sec, number: sec + 0.005)
    assert main(["measure", "--count", "20"]) == 0
    rig(lambda sec, number: sec + 0.6 - 0.02 + 0.001 * (number % 5))
    assert main(["measure", "--tap", "--click", "midi", "--count", "20"]) == 0
    said = capsys.readouterr()
    assert "Most people tap a little before a click" in said.err and said.out.rstrip().endswith("Not stored.")
    assert load_corrections(tmp_path / "config" / "corrections.json")["tin cup MIDI 1"].kind == "loop"


def test_wrong_input_is_one_sentence(rig: Any, capsys: pytest.CaptureFixture[str]) -> None:
    rig(lambda sec, number: None)
    assert main(["measure", "--count", "3"]) == 2
    assert capsys.readouterr().err == "loopdeck: 3 cannot be measured with; 5 to 10000 would be right.\n"
    assert main(["measure", "--count", "5"]) == 2
    assert capsys.readouterr().err.endswith("check that the output leads back to the input.\n")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--click", "sound"], "--click is for taps; give --tap as well."),
        (["--tap", "--click", "sound", "--out", "tin"], "leave --out away, or say --click midi."),
        (["--tap", "--click", "sound", "--sound-delay", "-4"], "A sound delay of -4 ms is out of range; 0 to 1000 would be right."),
    ],
)  # fmt: skip
def test_a_click_that_cannot_be(words: list[str], said: str, rig: Any, capsys: pytest.CaptureFixture[str]) -> None:
    rig(lambda sec, number: None)
    assert main(["measure", *words]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1 and err.endswith(f"{said}\n")


def test_no_midi_system(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr("loopdeck.midi.systems.find_system", lambda api: None)
    assert main(["measure"]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1 and err.endswith("so there is nothing to measure.\n")


def test_the_picture_shows_the_answers() -> None:
    sent = np.arange(60) * 0.1
    late = 0.004 + 0.0002 * np.sin(np.arange(60))
    late[50:] += 0.012
    picture = latency_picture(measure(sent, sent + late), "Latency")
    assert picture.get_size() == SIZE
    # Ink in two heaps: columns of the plot that have bars, left and right, and none between.
    bars = [x for x in range(70, 1050) if picture.get_at((x, 455))[:3] == PAPER.ink]
    assert bars and max(np.diff(bars)) > 300 and min(bars) < 300 and max(bars) > 900
