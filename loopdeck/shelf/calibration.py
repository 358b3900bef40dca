"""The delay that was measured for each pickup, in one small JSON file of the player's own.

Format
    ``{"version": 1, "pickups": {NAME: {"constant_ms": 3.1, "periods": 2.04, "notes": 200,
    "spread_ms": 8.2}}}``
"""

import json
from pathlib import Path
from typing import Any

from loopdeck.bass.pickup.delay import MOST_CONSTANT_MS, MOST_PERIODS, Fitted
from loopdeck.bass.pickup.profile import Delay
from loopdeck.errors import UserError

VERSION = 1


def calibration_file() -> Path:
    """Where the measured delays lie, whether or not there are any."""
    from platformdirs import user_config_path

    return user_config_path("loopdeck", appauthor=False) / "pickups.json"


def measured_delay(name: str, path: Path | None = None) -> Delay | None:
    """The delay that was measured for the pickup of that name; None where none was. Raises
    UserError for a file that is not to be trusted.
    """
    found = _read(path or calibration_file()).get(name)
    if found is None:
        return None
    values = (found.get("constant_ms"), found.get("periods")) if isinstance(found, dict) else (None, None)
    limits = (MOST_CONSTANT_MS, MOST_PERIODS)
    if not all(
        isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= limit  # NaN is in no range
        for value, limit in zip(values, limits, strict=True)
    ):
        raise UserError(
            f"{path or calibration_file()}: what is written of the pickup {name!r} is not a delay; measure it again."
        )
    return Delay(float(values[0] or 0.0), float(values[1] or 0.0))


def store_delay(name: str, fitted: Fitted, path: Path | None = None) -> Path:
    """Write the delay of a pickup; the others stay. Raises UserError, OSError."""
    from loopdeck.atomic import whole_file

    where = path or calibration_file()
    pickups = _read(where)
    pickups[name] = {
        "constant_ms": fitted.delay.constant_ms,
        "periods": fitted.delay.periods,
        "notes": fitted.notes,
        "spread_ms": round(fitted.spread_ms, 2),
    }
    where.parent.mkdir(parents=True, exist_ok=True)
    with whole_file(where) as out:
        out.write(json.dumps({"version": VERSION, "pickups": pickups}, indent=1).encode())
    return where


def _read(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_bytes()[:1_000_000])
    except FileNotFoundError:
        return {}
    except (ValueError, RecursionError):
        raise UserError(f"{path} is not JSON; put it aside and measure the pickup again.") from None
    pickups = found.get("pickups") if isinstance(found, dict) else None
    if not isinstance(pickups, dict):
        raise UserError(f"{path} holds no measured pickups; put it aside and measure the pickup again.")
    return dict(pickups)
