"""The keys of the brief page and the sound page: arrows choose and step, Enter types or mutes.
Pure.
"""

from typing import TYPE_CHECKING

from loopdeck.window import briefpage, levels
from loopdeck.window.sent import Entry, Sent, command
from loopdeck.window.view import View

if TYPE_CHECKING:
    from loopdeck.window.ui_state import UiState

ARROWS = ("Up", "Down", "Left", "Right")


def takes(name: str) -> bool:
    """True for a key that these pages take."""
    return name.removeprefix("Shift+") in ARROWS or name == "Enter"


def on_brief_page(ui: "UiState", name: str, view: View) -> list[Sent]:
    """A key on the brief page."""
    shift = name.startswith("Shift+")
    key = name.removeprefix("Shift+")
    if key in ("Up", "Down"):
        ui.cursors.brief_line = (ui.cursors.brief_line + (1 if key == "Down" else -1)) % len(briefpage.LINES)
        return []
    line = briefpage.LINES[ui.cursors.brief_line]
    now = view.brief_texts.get(line.field, "")
    if key == "Enter":
        ui.entry = Entry(line.field, "" if now is None else str(now), offered=True)
        return []
    return command("brief", fields={line.field: briefpage.step(line.field, now, 1 if key == "Right" else -1, shift)})


def on_sound_page(ui: "UiState", name: str, view: View) -> list[Sent]:
    """A key on the sound page."""
    lines = [line.part for line in view.gear.sound_lines(view.layers)]
    if not lines:
        return []
    # A layer may have gone since it was chosen.
    at = lines.index(ui.cursors.sound_part) if ui.cursors.sound_part in lines else 0
    key = name.removeprefix("Shift+")
    if key in ("Up", "Down"):
        ui.cursors.sound_part = lines[(at + (1 if key == "Down" else -1)) % len(lines)]
        return []
    if key == "Enter":
        return command("sound-mute", part=lines[at])
    return command("level", part=lines[at], by=levels.step(1 if key == "Right" else -1, name != key))


ON_PAGE = {"brief": on_brief_page, "sound": on_sound_page}
#: The keys of a page that a foot can press, by command and step; "" for a step that goes nowhere.
BY_FOOT = {
    ("window-line", -1): "Up",
    ("window-line", 0): "",
    ("window-line", 1): "Down",
    ("window-value", -1): "Left",
    ("window-value", 0): "",
    ("window-value", 1): "Right",
    ("window-enter", 0): "Enter",
}
