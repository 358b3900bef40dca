"""What ``loopdeck takes`` says and does of a take's pickup: which it was, what its clean-up took
out, and what comes back.
"""

import argparse
from typing import TYPE_CHECKING, Any

from loopdeck.errors import UserError

if TYPE_CHECKING:
    from loopdeck.shelf.material import Material
    from loopdeck.shelf.pickup_view import PickedUp
    from loopdeck.shelf.store import Shelf
    from loopdeck.shelf.take import Take

#: So many of the notes that were taken out are listed for reading; all of them in JSON.
_LISTED = 12


def _view(take: "Take") -> "tuple[PickedUp | None, Material]":
    from loopdeck.shelf.material import material_of
    from loopdeck.shelf.pickup_view import as_kept

    material = material_of(take)
    return as_kept(material), material


def facts(take: "Take") -> dict[str, Any]:
    """The pickup (None where the take knows of none), the notes that its clean-up took out by their
    numbers, and how many the player brought back.
    """
    heard = next(iter(take.seen.inputs.values()), None)
    view, material = _view(take)
    if heard is None or view is None:
        return {"pickup": None, "removed": [], "brought_back": 0}
    rows = [(one, material.notes.array[one.note]) for one in view.removed]
    return {
        "pickup": {"name": heard.name, "constant_ms": heard.constant_ms, "periods": heard.periods},
        "removed": [
            {"index": one.note, "second": round(float(row["onset_sec"]), 3), "pitch": int(row["pitch"]), "why": one.why}
            for one, row in rows
        ],
        "brought_back": len(take.seen.back),
    }


def words(found: dict[str, Any]) -> list[tuple[str, str]]:
    """The same as lines for reading."""
    if found["pickup"] is None:
        return []
    from loopdeck.theory.pitch import pitch_name

    pickup = found["pickup"]
    said = f"{pickup['name'] or 'unnamed'}, {pickup['constant_ms']:g} ms and {pickup['periods']:g} periods late"
    listed = [
        f"{one['index']} ({pitch_name(one['pitch'])} at {one['second']:.2f} s, {one['why']})"
        for one in found["removed"][:_LISTED]
    ]
    more = len(found["removed"]) - len(listed)
    removed = ", ".join(listed) + (f" and {more} more" if more else "")
    rows = [("pickup", said), ("taken out", removed or "-")]
    return [*rows, ("brought back", str(found["brought_back"]))] if found["brought_back"] else rows


def played_with(take: "Take", name: str) -> "Take":
    """The take as one that was played with the pickup profile of that name, and with the delay that
    was measured for it. Raises UserError, OSError.
    """
    from dataclasses import replace

    from loopdeck.bass.pickup.profile import load_pickup
    from loopdeck.looper.heard import Heard, text_of_views
    from loopdeck.shelf.calibration import measured_delay

    pickup = load_pickup(name)
    delay = measured_delay(name) or pickup.latency
    heard = Heard(pickup.channels, delay.constant_ms, delay.periods, pickup.name, pickup.cleaning, pickup.bend_range)
    if pickup.keyboard:
        heard = Heard(name=pickup.name)
    inputs = {event.port: heard for event in take.recording.events}
    views = text_of_views(replace(take.seen, inputs=inputs))
    return replace(take, recording=replace(take.recording, views=views))


def bring_back(shelf: "Shelf", args: argparse.Namespace) -> str:
    """Show notes that the clean-up took out, from now on in every report; or, with ``--undo``, not
    any more. Raises UserError.
    """
    from dataclasses import replace

    take = shelf.get(args.take)
    view, material = _view(take)
    if view is None:
        raise UserError(
            f"Take {take.number} was played without a pickup profile; name one with --pickup and use "
            "--bring-back there."
        )
    kept, array = take.seen, material.notes.array
    removed = {one.note for one in view.removed}
    for index in args.indices:
        if not 0 <= index < len(array):
            raise UserError(f"There is no note {index}; they count from 0 to {len(array) - 1}.")
        place = (round(float(array["onset_sec"][index]), 6), int(array["pitch"][index]))
        there = [one for one in kept.back if one[1] == place[1] and abs(one[0] - place[0]) < 1e-3]
        if args.undo and not there:
            raise UserError(f"Note {index} was not brought back.")
        if not args.undo and index not in removed:
            raise UserError(f"Note {index} was not taken out; loopdeck takes show {take.number} lists what was.")
        rest = tuple(one for one in kept.back if one not in there)
        kept = replace(kept, back=rest if args.undo else (*rest, place))
    shelf.set_views(args.take, kept)
    count = len(args.indices)
    what = f"{count} note{'' if count == 1 else 's'}"
    return f"Take {take.number}: {what} {'taken out again' if args.undo else 'brought back'}."
