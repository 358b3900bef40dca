"""What tells takes of one name apart: the notes they begin with, and when they were kept. Pure."""

from datetime import datetime
from functools import lru_cache
from typing import Any

from loopdeck.errors import UserError
from loopdeck.theory.pitch import pitch_name
from loopdeck.theory.scale import parse_scale
from loopdeck.window.spelling import pretty_note

#: So many notes are named.
MOST = 6
#: A note that came in fewer of the passes than this is not the riff's.
_OFTEN = 0.6


def first_notes(picture: dict[str, Any], scale: str) -> str:
    """The names of the notes that a take's cycle begins with (``shelf.cycle_picture``): of the
    playing, else of its layers; of notes at one place the lowest.
    """
    notes: list[list[float]] = picture["notes"]
    played = [note for note in notes if not note[4] and note[3] >= _OFTEN] or [note for note in notes if not note[4]]
    lowest: dict[float, int] = {}
    for place, _, pitch, _, _ in sorted(played or notes, key=lambda note: (note[0], note[2])):
        lowest.setdefault(place, int(pitch))
    words = _named(tuple(lowest.values())[:MOST], scale)
    return words + (" …" if len(lowest) > MOST else "")


@lru_cache(256)
def _named(pitches: tuple[int, ...], scale: str) -> str:
    try:
        found = parse_scale(scale) if scale else None
    except UserError:
        found = None
    names = (found.spell(pitch) if found is not None else pitch_name(pitch) for pitch in pitches)
    return " ".join(pretty_note(name.rstrip("-0123456789")) for name in names)


@lru_cache(256)
def kept_words(kept_at: str) -> str:
    """When a take was kept, on this machine's clock: ``2031-05-06 20:30``; "" where it is no
    time.
    """
    try:
        return f"{datetime.fromisoformat(kept_at).astimezone():%Y-%m-%d %H:%M}"
    except (ValueError, OverflowError, OSError):
        return ""
