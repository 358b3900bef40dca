"""Melodies labelled with root and mode: the tunes of two folk collections that music21's corpus
carries.

Source
    music21's corpus: ``oneills1850`` (O'Neill's Music of Ireland, Chicago 1903) and
    ``ryansMammoth`` (Ryan's Mammoth Collection, Boston 1883), as ABC. The key field of each tune
    (``K:Ador``) is its label; a plain ``K:A`` means major, as the ABC standard 2.1 says.

Conventions
    A tune is notes as they are written, unrepeated, from the pickup on: onsets and lengths in
    quarters from its first note, pitches as MIDI numbers. Ties are one note; grace notes are left
    out; of a chord the lowest note is taken. Near duplicates (another transcription of the same
    tune, often under another name or in the other collection) stay together: ``family`` is the same
    number for tunes whose rows of intervals share a third of their words of six intervals.
"""

import argparse
import itertools
import json
import re
import sys
import warnings
import zlib
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from loopdeck.rhythm.meter import parse_cycle

COLLECTIONS = ("oneills1850", "ryansMammoth")
#: ABC's modes (standard 2.1, section 3.1.14), by their first three letters.
MODES = {"": "ionian", "maj": "ionian", "ion": "ionian", "m": "aeolian", "min": "aeolian", "aeo": "aeolian",
         "dor": "dorian", "mix": "mixolydian", "lyd": "lydian", "phr": "phrygian", "loc": "locrian"}  # fmt: skip
_KEY = re.compile(r"^K:[ \t]*([A-G])([#b]?)[ \t]*([A-Za-z]*)", re.MULTILINE)
_NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
LEAST_NOTES = 16
#: Words of this many intervals, and the share of them in common that makes two tunes one family.
WORD, ALIKE = 6, 1 / 3


class Tune(NamedTuple):
    """One labelled melody; the arrays have shape (n,). ``meter`` is its text, ``pickup_q`` where
    its first whole bar begins, in quarters.
    """

    name: str
    collection: str
    root: int
    mode: str
    meter: str
    onset_q: NDArray[np.float64]
    length_q: NDArray[np.float64]
    pitch: NDArray[np.int64]
    pickup_q: float = 0.0
    family: int = -1


def label(text: str) -> tuple[int, str] | None:
    """Root (0 for C) and mode of an ABC tune's only key field; None where it changes key or has
    none that is understood.
    """
    keys = {match.groups() for match in _KEY.finditer(text)}
    if len(keys) != 1 or "[K:" in text:
        return None
    letter, sign, word = keys.pop()
    word = word.lower()
    mode = MODES.get("m" if word == "m" else word[:3])
    return None if mode is None else ((_NATURAL[letter] + {"": 0, "#": 1, "b": -1}[sign]) % 12, mode)


def _texts(path: Path) -> list[str]:
    """The tunes of a file, each with its header."""
    text = path.read_text(encoding="utf-8", errors="replace").replace("\r\n", "\n").replace("\r", "\n")
    parts = re.split(r"(?m)^(?=X:)", text)
    return [part for part in parts if part.startswith("X:") and "K:" in part]


def _notes(score: Any) -> tuple[list[float], list[float], list[int]]:
    onsets, lengths, pitches = [], [], []
    for part in score.parts[:1] if score.hasPartLikeStreams() else [score]:
        for one in part.stripTies().flatten().notes:
            length = float(one.duration.quarterLength)
            if length <= 0 or not one.pitches:
                continue
            onsets.append(float(one.offset))
            lengths.append(length)
            pitches.append(min(pitch.midi for pitch in one.pitches))
    return onsets, lengths, pitches


def _pickup(score: Any, meter: str) -> float:
    """How much stands before the first whole bar, in quarters."""
    part = score.parts[0] if score.hasPartLikeStreams() else score
    bars = list(part.getElementsByClass("Measure"))
    first = float(bars[0].duration.quarterLength) if bars else 0.0
    return first if first < float(parse_cycle(meter).quarters) - 0.01 else 0.0


def kept_back(name: str) -> bool:
    """One tune in forty is never fitted on, nor any of its family; ``tests/outside`` judges the
    tables by them.
    """
    return zlib.crc32(name.encode()) % 40 == 0


def read_corpus(collection: str, chosen: Callable[[str], bool] = lambda name: True) -> list[dict[str, Any]]:
    """Every tune of a collection that has one label (those whose name is ``chosen``), as plain
    numbers; some minutes for all.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
    folder = Path(music21.__file__).parent / "corpus" / collection
    found = []
    for path in sorted(folder.glob("*.abc")):
        for text in _texts(path):
            named = label(text)
            number = re.match(r"X:\s*(\d+)", text)
            title = re.search(r"(?m)^T:\s*(.*)$", text)
            name = f"{path.stem} {number.group(1) if number else ''} {title.group(1) if title else ''}".strip()
            if named is None or not chosen(name):
                continue
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    score = music21.converter.parse(text, format="abc")
                    onsets, lengths, pitches = _notes(score)
                    meters = {str(m.ratioString) for m in score.recurse().getElementsByClass("TimeSignature")}
            except (
                Exception
            ) as error:  # music21 raises many kinds for ABC it cannot read; such a tune is said and left out
                print(f"{path.name}: {text.splitlines()[1][:50]}: {type(error).__name__}", file=sys.stderr)
                continue
            if len(pitches) >= LEAST_NOTES and len(meters) == 1:
                meter = meters.pop()
                found.append({"name": name, "collection": collection, "root": named[0], "mode": named[1], "meter": meter,
                              "onset_q": onsets, "length_q": lengths, "pitch": pitches, "pickup_q": _pickup(score, meter)})  # fmt: skip
    return found


def families(tunes: list[Tune]) -> list[Tune]:
    """The tunes with their families numbered."""
    words = [_words(tune.pitch) for tune in tunes]
    where: dict[bytes, list[int]] = {}
    for index, own in enumerate(words):
        for word in own:
            where.setdefault(word, []).append(index)
    head = list(range(len(tunes)))

    def of(index: int) -> int:
        while head[index] != index:
            index = head[index]
        return index

    for index, own in enumerate(words):
        shared: dict[int, int] = {}
        for word in own:
            if len(where[word]) <= 40:
                for other in where[word]:
                    if other < index:
                        shared[other] = shared.get(other, 0) + 1
        for other, count in shared.items():
            if count >= ALIKE * min(len(own), len(words[other])):
                head[of(index)] = of(other)
    return [tune._replace(family=of(index)) for index, tune in enumerate(tunes)]


def _words(pitch: NDArray[np.int64]) -> set[bytes]:
    steps = np.diff(pitch).astype(np.int8)
    return {steps[at : at + WORD].tobytes() for at in range(len(steps) - WORD + 1)}


def agreement(tunes: list[Tune]) -> dict[str, tuple[float, int]]:
    """How often two transcriptions of one tune (a family's pairs that share a third of their words)
    bear the same root, as seen from the melody, and the same mode; for all pairs, and by the mode
    of either one. No finder can be expected to know better than two editors do.
    """
    places = [_places(tune.pitch) for tune in tunes]
    agreed: dict[str, list[bool]] = {"all": []}
    for one, other in _pairs(tunes):
        shared = places[one].keys() & places[other].keys()
        if len(shared) < ALIKE * min(len(places[one]), len(places[other])):
            continue
        moved = Counter((places[one][word] - places[other][word]) % 12 for word in shared).most_common(1)[0][0]
        same = (tunes[one].root - tunes[other].root) % 12 == moved and tunes[one].mode == tunes[other].mode
        for key in ("all", tunes[one].mode, tunes[other].mode):
            agreed.setdefault(key, []).append(same)
    return {key: (round(float(np.mean(said)), 3), len(said)) for key, said in agreed.items() if said}


def _pairs(tunes: list[Tune]) -> Iterator[tuple[int, int]]:
    """All pairs of tunes of one family, by number."""
    members: dict[int, list[int]] = {}
    for index, tune in enumerate(tunes):
        members.setdefault(tune.family, []).append(index)
    return (pair for own in members.values() for pair in itertools.combinations(own, 2))


def _places(pitch: NDArray[np.int64]) -> dict[bytes, int]:
    """The pitch at which each word of intervals first begins."""
    steps = np.diff(pitch).astype(np.int8)
    return {steps[at : at + WORD].tobytes(): int(pitch[at]) for at in reversed(range(len(steps) - WORD + 1))}


def load(cache: Path) -> list[Tune]:
    """The tunes of both collections, in families; read once and kept in ``cache``."""
    rows: list[dict[str, Any]] = []
    for collection in COLLECTIONS:
        path = cache / f"{collection}.json"
        if not path.exists():
            cache.mkdir(parents=True, exist_ok=True)
            path.write_text(json.dumps(read_corpus(collection)))
        rows += json.loads(path.read_text())
    return families(as_tunes(rows))


def as_tunes(rows: list[dict[str, Any]]) -> list[Tune]:
    """Tunes from plain numbers, not yet in families."""
    return [
        Tune(**{**row, "onset_q": np.array(row["onset_q"]), "length_q": np.array(row["length_q"]), "pitch": np.array(row["pitch"])})
        for row in rows
    ]  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cache", default="/tmp/loopdeck-tunes")
    tunes = load(Path(parser.parse_args().cache))
    print(len(tunes), "tunes in", len({tune.family for tune in tunes}), "families")
    print("two transcriptions of one tune agree in root and mode:", agreement(tunes))
