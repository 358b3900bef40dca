"""What keys and pedals do about practising: begin and end it, let the target sound, choose bars."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from loopdeck.errors import UserError
from loopdeck.practice.practising import Plan
from loopdeck.practice.target import Target, part_of, target_of, target_of_notes
from loopdeck.rhythm.meter import parse_cycle
from loopdeck.shelf.excerpt import in_a_brief
from loopdeck.shelf.looping import seen
from loopdeck.shelf.material import material_of
from loopdeck.shelf.store import Shelf
from loopdeck.shelf.take import Take
from loopdeck.window.note_view import NoteView
from loopdeck.window.played import FREE_PASS
from loopdeck.window.sent import Sent
from loopdeck.window.target import ALWAYS, NEVER, SOUNDS, TURNS
from loopdeck.window.target.state import Asked, Practising
from loopdeck.window.view import View

if TYPE_CHECKING:
    from loopdeck.window.target.run import TargetRun

#: The first tempo as a share of the last. Our own choice.
SLOWER = 0.6
_SAID = {
    NEVER: "The target is silent.",
    TURNS: "The target sounds for a cycle, then the cycle is yours.",
    ALWAYS: "The target sounds in every pass.",
}


def act(name: str, args: Mapping[str, Any], view: View, chosen: int | None, now: float) -> list[Sent]:
    """An act by its name in the table of commands without its ``window-``; ``chosen`` is the layer
    that is chosen.
    """
    state = view.played.practising
    try:
        return _ACTS[name](state, view, chosen, now, **args)
    except UserError as error:
        view.tell(str(error), True, now)
        return []


def _practise(state: Practising, view: View, chosen: int | None, now: float, take: int = 0) -> list[Sent]:
    if state.run is not None and not take:
        return state.end(view, now)
    if view.brief is None or view.engine_lost:
        raise UserError("Practising needs a running session.")
    again = state.whole if state.whole is not None and state.whole.stays and chosen is None else None
    asked = _kept(state, take) if take else again or _of_the_loop(view, chosen) or _newest_kept(state, view)
    state.whole = asked
    return state.begin(asked, view, now)


def _of_the_loop(view: View, chosen: int | None) -> Asked | None:
    """The chosen layer, or the newest; else the pass that would be looped; None for nothing."""
    assert view.brief is not None
    numbers = [row.number for row in view.layers]
    layer = chosen if chosen in numbers else numbers[-1] if numbers else None
    if layer is not None:
        rows = [_row(mark, mark.slot_q) for mark in view.layer_notes_of.get(layer, ())]
        return _asked(view, f"layer {layer}", rows, layer)
    last = view.loops_next
    notes = view.played.by_pass.get(last, []) if last is not None and last != FREE_PASS else []
    if not notes:
        return None
    return _asked(view, f"pass {(last or 0) + 1}", [_row(mark, mark.at_q) for mark in notes], None)


def _row(mark: NoteView, onset_q: float) -> tuple[Any, ...]:
    return onset_q, mark.length_q or 0.25, mark.pitch, mark.velocity, mark.string, mark.bend


def _asked(view: View, name: str, rows: list[tuple[Any, ...]], layer: int | None) -> Asked:
    assert view.brief is not None
    qpm = view.brief.tempo.quarters_per_minute
    # The cycle of the session, which may be another than that of the pass that runs.
    target = target_of_notes(name, rows, parse_cycle(str(view.brief.cycle)), qpm)
    return Asked(target, plan_for(qpm), layer=layer)


def _newest_kept(state: Practising, view: View) -> Asked:
    if not view.shelf.kept:
        raise UserError("There is nothing to practise yet: play something, or keep a take.")
    return _kept(state, view.shelf.kept[0].number)


def _kept(state: Practising, number: int) -> Asked:
    if not state.shelf:
        raise UserError("This window has no shelf, so it cannot practise a take from it.")
    with Shelf(state.shelf) as shelf:
        take = in_a_brief(shelf.get(number))
    target = target_of(seen(material_of(take)))
    return Asked(target, plan_for(target.qpm), number=number, fields=fields_of(take))


def fields_of(take: Take) -> dict[str, Any]:
    """The fields of a brief that a session takes over from a take to be practised."""
    names = ("scale", "tuning", "grid", "swing")
    found = take.brief.to_dict()
    return {name: found[name] for name in names if name in found}


def plan_for(qpm: float) -> Plan:
    """From six tenths of a tempo up to it."""
    last = min(max(round(qpm, 2), 20.0), 400.0)
    return Plan(max(20.0, float(round(last * SLOWER))), last)


def _sound(state: Practising, view: View, chosen: int | None, now: float) -> list[Sent]:
    state.sounds = SOUNDS[(SOUNDS.index(state.sounds) + 1) % len(SOUNDS)]
    state.changed += 1
    view.tell(_SAID[state.sounds], False, now)
    return [state.run.tell_target(state.sounds)] if state.run is not None else []


def _bar(state: Practising, view: View, chosen: int | None, now: float, step: int) -> list[Sent]:
    run, whole = _what_goes_on(state)
    stops = [whole.target, *_bars(whole.target)]
    at = next((i for i, one in enumerate(stops) if _same(one, run.target)), 0)
    return _go_on_with(stops[(at + step) % len(stops)], state, view, now)


def _stretch(
    state: Practising, view: View, chosen: int | None, now: float, longer: int = 0, later: int = 0
) -> list[Sent]:
    """Other bars of the target: ``longer`` moves the last one, ``later`` both; never beyond what
    there is.
    """
    run, whole = _what_goes_on(state)
    lowest, highest = whole.target.first_bar, whole.target.last_bar
    first, last = run.target.first_bar, run.target.last_bar
    later = max(lowest - first, min(later, highest - last))
    first, last = first + later, last + later
    last = max(first, min(last + longer, highest))
    if (first, last) == (run.target.first_bar, run.target.last_bar):
        raise UserError(f"There is nothing more to practise than {bars_words(whole.target)}.")
    return _go_on_with(part_of(whole.target, first, last), state, view, now)


def _what_goes_on(state: Practising) -> "tuple[TargetRun, Asked]":
    if state.run is None or state.whole is None:
        raise UserError("Nothing is practised, so there are no bars to choose.")
    return state.run, state.whole


def _go_on_with(target: Target, state: Practising, view: View, now: float) -> list[Sent]:
    """The run anew with these bars, after a bar of click."""
    run, whole = _what_goes_on(state)
    asked = Asked(target, run.practice.plan, whole.number, whole.layer, whole.fields, state.sounds, whole.most)
    sent = state.begin(asked, view, now)
    view.tell(f"Practising {bars_words(target)}.", False, now)
    return sent


def _bars(target: Target) -> list[Target]:
    """Each bar that has notes by itself."""
    numbers = sorted(set(target.bar.tolist())) if len(target.cycle.meters) > 1 else []
    return [part_of(target, bar, bar) for bar in numbers]


def _same(one: Target, other: Target) -> bool:
    return (one.first_bar, one.last_bar) == (other.first_bar, other.last_bar)


def bars_words(target: Target) -> str:
    """``bar 2``, ``bars 1 to 4``."""
    one = target.first_bar == target.last_bar
    return f"bar {target.first_bar}" if one else f"bars {target.first_bar} to {target.last_bar}"


_ACTS: dict[str, Callable[..., list[Sent]]] = {
    "practise": _practise,
    "practise-sound": _sound,
    "practise-bar": _bar,
    "practise-stretch": _stretch,
}
