"""Names as they are written on the screen: ASCII spellings with their music signs. Pure; ``text``
draws the signs.
"""

import re
from collections.abc import Iterable

from loopdeck.protocol.messages import LayerRow

_SPELLED = re.compile(r"^([A-G])(b+|#+|x)?(-?\d+)?$")
_UNITS = {
    "quarter": "♩", "8th": "♪", "eighth": "♪", "dotted-quarter": "♩.", "dotted-8th": "♪.", "dotted-eighth": "♪.",
}  # fmt: skip


def pretty_note(name: str, octave: bool = False) -> str:
    """``"Bb2"`` as ``"B♭"`` (or ``"B♭2"`` with ``octave``); text that is not a note name comes back
    as it is.
    """
    found = _SPELLED.match(name)
    if found is None:
        return name
    letter, sign, number = found.groups()
    signs = (sign or "").replace("x", "##").replace("b", "♭").replace("#", "♯")
    return letter + signs + (number or "" if octave else "")


def pretty_degree(degree: str) -> str:
    """``"b7"`` as ``"♭7"``; the root, ``"1"``, as ``"R"``."""
    return "R" if degree == "1" else degree.replace("b", "♭").replace("#", "♯")


def pretty_scale(text: str) -> str:
    """``"Bb altered"`` as ``"B♭ altered"``, also in a custom formula (``"E 1 b2 3"``)."""
    words = text.split(" ")
    return " ".join(
        [pretty_note(words[0]), *(re.sub(r"^([b#]+)(?=\d)", lambda m: _signs(m[1]), word) for word in words[1:])]
    )


def _signs(text: str) -> str:
    return text.replace("b", "♭").replace("#", "♯")


def pretty_tempo(text: str) -> str:
    """``"96"`` as ``"♩ = 96"``, ``"8th=184"`` as ``"♪ = 184"``; a unit without a sign of ours
    keeps its name.
    """
    unit, _, count = text.rpartition("=")
    unit, count = unit.strip() or "quarter", count.strip()
    if re.fullmatch(r"\d+\.\d+", count):
        # Nobody plays to a hundredth of a beat a minute.
        count = f"{float(count):.1f}".removesuffix(".0")
    return f"{_UNITS.get(unit, unit)} = {count}"


def ramp_unit(tempo: str) -> str:
    """What stands before the steps of a ramp, which are quarters a minute: nothing beside a tempo
    in quarters, else the sign of a quarter.
    """
    return "♩ " if tempo.rpartition("=")[0].strip() not in ("", "quarter") else ""


def counted(number: int, one: str, many: str | None = None) -> str:
    """``counted(1, "pass", "passes")`` is ``"1 pass"``, with 2 ``"2 passes"``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def is_silent(row: LayerRow, rows: Iterable[LayerRow]) -> bool:
    """Whether a layer is muted, or silent since another one is soloed."""
    return row.muted or (not row.solo and any(one.solo for one in rows))


def layer_word(row: LayerRow, rows: Iterable[LayerRow] = ()) -> str:
    """A layer's state in a word; ``rows``: all layers."""
    if row.solo:
        return "SOLO"
    if row.muted:
        return "MUTED"
    if is_silent(row, rows):
        return "SILENT"
    return "SOUNDING" if row.sounding else "READY"


def pretty_chord(text: str) -> str:
    """A chord's name with its signs: ``"F#m7b5"`` as ``"F♯m7♭5"``, also over a bass; interval
    names stay as they are.
    """
    return re.sub(r"(?<![a-z])([A-G])(bb?|##?)", lambda m: m[1] + _signs(m[2]), text).replace("b5", "♭5")
