"""The signs of text tab: one table, by which it is written and read.

A fret stands with signs before it (how it was reached) and behind it (what was done to it). The
marks are those of technique.
"""

import re
from typing import NamedTuple

#: Before the fret, one at most. A slide is up or down by the frets on both sides of it.
BEFORE = {"hammer-on": "h", "pull-off": "p", "slide": "/", "slide-from": "_"}
#: Behind it, in this order. A bend has its semitones behind it: ``b1``, ``b.5``; with ``r`` it
#: comes back.
BEHIND = {
    "slide-to": "_", "vibrato": "~", "trill": "t", "staccato": "'", "let-ring": "=", "accent": ">", "ghost": ")", "dead": "x",
}  # fmt: skip
WORDS = {
    "h5": "hammer-on", "p5": "pull-off", "/5": "slide", "_5": "slide from nowhere", "5_": "slide to nowhere",
    "5b1": "bend by so many semitones, r: released", "5~": "vibrato", "5t": "trill", "5'": "staccato", "5=": "let ring", "5>": "accent",
    "5)": "ghost note", "5x": "dead note",
}  # fmt: skip
_ORDER = tuple(BEHIND.items())
TOKEN = re.compile(r"([hp/_]?)(\d{1,2})(b(\d?(?:\.\d+)?)(r?))?([_~t'=>)x]*)")


class Fret(NamedTuple):
    """A fret with its marks and bend (semitones)."""

    fret: int
    marks: tuple[str, ...] = ()
    bend: float = 0.0


def written(fret: Fret) -> str:
    """The token for a fret."""
    before = "".join(sign for mark, sign in BEFORE.items() if mark in fret.marks)[:1]
    bend = ""
    if "bend" in fret.marks:
        amount = f"{max(round(fret.bend * 4) / 4, 0.25):g}".removeprefix("0")
        bend = f"b{amount}" + ("r" if "release" in fret.marks else "")
    return f"{before}{fret.fret}{bend}" + "".join(sign for mark, sign in _ORDER if mark in fret.marks)


def read(text: str) -> Fret | None:
    """The fret of a token; None if it is not a fret."""
    found = TOKEN.fullmatch(text)
    if found is None:
        return None
    before, fret, bend, amount, release, behind = found.groups()
    marks = [mark for mark, sign in BEFORE.items() if sign == before]
    if bend:
        marks += ["bend", *(["release"] if release else [])]
    marks += [mark for mark, sign in _ORDER if sign in behind]
    return Fret(int(fret), tuple(marks), float(amount) if amount not in (None, "") else 1.0 if bend else 0.0)


def legend(used: set[str]) -> str:
    """The signs that a page uses, in words; empty for none. ``used`` are marks."""
    signs = {
        **{mark: f"{sign}5" for mark, sign in BEFORE.items()},
        **{mark: f"5{sign}" for mark, sign in BEHIND.items()},
        "bend": "5b1",
    }
    wanted = {signs[mark] for mark in used if mark in signs}
    return ", ".join(f"{sign} {words}" for sign, words in WORDS.items() if sign in wanted)
