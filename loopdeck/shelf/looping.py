"""A kept take as a loop again: the arguments of the looper's command ``bring-back``.

Conventions
    Its layers come back as layers, its playing as one layer more, the newest. Of the playing comes
    all of it (``passes``: the cycle is then as long as all the passes together, and the layers
    repeat in it), the best pass (``best``), the best riff found in it (``riff``), or nothing
    (``layers``). Notes of the playing that are the very notes of a layer do not come twice.
    The brief comes along, but for what belongs to the player's rig: count-in, level of the click,
    program.

    The best pass is the one that has most in common with the other passes, of those with equally
    much the tightest one, of those the last (our own choice, no source).
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.brief.brief import Brief
from loopdeck.errors import UserError
from loopdeck.looper.commands import PLAYING
from loopdeck.looper.given_layers import MOST_BEND_POINTS, MOST_LAYERS, MOST_NOTES, NO_PASS, check_layers, given_from
from loopdeck.looper.layers import LAYER_DTYPE, Layer, slot_of
from loopdeck.rhythm.meter import MAX_BARS, MAX_CYCLE_QUARTERS
from loopdeck.shelf.excerpt import excerpt
from loopdeck.shelf.found_riffs import riffs_of
from loopdeck.shelf.material import Material, material_of
from loopdeck.shelf.pickup_view import as_kept
from loopdeck.shelf.take import Take
from loopdeck.synth.events import LIVE, layer_part

PASSES, BEST, RIFF, LAYERS = PLAYING
#: Fields of the brief that stay as the player has them now.
_RIG = ("count_in", "click_level", "program")
#: Nearer than this, in quarters, two onsets are one note's.
_SAME_Q = 1e-6
#: Places are compared to this part of a quarter: triplets and thirty-seconds both fall on it.
_GRID = 24


def loop_of(take: Take, playing: str = BEST, beside: bool = False) -> dict[str, Any]:
    """The arguments of ``bring-back``, as ``loop_and_levels`` has them."""
    return loop_and_levels(take, playing, beside)[0]


def loop_and_levels(take: Take, playing: str = BEST, beside: bool = False) -> tuple[dict[str, Any], list[float]]:
    """The arguments of ``bring-back``, and for each of its layers the level in dB that it had in
    the built-in sound. ``beside``: to stand beside the loop, without the brief.

    Raises UserError for a take without notes, for one that has no riff or no layer, and for one
    that is longer than a cycle can be.
    """
    whole = seen(material_of(take, layers=False))
    found: Layer | None = None
    if not (whole.pitched.any() or any(len(layer) for layer in take.recording.layers)):
        raise UserError(f"{take.said} has no notes, so there is nothing to loop.")
    if playing == RIFF:
        found, brief, name = _riff(take, whole)
    elif playing == LAYERS or not whole.pitched.any():
        brief, name = take.brief, f"the layers of {take.name}"
        if not any(len(layer) for layer in take.recording.layers):
            raise UserError(f"{take.said} has no layers; take what was played.")
    elif take.recording.meters or take.recording.passes == 0:
        found, brief = _stretch(take, whole, np.flatnonzero(whole.pitched))
        name = take.name
    else:
        found, brief, name = _passes(take, whole, playing)
    times = round(float(brief.cycle.quarters / take.brief.cycle.quarters))
    fits = str(brief.cycle) == " ".join([str(take.brief.cycle)] * times)
    layers = [_repeated(layer, times, float(take.brief.cycle.quarters)) for layer in take.recording.layers if fits]
    tables = [given_from(layer, layer.number in take.recording.muted) for layer in layers if len(layer)]
    parts = [layer_part(slot_of(layer.number)) for layer in layers if len(layer)]
    if found is not None and len(found := _without(found, layers, float(take.brief.cycle.quarters))):
        tables.append(given_from(found, False))
        parts.append(LIVE)
    _check(take, tables)
    fields = {key: text for key, text in brief.to_dict().items() if key not in _RIG}
    levels = [take.recording.mix.get(part, (0.0, False))[0] for part in parts]
    return {"layers": tables, "beside": beside, "name": name, **({} if beside else {"fields": fields})}, levels


def seen(material: Material) -> Material:
    """The material through the pickup that the take was played with, if it knows of one."""
    view = as_kept(material) if len(material) else None
    return material if view is None else view.material


def _check(take: Take, tables: list[dict[str, Any]]) -> None:
    notes = sum(len(one["notes"]) for one in tables)
    points = sum(len(curve) for one in tables for curve in one["bends"].values())
    if notes > MOST_NOTES or points > MOST_BEND_POINTS or len(tables) > MOST_LAYERS:
        raise UserError(f"{take.said} has {notes:,} notes in a cycle, too many to loop; take its best pass or riff.")
    try:
        check_layers(tables)
    except ValueError:
        # A shelf may hold anything.
        raise UserError(f"{take.said} has notes that no loop can have.") from None


# ---- the playing ---------------------------------------------------------------------------------


def _passes(take: Take, whole: Material, playing: str) -> tuple[Layer, Brief, str]:
    """All passes as one long one, or the best of them."""
    bars, cycle_q = len(take.brief.cycle.meters), float(take.brief.cycle.quarters)
    rows = np.flatnonzero(whole.pitched)
    index = np.clip((whole.bars[rows] - 1) // bars, 0, take.recording.passes)
    rows, index = rows[index < take.recording.passes], index[index < take.recording.passes]
    if not len(rows):
        raise UserError(f"{take.said} has no note in a pass; take its riff or its layers.")
    if playing == PASSES and take.recording.passes > 1:
        if bars * take.recording.passes > MAX_BARS or cycle_q * take.recording.passes > MAX_CYCLE_QUARTERS:
            raise UserError(
                f"{take.said} has {take.recording.passes} passes, {bars * take.recording.passes} bars in all, and a "
                f"cycle has {MAX_BARS} at most; take the best pass or the riff."
            )
        brief = take.brief.replace(cycle=" ".join([str(take.brief.cycle)] * take.recording.passes))
        return (
            _layer(whole, rows, 0.0, cycle_q * take.recording.passes),
            brief,
            f"all {take.recording.passes} passes of {take.name}",
        )
    best = _best_pass(whole, rows, index)
    name = take.name if take.recording.passes == 1 else f"pass {best + 1} of {take.name}"
    return _layer(whole, rows[index == best], best * cycle_q, cycle_q), take.brief, name


def _best_pass(whole: Material, rows: NDArray[np.int64], index: NDArray[np.int64]) -> int:
    cycle_q = float(whole.take.brief.cycle.quarters)
    target_q, pitch = whole.placed.target_q[rows], whole.notes.array["pitch"][rows]
    off_q = np.abs(whole.onset_q[rows] - target_q)
    places = np.round((target_q - index * cycle_q) * _GRID).astype(int)
    sets = {int(one): set(zip(places[index == one], pitch[index == one], strict=True)) for one in np.unique(index)}

    def worth(one: int) -> tuple[float, float, int]:
        others = [len(sets[one] & other) / len(sets[one] | other) for key, other in sets.items() if key != one]
        return round(float(np.mean(others)) if others else 1.0, 2), -round(float(off_q[index == one].mean()), 3), one

    return max(sets, key=worth)


def _riff(take: Take, whole: Material) -> tuple[Layer, Brief, str]:
    """The cleanest performance of the best riff: in the playing, else in everything."""
    for material in (whole, seen(material_of(take))):
        riffs = riffs_of(material) if material.pitched.any() else []
        if riffs:
            rows = np.array(riffs[0].occurrences[riffs[0].best].indices, np.int64)
            layer, brief = _stretch(take, material, rows)
            return layer, brief, f"the riff of {take.name}"
    raise UserError(f"Nothing comes back in {take.named}; take its best pass or all of its passes.")


def _stretch(take: Take, material: Material, rows: NDArray[np.int64]) -> tuple[Layer, Brief]:
    """These notes, in as many whole bars as they touch."""
    cut = excerpt(material, rows.tolist(), take.name)
    brief = cut.brief
    if abs(brief.tempo.quarters_per_minute - take.brief.tempo.quarters_per_minute) < 0.01:
        brief = brief.replace(tempo=take.brief.to_dict()["tempo"])
    found = material_of(cut)
    return _layer(found, np.arange(len(found)), 0.0, float(brief.cycle.quarters)), brief


def _layer(material: Material, rows: NDArray[np.int64], start_q: float, cycle_q: float) -> Layer:
    """Notes of a material as a layer that begins at ``start_q``."""
    array = material.notes.array[rows]
    notes = np.zeros(len(rows), LAYER_DTYPE)
    for name in ("pitch", "velocity", "channel", "string"):
        notes[name] = array[name]
    notes["onset_q"] = material.onset_q[rows] - start_q
    notes["duration_q"] = np.clip(material.duration_q[rows], 0.0, cycle_q)
    bends = tuple(_in_quarters(material, row) for row in rows.tolist())
    ids, qpm = tuple(range(len(rows))), material.brief.tempo.quarters_per_minute
    return Layer(1, notes, bends, NO_PASS, material.brief.program, 0, ids, qpm)


def _in_quarters(material: Material, row: int) -> NDArray[np.float64]:
    curve = material.notes.bends[row]
    onset_sec = float(material.notes.array["onset_sec"][row])
    after_q = material.tempo.quarters(onset_sec + curve[:, 0]) - material.onset_q[row]
    return np.column_stack([np.maximum(after_q, 0.0), curve[:, 1]])


# ---- the layers ----------------------------------------------------------------------------------


def _repeated(layer: Layer, times: int, cycle_q: float) -> Layer:
    """A layer as it sounds in so many cycles, which are now one; what lay beyond the end of a cycle
    that was made shorter stays away.
    """
    rows = np.flatnonzero(layer.notes["onset_q"] < cycle_q)
    notes = np.concatenate([layer.notes[rows]] * times)
    notes["onset_q"] += np.repeat(np.arange(times) * cycle_q, len(rows))
    bends = tuple(layer.bends[row] for row in rows.tolist()) * times
    ids = tuple(range(len(notes)))
    return Layer(layer.number, notes, bends, NO_PASS, layer.program, layer.channel, ids, layer.qpm)


def _without(played: Layer, layers: list[Layer], cycle_q: float) -> Layer:
    """The playing without the very notes that a layer has."""
    there = {(int(pitch), round(at / _SAME_Q)) for one in layers for at, pitch in _places(one, cycle_q)}
    rows = [
        row
        for row, (at, pitch) in enumerate(_places(played, cycle_q))
        if not any((int(pitch), round(at / _SAME_Q) + near) in there for near in (-1, 0, 1))
    ]
    bends = tuple(played.bends[row] for row in rows)
    return Layer(1, played.notes[rows], bends, NO_PASS, played.program, 0, tuple(range(len(rows))), played.qpm)


def _places(layer: Layer, cycle_q: float) -> list[tuple[float, int]]:
    # Half a quarter later, so that an early downbeat and one on the beat are not a cycle apart.
    onset_q = np.mod(layer.notes["onset_q"] + 0.5, cycle_q)
    return list(zip(onset_q.tolist(), layer.notes["pitch"].tolist(), strict=True))
