"""The command tune: which pitches sound when, and what it refuses."""

import pytest

from loopdeck.audio.listening import ToHear
from loopdeck.audio.sound_device import SoundDeviceError
from loopdeck.brief.tunings import find_tuning
from loopdeck.cli.main import main
from loopdeck.cli.tune import open_strings
from loopdeck.theory.tuning import FOUR_STRING


def test_every_string_sounds_with_its_octave_and_is_let_go() -> None:
    piece = open_strings(FOUR_STRING, [4, 3, 2, 1], 8.0, False)
    assert piece.length == 4 * 8 * 48_000
    held: set[int] = set()
    begun = []
    for event in piece.events:
        status, pitch, _ = event.data
        if status == 0x90:
            assert pitch not in held
            held.add(pitch)
            begun.append((event.sample // (8 * 48_000), pitch))
        else:
            held.discard(pitch)
    assert not held
    for place, pitch in enumerate((28, 33, 38, 43)):
        assert {one for at, one in begun if at == place} == {pitch, pitch + 12}


@pytest.mark.parametrize("seconds", [1.0, 3.0, 8.0, 61.0])
def test_a_string_is_plucked_anew_as_long_as_it_is_held(seconds: float) -> None:
    piece = open_strings(find_tuning("drop-d"), [4], seconds, True)
    assert piece.times == 0
    samples = [event.sample for event in piece.events]
    assert samples == sorted(samples) and samples[-1] < piece.length
    plucked = [event.sample for event in piece.events if event.data[:2] == bytes((0x90, 26))]
    assert len(plucked) >= seconds // 6
    assert all(b - a <= 6 * 48_000 for a, b in zip(plucked, [*plucked[1:], piece.length], strict=True))


def test_it_says_the_strings_and_plays_them(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Open strings in equal temperament: D1 36.71 Hz, A1 55 Hz (ISO 16)."""
    heard: list[ToHear] = []

    def play(piece: ToHear, buffer: int, device: str, opened: object) -> None:
        heard.append(piece)
        opened("a box")  # type: ignore[operator]

    monkeypatch.setattr("loopdeck.audio.listening.play_sound", play)
    assert main(["tune", "--tuning", "drop-d", "--seconds", "2"]) == 0
    assert "D1 36.71 Hz, A1 55.00 Hz" in capsys.readouterr().out
    assert main(["tune", "--string", "1"]) == 0
    assert "Ctrl-C" in capsys.readouterr().out
    assert [piece.times for piece in heard] == [1, 0]


@pytest.mark.parametrize(
    "words", [["--tuning", "none"], ["--string", "5"], ["--string", "0"], ["--seconds", "0"], ["--seconds", "nan"]]
)
def test_what_cannot_be_sounded_is_one_sentence(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tune", *words]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_without_a_sound_device_it_names_the_other_way(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def deaf(*_: object) -> None:
        raise SoundDeviceError("There is no sound device.")

    monkeypatch.setattr("loopdeck.audio.listening.play_sound", deaf)
    assert main(["tune"]) == 2
    said = "loopdeck: There is no sound device; --out PORT plays on a MIDI output instead.\n"
    assert capsys.readouterr().err == said
