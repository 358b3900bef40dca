"""Why a scale explains a playing, and what would put it back into one: in words.

Conventions
    A reason names what a teacher would point at: how the root behaves, the one degree that tells
    this scale from its nearest rival, and what lies outside. Notes are spelled by the scale,
    without octave; "natural" is said where it is what matters.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.analysis.scale_finder import Playing, Ranked, goes_round
from loopdeck.theory.formulas import semitone_of
from loopdeck.theory.pitch import Spelled
from loopdeck.theory.scale import Scale

#: Degrees as players call them. Common practice, no source.
DEGREES = {
    "1": "the root", "b2": "the minor second", "2": "the major second", "#2": "the raised second", "b3": "the minor third",
    "3": "the major third", "4": "the fourth", "b4": "the flat fourth", "#4": "the raised fourth", "b5": "the flat fifth",
    "5": "the fifth", "#5": "the raised fifth", "b6": "the minor sixth", "6": "the major sixth", "bb7": "the diminished seventh",
    "b7": "the minor seventh", "7": "the major seventh",
}  # fmt: skip
#: A root is said to take much of the time from this share on, and a strong place to be the root's.
_MUCH = 0.2
_NAMED = 3


class Change(NamedTuple):
    """One outside note moved into the scale: its place in the row of notes, and the pitch it
    becomes.
    """

    at: int
    pitch: int


def _plain(note: Spelled) -> str:
    """A note in a sentence: ``C#``, ``E natural``."""
    return f"{note} natural" if note.accidental == 0 else str(note)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _classes(playing: Playing) -> NDArray[np.int64]:
    return np.asarray(playing.pitch % 12, np.int64)


def root_facts(playing: Playing, root: int) -> list[str]:
    """What the playing does with a root, the strongest first, as the ends of a sentence that begins
    with its name: ``is the last note``, ``opens most bars``.
    """
    classes = _classes(playing)
    mine = classes == root
    ends = []
    if not goes_round(playing):
        ends += ["the last note"] if mine[-1] else []
        ends += ["the first"] if mine[0] else []
    ends += ["the lowest note"] if mine[int(np.argmin(playing.pitch))] else []
    does = []
    strong = playing.strong >= 0.99
    if strong.sum() > 1 and mine[strong].mean() > 0.5:
        does.append("opens most bars")
    total = float(playing.length_q.sum())
    share = float(playing.length_q[mine].sum()) / total if total > 0 else float(mine.mean())
    if share >= _MUCH:
        does.append(f"sounds {round(100 * share)} % of the time")
    named = [f"is {_listed(ends)}"] if ends else []
    return [*named, *does[: max(_NAMED - len(ends), 0)]]


def _root_reason(playing: Playing, scale: Scale) -> str:
    facts = root_facts(playing, scale.root.pitch_class)
    if facts:
        return f"{scale.root} {_clauses(facts)}"
    if not (_classes(playing) == scale.root.pitch_class).any():
        return f"the root {scale.root} never sounds"
    return f"little leans on {scale.root}"


def _clauses(facts: list[str]) -> str:
    """Joined; with a comma before the last one where there is an ``and`` already."""
    if len(facts) > 1 and " and " in facts[0]:
        return f"{', '.join(facts[:-1])}, and {facts[-1]}"
    return _listed(facts)


def telling(playing: Playing, scale: Scale, rival: Scale) -> str:
    """What tells a scale from a rival on the same root: a degree that sounds and only one of them
    has. Empty where nothing does.
    """
    heard = set(((_classes(playing) - scale.root.pitch_class) % 12).tolist())
    own = {semitone_of(degree) % 12: degree for degree in scale.degrees}
    other = {semitone_of(degree) % 12: degree for degree in rival.degrees}
    for step, degree in own.items():
        if step not in other and step in heard:
            note = scale.spelled[scale.degrees.index(degree)]
            return f"{_plain(note)} is {DEGREES[degree]}: {scale.name}, not {rival.name}"
    missing = [degree for step, degree in other.items() if step not in own and step not in heard]
    # Where most of the scale itself is silent, more silence tells nothing.
    if missing and set(own) < set(other) and 2 * len(heard & set(own)) > len(own):
        words = [DEGREES[degree] for degree in missing]
        return f"{_listed(words)} never sound{'s' if len(words) == 1 else ''}: {scale.name}, not {rival.name}"
    return ""


def _outside_reason(playing: Playing, one: Ranked) -> str:
    """What lies outside, the most frequent first."""
    if not one.outside.any():
        return "every note is in it"
    steps = (_classes(playing)[one.outside] - one.scale.root.pitch_class) % 12
    counts = np.bincount(steps, minlength=12)
    names = [_named(one.scale, step) for step in np.argsort(-counts, kind="stable").tolist() if counts[step]]
    named = names[:_NAMED] + ([f"{len(names) - _NAMED} more"] if len(names) > _NAMED else [])
    verb = "lies" if len(names) == 1 else "lie"
    return f"{_listed(named)} {verb} outside ({_count(int(one.outside.sum()), 'note')})"


def _named(scale: Scale, step: int) -> str:
    degree = scale.degree_table[step]
    return f"{scale.spell(60 + scale.root.pitch_class + step).rstrip('-0123456789')} ({degree})"


def reasons(playing: Playing, ranked: list[Ranked]) -> list[str]:
    """A sentence for each of the ranked scales, in their order."""
    found = []
    for place, one in enumerate(ranked):
        parts = [_outside_reason(playing, one), _root_reason(playing, one.scale)]
        rivals = [
            other.scale
            for other in (ranked[:place] or ranked[1:])
            if other.scale.root.pitch_class == one.scale.root.pitch_class
        ]
        told = next((words for rival in rivals if (words := telling(playing, one.scale, rival))), "")
        if place == 0 and not told:
            told = next(
                (
                    words
                    for name in _USUAL_RIVALS.get(one.scale.name, ())
                    if (words := _against(playing, one.scale, name))
                ),
                "",
            )
        parts += [told] if told else []
        same = next(
            (other.scale for other in ranked[:place] if other.scale.pitch_classes == one.scale.pitch_classes), None
        )
        if same is not None:
            parts.insert(0, f"the notes of {same} from {one.scale.root}")
        unused = _unused(playing, one.scale)
        if unused and not told:
            parts.append(unused)
        sentence = "; ".join(parts)
        found.append(sentence[:1].upper() + sentence[1:] + ".")
    return found


#: What a scale is most easily taken for.
_USUAL_RIVALS = {
    "ionian": ("mixolydian", "major pentatonic"),
    "dorian": ("aeolian", "minor pentatonic"),
    "phrygian": ("aeolian",),
    "lydian": ("ionian",),
    "mixolydian": ("ionian",),
    "aeolian": ("dorian", "minor pentatonic"),
    "locrian": ("phrygian",),
    "harmonic minor": ("aeolian",),
    "melodic minor": ("dorian",),
    "phrygian dominant": ("phrygian",),
    "minor pentatonic": ("aeolian",),
    "major pentatonic": ("ionian",),
    "minor blues": ("minor pentatonic",),
    "major blues": ("major pentatonic",),
}


def _against(playing: Playing, scale: Scale, name: str) -> str:
    from loopdeck.theory.scale import SCALES

    return telling(playing, scale, Scale(scale.root, name, SCALES[name]))


def _unused(playing: Playing, scale: Scale) -> str:
    # That the root never sounds is said where the root is spoken of.
    heard = {0, *((_classes(playing) - scale.root.pitch_class) % 12).tolist()}
    missing = [degree for degree in scale.degrees if semitone_of(degree) % 12 not in heard]
    if not missing:
        return ""
    if len(missing) > _NAMED:
        return f"{len(missing)} of its degrees never sound"
    return (
        f"{_listed([DEGREES.get(degree, degree) for degree in missing])} never sound{'s' if len(missing) == 1 else ''}"
    )


# ---- the smallest change -------------------------------------------------------------------------


def smallest_change(pitch: NDArray[np.int64], scale: Scale) -> list[Change]:
    """Each outside note to the nearest note of the scale; of two equally near ones that of the same
    letter, else the lower one.
    """
    moves: dict[int, int] = {}
    for step in range(12):
        if scale.mask[(scale.root.pitch_class + step) % 12]:
            continue
        near = [
            (abs(away), _letter(scale, step) != _letter(scale, (step + away) % 12), away)
            for away in range(-6, 7)
            if scale.mask[(scale.root.pitch_class + step + away) % 12]
        ]
        moves[step] = min(near)[2]
    found = []
    for at, one in enumerate(pitch.tolist()):
        move = moves.get((one - scale.root.pitch_class) % 12)
        if move is not None:
            found.append(Change(at, one + move if 0 <= one + move <= 127 else one + move - 12 * int(np.sign(move))))
    return found


def _letter(scale: Scale, step: int) -> str:
    return scale.spell(60 + scale.root.pitch_class + step)[0]


def change_in_words(pitch: NDArray[np.int64], changes: list[Change], scale: Scale, best: Ranked | None) -> str:
    """One sentence on how to get back into the scale; empty where nothing is outside."""
    if not changes:
        return ""
    counts: dict[tuple[str, str], int] = {}
    for at, to in changes:
        names = tuple(scale.spell(one).rstrip("-0123456789") for one in (int(pitch[at]), to))
        counts[names[0], names[1]] = counts.get((names[0], names[1]), 0) + 1
    most = sorted(counts.items(), key=lambda one: -one[1])
    moves = [f"{here} to {there} ({_count(count, 'note')})" for (here, there), count in most[:_NAMED]]
    more = f" and {len(most) - _NAMED} more" if len(most) > _NAMED else ""
    sentence = f"Back into {scale}: move {_listed(moves) if not more else ', '.join(moves) + more}"
    if best is not None and not best.outside.any() and best.scale.pitch_classes != scale.pitch_classes:
        return f"{sentence}; or call it {best.scale}, which holds all of it."
    return sentence + "."


def as_changes(index: NDArray[np.int64], pitch: NDArray[np.int64], changes: list[Change]) -> list[dict[str, Any]]:
    """The changes as they are printed."""
    return [{"index": int(index[at]), "from": int(pitch[at]), "to": to} for at, to in changes]
