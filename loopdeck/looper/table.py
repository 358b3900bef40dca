"""The looper's table: what every command does in every state, and when. The machine reads its answers here and nowhere else.

A cell is ``(action, when)``; the action is the name of a method of the machine (without its underscore), or a sentence that
starts with a capital letter: the command does nothing there and says so. When:

    once    at the moment of the command
    beat    at the next beat of the click
    cycle   at the next start of the cycle, or at this one when the foot is at most half a beat late for it

Five states. In all of them everything that is played goes into the history of passes; the states differ in what becomes of it.

    STOPPED      no time runs
    COUNTING IN  the click counts up to the first pass
    LISTENING    passes go by; nothing is made a layer unless asked for
    LAYERING     each pass becomes a layer of its own when it ends
    REPLACING    the newest layer keeps silent for one pass, which then takes its place
"""

from typing import NamedTuple

STOPPED = "STOPPED"
COUNTING_IN = "COUNTING IN"
LISTENING = "LISTENING"
LAYERING = "LAYERING"
REPLACING = "REPLACING"
STATES = (STOPPED, COUNTING_IN, LISTENING, LAYERING, REPLACING)

ONCE = "once"
BEAT = "beat"
CYCLE = "cycle"


class Cell(NamedTuple):
    """What a command does in one state, and when. ``action`` is a sentence where nothing is done."""

    action: str
    when: str


def _no(sentence: str) -> Cell:
    return Cell(sentence, ONCE)


def _everywhere(action: str) -> tuple[Cell, ...]:
    return (Cell(action, ONCE),) * len(STATES)


_BEGIN = Cell("begin", ONCE)
_HALT = Cell("halt", ONCE)
_ARM = Cell("arm_layering", CYCLE)
_LEAVE = Cell("leave_layering", CYCLE)
_ARM_REPLACE = Cell("arm_replacing", CYCLE)
_RUNS = _no("Time runs already.")
_STANDS = _no("Nothing runs, so there is nothing to stop.")
_NOT_LAYERING = _no("No pass is being layered.")

#: command -> one cell a state, in the order of STATES.
TABLE: dict[str, tuple[Cell, ...]] = {
    #               STOPPED                        COUNTING IN    LISTENING      LAYERING       REPLACING
    "start":       (_BEGIN,                        _RUNS,         _RUNS,         _RUNS,         _RUNS),
    "start-now":   (Cell("begin_now", ONCE),       _RUNS,         _RUNS,         _RUNS,         _RUNS),
    "stop":        (_STANDS,                       _HALT,         _HALT,         _HALT,         _HALT),
    "start-stop":  (_BEGIN,                        _HALT,         _HALT,         _HALT,         _HALT),
    "layer-on":    (Cell("begin_layering", ONCE),  _ARM,          _ARM,          _ARM,          _ARM),
    "layer-off":   (_NOT_LAYERING,                 _LEAVE,        _LEAVE,        _LEAVE,        _LEAVE),
    "layer":       (Cell("begin_layering", ONCE),  Cell("toggle_layering", CYCLE), Cell("toggle_layering", CYCLE),
                    Cell("toggle_layering", CYCLE), Cell("toggle_layering", CYCLE)),
    "replace":     (_no("Start first: a layer is replaced while time runs."), _ARM_REPLACE, _ARM_REPLACE, _ARM_REPLACE,
                    _no("A layer is being replaced already.")),
    "half":        (Cell("half", ONCE),        *(Cell("half", CYCLE),) * 4),
    "double":      (Cell("double", ONCE),      *(Cell("double", CYCLE),) * 4),
    "loop-that":   _everywhere("loop_that"),
    "keep":        _everywhere("keep"),
    "undo":        _everywhere("undo"),
    "redo":        _everywhere("redo"),
    "mute":        _everywhere("mute"),
    "unmute":      _everywhere("unmute"),
    "mute-toggle": _everywhere("mute_toggle"),
    "clear":       _everywhere("clear"),
    "count-in":    _everywhere("count_in"),
    "tempo":       _everywhere("tempo"),
    "brief":       _everywhere("change_brief"),
    "clicks":      _everywhere("clicks"),
    "groove":      _everywhere("groove"),
    "ramp":        _everywhere("ramp"),
    "tap":         _everywhere("tap"),
    "nudge":       _everywhere("nudge"),
    "follow":      _everywhere("follow"),
    "thru":        _everywhere("thru"),
    "late":        _everywhere("late"),
    "silence":     _everywhere("silence"),
}  # fmt: skip

#: When each part of a brief takes effect while time runs (when it stands: at once).
BRIEF_WHEN = {
    "tempo": ONCE,
    "cycle": CYCLE,
    "grid": BEAT,
    "swing": BEAT,
    "strength": BEAT,
    "window": BEAT,
}


def cell(command: str, state: str) -> Cell | None:
    """The cell for a command in a state; None for a command there is not."""
    row = TABLE.get(command)
    return None if row is None else row[STATES.index(state)]


#: What each action does, in words, for the table in the docs.
WORDS = {
    "begin": "starts: the count-in of the brief, then pass after pass",
    "begin_now": "starts without a count-in, as a machine that leads asks for",
    "begin_layering": "starts, and layers from the first pass on",
    "halt": "stops; silences the loop; while LAYERING the pass so far becomes a layer",
    "arm_layering": "layers from the next start of the cycle; called off again by layer-off",
    "leave_layering": "ends layering; the pass that ends there is the last one made a layer",
    "toggle_layering": "layer-on, or layer-off where a pass is being or is about to be layered",
    "arm_replacing": "the newest layer is silent for one pass, which takes its place (if anything is played in it)",
    "half": "the first half of the cycle; only while no layer stands",
    "double": "the cycle twice; only while no layer stands",
    "loop_that": "makes the pass just played a layer; within half a beat of the end it means the pass that ends",
    "keep": "puts the last 1 to 16 finished passes on the shelf; within half a beat of the end the one that ends counts",
    "undo": "takes away the newest layer, or brings back what clear or replace took away",
    "redo": "takes back the undo",
    "mute": "silences one layer or all",
    "unmute": "lets one layer or all sound again",
    "mute_toggle": "mutes, or unmutes what is muted",
    "clear": "takes all layers away; ends layering",
    "count_in": "sets the bars of the count-in, 0 to 2",
    "tempo": "a new tempo; the place in the cycle does not jump",
    "change_brief": "changes the brief: tempo at once, cycle at the next cycle, grid, swing, strength and window at the next beat, the rest at once",
    "clicks": "which clicks sound: all, bar, group or counts; bars on and off; half or double speed",
    "groove": "a guide groove: off, sparse, medium or busy, beside the click or alone",
    "ramp": "a tempo that rises (or falls) every few passes up to a target, from the next pass on; off ends it",
    "tap": "taps a tempo; from the third tap on it holds",
    "nudge": "moves the whole grid some milliseconds later or earlier; the tempo stays",
    "follow": "takes the tempo and the phase of a machine that leads",
    "thru": "lets an input sound through on the live channel, or not",
    "late": "how much earlier than it arrives an input is judged",
    "silence": "ends every sounding note",
}
WHEN_WORDS = {ONCE: "at once", BEAT: "next beat", CYCLE: "next cycle"}


def as_markdown() -> str:
    """The whole table as it stands in the docs."""
    lines = ["| command | " + " | ".join(STATES) + " |", "| --- |" + " --- |" * len(STATES)]
    for command, row in TABLE.items():
        cells = []
        for one in row:
            cells.append(f"*{one.action}*" if one.action[0].isupper() else f"{one.action} ({WHEN_WORDS[one.when]})")
        same = cells[0] if len(set(cells)) == 1 else None
        body = " | ".join([same, *["same"] * (len(STATES) - 1)]) if same is not None else " | ".join(cells)
        lines.append(f"| `{command}` | {body} |")
    lines += ["", "| action | does |", "| --- | --- |"]
    lines += [f"| {action} | {words} |" for action, words in WORDS.items()]
    return "\n".join(lines) + "\n"
