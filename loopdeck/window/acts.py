"""The window's own commands that belong to no page: one function each, by the name of the command
without its ``window-``. Pure.
"""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from loopdeck.window import keys
from loopdeck.window.note_view import BIGGEST
from loopdeck.window.panel_names import panel_turn
from loopdeck.window.pass_picker import last_pass
from loopdeck.window.sent import Entry, Sent, command
from loopdeck.window.view import View

if TYPE_CHECKING:
    from loopdeck.window.ui_state import UiState


def _help(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    if ui.page != "help":
        ui.cursors.help_page = 0
        return ui.open_page("help", view, now_sec)
    if ui.cursors.help_page + 1 < keys.HELP_PAGES:
        ui.cursors.help_page += 1
        return []
    return ui.open_page("", view, now_sec)


def _brief(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    return ui.open_page("" if ui.page == "brief" else "brief", view, now_sec)


def _sound(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    following = {"sound": "devices", "devices": ""}.get(ui.page, "sound")
    return ui.open_page(following, view, now_sec)


def _panel(ui: "UiState", view: View, now_sec: float, step: int) -> list[Sent]:
    ui.panel = ui.panel + step
    return []


def _passes(ui: "UiState", view: View, now_sec: float, step: int) -> list[Sent]:
    ui.passes.keep_more(step)
    view.tell(f"F5 keeps the last {ui.passes.kept_words}.", False, now_sec)
    return []


def _pass_step(ui: "UiState", view: View, now_sec: float, step: int) -> list[Sent]:
    ui.passes.step(view, now_sec, step)
    return []


def _pass_loop(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    return [*ui.passes.loop(view, now_sec)]


def _biggest(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    ui.biggest = BIGGEST[(BIGGEST.index(ui.biggest) + 1) % len(BIGGEST)]
    view.tell(f"Biggest on a note: its {ui.biggest}.", False, now_sec)
    return []


def _solo(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    if ui.chosen is None:
        view.tell("Choose a layer with the arrows up and down, then Home solos it.", True, now_sec)
        return []
    return command("solo", layer=ui.chosen)


def _delete(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    return command("clear") if ui.chosen is None else command("delete", layer=ui.chosen)


def _count_in(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    bars = view.brief.count_in if view.brief is not None else 0
    return command("count-in", bars=(bars + 1) % 3)


def _click(ui: "UiState", view: View, now_sec: float, step: int) -> list[Sent]:
    level = view.brief.click_level if view.brief is not None else 80
    return command("brief", fields={"click_level": max(0, min(127, level + step))})


def _lanes(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    view.set_lanes("pitches" if view.annotator.lanes_kind == "strings" else "strings")
    return []


def _theme(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    ui.turns["theme"] += 1
    return []


def _full(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    ui.turns["full"] += 1
    return []


def _thru(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    return command("thru-toggle")


def _practise(ui: "UiState", view: View, now_sec: float, take: int = 0) -> list[Sent]:
    sent = _practising("practise", ui, view, now_sec, take=take)
    if view.played.practising.run is not None:
        ui.panel = panel_turn("target")
    return sent


def _practising(what: str, ui: "UiState", view: View, now_sec: float, **args: Any) -> list[Sent]:
    # Only now: it brings in all that practising needs.
    from loopdeck.window.target.acts import act

    return act(what, args, view, ui.chosen, now_sec)


def _left_handed(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    ui.turns["left"] += 1
    view.tell(f"The neck is drawn for the {'left' if ui.turns['left'] % 2 else 'right'} hand.", False, now_sec)
    return []


def _choose(ui: "UiState", view: View, now_sec: float, step: int) -> list[Sent]:
    """Through the layers from the newest down to the oldest, with "all" between the ends."""
    stops: list[int | None] = [None, *(row.number for row in reversed(view.layers))]
    at = stops.index(ui.chosen) if ui.chosen in stops else 0
    ui.chosen = stops[(at + step) % len(stops)]
    return []


def _name(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    ui.entry = Entry("name", last=last_pass(view, now_sec))
    return []


def _answer(yes: bool, ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    return ui.answer(view, now_sec, yes)


def _keys(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    play = ui.keyboard.wanted = not ui.plays(view)
    view.tell("The letter keys play notes." if play else "The letter keys are silent.", False, now_sec)
    view.changed["devices"] += 1
    return [] if play else ui.release_all(now_sec)


def _leave(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    return ui.leave(view, now_sec)


def _vary(ui: "UiState", view: View, now_sec: float) -> list[Sent]:
    if not view.layers:
        view.tell("There is no layer to vary.", True, now_sec)
        return []
    ui.entry = Entry("vary", ui.varied, offered=True, title="vary how")
    return []


Act = Callable[..., list[Sent]]
#: By the command's name without ``window-``; called with the state, the view, the second and the
#: command's arguments. A new act is a function here and a row in the table of commands.
ACTS: dict[str, Act] = {
    "help": _help, "brief": _brief, "sound": _sound, "panel": _panel, "passes": _passes, "pass-step": _pass_step,
    "pass-loop": _pass_loop, "biggest": _biggest, "choose": _choose, "name": _name, "accept": partial(_answer, True),
    "refuse": partial(_answer, False), "keys": _keys, "leave": _leave, "solo": _solo, "delete": _delete,
    "count-in": _count_in, "click": _click, "lanes": _lanes, "theme": _theme, "full": _full, "thru": _thru,
    "left-handed": _left_handed, "vary": _vary,
    "practise": _practise, "practise-sound": partial(_practising, "practise-sound"),
    "practise-bar": partial(_practising, "practise-bar"), "practise-stretch": partial(_practising, "practise-stretch"),
}  # fmt: skip
