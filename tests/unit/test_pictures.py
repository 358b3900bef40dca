"""What the pictures of reports share: headlines of two lines, and axes in minutes and seconds."""

import pytest

from loopdeck.cli.pictures import clock_axis, headline, new_figure


@pytest.mark.parametrize("name", ["a slow one " * 30, "x" * 400])
def test_a_long_name_loses_its_end_and_not_what_is_said_of_it(name: str) -> None:
    said = " in E minor pentatonic: 3 of 40 notes outside"
    lines = headline(name, said, 50).split("\n")
    assert len(lines) == 2 and max(map(len, lines)) <= 50
    assert " ".join(lines).endswith(said) and lines[0].startswith(name[:10])
    assert headline("riff", said, 60) == "riff" + said


@pytest.mark.parametrize(
    ("ends", "marks"),
    [
        ((-0.055, 0.055), ["0:00"]),
        ((1.45, 1.55), ["0:01", "0:02"]),
        ((-1.2, 3.4), ["-0:01", "0:00", "0:01", "0:02", "0:03"]),
        ((0.0, 17.0), ["0:00", "0:02", "0:04", "0:06", "0:08", "0:10", "0:12", "0:14", "0:16"]),
        ((0.0, 3600.0), ["0:00", "10:00", "20:00", "30:00", "40:00", "50:00", "60:00"]),
        ((0.0, 36_000.0), [f"{60 * hour}:00" for hour in range(11)]),
    ],
)
def test_a_clock_axis_has_marks_at_whole_seconds(ends: tuple[float, float], marks: list[str]) -> None:
    pytest.importorskip("matplotlib")
    figure, (plot,) = new_figure(14.0, 4.0)
    plot.set_xlim(*ends)
    clock_axis(plot)
    figure.canvas.draw()
    low, high = plot.get_xlim()
    labels = zip(plot.get_xticks(), plot.get_xticklabels(), strict=True)
    assert [label.get_text() for at, label in labels if low <= at <= high] == marks
