"""A brief drawn from a mood: deterministic, with a reason for every field.

Conventions
    ``seed`` and the mood decide everything: each field has a row of random numbers of its own, so
    that holding one field changes no other. Only ``random()`` of Python's generator is used, which
    is the same in every version (documentation of the module ``random``).
"""

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.practice.first_step import first_step
from loopdeck.practice.moods import CUES, JUDGED, MOODS, STRUCTURE, TAN, Mood
from loopdeck.theory.pitch import pitch_name

#: What is drawn, in order, and other names a player may hold them by.
DRAWN = ("scale", "tempo", "cycle", "grid", "swing", "technique")
NAMES = {"meter": "cycle", "feel": "swing"}
#: Takes rated so much or more were liked.
LIKED = 4
LIKE_KEPT, UNTRIED = "like-kept", "untried"


@dataclass(frozen=True)
class Draw:
    """A drawn brief. ``why`` has a sentence for each field of DRAWN and for ``first_step``."""

    seed: int
    mood: str
    brief: Brief
    first_step: str
    why: Mapping[str, str]

    def to_dict(self) -> dict[str, Any]:
        """As JSON prints it."""
        return {
            "seed": self.seed,
            "mood": self.mood,
            "brief": self.brief.to_dict(),
            "first_step": self.first_step,
            "why": dict(self.why),
        }


@dataclass(frozen=True)
class Limit:
    """Draw only what is like the takes that were liked, or only what was never tried.

    ``rows``: takes, as ``Shelf.find`` gives them.
    """

    kind: str
    rows: Sequence[Mapping[str, Any]]

    def scales(self) -> set[str]:
        """The scales, with their roots, of the takes."""
        return {str(row["scale"]) for row in self.rows if row["scale"]}

    def narrowed(self, options: Sequence[str], there: set[str], what: str, mood: str) -> tuple[list[str], str]:
        """The options that are left, and words for the reason.

        What was liked goes before the mood where the two do not meet.
        """
        if self.kind == LIKE_KEPT:
            both = [one for one in options if one in there]
            if both:
                return both, f", among the {what} of takes you rated {LIKED} or more"
            return sorted(
                there
            ), f", for none of the {what} of takes you rated {LIKED} or more is one of ours for {mood}"
        left = [one for one in options if one not in there]
        return left, f", among the {what} you have no take in"


def parse_keep(text: str) -> frozenset[str]:
    """``tempo,meter`` as fields of a brief. Raises UserError."""
    held = set()
    for word in text.replace(",", " ").split():
        name = NAMES.get(word.lower(), word.lower())
        if name not in DRAWN:
            raise UserError(
                f"{word[:40]!r} cannot be held; {', '.join(('scale', 'tempo', 'meter', 'grid', 'swing'))} and "
                "technique can."
            )
        held.add(name)
    return frozenset(held)


def draw(
    mood: str, seed: int, base: Brief | None = None, held: frozenset[str] = frozenset(), limit: Limit | None = None
) -> Draw:
    """Draw a brief.

    ``mood`` is one of MOODS; what is ``held``, and what is never drawn, is that of ``base``. Raises
    UserError.
    """
    if mood not in MOODS:
        raise UserError(f"Nothing is known of the mood {mood[:40]!r}; there are {', '.join(MOODS)}.")
    base = base or Brief.default()
    wanted = MOODS[mood]
    luck = {name: random.Random(f"{mood}/{seed}/{name}") for name in (*DRAWN, "root", "first step")}
    brief, why = base, {}
    for name, choose in _CHOOSE.items():
        if name in held:
            why[name] = "You held it, so it stayed."
            continue
        value, why[name] = choose(_Drawing(mood, wanted, brief, held, limit, luck))
        brief = brief.replace(**{name: value})
    brief = brief.replace(name=f"{mood} {seed}", mood=mood)
    rng = luck["first step"]
    step, why["first_step"] = first_step(brief, (rng.random(), rng.random(), rng.random()))
    return Draw(seed, mood, brief, step, why)


def same_music(one: Brief, other: Brief) -> bool:
    """Whether two briefs agree in all that is drawn."""
    return all(getattr(one, name) == getattr(other, name) for name in DRAWN)


# ---- the fields ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Drawing:
    """What choosing one field goes by."""

    mood: str
    wanted: Mood
    brief: Brief
    held: frozenset[str]
    limit: Limit | None
    luck: Mapping[str, random.Random]

    def one(self, name: str, options: Sequence[Any]) -> Any:
        """One of the options."""
        return options[int(self.luck[name].random() * len(options))]


def _scale(drawing: _Drawing) -> tuple[str, str]:
    words = ""
    options = list(drawing.wanted.scales)
    roots = _roots(drawing.brief)
    if drawing.limit is not None:
        tried = drawing.limit.scales()
        names = {text.partition(" ")[2] for text in tried}
        if drawing.limit.kind == LIKE_KEPT and not tried:
            raise UserError(
                f"No take on the shelf is in a scale and rated {LIKED} or more, so there is nothing to draw from."
            )
        left, words = drawing.limit.narrowed(options, names, "scales", drawing.mood)
        if not left:
            pairs = [f"{root} {name}" for name in options for root in roots if f"{root} {name}" not in tried]
            if not pairs:
                raise UserError(f"You have tried every scale there is for {drawing.mood}; draw another mood.")
            chosen = drawing.one("scale", pairs)
            return chosen, _why_scale(chosen, drawing, ", on a root you have not tried")
        options = left
    chosen = f"{drawing.one('root', roots)} {drawing.one('scale', options)}"
    return chosen, _why_scale(chosen, drawing, words)


def _roots(brief: Brief) -> list[str]:
    """The lower open strings, for a root one can let ring."""
    return list(dict.fromkeys(pitch_name(pitch).rstrip("-0123456789") for pitch in sorted(brief.tuning.strings)[:3]))


def _why_scale(chosen: str, drawing: _Drawing, words: str) -> str:
    name = chosen.partition(" ")[2]
    root = "; the root is one of your low open strings"
    if name in JUDGED:
        return (
            f"{drawing.mood.capitalize()} asks for {drawing.wanted.happy}{words}, and listeners judged {name} "
            f"{JUDGED[name]} "
            f"({TAN}; mode weighs most of all cues, {CUES}){root} (that {drawing.mood} means this is our own choice)."
        )
    return f"{name[0].upper()}{name[1:]} for {drawing.mood} is our own choice, beside the modes that were studied{words}{root}."


def _tempo(drawing: _Drawing) -> tuple[str, str]:
    low, high = drawing.wanted.tempo
    options = list(range(low, high + 1, 2))
    words = ""
    if drawing.limit is not None and drawing.limit.kind == LIKE_KEPT:
        kept = sorted({max(20, min(400, round(row["qpm"]))) for row in drawing.limit.rows})
        near = [one for one in kept if low <= one <= high]
        options = near or [min(kept, key=lambda one: min(abs(one - low), abs(one - high)))]
        words = f", and it is a tempo of takes you rated {LIKED} or more"
    chosen = drawing.one("tempo", options)
    pace = drawing.wanted.pace
    known = (
        f"{pace[0].upper()}{pace[1:]} ({STRUCTURE})"
        if pace
        else f"No study we know of names a tempo for {drawing.mood}"
    )
    return str(chosen), f"{known}; {low} to {high} quarters a minute for {drawing.mood} is our own choice{words}."


def _cycle(drawing: _Drawing) -> tuple[str, str]:
    options, words = list(drawing.wanted.cycles), ""
    if drawing.limit is not None:
        there = {str(row["cycle"]) for row in drawing.limit.rows}
        left, words = drawing.limit.narrowed(options, there, "meters", drawing.mood)
        options, words = (left, words) if left else (options, ", though you have takes in all of them")
    chosen = drawing.one("cycle", options)
    uneven = any(len(set(meter.groups)) > 1 for meter in Brief.default().replace(cycle=chosen).cycle.meters)
    kind = "an uneven bar keeps one on edge" if uneven else "an even bar leaves the ear to the notes"
    return chosen, f"{chosen} for {drawing.mood}: {kind} (our own choice{words})."


def _grid(drawing: _Drawing) -> tuple[str, str]:
    eighths = any(meter.unit == 8 for meter in drawing.brief.cycle.meters)
    if "swing" in drawing.held and not drawing.brief.swing.straight:
        return str(drawing.brief.grid), "The grid stays with the swing that you held (our own choice)."
    slow = drawing.brief.tempo.quarters_per_minute < 100
    chosen = "1/16" if slow or eighths else drawing.one("grid", ("1/8", "1/16"))
    reason = (
        "fine enough for what is to be played at this tempo"
        if chosen == "1/16"
        else "coarse enough to stay clear this fast"
    )
    return chosen, f"{chosen} is {reason} (our own choice)."


def _swing(drawing: _Drawing) -> tuple[str, str]:
    chosen = drawing.one("swing", drawing.wanted.swings)
    if chosen.endswith("1/16") and drawing.brief.grid.name != "1/16":
        chosen = "straight"
    if chosen == "straight":
        return chosen, f"Even subdivisions suit {drawing.mood} (our own choice)."
    return chosen, f"A long first subdivision gives {drawing.mood} its lilt (our own choice)."


def _technique(drawing: _Drawing) -> tuple[str, str]:
    chosen = drawing.one("technique", drawing.wanted.techniques)
    return chosen, f"One thing for the hands to think of, chosen for {drawing.mood} (our own choice)."


_CHOOSE: dict[str, Callable[[_Drawing], tuple[str, str]]] = {
    "scale": _scale, "tempo": _tempo, "cycle": _cycle, "grid": _grid, "swing": _swing, "technique": _technique,
}  # fmt: skip
