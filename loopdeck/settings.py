"""What a player has chosen in the window, for the next start: MIDI ports, the sound device, the
control map. One small TOML file in the player's configuration folder.

Conventions: names of ports stand without the numbers that ALSA adds. What is not set is left out of
the file. Lines of a newer loopdeck are kept as they are. Options of the command line go before it.
"""

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, fields, replace
from datetime import date, time
from pathlib import Path
from typing import Any

from loopdeck.atomic import whole_file
from loopdeck.errors import UserError
from loopdeck.toml_files import parse, read_text

HEAD = "# What was chosen in loopdeck's window. Options of the command line go before it.\n"


@dataclass(frozen=True)
class PlayerSettings:
    """``midi_in``, ``midi_out``: parts of names, or ``virtual``; () where none was chosen.

    ``pedals_in``: the pedal board's own input; ``controls``: a control map by name;
    ``sound_device`` a part of its name; "" where none was chosen. ``more``: lines that are not
    known here.
    """

    midi_in: tuple[str, ...] = ()
    midi_out: tuple[str, ...] = ()
    pedals_in: str = ""
    controls: str = ""
    sound_device: str = ""
    more: Mapping[str, Any] = field(default_factory=dict)


_NAMES = {one.name: one.type for one in fields(PlayerSettings) if one.name != "more"}
_LISTS = ("midi_in", "midi_out")
MOST_NAMES, MOST_LETTERS = 16, 400


def settings_path() -> Path:
    """Where the file lies."""
    from platformdirs import user_config_path

    return user_config_path("loopdeck", appauthor=False) / "settings.toml"


def load_settings(path: Path | None = None) -> tuple[PlayerSettings, str]:
    """The settings, and a sentence where the file could not be used (then these are the defaults);
    "" otherwise.
    """
    path = path or settings_path()
    try:
        return _settings(parse(read_text(path, "the settings"), str(path), 'sound_device = "headphones"')), ""
    except FileNotFoundError:
        return PlayerSettings(), ""
    except UserError as error:
        why = str(error).rstrip(".")
    except OSError as error:
        why = f"{path}: {error.strerror or error}"
    return PlayerSettings(), f"The settings cannot be used ({why}), so nothing that was chosen before is."


def _settings(found: Mapping[str, Any]) -> PlayerSettings:
    """Raises UserError."""
    known: dict[str, Any] = {}
    for name in _NAMES:
        value = found.get(name, () if name in _LISTS else "")
        words = list(value) if isinstance(value, list | tuple) and name in _LISTS else [value]
        if len(words) > MOST_NAMES or not all(isinstance(one, str) and len(one) <= MOST_LETTERS for one in words):
            what = "a list of names" if name in _LISTS else "a name in quotes"
            raise UserError(f"{name} must be {what}.")
        known[name] = tuple(words) if name in _LISTS else words[0]
    more = {name: value for name, value in found.items() if name not in _NAMES}
    return PlayerSettings(**known, more=more)


def save_settings(settings: PlayerSettings, path: Path | None = None) -> None:
    """Write the file, whole or not at all. A damaged one is put aside as ``settings.toml.broken``.
    Raises OSError.
    """
    path = path or settings_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.exists() and load_settings(path)[1]:
        with suppress(OSError):
            path.replace(path.with_name(f"{path.name}.broken"))
    with whole_file(path) as file:
        file.write(settings_to_toml(settings).encode())


def change_settings(path: Path | None = None, **changed: Any) -> PlayerSettings:
    """Change some of the settings and save all. Raises OSError."""
    settings = replace(load_settings(path)[0], **changed)
    save_settings(settings, path)
    return settings


def settings_to_toml(settings: PlayerSettings) -> str:
    """The text of the file; ``load_settings`` reads the same settings back."""
    values = {name: getattr(settings, name) for name in _NAMES} | dict(settings.more)
    return HEAD + "".join(
        f"{_key(name)} = {toml_value(value)}\n" for name, value in values.items() if value not in ("", ())
    )


def _key(name: str) -> str:
    """A key as TOML takes it: in quotes unless it is made of plain letters (TOML 1.0, Keys)."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_value(name)


def toml_value(value: Any) -> str:
    """A value of TOML: text, number, true or false, a date or a time, or a list or table of
    such.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml_value, value))}]"
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{_key(key)} = {toml_value(one)}' for key, one in value.items())} }}"
    if isinstance(value, date | time):
        return value.isoformat()
    # JSON's escapes are TOML's, but for DEL, which TOML wants escaped too (TOML 1.0, String).
    import json

    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
