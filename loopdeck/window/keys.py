"""Which key does what: the table the window, the help page and docs/keys.md all read.

Conventions: a key is named by its place on the keyboard (its USB HID usage number, which SDL calls
a scancode), so every national layout works alike; its name is what stands on it on most boards.
Pure.

The thinking: the four rows of letters and figures are the four strings of the bass, and nothing
else, so that playing never gives a command. Commands lie around them. The biggest keys, found
without looking, have what is needed while playing: the space bar for "loop that", Enter for layers,
Tab for start and stop, Backspace to take back. The arrows work on the layers. The function keys
come in fours, as they stand on the board: pages, keeping, cycle, the window.
"""

from typing import Any, NamedTuple

from loopdeck.looper.commands import COMMANDS

# USB HID Usage Tables 1.12, section 10 (Keyboard/Keypad page).
CODES = {
    "Enter": 40, "Esc": 41, "Backspace": 42, "Tab": 43, "Space": 44,
    **{f"F{n}": 57 + n for n in range(1, 13)}, "ScrollLock": 71, "Pause": 72,
    "Insert": 73, "Home": 74, "PageUp": 75, "Delete": 76, "End": 77, "PageDown": 78, "Right": 79, "Left": 80, "Down": 81, "Up": 82, "Corner": 53,
}  # fmt: skip
ALSO = {88: "Enter"}  # the keypad's Enter
NAMES = {code: name for name, code in CODES.items()} | ALSO


def _letter(letter: str) -> int:
    return 4 + ord(letter) - ord("a")


# The musical keys: one row a string, from the lowest (bottom row) up; each key to the right is one
# fret further.
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
    """A key (with ``Shift+`` before it where shift is held), the act, its arguments, and what it
    does in words of its own.

    Without ``own`` words it has those of the table of commands.
    """

    key: str
    act: str
    group: str
    args: dict[str, Any] = {}  # noqa: RUF012 - never changed: a NamedTuple's default
    own: str = ""

    @property
    def words(self) -> str:
        """What it does."""
        return self.own or COMMANDS[self.act].does


PLAY, LAYERS, KEEP, CYCLE, SHOW = "Play", "Layers", "Keep", "Cycle and click", "The window"
#: Acts that begin with "window-" are the window's own; all others are commands of the looper.
BINDINGS = (
    Binding("Tab", "start-stop", PLAY),
    Binding("Space", "loop-that", PLAY),
    Binding("PageUp", "window-pass-step", PLAY, {"step": -1}, own="choose an earlier pass"),
    Binding("PageDown", "window-pass-step", PLAY, {"step": 1}, own="choose a later pass"),
    Binding("End", "window-pass-loop", PLAY),
    Binding("Enter", "layer", PLAY),
    Binding("Backspace", "undo", PLAY),
    Binding("Shift+Backspace", "redo", PLAY),
    Binding("Esc", "silence", PLAY),
    Binding("Up", "window-choose", LAYERS, {"step": -1}, own="choose the layer above"),
    Binding("Down", "window-choose", LAYERS, {"step": 1}, own="choose the layer below, or all"),
    Binding("Left", "mute", LAYERS, own="mute what is chosen"),
    Binding("Right", "unmute", LAYERS, own="let it sound"),
    Binding("Shift+Enter", "replace", LAYERS),
    Binding("Home", "window-solo", LAYERS),
    Binding("Delete", "window-delete", LAYERS, own="delete what is chosen (undo: back again)"),
    Binding("Shift+Home", "vary", LAYERS, {"how": "power-chords"}, own="vary: power chords beside it"),
    Binding("Shift+Delete", "vary", LAYERS, {"how": "thin 50"}, own="vary: half the notes"),
    Binding("Shift+F9", "vary", LAYERS, {"how": "octave -1"}, own="vary: an octave lower"),
    Binding("Shift+F10", "vary", LAYERS, {"how": "octave +1"}, own="vary: an octave higher"),
    Binding("Pause", "window-vary", LAYERS, own="vary: type how"),
    Binding("F5", "keep", KEEP),
    Binding("F6", "window-passes", KEEP, {"step": -1}, own="keep one pass fewer"),
    Binding("F7", "window-passes", KEEP, {"step": 1}, own="keep one pass more"),
    Binding("Shift+F6", "write-loop", KEEP, own="write the loop out: tab and page"),
    Binding("Shift+F7", "write-take", KEEP, own="write the last keep out: tab and page"),
    Binding("F8", "window-name", KEEP),
    Binding("Shift+F5", "window-accept", KEEP, own="yes to the question in the frame"),
    Binding("Shift+F8", "window-refuse", KEEP),
    Binding("Shift+PageUp", "restore-note", KEEP, own="bring back what was taken out last"),
    Binding("Shift+PageDown", "clean", KEEP, own="clean up the pickup's errors, or not"),
    Binding("F9", "half", CYCLE),
    Binding("F10", "double", CYCLE),
    Binding("Shift+Tab", "window-count-in", CYCLE),
    Binding("Shift+Up", "window-click", CYCLE, {"step": 8}, own="click louder"),
    Binding("Shift+Down", "window-click", CYCLE, {"step": -8}, own="click softer"),
    Binding("Shift+Space", "tap", CYCLE),
    Binding("Shift+Left", "nudge", CYCLE, {"ms": -5.0}, own="the grid 5 ms earlier"),
    Binding("Shift+Right", "nudge", CYCLE, {"ms": 5.0}, own="the grid 5 ms later"),
    Binding("Insert", "window-practise", CYCLE, own="practise it; again: end it"),
    Binding("Shift+Insert", "window-practise-sound", CYCLE, own="the target sounds: never, in turns, always"),
    Binding("Shift+End", "window-practise-bar", CYCLE, {"step": 1}, own="practise the next bar alone, or all"),
    Binding("F1", "window-help", SHOW),
    Binding("Shift+F1", "window-briefs", SHOW),
    Binding("F2", "window-brief", SHOW),
    Binding("Shift+F2", "window-sound", SHOW, own="the sound; again: devices"),
    Binding("F3", "window-panel", SHOW, {"step": 1}, own="below: the next panel"),
    Binding("Shift+F3", "window-lanes", SHOW),
    Binding("F4", "window-theme", SHOW),
    Binding("Shift+F4", "window-biggest", SHOW, own="biggest on a note: fret, name or degree"),
    Binding("Corner", "window-keys", SHOW),
    Binding("Shift+Corner", "window-thru", SHOW),
    Binding("Shift+Esc", "tune", SHOW, own="tune by ear: the next open string"),
    Binding("Shift+Pause", "window-left-handed", SHOW),
    Binding("F11", "window-full", SHOW),
    Binding("Shift+F11", "window-shelf", SHOW),
    Binding("Shift+ScrollLock", "window-devices", SHOW),
    Binding("F12", "window-leave", SHOW),
    Binding("ScrollLock", "window-harvest", SHOW, own="the riffs of this session, to keep"),
    Binding("Shift+F12", "window-mood", SHOW),
)
BY_KEY = {binding.key: binding for binding in BINDINGS}
#: While one practises the layers are muted, so the arrows choose the bars instead.
PRACTISING = {
    "Up": Binding("Up", "window-practise-stretch", CYCLE, {"later": -1}),
    "Down": Binding("Down", "window-practise-stretch", CYCLE, {"later": 1}),
    "Left": Binding("Left", "window-practise-stretch", CYCLE, {"longer": -1}),
    "Right": Binding("Right", "window-practise-stretch", CYCLE, {"longer": 1}),
}
GROUPS = (PLAY, LAYERS, KEEP, CYCLE, SHOW)
#: The groups on the pages of the help: a page, a column, its groups. The letter rows stand on the
#: first page; a group without a neighbour has both columns.
HELP: tuple[tuple[tuple[str, ...], ...], ...] = (((PLAY,), (KEEP,)), ((LAYERS,), (CYCLE,)), ((SHOW,),))
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
    ("Shift F2", "devices"),
    ("Esc", "close"),
)


def key_name(code: int, shift: bool) -> str:
    """The name of a key by its code, with ``Shift+`` before it when shift is held; "" for a key
    that has none.
    """
    name = NAMES.get(code, "")
    return f"Shift+{name}" if name and shift else name


def label(key: str) -> str:
    """A key's name as it is shown: arrows as arrows, and the corner key by where it lies."""
    signs = {"Left": "←", "Right": "→", "Up": "↑", "Down": "↓", "Corner": "left of 1"}
    signs |= {"PageUp": "Page Up", "PageDown": "Page Down", "ScrollLock": "Scroll Lock"}
    shift, _, name = key.rpartition("+")
    return (shift + " " if shift else "") + signs.get(name, name)


def pitch_of(code: int, strings: tuple[int, ...]) -> tuple[int, int] | None:
    """(MIDI pitch, string) of a musical key on a tuning (open strings, highest first), None for
    any other key.

    The rows are the four lowest strings, or all of them where there are fewer; a row without a
    string is silent.
    """
    for row, keys in enumerate(ROWS):
        if code in keys and row < len(strings):
            string = len(strings) - row
            pitch = strings[string - 1] + keys.index(code)
            return (pitch, string) if 0 <= pitch <= 127 else None
    return None
