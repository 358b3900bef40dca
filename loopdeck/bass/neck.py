"""The neck: where a scale lies on it, and the positions in which a hand holds it.

Conventions
    Strings count from the highest (1), frets from the nut (0 is open), pitches are MIDI numbers. A
    position is a stretch of frets at most ``WIDEST`` apart in which the scale runs from its lowest
    note there to its highest without a gap; the open strings belong to the positions that begin at
    the nut. There is one for each note of the scale on the lowest string, as scales are taught:
    that with the fewest frets, and of these the one with the most notes. Four frets, one for each
    finger, are what a hand covers without stretching; where a note would be missing, the position
    takes one or two frets more. What lies in none of them up to the twelfth fret, where strings
    are further apart than in fourths, has positions with a gap (common practice, no source).
"""

from dataclasses import dataclass
from typing import Any, NamedTuple

from loopdeck.theory.scale import Scale
from loopdeck.theory.tuning import Tuning

#: Frets from the first to the last of a position: one for each finger, and the widest a hand is
#: asked for.
HAND, WIDEST = 3, 5
#: The fret from which the neck repeats itself.
OCTAVE = 12


class Spot(NamedTuple):
    """A place on the neck."""

    string: int
    fret: int


class Position(NamedTuple):
    """Frets ``low`` to ``high`` and the notes of the scale under the hand there, from the lowest
    pitch up.
    """

    low: int
    high: int
    spots: tuple[Spot, ...]


@dataclass(frozen=True)
class Neck:
    """A scale on a tuning: every place, and the positions."""

    scale: Scale
    tuning: Tuning
    frets: int
    positions: tuple[Position, ...]

    def pitch(self, spot: Spot) -> int:
        """The MIDI number that sounds there."""
        return self.tuning.strings[spot.string - 1] + spot.fret

    def as_dict(self) -> dict[str, Any]:
        """The neck as JSON: ``scale``, ``tuning``, ``strings`` with every fret, ``positions``."""
        return {
            "scale": str(self.scale),
            "tuning": str(self.tuning),
            "frets": self.frets,
            "strings": [
                {
                    "string": string,
                    "open": lowest,
                    "frets": [
                        self._fret(lowest + fret, fret) for fret in range(self.frets + 1) if lowest + fret <= 127
                    ],
                }
                for string, lowest in enumerate(self.tuning.strings, 1)
            ],
            "positions": [
                {
                    "low_fret": position.low,
                    "high_fret": position.high,
                    "notes": [{"string": spot.string, "fret": spot.fret} for spot in position.spots],
                }
                for position in self.positions
            ],
        }

    def _fret(self, pitch: int, fret: int) -> dict[str, Any]:
        return {
            "fret": fret,
            "pitch": pitch,
            "note": self.scale.spell(pitch),
            "degree": self.scale.degree(pitch),
            "in_scale": pitch % 12 in self.scale.pitch_classes,
        }


def neck_of(scale: Scale, tuning: Tuning) -> Neck:
    """The scale on the neck of the tuning, with as many frets as the tuning has."""
    return Neck(scale, tuning, tuning.frets, tuple(_positions(scale, tuning)))


def _positions(scale: Scale, tuning: Tuning) -> list[Position]:
    """One for each note of the scale on the lowest string, and more where a place in the lowest
    octave has none yet.
    """
    found: list[Position] = []
    choices = _choices(scale, tuning)
    lowest = tuning.strings[-1]
    wanted = [Spot(len(tuning.strings), fret) for fret in range(tuning.frets + 1)]
    for spot in (one for one in wanted if (lowest + one.fret) % 12 in scale.pitch_classes):
        begun = [one for one in choices if one.position.spots[0] == spot]
        # With gaps it is only wanted for places that no other one has.
        found += [min(begun).position] if begun and not min(begun).gaps else []
    missing = {spot for one in choices for spot in one.position.spots if spot.fret <= OCTAVE}
    missing -= {spot for one in found for spot in one.spots}
    while missing:
        best = min(choices, key=lambda one: (-len(missing & set(one.position.spots)), one))
        found.append(best.position)
        missing -= set(best.position.spots)
    return sorted(found)


class _Choice(NamedTuple):
    """A position, the better the less: the notes missing in it, its frets, how many notes fewer."""

    gaps: int
    wide: int
    fewer: int
    position: Position


def _choices(scale: Scale, tuning: Tuning) -> list[_Choice]:
    """Every position of a whole hand that has a note at its first fret."""
    found = []
    for low in range(tuning.frets + 1):
        for high in range(low + HAND, min(low + WIDEST, tuning.frets) + 1):
            spots = _spots(scale, tuning, low, high)
            if not any(spot.fret == low for spot in spots):
                continue
            pitches = [tuning.strings[spot.string - 1] + spot.fret for spot in spots]
            wanted = sum(1 for pitch in range(min(pitches), max(pitches) + 1) if pitch % 12 in scale.pitch_classes)
            position = Position(low, max(spot.fret for spot in spots), tuple(spots))
            found.append(_Choice(wanted - len(pitches), position.high - low, -len(pitches), position))
    return found


def _spots(scale: Scale, tuning: Tuning, low: int, high: int) -> list[Spot]:
    """Each pitch of the scale once, at the place that lies nearest to the first finger."""
    by_pitch: dict[int, Spot] = {}
    for string, lowest in enumerate(tuning.strings, 1):
        for fret in range(low, high + 1):
            pitch = lowest + fret
            old = by_pitch.get(pitch)
            if pitch <= 127 and pitch % 12 in scale.pitch_classes and (old is None or fret < old.fret):
                by_pitch[pitch] = Spot(string, fret)
    return [by_pitch[pitch] for pitch in sorted(by_pitch)]


def moves(before: Tuning, after: Tuning) -> str:
    """What a change of tuning does to places on the neck, in a sentence; empty where nothing
    moves.
    """
    if len(before.strings) != len(after.strings):
        return f"It has {_count(len(after.strings), 'string')} instead of {_count(len(before.strings))}."
    steps = [old - new for old, new in zip(before.strings, after.strings, strict=True)]
    if not any(steps):
        return ""
    if len(set(steps)) == 1:
        return f"Everything lies {_frets(steps[0])}."
    parts = []
    for step in dict.fromkeys(step for step in reversed(steps) if step):
        strings = [string for string, one in enumerate(steps, 1) if one == step]
        parts.append(f"everything on {_strings(strings, len(steps))} {_frets(step)}")
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def _frets(step: int) -> str:
    return f"{_count(abs(step), 'fret')} {'higher' if step > 0 else 'lower'}"


def _strings(strings: list[int], count: int) -> str:
    if strings == [count]:
        return "the lowest string"
    if strings == [1]:
        return "the highest string"
    return ("string " if len(strings) == 1 else "strings ") + " and ".join(map(str, strings))


def _count(number: int, what: str = "") -> str:
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
    word = words[number] if number < len(words) else str(number)
    return f"{word} {what}{'' if number == 1 else 's'}" if what else word
