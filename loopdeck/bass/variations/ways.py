"""The words for a variation, and what each does: one table."""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any, NamedTuple

from loopdeck.bass.neck import moves
from loopdeck.bass.variations import density, harmony, pitch, places, timing
from loopdeck.bass.variations.line import Line, Varied
from loopdeck.errors import UserError, instead
from loopdeck.rhythm.meter import parse_meter
from loopdeck.rhythm.swing import parse_swing
from loopdeck.theory.pitch import parse_pitch
from loopdeck.theory.scale import parse_scale
from loopdeck.theory.tuning import Tuning, parse_tuning

MOST_SEMITONES, MOST_OCTAVES, MOST_STEPS = 48, 4, 28


class Way(NamedTuple):
    """One way to vary: an example, what it does in words, and the function, which gets what stands
    behind the name.

    ``tuned`` ones get a tuning, the others the text.
    """

    example: str
    does: str
    run: Callable[[Line, Any], Varied]
    tuned: bool = False


def vary(line: Line, words: str, tuning_of: Callable[[str], Tuning] = parse_tuning) -> Varied:
    """Vary a line by words such as ``transpose +5``; ``tuning_of`` reads the name of a tuning.
    Raises UserError.
    """
    name, _, rest = words.strip().partition(" ")
    name, rest = name.lower(), rest.strip()
    way = WAYS.get(name)
    if way is None:
        raise UserError(f"There is no way {name[:40]!r} to vary a riff{instead(name, WAYS)}")
    if way.tuned and not rest:
        raise UserError(f"{name} needs a tuning, such as {way.example}.")
    return way.run(line, tuning_of(rest) if way.tuned else rest)


def _number(text: str, name: str, limit: int) -> int:
    found = re.fullmatch(r"([+-]?)([0-9]{1,4})", text)
    if found is None or int(found[2]) > limit or int(found[2]) == 0:
        raise UserError(f"{text[:40]!r} does not say how far; write {WAYS[name].example} (at most {limit} either way).")
    return int(found[0])


def _percent(text: str, name: str) -> float:
    found = re.fullmatch(r"([0-9]{1,3})\s*%?", text)
    if found is None or not 1 <= int(found[1]) <= (100 if name == "thicken" else 95):
        raise UserError(f"{text[:40]!r} is not a share; write {WAYS[name].example}, in percent.")
    return float(found[1])


def _nothing_behind(text: str, name: str) -> None:
    if text:
        raise UserError(f"{name} takes nothing more; {text[:40]!r} after it means nothing.")


def _transpose(line: Line, rest: str) -> Varied:
    by = _number(rest, "transpose", MOST_SEMITONES)
    return _pitched(line, pitch.transposed(line, by), f"Moved {abs(by)} semitone{_s(by)} {_up(by)}.")


def _octave(line: Line, rest: str) -> Varied:
    by = _number(rest, "octave", MOST_OCTAVES)
    return _pitched(line, pitch.transposed(line, 12 * by), f"Moved {abs(by)} octave{_s(by)} {_up(by)}.")


def _step(line: Line, rest: str) -> Varied:
    by, scale = _number(rest, "step", MOST_STEPS), pitch.need_scale(line)
    return _pitched(line, pitch.stepped(line, scale, by), f"Moved {abs(by)} step{_s(by)} of {scale} {_up(by)}.")


def _into(line: Line, rest: str) -> Varied:
    source, target = pitch.need_scale(line), parse_scale(rest)
    moved = pitch.into(line, source, target)
    moved = replace(moved, brief=replace(moved.brief, scale=target))
    return _pitched(line, moved, f"From {source} into {target}, degree by degree.")


def _pitched(before: Line, after: Line, says: str) -> Varied:
    lost = len(before) - len(after)
    if lost:
        says += f" {lost} note{_s(lost)} beyond the range of MIDI left out."
    tuning = after.brief.tuning
    off = after.off_neck()
    if off > before.off_neck():
        says += f" {off} note{_s(off)} {'lies' if off == 1 else 'lie'} beyond the neck of {tuning}."
    return Varied(after, None, says)


def _retune(line: Line, tuning: Tuning) -> Varied:
    placed, found = places.fingered(line, tuning)
    gone = len(found.unplayable)
    moved = moves(line.brief.tuning, tuning)
    says = f"The same notes on {tuning}. {moved}".strip()
    return Varied(placed, None, says + (f" {gone} of them cannot be played there." if gone else ""))


def _reshape(line: Line, tuning: Tuning) -> Varied:
    shaped, _ = places.reshaped(line, tuning)
    lost = len(line) - len(shaped)
    says = f"The same strings and frets on {tuning}."
    return Varied(shaped, None, says + (f" {lost} note{_s(lost)} fell away." if lost else ""))


def _thin(line: Line, rest: str) -> Varied:
    thin = density.thinned(line, _percent(rest, "thin"))
    fewer, count = len(line) - len(thin), len(line)
    return Varied(thin, None, f"{fewer} of {count} note{_s(count)} taken away, the strong beats kept.")


def _thicken(line: Line, rest: str) -> Varied:
    thick = density.thickened(line, _percent(rest, "thicken"), line.brief.scale)
    more = len(thick) - len(line)
    return Varied(thick, None, f"{more} note{_s(more)} added to {len(line)}.")


def _last_bar(line: Line, rest: str) -> Varied:
    changed = timing.last_bar(line, parse_meter(rest))
    lost = len(line) - len(changed)
    return Varied(
        changed, None, f"The cycle is {changed.brief.cycle} now{f'; {lost} note{_s(lost)} fell away' if lost else ''}."
    )


def _power_chords(line: Line, rest: str) -> Varied:
    if rest not in ("", "strong", "following"):
        raise UserError(f"Power chords stand on strong beats or are following the riff, not {rest[:40]!r}.")
    chords = harmony.power_chords(line, rest == "following")
    return Varied(
        line,
        chords,
        f"{len(chords) // 3} power chord{_s(len(chords) // 3)} "
        f"{'with every note' if rest == 'following' else 'on the strong beats'}.",
        harmony.GUITAR,
    )


def _thirds(line: Line, rest: str) -> Varied:
    _nothing_behind(rest, "thirds")
    return Varied(
        line, harmony.parallel(line, pitch.need_scale(line), harmony.THIRD), "Thirds of the scale above the riff."
    )


def _sixths(line: Line, rest: str) -> Varied:
    _nothing_behind(rest, "sixths")
    return Varied(
        line, harmony.parallel(line, pitch.need_scale(line), harmony.SIXTH), "Sixths of the scale above the riff."
    )


def _octaves(line: Line, rest: str) -> Varied:
    _nothing_behind(rest, "octaves")
    return Varied(line, harmony.octaves(line), "The octave above the riff.")


def _pedal(line: Line, rest: str) -> Varied:
    return Varied(line, harmony.pedal(line, parse_pitch(rest)), f"A pedal on {rest} under every group.")


def _swing(line: Line, rest: str) -> Varied:
    changed = timing.swung(line, parse_swing(rest))
    swing, before = changed.brief.swing, line.brief.swing
    was = "" if before.straight else f", and not of {before}"
    if swing.straight:
        was = "" if before.straight else f", and not with a swing of {before}"
    return Varied(changed, None, f"Played {'straight' if swing.straight else f'with a swing of {swing}'}{was}.")


def _up(by: int) -> str:
    return "up" if by > 0 else "down"


def _s(count: int) -> str:
    return "" if abs(count) == 1 else "s"


#: Name -> way. The examples stand in help, docs and errors.
WAYS = {
    "transpose": Way("transpose +5", "by semitones", _transpose),
    "octave": Way("octave -1", "by octaves", _octave),
    "step": Way("step +1", "by notes of the scale", _step),
    "into": Way("into E phrygian", "into another scale, degree by degree", _into),
    "retune": Way("retune drop-d", "the same notes on another tuning", _retune, tuned=True),
    "reshape": Way("reshape drop-d", "the same strings and frets on another tuning", _reshape, tuned=True),
    "thin": Way("thin 50", "so many percent of the notes fewer, strong beats kept", _thin),
    "thicken": Way("thicken 50", "so many percent more, in its own rhythm and scale", _thicken),
    "last-bar": Way("last-bar 7/8", "the last bar in another meter", _last_bar),
    "power-chords": Way(
        "power-chords", "a layer of power chords; 'power-chords following' with every note", _power_chords
    ),
    "thirds": Way("thirds", "a layer a third of the scale above", _thirds),
    "sixths": Way("sixths", "a layer a sixth of the scale above", _sixths),
    "octaves": Way("octaves", "a layer an octave above", _octaves),
    "pedal": Way("pedal E1", "a low note at the start of every group", _pedal),
    "swing": Way("swing 62%", "played with another swing", _swing),
}
