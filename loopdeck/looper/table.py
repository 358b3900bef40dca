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
    "stop":        (_STANDS,                       _HALT,         _HALT,         _HALT,         _HALT),
    "start-stop":  (_BEGIN,                        _HALT,         _HALT,         _HALT,         _HALT),
    "layer-on":    (Cell("begin_layering", ONCE),  _ARM,          _ARM,          _ARM,          _ARM),
    "layer-off":   (_NOT_LAYERING,                 _LEAVE,        _LEAVE,        _LEAVE,        _LEAVE),
    "layer":       (Cell("begin_layering", ONCE),  Cell("toggle_layering", CYCLE), Cell("toggle_layering", CYCLE),
                    Cell("toggle_layering", CYCLE), Cell("toggle_layering", CYCLE)),
    "replace":     (_no("Start first: a layer is replaced while time runs."), _ARM_REPLACE, _ARM_REPLACE, _ARM_REPLACE,
                    _no("A layer is being replaced already.")),
    "half":        (Cell("half_now", ONCE),        *(Cell("half_next", CYCLE),) * 4),
    "double":      (Cell("double_now", ONCE),      *(Cell("double_next", CYCLE),) * 4),
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
