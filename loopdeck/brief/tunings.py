"""Tunings by name: those that come with loopdeck and the player's own, as TOML files.

Conventions
    A tuning file is a ``name``, the open ``strings`` from the lowest up as text (``"E1 A1 D2 G2"``,
    middle C is C4), and, if one likes, a line ``about`` it, the number of ``frets`` (24 otherwise),
    ``fretless = true``. It lies in ``configs/tunings`` or in the player's own folder and is called
    by the name of the file or by its ``name``: ``drop-d``, ``drop D``.
"""

from functools import cache
from pathlib import Path
from typing import Any

from loopdeck import configs
from loopdeck.errors import UserError, instead
from loopdeck.theory.tuning import FOUR_STRING, FRETS, MOST_FRETS, Tuning, parse_tuning, tuning_text
from loopdeck.toml_files import line_of, parse, read_text

_KEYS = ("name", "strings", "about", "frets", "fretless")
_LONGEST_NAME = 60
_EXAMPLE = {"name": 'name = "drop D"', "strings": 'strings = "D1 A1 D2 G2"'}


def find_tuning(text: str) -> Tuning:
    """A tuning by its name, from a file (``my.toml``), or as open strings from the lowest (``E1 A1
    D2 G2``). Raises UserError.
    """
    words = text.strip()
    if Path(words).suffix == ".toml":
        return load_tuning(read_text(words, "a tuning"), words)
    found = _named(words)
    if found is not None:
        return found
    try:
        return parse_tuning(words)
    except UserError as error:
        if "=" in words or _looks_like_pitches(words):
            raise
        raise UserError(
            f"There is no tuning {words[:40]!r}"
            + instead(words, names(), ", or the open strings from the lowest such as E1 A1 D2 G2")
        ) from error


def _looks_like_pitches(words: str) -> bool:
    """Whether the first word reads like a pitch, so that the others are wrong and not the name."""
    try:
        parse_tuning(words.split()[0])
    except (UserError, IndexError):
        return False
    return True


def text_of(tuning: Tuning) -> str:
    """What ``find_tuning`` reads back, here and elsewhere: the name of one that comes with
    loopdeck, else spelled out.
    """
    if tuning == FOUR_STRING:
        return tuning.name
    return tuning.name if _shipped(_stem(tuning.name)) == tuning else tuning_text(tuning)


@cache
def names() -> tuple[str, ...]:
    """The names of the tunings there are, as a player says them."""
    return tuple(tuning.name for tuning in _all())


def _stem(name: str) -> str:
    stem = name.lower().replace(" ", "-")
    return "four-string" if stem == "standard" else stem


def _named(name: str) -> Tuning | None:
    stem = _stem(name)
    if stem == FOUR_STRING.name:
        # The one everybody has costs no reading.
        return FOUR_STRING
    path = configs.find_named("tunings", stem)
    if path is None:
        own = configs.own_folder("tunings")
        return next((one for one in _in(own) if one.name.lower() == name.lower()), None) if own.is_dir() else None
    return (
        _shipped(stem)
        if path.parent == configs.folder("tunings")
        else load_tuning(read_text(path, "a tuning"), str(path))
    )


@cache
def _shipped(stem: str) -> Tuning | None:
    path = configs.folder("tunings") / f"{stem}.toml"
    if not stem or Path(stem).name != stem or not path.is_file():
        return None
    return load_tuning(read_text(path, "a tuning"), str(path))


def _all() -> list[Tuning]:
    return [*_in(configs.folder("tunings")), *_in(configs.own_folder("tunings"))]


def _in(base: Path) -> list[Tuning]:
    """The tunings of a folder, fewest strings first; one that cannot be read is left out here, and
    said where it is asked for.
    """
    found = []
    for path in sorted(base.glob("*.toml")):
        try:
            found.append(load_tuning(read_text(path, "a tuning"), str(path)))
        except (UserError, OSError):
            continue
    return sorted(found, key=lambda tuning: (tuning != FOUR_STRING, len(tuning.strings), tuning.name))


def load_tuning(text: str, where: str = "the tuning") -> Tuning:
    """The tuning in the text of a TOML file; ``where`` names the file in a sentence of error.
    Raises UserError, with the line.
    """
    found = parse(text, where, _EXAMPLE["strings"])
    for key in found:
        if key not in _KEYS:
            raise UserError(f"{where}{line_of(key, text)}: a tuning has no {key[:40]!r}, but {', '.join(_KEYS)}.")
    name, strings = (_words(found, key, text, where) for key in ("name", "strings"))
    if len(name) > _LONGEST_NAME or not name.isprintable() or "=" in name:
        raise UserError(
            f"{where}{line_of('name', text)}: a name is one line of at most {_LONGEST_NAME} letters, without =."
        )
    frets, fretless = found.get("frets", FRETS), found.get("fretless", False)
    if isinstance(frets, bool) or not isinstance(frets, int) or not 1 <= frets <= MOST_FRETS:
        raise UserError(f"{where}{line_of('frets', text)}: frets is a whole number from 1 to {MOST_FRETS}.")
    if not isinstance(fretless, bool):
        raise UserError(f"{where}{line_of('fretless', text)}: fretless is true or false.")
    try:
        if "=" in strings or "," in strings or strings.lower() in ("four-string", "standard"):
            raise UserError(
                f"{strings[:40]!r} is not a row of pitches; write the open strings from the lowest, such as E1 "
                "A1 D2 G2."
            )
        return Tuning(name, parse_tuning(strings).strings, frets, fretless)
    except UserError as error:
        raise UserError(f"{where}{line_of('strings', text)}: {error}") from error


def _words(found: dict[str, Any], key: str, text: str, where: str) -> str:
    value = found.get(key)
    if value is None:
        raise UserError(f'{where} has no line {key}; a tuning is name = "drop D" and strings = "D1 A1 D2 G2".')
    if not isinstance(value, str) or not value.strip():
        raise UserError(f"{where}{line_of(key, text)}: {key} is text in quotes, such as {_EXAMPLE[key]}.")
    return value.strip()
