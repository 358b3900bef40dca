"""Melodies in the forms of written music, with the sections, themes and motifs they were made of.

Grammar (all choices drawn from ``numpy.random.default_rng(seed)``; one seed, one piece; places are
exact)
    Minuet: two dances of two repeated sections each, the first played once more at the end. A
    section's first phrase is the theme, four bars made of a motif, its sequence a step off, and a
    close; the second section works with the motif and comes back to the theme. Fugue: three or four
    voices, laid end to end. Entries of a subject, at the octave, the fifth or the fourth, some with
    one interval changed (a tonal answer), each followed by a countersubject or by free playing;
    episodes of a figure in sequence. Song: voices laid end to end; short phrases that every voice
    sings in turn, moved and now and then changed; the last part twice.

Truth: the sections that come back, themes, subjects, countersubjects, and motifs that come back
away from their theme, each with all of its occurrences as note numbers, as an analyst would mark
them.
"""

from dataclasses import dataclass, field

import numpy as np

MAJOR = np.array([0, 2, 4, 5, 7, 9, 11])
MINOR = np.array([0, 2, 3, 5, 7, 8, 10])
CELLS = {
    2: ([1, 1], [2], [1.5, 0.5], [0.5, 0.5, 1], [0.5, 0.5, 0.5, 0.5], [1, 0.5, 0.5]),
    3: ([1, 1, 1], [2, 1], [1.5, 0.5, 1], [1, 0.5, 0.5, 1], [0.5, 0.5, 1, 1], [0.5] * 6, [1, 0.5, 0.5, 0.5, 0.5], [3]),
    4: ([1, 1, 1, 1], [2, 1, 1], [1.5, 0.5, 1, 1], [0.5, 0.5, 1, 1, 1], [1, 0.5, 0.5, 0.5, 0.5, 1], [0.5] * 8, [2, 2]),
}


@dataclass
class Piece:
    """``notes``: (place in quarters, length, pitch); ``truth``: pattern, occurrence, note numbers;
    ``names`` of the patterns."""

    kind: str
    notes: list[tuple[float, float, int]] = field(default_factory=list)
    marks: dict[str, list[tuple[int, int]]] = field(default_factory=dict)

    @property
    def truth(self) -> list[list[list[int]]]:
        return [[list(range(a, b)) for a, b in spans] for spans in self.marks.values() if len(spans) > 1]

    @property
    def names(self) -> list[str]:
        return [name for name, spans in self.marks.items() if len(spans) > 1]


class _Writer:
    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.scale = MAJOR if self.rng.random() < 0.5 else MINOR
        self.root = 60 + int(self.rng.integers(-5, 7))
        self.bar = int(self.rng.choice([2, 3, 3, 4]))
        self.at = 0.0
        self.piece = Piece("")

    def pitch(self, degree: int) -> int:
        return int(self.root + 12 * (degree // 7) + self.scale[degree % 7])

    def cell(self, start: int) -> list[tuple[float, int]]:
        """One bar: (length, degree)."""
        lengths = CELLS[self.bar][self.rng.integers(len(CELLS[self.bar]))]
        degree, notes = start, []
        for length in lengths:
            notes.append((length, degree))
            degree += int(self.rng.choice([-3, -2, -1, -1, 1, 1, 2, 3]))
            degree = int(np.clip(degree, -4, 11))
        return notes

    def play(
        self, cell: list[tuple[float, int]], shift: int = 0, names: tuple[str, ...] = (), semitones: int = 0
    ) -> None:
        first = len(self.piece.notes)
        for length, degree in cell:
            self.piece.notes.append((self.at, length * 0.95, self.pitch(degree + shift) + semitones))
            self.at += length
        for name in names:
            self.mark(name, first)

    def mark(self, name: str, first: int) -> None:
        self.piece.marks.setdefault(name, []).append((first, len(self.piece.notes)))

    def free(self, bars: int) -> None:
        degree = int(self.rng.integers(0, 8))
        for _ in range(bars):
            cell = self.cell(degree)
            self.play(cell)
            degree = cell[-1][1]


def piece(seed: int) -> Piece:
    """One piece; the three kinds in turn."""
    return (_minuet, _fugue, _song)[seed % 3](_Writer(seed))


def _minuet(w: _Writer) -> Piece:
    w.piece.kind = "minuet"

    def dance(name: str) -> tuple[list, list]:
        motif = w.cell(int(w.rng.integers(0, 6)))
        if w.rng.random() < 0.5:
            motif = motif + w.cell(motif[-1][1])
        bars = sum(length for length, _ in motif) / w.bar
        step = int(w.rng.choice([-2, -1, 1, 2]))
        theme = [(motif, 0), (motif, step)] if w.rng.random() < 0.7 else [(motif, 0), (w.cell(3), 0)]
        theme.append((w.cell(4) if bars == 1 else w.cell(2), 0))
        theme.append((w.cell(1), 0))
        answer = [*theme[:2], (w.cell(5), 0), ([(float(w.bar), 0)], 0)]
        first = (
            [("theme", theme), ("theme", answer)]
            if w.rng.random() < 0.7
            else [("theme", theme), ("", [(w.cell(3), 0) for _ in range(4)])]
        )
        develop = [
            (motif, int(w.rng.integers(-3, 4))),
            (motif, int(w.rng.integers(-3, 4))),
            (w.cell(3), 0),
            (w.cell(4), 0),
        ]
        develop += [(w.cell(int(w.rng.integers(0, 7))), 0) for _ in range(int(w.rng.integers(0, 5)))]
        close = theme if w.rng.random() < 0.5 else answer
        second = [("", develop), ("theme", close)]
        if w.rng.random() < 0.5:
            second.append(("", [(w.cell(3), 0) for _ in range(int(w.rng.integers(2, 5)))]))
        return first, second, (theme, answer, motif, name)

    def section(title: str, phrases: list, facts) -> None:
        theme, _, motif, name = facts
        begun = len(w.piece.notes)
        for kind, phrase in phrases:
            first = len(w.piece.notes)
            for cell, shift in phrase:
                w.play(cell, shift, (f"motif {name}",) if cell is motif and with_motif else ())
            if kind and phrase is theme:
                w.mark(f"theme {name}", first)
        w.mark(title, begun)

    with_motif = w.rng.random() < 0.4
    one, two = dance("1"), dance("2")
    for first, second, facts in (one, two):
        for _ in range(2):
            section(f"A{facts[3]}", first, facts)
        for _ in range(2):
            section(f"B{facts[3]}", second, facts)
    section("A1", one[0], one[2])
    section("B1", one[1], one[2])
    return w.piece


def _fugue(w: _Writer) -> Piece:
    w.piece.kind = "fugue"
    subject = w.cell(int(w.rng.integers(0, 5)))
    while len(subject) < 7:
        subject += w.cell(subject[-1][1])
    counter: list = []
    while len(counter) < 6:
        counter += w.cell(int(w.rng.integers(0, 8)))
    figure = w.cell(4)
    for voice in range(int(w.rng.integers(3, 5))):
        w.root += -7 if voice else 0
        for _ in range(int(w.rng.integers(2, 5))):
            semitones = int(w.rng.choice([0, 0, 7, -5, 12]))
            entry = list(subject)
            if semitones in (7, -5) and w.rng.random() < 0.6:
                spot = int(w.rng.integers(0, 3))
                entry[spot] = (entry[spot][0], entry[spot][1] + int(w.rng.choice([-1, 1])))
            w.play(entry, 0, ("subject",), semitones)
            if w.rng.random() < 0.6:
                w.play(counter, 0, ("counter",), int(w.rng.choice([0, 7, -5])))
            else:
                w.free(int(w.rng.integers(1, 4)))
            if w.rng.random() < 0.5:
                for step in range(int(w.rng.integers(2, 4))):
                    w.play(figure, -step, ("episode",))
            w.free(int(w.rng.integers(0, 3)))
        w.at += 8.0
    return w.piece


def _song(w: _Writer) -> Piece:
    w.piece.kind = "song"
    phrases = []
    for _ in range(int(w.rng.integers(4, 8))):
        phrase = w.cell(int(w.rng.integers(0, 6)))
        while len(phrase) < 5:
            phrase = phrase + w.cell(phrase[-1][1])
        phrases.append(phrase)
    half = len(phrases) // 2
    for voice in range(int(w.rng.integers(4, 6))):
        w.root += int(w.rng.choice([-5, -7, 0, -12])) if voice else 0

        def sing(number: int) -> None:
            phrase = [one for one in phrases[number]]
            if w.rng.random() < 0.35:
                spot = int(w.rng.integers(len(phrase)))
                phrase[spot] = (phrase[spot][0], phrase[spot][1] + int(w.rng.choice([-2, -1, 1, 2])))
            w.play(phrase, int(w.rng.choice([0, 0, 0, 3, 4])), (f"phrase {number}",))

        for number in range(half):
            sing(number)
            w.free(int(w.rng.integers(0, 2)))
        state = w.rng.bit_generator.state
        for _ in range(2):
            w.rng.bit_generator.state = state
            begun = len(w.piece.notes)
            for number in range(half, len(phrases)):
                sing(number)
                w.free(int(w.rng.integers(0, 2)))
            w.mark(f"last part {voice}", begun)
        w.at += 8.0
    return w.piece
