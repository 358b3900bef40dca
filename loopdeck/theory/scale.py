"""Scales: a root and a formula; which pitches are in, what each is called, and how each is spelled.

Conventions
    A degree is named against the major scale on the root: ``1 b3 4 b5 5 b7``. It also says the
    letter: the third of G is some B. So a scale of seven notes has one letter a degree. A pitch
    outside the scale is named by the usual degree of its distance from the root; the tritone is
    ``#4`` where the scale has a major third and ``b5`` where it has not (common practice, no
    source).
"""

import itertools
import re
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.errors import UserError, nearest
from loopdeck.theory.formulas import ALIASES, SCALES, semitone_of
from loopdeck.theory.pitch import LETTERS, NATURAL, Spelled, parse_note_name, spelled_pitch

__all__ = ["SCALES", "Scale", "parse_scale"]

_USUAL = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
_IN_SHORT = {"ionian": "major", "aeolian": "minor"}
_DEGREE = re.compile(r"(b{0,2}|#{0,2})[1-7]")
#: Fifths from C of each natural letter, for key signatures.
_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}


def _spell(root: Spelled, degree: str) -> Spelled:
    number = int(degree[-1])
    letter = LETTERS[(LETTERS.index(root.letter) + number - 1) % 7]
    wanted = (root.pitch_class + semitone_of(degree)) % 12
    return Spelled(letter, (wanted - NATURAL[letter] + 6) % 12 - 6)


@dataclass(frozen=True)
class Scale:
    """A scale on a root.

    ``name`` is one of SCALES, or the formula itself for a scale of one's own; ``called`` is the
    other name it was asked for by, such as natural minor, and "" without one.
    """

    root: Spelled
    name: str
    degrees: tuple[str, ...]
    called: str = field(default="", compare=False)

    @cached_property
    def spelled(self) -> tuple[Spelled, ...]:
        """The notes in order of the formula."""
        return tuple(_spell(self.root, degree) for degree in self.degrees)

    @property
    def notes(self) -> tuple[str, ...]:
        """The notes in order, spelled in ASCII: ``("G", "Bb", ...)``."""
        return tuple(str(note) for note in self.spelled)

    @cached_property
    def pitch_classes(self) -> frozenset[int]:
        """The pitch classes in the scale, 0 for C."""
        return frozenset(note.pitch_class for note in self.spelled)

    @cached_property
    def mask(self) -> NDArray[np.bool_]:
        """Membership by pitch class, shape (12,)."""
        mask = np.zeros(12, bool)
        mask[list(self.pitch_classes)] = True
        return mask

    @cached_property
    def degree_table(self) -> tuple[str, ...]:
        """The degree name of each distance above the root in semitones, 0 to 11, in the scale or
        out of it.
        """
        names = list(_USUAL)
        if "3" in self.degrees:
            names[6] = "#4"
        for degree in self.degrees:
            names[semitone_of(degree) % 12] = degree
        return tuple(names)

    def contains(self, pitches: ArrayLike) -> NDArray[np.bool_]:
        """Which of the MIDI numbers are in the scale; same shape."""
        return self.mask[np.asarray(pitches, np.int64) % 12]

    def degree(self, midi: int) -> str:
        """The degree of any pitch, in or out: ``b3``, ``#4``."""
        return self.degree_table[(midi - self.root.pitch_class) % 12]

    def spell(self, midi: int) -> str:
        """The pitch with its octave, spelled by its degree: ``Db3``."""
        return spelled_pitch(midi, _spell(self.root, self.degree(midi)))

    @property
    def is_minor(self) -> bool:
        """True where the third is minor (and there is no major one)."""
        return "b3" in self.degrees and "3" not in self.degrees

    def fifths(self) -> int:
        """The key signature that stands for the scale: -7 flats to 7 sharps, that of the parallel
        major or minor of its root.

        A root too far out for a signature is taken at its enharmonic neighbour.
        """
        count = _FIFTHS[self.root.letter] + 7 * self.root.accidental - (3 if self.is_minor else 0)
        while count > 7:
            count -= 12
        while count < -7:
            count += 12
        return count

    def __str__(self) -> str:
        return f"{self.root} {self.called or self.name}"

    @property
    def in_short(self) -> str:
        """As players say it who name no mode: ``F major``, ``E minor``, ``E dorian``."""
        return f"{self.root} {self.called or _IN_SHORT.get(self.name, self.name)}"


def parse_scale(text: str) -> Scale:
    """``G dorian``, ``Bb altered``, or a root and a formula: ``E 1 b2 3 4 5 b6 b7``. Raises
    UserError with what would be right.
    """
    words = text.replace("♭", "b").replace("♯", "#").split()
    if not words:
        raise UserError("A scale needs a root and a name, such as G dorian.")
    if _is_formula(words):
        raise UserError(f"A formula needs its root first, such as E {' '.join(words)[:60]}.")
    root = parse_note_name(words[0])
    name = " ".join(words[1:])
    if not name:
        raise UserError(f"The scale on {root} needs a name or a formula, such as {root} dorian or {root} 1 b3 4 5 b7.")
    if _is_formula(words[1:]):
        return _custom(root, words[1:])
    key = name.lower()
    if key not in SCALES:
        # Spaces and hyphens are written in more than one way: dorian#4, phrygian-dominant.
        plain = _plain(key)
        key = next((known for known in (*SCALES, *ALIASES) if _plain(known) == plain), key)
    called, key = (key, ALIASES[key]) if key in ALIASES else ("", key)
    if key not in SCALES:
        near = nearest(key, (*SCALES, *ALIASES))
        hint = (
            f": did you mean {near}?" if near else f"; there are {', '.join(SCALES)}, or a formula such as 1 b3 4 5 b7."
        )
        raise UserError(f"There is no scale called {name[:40]!r}{hint}")
    return Scale(root, key, SCALES[key], called)


def _is_formula(words: list[str]) -> bool:
    """A formula begins with a degree, a name with a word; a number further on (``dorian #4``)
    belongs to the name.
    """
    return words[0].lstrip("b#")[:1] in set("0123456789")


def _plain(name: str) -> str:
    return name.replace(" ", "").replace("-", "")


def _custom(root: Spelled, words: list[str]) -> Scale:
    for word in words:
        if not _DEGREE.fullmatch(word):
            raise UserError(
                f"{word[:40]!r} is not a degree; a formula is made of 1 to 7 with b or #, such as 1 b2 3 4 5 b6 b7."
            )
    places = [semitone_of(word) for word in words]
    if words[0] != "1":
        raise UserError("A formula begins with 1, the root.")
    if any(later <= earlier for earlier, later in itertools.pairwise(places)) or places[-1] > 11:
        raise UserError(f"The degrees of a formula rise from 1 within the octave; {' '.join(words)[:60]!r} does not.")
    return Scale(root, " ".join(words), tuple(words))
