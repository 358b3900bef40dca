"""A picture of how notes were played: every written note a line at its pitch, what was done to it
drawn where it was done.

A slide is a sloping line, a hammer-on or pull-off an arc, a bend a line that leaves the note,
vibrato a wave, a dead note a cross; words say it too, so that no shape has to be known. Readable in
grey.
"""

from typing import TYPE_CHECKING, Any

import numpy as np

from loopdeck.cli.pictures import INK, LINE, NOW, QUIET, check_picture, new_figure, save

if TYPE_CHECKING:
    from loopdeck.bass.technique.reading import Written
    from loopdeck.shelf.material import Material

#: Seconds drawn at most, and inches a second.
_MOST_SEC, _INCH = 12.0, 1.5
_ARC_SEC = 0.25


def draw(material: "Material", notes: "list[Written]", path: str) -> None:
    """Draw the first twelve seconds of playing into ``path``. Raises UserError, OSError."""
    check_picture(path)
    start = notes[0].onset_sec if notes else 0.0
    shown = [note for note in notes if note.onset_sec < start + _MOST_SEC]
    width = min(max((note.end_sec for note in shown), default=start + 1.0) - start, _MOST_SEC + 1.0)
    pitches = [note.pitch for note in shown] or [40]
    figure, (plot,) = new_figure(1.5 + _INCH * width, 2.2 + 0.24 * (max(pitches) - min(pitches) + 4))
    plot.set_title(f"{material.title}: how it was played", loc="left", color=INK, fontsize=17, fontweight="bold")
    plot.set_xlim(start - 0.15, start + width + 0.15)
    plot.set_ylim(min(pitches) - 2.5, max(pitches) + 3.5)
    plot.set_xlabel("seconds", color=QUIET, fontsize=12)
    _names(plot, material, range(min(pitches), max(pitches) + 1))
    for before, note in zip([None, *shown[:-1]], shown, strict=True):
        _note(plot, note)
        if before is not None and note.reached != "pluck":
            _way_to(plot, before, note)
    save(figure, path)


def _names(plot: Any, material: "Material", pitches: range) -> None:
    from loopdeck.theory.pitch import pitch_name

    scale = material.brief.scale
    named = [pitch for pitch in pitches if scale is None or pitch % 12 in scale.pitch_classes]
    words = [scale.spell(pitch) if scale is not None else pitch_name(pitch) for pitch in named]
    plot.set_yticks(named, [word.replace("b", "♭").replace("#", "♯") for word in words])
    plot.grid(axis="y", color=LINE, linewidth=0.8)


def _note(plot: Any, note: "Written") -> None:
    start, end, pitch = note.onset_sec, note.end_sec, note.pitch
    if "dead" in note.marks:
        plot.plot(start, pitch, "x", color=INK, markersize=13, markeredgewidth=3)
    else:
        times = np.linspace(start, end, 200)
        plot.plot(times, pitch + _shape(note, times - start), color=INK, linewidth=5, solid_capstyle="butt")
    for mark, away in (("slide-from", -0.09), ("slide-to", 0.09)):
        if mark in note.marks:
            at = start if away < 0 else end
            plot.plot([at + away, at], [pitch - 1.6, pitch] if away < 0 else [pitch - 1.6, pitch][::-1], color=INK, linewidth=2)  # fmt: skip
    words = [_said(mark, note) for mark in note.marks]
    if note.reached != "pluck":
        words.insert(0, note.reached)
    if words:
        plot.text(start, pitch + 0.55 + max(note.bend_semitones, 0.0), "\n".join(words), va="bottom", color=NOW if note.unsure else INK, fontsize=9)  # fmt: skip


def _shape(note: "Written", after: "np.ndarray[Any, np.dtype[np.float64]]") -> Any:
    """The pitch above the note's own: a bend that rises (and falls), a vibrato's wave, enlarged
    where it would not be seen.
    """
    length = max(note.end_sec - note.onset_sec, 1e-3)
    shape = np.zeros(len(after))
    if "bend" in note.marks:
        rise = np.clip(after / (0.35 * length), 0.0, 1.0)
        fall = np.clip((after - 0.6 * length) / (0.25 * length), 0.0, 1.0) if "release" in note.marks else 0.0
        shape += note.bend_semitones * (rise - fall)
    if note.vibrato is not None:
        shape += max(note.vibrato[1] / 100, 0.5) * 0.5 * np.sin(2 * np.pi * note.vibrato[0] * after)
    return shape


def _way_to(plot: Any, before: "Written", note: "Written") -> None:
    if note.reached == "slide":
        plot.plot([before.end_sec, note.onset_sec], [before.pitch, note.pitch], color=INK, linewidth=2.5)
        return
    middle, half = note.onset_sec, _ARC_SEC / 2
    times = np.linspace(-half, half, 40)
    lift = max(before.pitch, note.pitch) + 0.4 - min(before.pitch, note.pitch)
    level = before.pitch + (note.pitch - before.pitch) * (times + half) / _ARC_SEC
    plot.plot(middle + times, level + 0.5 * lift * (1 - (times / half) ** 2), color=QUIET, linewidth=2)


def _said(mark: str, note: "Written") -> str:
    if mark == "vibrato" and note.vibrato is not None:
        return f"vibrato {note.vibrato[0]:.1f} Hz"
    return f"bend {note.bend_semitones:.1f}" if mark == "bend" else mark
