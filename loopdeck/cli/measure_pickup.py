"""``loopdeck measure --pickup``: how late a pickup is by pitch, from a minute of playing along to
the click, or from such playing already kept.
"""

import argparse
from typing import TYPE_CHECKING, Any

from loopdeck.errors import UserError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from loopdeck.bass.pickup.delay import Fitted

#: Clicks of a minute at the pace of the taps.
CLICKS = 100


def from_take(args: argparse.Namespace) -> "Fitted":
    """The delay of the playing in ``args.take``. Raises UserError, OSError."""
    import numpy as np

    from loopdeck.bass.pickup.cleaning import clean
    from loopdeck.bass.pickup.delay import fit, period_sec
    from loopdeck.bass.pickup.played_to import division_of
    from loopdeck.bass.pickup.profile import PERIODS, load_pickup
    from loopdeck.rhythm.quantize import slots
    from loopdeck.shelf.material import material_of
    from loopdeck.shelf.source import open_take

    pickup = load_pickup(args.pickup)
    if pickup.keyboard:
        raise UserError(f"The pickup {pickup.name!r} is a keyboard: none of its notes is later than another.")
    material = material_of(open_take(args.take, args.shelf), layers=False)
    cleaned = clean(material.notes.array, material.notes.bends, pickup.cleaning)
    table = slots(material.brief.cycle, material.brief.grid, material.brief.swing)
    end_q = float(material.onset_q[-1]) + 8.0 if len(material) else 8.0
    passes = np.arange(-1, int(end_q / table.cycle_q) + 2)
    places = (passes[:, None] * table.cycle_q + table.played_q[None, :]).ravel()
    onset, pitch = cleaned.notes["onset_sec"], cleaned.notes["pitch"]
    division = division_of(material.tempo.quarters(onset - PERIODS * period_sec(pitch)), places)
    if division is not None:
        places = (np.arange(-4, int(end_q) + 2)[:, None] + division[None, :]).ravel()
    return fit(onset, pitch, material.tempo.seconds(places))


def from_playing(heard: "Sequence[tuple[float, int]]", clicked: "Sequence[float]") -> "Fitted":
    """The delay of notes (seconds, pitch) that were played along to clicks. Raises UserError."""
    import numpy as np

    from loopdeck.bass.pickup.delay import fit

    joined = min((sec for sec, _ in heard), default=0.0) - 0.3
    clicks = np.array([sec for sec in clicked if sec >= joined])
    rows = [(sec, pitch) for sec, pitch in heard if len(clicks) and clicks[0] - 0.3 <= sec <= clicks[-1] + 0.3]
    return fit([sec for sec, _ in rows], [pitch for _, pitch in rows], clicks)


def tell(args: argparse.Namespace, fitted: "Fitted") -> int:
    """Store and report what was found."""
    from loopdeck.shelf.calibration import store_delay

    where = store_delay(args.pickup, fitted) if args.store else None
    if args.json:
        import json

        print(json.dumps({**_figures(args, fitted), "stored": where is not None}))
        return 0
    print(_readable(args, fitted))
    stored = (
        f"Stored in {where}: jam, and every report with --pickup {args.pickup}, subtracts it."
        if where
        else "Not stored."
    )
    print(stored)
    return 0


def _figures(args: argparse.Namespace, fitted: "Fitted") -> dict[str, Any]:
    from loopdeck.bass.pickup.delay import late_sec
    from loopdeck.theory.tuning import FOUR_STRING

    return {
        "pickup": args.pickup,
        "constant_ms": fitted.delay.constant_ms,
        "periods": fitted.delay.periods,
        "notes": fitted.notes,
        "spread_ms": round(fitted.spread_ms, 3),
        "before_ms": round(fitted.before_ms, 3),
        "after_ms": round(fitted.after_ms, 3),
        "strings": [
            {"string": string, "pitch": pitch, "late_ms": round(float(late_sec(pitch, fitted.delay)) * 1000, 3)}
            for string, pitch in enumerate(FOUR_STRING.strings, 1)
        ],
    }


def _readable(args: argparse.Namespace, fitted: "Fitted") -> str:
    from loopdeck.cli.report import table
    from loopdeck.theory.pitch import pitch_name

    figures = _figures(args, fitted)
    rows = [[pitch_name(one["pitch"]), f"{one['late_ms']:.1f} ms late"] for one in reversed(figures["strings"])]
    return "\n".join(
        [
            f"{fitted.notes} notes: {figures['constant_ms']:.1f} ms and {figures['periods']:.2f} periods of the "
            "note late,"
            f" played within {fitted.spread_ms:.1f} ms around that.",
            "",
            table(rows, ("open string", ""), right=(1,)),
            "",
            f"Low notes came {fitted.before_ms:.1f} ms apart from high ones before, {fitted.after_ms:.1f} ms "
            "after it is taken off.",
        ]
    )
