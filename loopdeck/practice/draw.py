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

from loopdeck.brief.brief import SPECS, Brief
from loopdeck.errors import UserError
from loopdeck.practice.first_step import first_step
from loopdeck.practice.moods import CUES, JUDGED, MOODS, STRUCTURE, TAN, Mood
from loopdeck.theory.pitch import pitch_name
from loopdeck.theory.scale import parse_scale

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
        """The scales, with their roots, of the takes, by the names that moods have for them."""
        found = [parse_scale(str(row["scale"])) for row in self.rows if row["scale"]]
        return {f"{scale.root} {scale.name}" for scale in found}

    def cycles(self) -> set[str]:
        """The meters of the takes."""
        return {str(row["cycle"]) for row in self.rows}

    def tempi(self) -> list[float]:
        """The tempi of the takes, in quarters a minute."""
        return sorted({max(20.0, min(400.0, float(row["qpm"]))) for row in self.rows})


def parse_keep(text: str) -> frozenset[str]:
    """``tempo,meter`` as fields of a brief. Raises UserError."""
    held = set()
    for word in text.replace(",", " ").split():
        name = NAMES.get(word.lower(), word.lower())
        if name not in SPECS:
            known = ("scale", "tempo", "meter", "grid", "feel", "technique", "mood")
            raise UserError(f"{word[:40]!r} cannot be held; {', '.join(known)} can, and what else a brief says.")
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
        if name not in held:
            value, why[name] = choose(_Drawing(mood, wanted, brief, held, limit, luck))
            brief = brief.replace(**{name: value})
    called = {"name": f"{mood} {seed}", "mood": mood}
    brief = brief.replace(**{name: text for name, text in called.items() if name not in held})
    texts = brief.to_dict()
    why |= {name: _why_held(str(texts[name])) for name in SPECS if name in held}
    rng = luck["first step"]
    step, why["first_step"] = first_step(brief, (rng.random(), rng.random(), rng.random()))
    return Draw(seed, mood, brief, step, {name: why[name] for name in (*SPECS, "first_step") if name in why})


def _why_held(text: str) -> str:
    return f"You held {text}, so it stayed." if text else "You held this, and there was nothing said of it."


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
    limit = drawing.limit
    if limit is not None and limit.kind == LIKE_KEPT:
        return _scale_like_kept(drawing, sorted(limit.scales()))
    options, roots, words = list(drawing.wanted.scales), _roots(drawing.brief), ""
    if limit is not None:
        tried = limit.scales()
        names = {text.partition(" ")[2] for text in tried}
        options, words = [name for name in options if name not in names], ", among the scales you have no take in"
        if not options:
            return _scale_on_another_root(drawing, tried)
    chosen = f"{drawing.one('root', roots)} {drawing.one('scale', options)}"
    return chosen, _why_scale(chosen, drawing, words, _OPEN_ROOT)


def _scale_like_kept(drawing: _Drawing, kept: list[str]) -> tuple[str, str]:
    """One of the scales that were liked; what was liked goes before the mood where they do not
    meet.
    """
    liked = f"takes you rated {LIKED} or more"
    if not kept:
        raise UserError(
            f"No take on the shelf is in a scale and rated {LIKED} or more, so there is nothing to draw from."
        )
    both = [text for text in kept if text.partition(" ")[2] in drawing.wanted.scales]
    chosen = str(drawing.one("scale", both or kept))
    if both:
        return chosen, _why_scale(chosen, drawing, "", f"; it is the scale of {liked}")
    return chosen, f"{chosen} is the scale of {liked}; none of their scales is one of ours for {drawing.mood}."


def _scale_on_another_root(drawing: _Drawing, tried: set[str]) -> tuple[str, str]:
    """A scale of the mood on a root it was never tried on, on a low open string if there is one."""
    low, everywhere = _roots(drawing.brief), [_plain(pitch) for pitch in range(12)]
    for roots, root in ((low, _OPEN_ROOT), (everywhere, "")):
        pairs = [f"{one} {name}" for name in drawing.wanted.scales for one in roots]
        left = [text for text in pairs if _spelled(text) not in {_spelled(one) for one in tried}]
        if left:
            chosen = str(drawing.one("scale", left))
            return chosen, _why_scale(chosen, drawing, ", on a root you have not tried", root)
    raise UserError(f"You have tried every scale there is for {drawing.mood}; draw another mood.")


_OPEN_ROOT = "; the root is one of your low open strings"


def _plain(pitch: int) -> str:
    """The name of a pitch without its octave."""
    return pitch_name(pitch).rstrip("-0123456789")


def _spelled(text: str) -> tuple[int, str]:
    """A scale by its root's pitch class and its name: D# and Eb are one root."""
    scale = parse_scale(text)
    return scale.root.pitch_class, scale.name


def _roots(brief: Brief) -> list[str]:
    """The lower open strings, for a root one can let ring."""
    return list(dict.fromkeys(_plain(pitch) for pitch in sorted(brief.tuning.strings)[:3]))


def _why_scale(chosen: str, drawing: _Drawing, words: str, root: str) -> str:
    name = chosen.partition(" ")[2]
    if name in JUDGED:
        return (
            f"{chosen}: {drawing.mood} asks for {drawing.wanted.happy}{words}, and listeners judged {name} "
            f"{JUDGED[name]} ({TAN}; mode weighs most of all cues, {CUES}){root} "
            f"(that {drawing.mood} means this is our own choice)."
        )
    return f"{chosen}: our own choice for {drawing.mood}, beside the modes that were studied{words}{root}."


def _tempo(drawing: _Drawing) -> tuple[str, str]:
    low, high = drawing.wanted.tempo
    options: list[float] = list(range(low, high + 1, 2))
    words = ""
    if drawing.limit is not None and drawing.limit.kind == LIKE_KEPT:
        kept = drawing.limit.tempi()
        options = [one for one in kept if low <= one <= high]
        words = f"; it is the tempo of a take you rated {LIKED} or more"
        if not options:
            nearest = tempo_text(min(kept, key=lambda one: min(abs(one - low), abs(one - high))))
            return nearest, (
                f"{nearest} is, of the tempi of takes you rated {LIKED} or more, the nearest to the {low} to {high} "
                f"quarters a minute that are our own choice for {drawing.mood}."
            )
    chosen = tempo_text(drawing.one("tempo", options))
    pace = drawing.wanted.pace
    known = f"{pace} ({STRUCTURE})" if pace else f"no study we know of names a tempo for {drawing.mood}"
    return (
        chosen,
        f"{chosen}: {known}; {low} to {high} quarters a minute for {drawing.mood} is our own choice{words}.",
    )


def tempo_text(qpm: float) -> str:
    """Quarters a minute as a brief writes them."""
    return f"{qpm:.6f}".rstrip("0").rstrip(".")


def _cycle(drawing: _Drawing) -> tuple[str, str]:
    options, words = list(drawing.wanted.cycles), ""
    if drawing.limit is not None:
        options, words = _cycles_within(drawing.limit, options, drawing.mood)
    chosen = drawing.one("cycle", options)
    kind = "uneven counting keeps one on edge" if _uneven(chosen) else "even counting leaves the ear to the notes"
    return chosen, f"{chosen} for {drawing.mood}: {kind} (our own choice{words})."


def _cycles_within(limit: Limit, own: list[str], mood: str) -> tuple[list[str], str]:
    """The meters of a mood that the limit lets through, else others that it does."""
    there = limit.cycles()
    if limit.kind == LIKE_KEPT:
        both, liked = [one for one in own if one in there], f"the meters of takes you rated {LIKED} or more"
        return (both, f", among {liked}") if both else (sorted(there), f"; of {liked} none is one of ours for {mood}")
    left = [one for one in own if one not in there]
    if left:
        return left, ", among the meters you have no take in"
    others = sorted({one for other in MOODS.values() for one in other.cycles} - there)
    if others:
        return others, f"; you have takes in every meter of ours for {mood}, and none in this one"
    return own, ", though you have takes in all of ours"


def _uneven(cycle: str) -> bool:
    """Whether bars differ, groups differ, or a bar has five or more beats that make no two halves
    or thirds, such as 5/4.
    """
    meters = Brief.default().replace(cycle=cycle).cycle.meters
    lengths = {(meter.numerator, meter.unit) for meter in meters}
    return len(lengths) > 1 or any(
        len(set(meter.groups)) > 1 or (meter.numerator % 2 and meter.numerator % 3) for meter in meters
    )


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
    threes = [meter for meter in drawing.brief.cycle.meters if meter.unit >= 8 and set(meter.groups) == {3}]
    if chosen.endswith("1/8") and threes:
        return "straight", f"Straight: {threes[0]} has its lilt in the threes already (our own choice)."
    if chosen.endswith("1/16") and drawing.brief.grid.name != "1/16":
        return (
            "straight",
            f"Straight: on a grid of {drawing.brief.grid} no sixteenth is there to swing (our own choice).",
        )
    if chosen == "straight":
        return chosen, f"Straight: even subdivisions suit {drawing.mood} (our own choice)."
    return chosen, f"{chosen}: a long first and a short second give it a lilt, for {drawing.mood} (our own choice)."


def _technique(drawing: _Drawing) -> tuple[str, str]:
    chosen = drawing.one("technique", drawing.wanted.techniques)
    said = chosen[0].upper() + chosen[1:]
    return chosen, f"{said}: one thing for the hands to think of, chosen for {drawing.mood} (our own choice)."


_CHOOSE: dict[str, Callable[[_Drawing], tuple[str, str]]] = {
    "scale": _scale, "tempo": _tempo, "cycle": _cycle, "grid": _grid, "swing": _swing, "technique": _technique,
}  # fmt: skip
