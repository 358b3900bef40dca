"""The latency of each input, as ``measure`` found it and ``jam`` takes it off: one small JSON file
in the user's configuration folder.

Format
    ``{"version": 1, "inputs": {NAME: {"correction_ms": 4.2, "kind": "loop", "measured_at":
    "2031-05-06T07:08:09+00:00", "median_ms": 4.2, "jitter_ms": 0.3, "by_pitch": {"28": 11.0}}}}``

    ``NAME`` is that of the port without the numbers that ALSA adds, since these change whenever
    something is plugged in. Only ``correction_ms`` must be there: milliseconds from 0 to 1000,
    taken off the stamps of that input. ``by_pitch`` is room for corrections of single MIDI pitches,
    in milliseconds; they are kept, and nothing uses them yet. Fields that are not known are left as
    they are.
"""

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from loopdeck.analysis.latency import Latency
from loopdeck.errors import UserError

VERSION = 1
MOST_MS = 1000.0
_ALSA_NUMBERS = re.compile(r"\s+\d+:\d+$")


@dataclass(frozen=True)
class Correction:
    """What was measured on one input.

    ``correction_ms`` is what to take off; ``by_pitch`` the same for single MIDI pitches.
    """

    correction_ms: float
    kind: str = "loop"
    measured_at: str = ""
    median_ms: float | None = None
    jitter_ms: float | None = None
    by_pitch: Mapping[int, float] = field(default_factory=dict)
    more: Mapping[str, Any] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        """As it stands in the file."""
        return {
            **self.more,
            "correction_ms": round(self.correction_ms, 3),
            "kind": self.kind,
            "measured_at": self.measured_at,
            "median_ms": self.median_ms,
            "jitter_ms": self.jitter_ms,
            "by_pitch": {str(pitch): round(ms, 3) for pitch, ms in sorted(self.by_pitch.items())},
        }


def correction_of(latency: Latency) -> Correction:
    """What is stored of a measurement, dated now."""
    return Correction(
        correction_ms=min(latency.correction_ms, MOST_MS),
        kind=latency.kind,
        measured_at=datetime.now(UTC).isoformat(timespec="seconds"),
        median_ms=round(latency.median_ms, 3),
        jitter_ms=round(latency.jitter_ms, 3),
        by_pitch=dict(latency.by_pitch or {}),
    )


def plain_name(port: str) -> str:
    """The name of a port without the numbers ALSA gives it for the moment."""
    return _ALSA_NUMBERS.sub("", port.strip())


def load_corrections(path: str | Path) -> dict[str, Correction]:
    """The corrections by name of input; none when there is no file. Raises UserError for a file
    that makes no sense, OSError.
    """
    try:
        text = Path(path).read_text(encoding="utf-8")
    except FileNotFoundError:
        return {}
    except UnicodeDecodeError:
        raise _broken(path, "it is not text") from None
    try:
        found = json.loads(text)
    except (ValueError, RecursionError) as error:
        line = f"; line {error.lineno} is not JSON" if isinstance(error, json.JSONDecodeError) else ""
        raise _broken(path, f"it is damaged{line}") from None
    if not isinstance(found, dict) or not isinstance(found.get("inputs"), dict):
        raise _broken(path, "it has no table of inputs")
    version = found.get("version")
    if version != VERSION:
        raise _broken(path, f"it has version {str(version)[:20]}, and this loopdeck reads version {VERSION}")
    return {plain_name(str(name)): _read(path, str(name), fields) for name, fields in found["inputs"].items()}


def _broken(path: str | Path, why: str) -> UserError:
    return UserError(
        f"The measured corrections in {path} cannot be used ({why}), so none is applied; measure again to replace them."
    )


def _read(path: str | Path, name: str, fields: Any) -> Correction:
    def number(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise ValueError
        return float(value)

    try:
        rest = dict(fields)
        correction_ms = number(rest.pop("correction_ms"))
        median_ms, jitter_ms = (
            None if (value := rest.pop(key, None)) is None else number(value) for key in ("median_ms", "jitter_ms")
        )
        by_pitch = {int(pitch): number(ms) for pitch, ms in dict(rest.pop("by_pitch", None) or {}).items()}
        kind, measured_at = str(rest.pop("kind", "loop")), str(rest.pop("measured_at", ""))
    except (KeyError, TypeError, ValueError, OverflowError):
        raise _broken(path, f"the input {name[:60]!r} has no sensible numbers") from None
    if not all(0.0 <= ms <= MOST_MS for ms in (correction_ms, *by_pitch.values())):
        raise _broken(path, f"the input {name[:60]!r} is corrected by more than {MOST_MS:g} ms or less than 0")
    return Correction(correction_ms, kind, measured_at, median_ms, jitter_ms, by_pitch, rest)


def store_correction(path: str | Path, port: str, correction: Correction) -> str:
    """Write down the correction of one input beside those of the others, whole or not at all.
    Raises OSError.

    Returns a sentence when the file that was there could not be read; it is put aside then, as
    ``NAME.broken``.
    """
    from loopdeck.atomic import whole_file

    target, said = Path(path), ""
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        found = load_corrections(target)
    except UserError as error:
        aside = target.with_name(f"{target.name}.broken")
        target.replace(aside)
        found, said = {}, f"{str(error).split(', so none')[0]}; it was put aside as {aside.name}."
    name = plain_name(port)
    if name in found:
        old = found[name]
        correction = replace(correction, more=old.more, by_pitch=correction.by_pitch or old.by_pitch)
    found[name] = correction
    body = {"version": VERSION, "inputs": {one: found[one].to_dict() for one in sorted(found)}}
    with whole_file(target) as file:
        file.write((json.dumps(body, indent=2, ensure_ascii=False) + "\n").encode())
    return said


class InputLatencies:
    """What the engine takes off its inputs: told of each one that comes, it answers with the
    command to give.

    ``given_sec``: what is taken off each input already, in a session that was taken up again.
    """

    def __init__(self, path: str, given_sec: Mapping[int, float] | None = None) -> None:
        #: A sentence when the file could not be used.
        self.problem = ""
        self._found: dict[str, Correction] = {}
        self._given: dict[int, float] = dict(given_sec or {})
        try:
            self._found = load_corrections(path) if path else {}
        except UserError as error:
            self.problem = str(error)
        except OSError as error:
            self.problem = f"The measured corrections in {path} cannot be read ({error.strerror}), so none is applied."

    def order(self, port: int, name: str) -> dict[str, Any] | None:
        """The arguments of ``late`` for the input ``port``, whose device has this ``name``; None
        when nothing changes.
        """
        correction = self._found.get(plain_name(name))
        sec = correction.correction_ms / 1000.0 if correction is not None else 0.0
        if self._given.get(port, 0.0) == sec:
            return None
        self._given[port] = sec
        return {"port": port, "sec": sec}
