"""What the strings and frets of a MusicXML part tell of its tuning and its octave.

Rule
    Where a file names no tuning, the first of ours is taken in which every string and fret makes
    the note's pitch. Where all of them make it an octave lower than it is written, the file has
    printed pitches and does not say so: then the strings are believed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.brief.tunings import find_tuning, names


def named(strings: str) -> str:
    """The name of the tuning with these open strings (``E1 A1 D2 G2``), the usual ones first; the
    strings where none of ours has them. Raises UserError.
    """
    wanted = find_tuning(strings).strings
    usual = ("four-string", "five-string", "six-string")
    return next((name for name in (*usual, *names()) if find_tuning(name).strings == wanted), strings)


def tuning_and_octaves(part: Any, brief: Brief, tuned: bool) -> tuple[Brief, int]:
    """The brief with the tuning, and how many octaves the notes sound from where they are written:
    0 or -1. ``tuned``: the file says its tuning.
    """
    said = list(_places(part))
    if not said:
        return brief, 0
    ours = [] if tuned else [find_tuning(name) for name in names()]
    for octaves in (0, -1):
        for tuning in (brief.tuning, *ours):
            if _fits(said, tuning.strings, octaves):
                return replace(brief, tuning=tuning), octaves
    return brief, 0


def _fits(said: Sequence[tuple[int, int, int]], strings: Sequence[int], octaves: int) -> bool:
    return all(
        string <= len(strings) and pitch + 12 * octaves == strings[string - 1] + fret for pitch, string, fret in said
    )


def _places(part: Any) -> Iterator[tuple[int, int, int]]:
    """(pitch, string, fret) of the single notes that have both."""
    for element in part.recurse().notes:
        found = {type(one).__name__: one for one in element.articulations}
        string, fret = found.get("StringIndication"), found.get("FretIndication")
        if (
            len(element.pitches) == 1
            and string is not None
            and fret is not None
            and string.number
            and string.number > 0
        ):
            yield element.pitches[0].midi, int(string.number), int(fret.number or 0)
