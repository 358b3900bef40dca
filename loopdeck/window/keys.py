"""Which key does what: the table the window, the help page and docs/keys.md all read.

Conventions: a key is named by its place on the keyboard (its USB HID usage number, which SDL calls a scancode), so every national layout
works alike; its name is what stands on it on most boards. Pure.

The thinking: the four rows of letters and figures are the four strings of the bass, and nothing else, so that playing never gives a
command. Commands lie around them. The biggest keys, found without looking, have what is needed while playing: the space bar for
"loop that", Enter for layers, Tab for start and stop, Backspace to take back. The arrows work on the layers. The function keys come
in fours, as they stand on the board: pages, keeping, cycle, the window.
"""

from typing import Any, NamedTuple

# USB HID Usage Tables 1.12, section 10 (Keyboard/Keypad page).
CODES = {
    "Enter": 40, "Esc": 41, "Backspace": 42, "Tab": 43, "Space": 44,
    **{f"F{n}": 57 + n for n in range(1, 13)},
    "Home": 74, "Delete": 76, "Right": 79, "Left": 80, "Down": 81, "Up": 82, "Corner": 53,
}  # fmt: skip
ALSO = {88: "Enter"}  # the keypad's Enter
NAMES = {code: name for name, code in CODES.items()} | ALSO


def _letter(letter: str) -> int:
    return 4 + ord(letter) - ord("a")


# The musical keys: one row a string, from the lowest (bottom row) up; each key to the right is one fret further.
ROWS = (
    (*(_letter(one) for one in "zxcvbnm"), 54, 55, 56),
    (*(_letter(one) for one in "asdfghjkl"), 51, 52),
    (*(_letter(one) for one in "qwertyuiop"), 47, 48),
    (*range(30, 40), 45, 46),
)
ROW_WORDS = ("Z X C V ...", "A S D F ...", "Q W E R ...", "1 2 3 4 ...")
VELOCITY = 92
ACCENT = 120


class Binding(NamedTuple):
    """A key (with ``Shift+`` before it where shift is held), the act, its arguments, and what it does in words."""

    key: str
    act: str
    words: str
    group: str
    args: dict[str, Any] = {}  # noqa: RUF012 - never changed: a NamedTuple's default


PLAY, LAYERS, KEEP, CYCLE, SHOW = "Play", "Layers", "Keep", "Cycle and click", "The window"
#: Acts that begin with "window-" are the window's own; all others are commands of the looper.
BINDINGS = (
    Binding("Tab", "start-stop", "start, or stop", PLAY),
    Binding("Space", "loop-that", "loop the last pass; again: the one before", PLAY),
    Binding("Enter", "layer", "layering on, or off", PLAY),
    Binding("Backspace", "undo", "undo: take the newest layer away", PLAY),
    Binding("Shift+Backspace", "redo", "redo: bring it back", PLAY),
    Binding("Esc", "silence", "silence: end every sounding note", PLAY),
    Binding("Up", "window-choose", "choose the layer above", LAYERS, {"step": -1}),
    Binding("Down", "window-choose", "choose the layer below, or all", LAYERS, {"step": 1}),
    Binding("Left", "mute", "mute what is chosen", LAYERS),
    Binding("Right", "unmute", "let it sound", LAYERS),
    Binding("Shift+Enter", "replace", "play the newest layer anew", LAYERS),
    Binding("Home", "window-solo", "solo: the chosen layer alone, or all again", LAYERS),
    Binding("Delete", "window-delete", "delete what is chosen (undo: back again)", LAYERS),
    Binding("F5", "keep", "keep the last passes on the shelf", KEEP),
    Binding("F6", "window-passes", "keep one pass fewer", KEEP, {"step": -1}),
    Binding("F7", "window-passes", "keep one pass more", KEEP, {"step": 1}),
    Binding("F8", "window-name", "keep, and name it", KEEP),
    Binding("Shift+F5", "window-accept", "yes to the question in the frame", KEEP),
    Binding("Shift+F8", "window-refuse", "no to it", KEEP),
    Binding("F9", "half", "half the cycle", CYCLE),
    Binding("F10", "double", "double the cycle", CYCLE),
    Binding("Shift+Tab", "window-count-in", "count-in: 0, 1 or 2 bars", CYCLE),
    Binding("Shift+Up", "window-click", "click louder", CYCLE, {"step": 8}),
    Binding("Shift+Down", "window-click", "click softer", CYCLE, {"step": -8}),
    Binding("Shift+Space", "tap", "tap a tempo: three times and more", CYCLE),
    Binding("Shift+Left", "nudge", "the grid 5 ms earlier", CYCLE, {"ms": -5.0}),
    Binding("Shift+Right", "nudge", "the grid 5 ms later", CYCLE, {"ms": 5.0}),
    Binding("F1", "window-help", "these keys", SHOW),
    Binding("F2", "window-brief", "the brief: change it while playing", SHOW),
    Binding("Shift+F2", "window-sound", "the sound: how loud each part is", SHOW),
    Binding("F3", "window-panel", "below: layers, the neck, or the last passes", SHOW, {"step": 1}),
    Binding("Shift+F3", "window-lanes", "lanes of strings, or of pitches", SHOW),
    Binding("F4", "window-theme", "paper, or slate", SHOW),
    Binding("Shift+F4", "window-biggest", "biggest on a note: fret, name or degree", SHOW),
    Binding("Corner", "window-keys", "letter keys play notes, or not", SHOW),
    Binding("Shift+Corner", "window-thru", "hear your own playing through, or not", SHOW),
    Binding("F11", "window-full", "full screen, or not", SHOW),
    Binding("F12", "window-leave", "leave (press it twice)", SHOW),
)
BY_KEY = {binding.key: binding for binding in BINDINGS}
GROUPS = (PLAY, LAYERS, KEEP, CYCLE, SHOW)
#: The groups on the pages of the help: a page, a column, its groups. The letter rows stand on the first page.
HELP = (((PLAY, KEEP), (LAYERS,)), ((CYCLE,), (SHOW,)))
HELP_PAGES = len(HELP)

# On the brief page the arrows and Enter work on its lines instead.
BRIEF_KEYS = (
    ("↑ ↓", "choose a line"),
    ("← →", "one step down, or up"),
    ("Shift ← →", "a big step"),
    ("Enter", "type it; Enter again sends it, Esc drops it"),
    ("F2 or Esc", "close"),
)

SOUND_KEYS = (
    ("↑ ↓", "choose a part"),
    ("← →", "1 dB softer, or louder"),
    ("Shift ← →", "6 dB"),
    ("Enter", "mute it, or not"),
    ("Shift F2 or Esc", "close"),
)


def key_name(code: int, shift: bool) -> str:
    """The name of a key by its code, with ``Shift+`` before it when shift is held; "" for a key that has none."""
    name = NAMES.get(code, "")
    return f"Shift+{name}" if name and shift else name


def label(key: str) -> str:
    """A key's name as it is shown: arrows as arrows, and the corner key by where it lies."""
    signs = {"Left": "←", "Right": "→", "Up": "↑", "Down": "↓", "Corner": "left of 1"}
    shift, _, name = key.rpartition("+")
    return (shift + " " if shift else "") + signs.get(name, name)


def pitch_of(code: int, strings: tuple[int, ...]) -> tuple[int, int] | None:
    """(MIDI pitch, string) of a musical key on a tuning (open strings, highest first), None for any other key.

    The rows are the four lowest strings, or all of them where there are fewer; a row without a string is silent.
    """
    for row, keys in enumerate(ROWS):
        if code in keys and row < len(strings):
            string = len(strings) - row
            pitch = strings[string - 1] + keys.index(code)
            return (pitch, string) if 0 <= pitch <= 127 else None
    return None
