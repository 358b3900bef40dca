"""Every command there is: who carries it out, what it takes, what it does in each state, and when.

This one table drives the looper (``machine`` looks up the action and the moment here), checks pedal
maps, messages of the link and records of a journal (``check_command``), and prints the docs and the
help (``command_docs``). Nothing about a command is defined anywhere else: code that gives one only
names it, and a test checks every such name against this table.

States
    STOPPED      no time runs
    COUNTING IN  the click counts up to the first pass
    LISTENING    passes go by; nothing is made a layer unless asked for
    LAYERING     each pass becomes a layer of its own when it ends
    REPLACING    the newest layer keeps silent for one pass, which then takes its place
    In all of them everything that is played is recorded, pass by pass; the states differ in what
    becomes of it.

Moments
    NOW     at the moment of the command
    BEAT    at the next beat of the click
    CYCLE   at the next start of the cycle
    START   the same, or at this start when the press is at most half a beat late for it
    END     at once; in the last half beat of a pass, when that pass ends; if a last pass is named,
            when that one has ended
    MEANT   the same, if something was played in that pass; in the first pass, with nothing played
            before it, always when that pass ends
    NAMED   at once; when the pass that is named ends, if it still runs
    LOOP    at once; at the next start of the cycle if the brief changes with the loop
    FIELD   each field of the brief when its spec says: NOW, BEAT or CYCLE
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from loopdeck.bass.pickup.profile import PARTS
from loopdeck.brief.brief import SPECS
from loopdeck.brief.spec import CYCLE, NOW
from loopdeck.looper.arguments import (
    ALL,
    CHOICE,
    FIELD_TEXT,
    FIELDS,
    LAYER,
    LAYERS,
    NUMBER,
    PART,
    SWITCH,
    TABLE,
    TAKE,
    WHOLE,
    WORDS,
    Argument,
    CommandError,
    check_arguments,
    shown,
)
from loopdeck.looper.state import COUNTING_IN, LAYERING, LISTENING, REPLACING, STATES, STOPPED
from loopdeck.rhythm.tempo import FASTEST_QPM, SLOWEST_QPM
from loopdeck.synth.events import HIGHEST, LOWEST

#: What of a take's playing can be looped again, and what a device can be for.
PLAYING = ("passes", "best", "riff", "layers")
DEVICE_ROLES = ("in", "out", "controls", "sound")

__all__ = [
    "COMMANDS",
    "COUNTING_IN",
    "DEVICE_ROLES",
    "LAYERING",
    "LISTENING",
    "PLAYING",
    "REPLACING",
    "STATES",
    "STOPPED",
    "CommandError",
    "check_command",
]

START, END, MEANT, NAMED, LOOP, FIELD = "start", "end", "meant", "named", "loop", "field"

#: Who carries out a command.
LOOPER, ENGINE, SOUND, WINDOW = "looper", "engine", "sound", "window"

MOST_PASSES = 16
#: The highest number by which a pass is looked for.
MOST_NUMBER = 999_999
MOST_NUDGE_MS = 200.0


#: What is said of a pass that becomes a layer when it ends; and where nothing was played in it yet.
LAYERED = "Pass {} becomes a layer when it ends."
TO_BE_PLAYED = "Pass {} becomes a layer when it ends, if you play in it."


class Cell(NamedTuple):
    """What a command does in one state, and when.

    ``action`` names the method that does it, ``does`` says it in words for the docs. ``refusal`` is
    the sentence where the command does nothing; ``waits`` the one while it waits for a pass to end.
    """

    action: str
    when: str = NOW
    refusal: str = ""
    does: str = ""
    waits: str = "Done when pass {} ends."


class CommandSpec(NamedTuple):
    """One command: its owner, what it does in a player's words, its arguments, and for the looper's
    a cell for each state.

    ``needs_one_of`` are arguments of which one must be given. ``by_foot`` is False for a command
    that a pedal cannot give: it needs typing, or ends the session.
    """

    name: str
    owner: str
    does: str
    arguments: tuple[Argument, ...] = ()
    cells: tuple[Cell, ...] = ()
    needs_one_of: tuple[str, ...] = ()
    by_foot: bool = True

    def takes(self, argument: str) -> bool:
        """True when it has an argument of this name."""
        return any(one.name == argument for one in self.arguments)

    def cell(self, state: str) -> Cell:
        """What it does in a state."""
        return self.cells[STATES.index(state)]


def _no(sentence: str) -> Cell:
    return Cell("", NOW, sentence)


def _always(action: str) -> tuple[Cell, ...]:
    return (Cell(action),) * len(STATES)


def _of_a_pass(action: str, when: str, does: str, waits: str) -> tuple[Cell, ...]:
    """For a pass: while passes go by it may be the one that still runs."""
    at_once = Cell(action, does=does)
    return (at_once, at_once, *(Cell(action, when, does=does, waits=waits),) * 3)


def _running(action: str, when: str, does: str) -> tuple[Cell, ...]:
    """At once while time stands."""
    return (Cell(action, does=does), *(Cell(action, when, does=does),) * 4)


_BEGIN, _HALT = Cell("begin", does="starts with the count-in"), Cell("halt", does="stops")
_BEGIN_NOW = Cell("begin_now", does="starts")
_BEGIN_LAYERING = Cell("begin_layering", does="starts, and layers from the first pass on")
_RUNS = (_no("It has already started."),) * 4
_LAYER_ON = Cell("layer_on", START, does="layers")
_LAYER_OFF = Cell("layer_off", START, does="ends layering, or calls it off")
_TOGGLE = Cell("layer_toggle", START, does="layers, or ends layering")
_REPLACE = Cell("replace", CYCLE, does="replaces the newest layer")
_MAKES_LAYER = "makes a pass a layer"

_WHICH = Argument("layer", LAYER, "which layer", default="all")
_THIS = Argument("layer", LAYER, "which layer", required=True)
_STEP = Argument("step", WHOLE, "how far, and which way", "", -127, 127, required=True)
_TAKE = Argument("take", TAKE, "which", required=True)
_BARS = "bars of the count-in"

_LOOPER = (
    CommandSpec("start", LOOPER, "start: the count-in, then pass after pass",
     (Argument("bars", WHOLE, f"{_BARS}; left out: as the brief says", "bars", 0, 16),), (_BEGIN, *_RUNS)),
    CommandSpec("start-now", LOOPER, "start without a count-in", (), (_BEGIN_NOW, *_RUNS)),
    CommandSpec("stop", LOOPER, "stop, and silence the loop; a pass that is being layered becomes a layer as far as it got", (),
     (_no("Nothing is running, so there is nothing to stop."), *(_HALT,) * 4)),
    CommandSpec("start-stop", LOOPER, "start, or stop", (), (_BEGIN, *(_HALT,) * 4)),
    CommandSpec("layer-on", LOOPER, "layering on: from the next start of the cycle each pass becomes a layer", (),
     (_BEGIN_LAYERING, *(_LAYER_ON,) * 4)),
    CommandSpec("layer-off", LOOPER, "layering off: the pass that ends with the cycle is the last one layered", (),
     (_no("No pass is being layered."), *(_LAYER_OFF,) * 4)),
    CommandSpec("layer", LOOPER, "layering on, or off", (), (_BEGIN_LAYERING, *(_TOGGLE,) * 4)),
    CommandSpec("replace", LOOPER, "re-record the newest layer", (),
     (_no("Start first: a layer can only be replaced while time runs."), *(_REPLACE,) * 3,
      _no("A layer is being replaced already."))),
    CommandSpec("half", LOOPER, "half the cycle", (),
     _running("half", CYCLE, "halves the cycle")),
    CommandSpec("double", LOOPER, "double the cycle", (), _running("double", CYCLE, "doubles the cycle")),
    CommandSpec("loop-that", LOOPER, "loop the last pass; again: the one before",
     (Argument("reach", WHOLE, "how many passes back at most; 1: the pass before and nothing else", "", 1, MOST_PASSES, MOST_PASSES),),
     _of_a_pass("loop_that", MEANT, _MAKES_LAYER, LAYERED)),
    CommandSpec("loop-pass", LOOPER, "loop a pass of the last minutes, whichever it is",
     (Argument("number", WHOLE, "which pass, as the window counts them, from 1", "", 1, MOST_NUMBER, required=True),),
     _of_a_pass("loop_pass", NAMED, _MAKES_LAYER, LAYERED)),
    CommandSpec("loop-free", LOOPER, "loop what was played before the start, at a tempo and in a cycle of its own (one undo takes both back)",
     (Argument("fields", FIELDS, "of the brief: the tempo and the cycle to use", required=True),
      Argument("note", WHOLE, "a note of it, by its number in the session", "", 0, 2**53, required=True),
      Argument("after_sec", NUMBER, "how much later than that note the stretch to be looped begins", "s", -600.0, 600.0, 0.0),
      Argument("qpm", NUMBER, "the tempo it was played at", "quarters a minute", SLOWEST_QPM, FASTEST_QPM, required=True)),
     (Cell("loop_free", does="loops it"), *(_no("Stop first: what you played before the start has a tempo of its own."),) * 4)),
    CommandSpec("keep", LOOPER, "keep the last passes on the shelf",
     (Argument("passes", WHOLE, "how many", "", 1, MOST_PASSES, 1), Argument("name", WORDS, "a name for the take", default=""),
      Argument("last", WHOLE, "the last of them, as the window counts them, from 1; left out: the newest", "", 1, MOST_NUMBER)),
     _of_a_pass("keep", END, "keeps passes", "Pass {} is kept when it ends.")),
    CommandSpec("bring-back", LOOPER, "make kept layers the loop, with the brief they were played in (one undo takes them back)",
     (Argument("layers", LAYERS, "their notes", required=True),
      Argument("fields", FIELDS, "of the brief: what changes with them; left out: nothing"),
      Argument("beside", SWITCH, "beside the layers that stand, not in their place", default=False),
      Argument("name", WORDS, "what the take is called", default="")),
     _running("bring_back", CYCLE, "changes the loop")),
    CommandSpec("undo", LOOPER, "undo: take the newest layer away", (), _running("undo", LOOP, "takes a step back")),
    CommandSpec("redo", LOOPER, "redo: bring it back", (), _running("redo", LOOP, "takes an undo back")),
    CommandSpec("mute", LOOPER, "mute one layer, or all", (_WHICH,), _always("mute")),
    CommandSpec("unmute", LOOPER, "let one layer sound again, or all", (_WHICH,), _always("unmute")),
    CommandSpec("mute-toggle", LOOPER, "mute, or let sound what is muted", (_WHICH,), _always("mute_toggle")),
    CommandSpec("solo", LOOPER, "solo: only this layer sounds; the same once more, or all: every layer as before", (_THIS,), _always("solo")),
    CommandSpec("delete", LOOPER, "delete a layer, whichever it is (undo brings it back)", (_THIS,), _always("delete")),
    CommandSpec("clear", LOOPER, "clear all layers (undo brings them back); layering ends", (), _always("clear")),
    CommandSpec("count-in", LOOPER, "how many bars are counted in",
     (Argument("bars", WHOLE, _BARS, "bars", 0, 2, 1),), _always("count_in")),
    CommandSpec("tempo", LOOPER, "a new tempo, at once; the place in the cycle does not jump",
     (Argument("tempo", FIELD_TEXT, "as in a brief: 104, or 8th=184", required=True),), _always("tempo")),
    CommandSpec("brief", LOOPER, "change the brief: the cycle at its next start; grid, swing, strength and window at the next beat; the rest at once",
     (Argument("fields", FIELDS, "what is to change", required=True),), _running("change_brief", FIELD, "changes the brief")),
    CommandSpec("clicks", LOOPER, "which clicks sound: all, bar, group or counts; bars on and off; half or double speed",
     (Argument("clicks", FIELD_TEXT, "as in a brief", default="all"),), _always("clicks")),
    CommandSpec("groove", LOOPER, "a guide groove: off, sparse, medium or busy, beside the click or alone",
     (Argument("groove", FIELD_TEXT, "as in a brief", default="medium"),), _always("groove")),
    CommandSpec("ramp", LOOPER, "a tempo that rises or falls every few passes up to a target, from the next pass on; off ends it",
     (Argument("ramp", FIELD_TEXT, "as in a brief", default="off"),), _always("ramp")),
    CommandSpec("tap", LOOPER, "tap a tempo: three times and more",
     (Argument("sec", NUMBER, "when it was tapped; left out: now", "s", -1e9, 1e9),
      Argument("whole", SWITCH, "a whole number of beats a minute, as players say it", default=True)), _always("tap")),
    CommandSpec("nudge", LOOPER, "move the whole grid later (or earlier, below 0); the tempo stays",
     (Argument("ms", NUMBER, "how far", "ms", -MOST_NUDGE_MS, MOST_NUDGE_MS, 0.0),), (_no("Start first: the grid can only be moved while time runs."), *(Cell("nudge", does="moves the grid"),) * 4)),
    CommandSpec("follow", LOOPER, "take the tempo of a clock source, and move the grid",
     (Argument("qpm", NUMBER, "the tempo", "quarters a minute", SLOWEST_QPM, FASTEST_QPM, required=True),
      Argument("ms", NUMBER, "how much later", "ms", -10_000.0, 10_000.0, 0.0)), _always("follow")),
    CommandSpec("thru", LOOPER, "hear an input through on the live channel, or not",
     (Argument("port", WHOLE, "which input, counted from 0; left out: every one", "", 0, 127),
      Argument("on", SWITCH, "through, or not", default=True)), _always("thru")),
    CommandSpec("thru-toggle", LOOPER, "hear what you play through, or not any more", (), _always("thru_toggle")),
    CommandSpec("late", LOOPER, "judge an input this much earlier than it arrives",
     (Argument("port", WHOLE, "which input, counted from 0", "", 0, 127, 0),
      Argument("sec", NUMBER, "how much", "s", -10.0, 10.0, 0.0)), _always("late")),
    CommandSpec("pickup", LOOPER, "judge an input through its pickup profile: strings by channel, each note corrected for its delay",
     (Argument("port", WHOLE, "which input, counted from 0", "", 0, 127, 0),
      Argument("channels", WORDS, "the channel of each string, the highest first, such as 1 2 3 4", default=""),
      Argument("constant_ms", NUMBER, "how late every note is", "ms", 0.0, 200.0, 0.0),
      Argument("periods", NUMBER, "and how many periods of its pitch", "periods", 0.0, 6.0, 0.0),
      Argument("bend_range", NUMBER, "how far a full bend goes until the pickup says another; left out: 2", "semitones", 1, 96),
      Argument("name", WORDS, "the profile's name", default=""),
      Argument("cleaning", WORDS, "the parts of the clean-up that are on, and limits; left out: none", default="")),
     _always("pickup")),
    CommandSpec("clean", LOOPER, "switch a part of the clean-up of pickup errors, or all; off brings back what it took out",
     (Argument("part", CHOICE, "which part", default=ALL, choices=(*PARTS, ALL)),
      Argument("on", SWITCH, "on, or off; left out: toggle")), _always("clean")),
    CommandSpec("restore-note", LOOPER, "bring back a note that was taken out as an error of the pickup",
     (Argument("note", WHOLE, "its number in the list; left out: the newest", "", 0, 2**53),), _always("restore_note")),
    CommandSpec("vary", LOOPER, "vary the newest layer, or another one: transpose +5, octave -1, step +1, into E phrygian, thin 50, thicken 50, power-chords,"
     " thirds, sixths, octaves, pedal E1; or all of the loop: swing 62%, last-bar 7/8, retune drop-d, reshape "
     "drop-d (undo brings it back)",
     (Argument("how", WORDS, "one of these ways", required=True),
      Argument("layer", LAYER, "which layer, or all; left out: the newest")),
     _running("vary", LOOP, "varies the loop")),
    CommandSpec("silence", LOOPER, "silence: end every sounding note", (), _always("silence")),
)  # fmt: skip

_OTHERS = (
    CommandSpec("keep-last-session", ENGINE, "yes: keep the unfinished session as a take"),
    CommandSpec("leave-last-session", ENGINE, "no: leave the unfinished session in its journal"),
    CommandSpec("leave-free-tempo", ENGINE, "no: leave tempo and cycle as they are"),
    CommandSpec("write-loop", ENGINE, "write the loop out: tab and page, beside the shelf", (_WHICH,)),
    CommandSpec("write-take", ENGINE, "write the last keep out: tab and page",
     (Argument("take", WHOLE, "another take, by its number", "", 1, 10**9),)),
    CommandSpec("loop-take", ENGINE, "make a take of the shelf the loop again, with its layers and its brief (one undo takes it back)",
     (_TAKE, Argument("playing", CHOICE, "what of its playing; layers: nothing", default="best", choices=PLAYING),
      Argument("beside", SWITCH, "beside the layers that stand, without the brief", default=False))),
    CommandSpec("hear-take", ENGINE, "play a take of the shelf, whether time runs or not",
     (_TAKE, Argument("click", SWITCH, "with the click", default=False),
      Argument("percent", WHOLE, "at how much of its tempo", "percent", 25, 200, 100))),
    CommandSpec("hear-no-take", ENGINE, "stop playing it"),
    CommandSpec("tune", ENGINE, "tune by ear: the open strings, one after the other from the lowest; after the last one it ends",
     (Argument("string", WHOLE, "which string, 1 the highest; left out: the next one", "", 1, 12),)),
    CommandSpec("tune-octave", ENGINE, "tune with the octave above, or without",
     (Argument("on", SWITCH, "with it, or not; left out: toggle"),)),
    CommandSpec("tune-off", ENGINE, "end tuning"),
    CommandSpec("quit", ENGINE, "end the session in order"),
    CommandSpec("learn", ENGINE, "learn a switch: what is pressed next gives this command",
     (Argument("command", WORDS, "which command", required=True), Argument("args", TABLE, "and its arguments", default={}))),
    CommandSpec("learn-take", ENGINE, "yes: take the switch that was pressed, though it does something else already"),
    CommandSpec("learn-end", ENGINE, "stop learning"),
    CommandSpec("unlearn", ENGINE, "take all switches off this command",
     (Argument("command", WORDS, "which command", required=True), Argument("args", TABLE, "and its arguments", default={}))),
    CommandSpec("device", ENGINE, "use another device, now and at the next start",
     (Argument("role", CHOICE, "for what", required=True, choices=DEVICE_ROLES),
      Argument("name", WORDS, "which one, by its name, or virtual for a port of our own; left out: none, or the system's choice", default=""),
      Argument("number", WHOLE, "which input or output of several", "", 0, 31, 0))),
    CommandSpec("level", SOUND, "make a part of the built-in sound louder or softer",
     (Argument("part", PART, "what", default="master"), Argument("db", NUMBER, "the level", "dB", LOWEST, HIGHEST),
      Argument("by", NUMBER, "by how much instead", "dB", LOWEST - HIGHEST, HIGHEST - LOWEST)), needs_one_of=("db", "by")),
    CommandSpec("sound-mute", SOUND, "mute a part of the built-in sound, or let it sound again (a layer: the layer itself)",
     (Argument("part", PART, "what", default="master"),
      Argument("on", SWITCH, "muted, or not; left out: toggle"))),
    CommandSpec("window-choose", WINDOW, "choose a layer, or all", (_STEP,)),
    CommandSpec("window-passes", WINDOW, "keep fewer passes, or more", (_STEP,)),
    CommandSpec("window-pass-step", WINDOW, "choose a pass of the last minutes: further back, or nearer", (_STEP,)),
    CommandSpec("window-pass-loop", WINDOW, "loop the pass that is chosen"),
    CommandSpec("window-name", WINDOW, "keep, and name it", by_foot=False),
    CommandSpec("window-solo", WINDOW, "solo: the chosen layer alone, or all again"),
    CommandSpec("window-delete", WINDOW, "delete the chosen layer, or all"),
    CommandSpec("window-accept", WINDOW, "yes to the question that waits"),
    CommandSpec("window-refuse", WINDOW, "no to it"),
    CommandSpec("window-count-in", WINDOW, "count-in: 0, 1 or 2 bars"),
    CommandSpec("window-click", WINDOW, "click louder, or softer", (_STEP,)),
    CommandSpec("window-help", WINDOW, "these keys"),
    CommandSpec("window-brief", WINDOW, "the brief: change it while playing"),
    CommandSpec("window-sound", WINDOW, "the sound: how loud each part is"),
    CommandSpec("window-briefs", WINDOW, "briefs: choose one, save, delete"),
    CommandSpec("window-harvest", WINDOW, "the riffs of this session: tick what goes to the shelf"),
    CommandSpec("window-panel", WINDOW, "the panel below: the next one, or the one before", (_STEP,)),
    CommandSpec("window-devices", WINDOW, "devices: MIDI ports, sound, pedals"),
    CommandSpec("window-pedals", WINDOW, "pedals: learn a switch by pressing it"),
    CommandSpec("window-mood", WINDOW, "a brief drawn from a mood"),
    CommandSpec("window-draw", WINDOW, "draw a brief from the mood that is chosen; again: another one"),
    CommandSpec("window-draw-back", WINDOW, "take the last draw back"),
    CommandSpec("window-lanes", WINDOW, "lanes of strings, or of pitches"),
    CommandSpec("window-biggest", WINDOW, "what is biggest on a note: fret, name or degree"),
    CommandSpec("window-vary", WINDOW, "vary what is chosen, in words that are typed", by_foot=False),
    CommandSpec("window-left-handed", WINDOW, "the neck for the left hand, or for the right"),
    CommandSpec("window-theme", WINDOW, "paper, or slate"),
    CommandSpec("window-keys", WINDOW, "letter keys play notes, or not"),
    CommandSpec("window-thru", WINDOW, "hear your own playing through, or not"),
    CommandSpec("window-line", WINDOW, "on an open page: the line below, or above", (_STEP,)),
    CommandSpec("window-value", WINDOW, "on an open page: one step to the right, or left", (_STEP,)),
    CommandSpec("window-enter", WINDOW, "on an open page: Enter"),
    CommandSpec("window-shelf", WINDOW, "the shelf: find takes, hear, loop and sort them"),
    CommandSpec("window-practise", WINDOW, "practise what is chosen: a layer, else the last pass or take; again: end it",
     (Argument("take", WHOLE, "the number of a take on the shelf instead", "", 0, 999_999_999, 0),)),
    CommandSpec("window-practise-sound", WINDOW, "let the target sound: never, in turns, always"),
    CommandSpec("window-practise-bar", WINDOW, "practise the next bar by itself, or all of them again", (_STEP,)),
    CommandSpec("window-practise-stretch", WINDOW, "practise more bars or fewer, or as many that begin later or earlier",
     (Argument("longer", WHOLE, "how many bars more", "", -64, 64, 0),
      Argument("later", WHOLE, "how many bars later", "", -64, 64, 0))),
    CommandSpec("window-full", WINDOW, "full screen, or not"),
    CommandSpec("window-leave", WINDOW, "leave (press it twice)", by_foot=False),
)  # fmt: skip

#: Every command by its name.
COMMANDS: dict[str, CommandSpec] = {command.name: command for command in (*_LOOPER, *_OTHERS)}

#: When a field of the brief takes effect while time runs, where that is not at once.
FIELD_WHEN = {name: one.when for name, one in SPECS.items() if one.when != NOW}


#: What arguments meant that journals of before do not have.
_BEFORE: dict[str, dict[str, Any]] = {"loop-that": {"reach": 1}, "tap": {"whole": False}}


def as_recorded(name: str, args: Mapping[str, Any]) -> Mapping[str, Any]:
    """The arguments of a command that stands in a journal, as they were meant when it was written.

    Whatever is written today names every argument; a journal of before does what it did then.
    """
    return {**_BEFORE.get(name, {}), **args}


def names_of(*owners: str) -> tuple[str, ...]:
    """The names of the commands of these owners, in the order of the table."""
    return tuple(name for name, command in COMMANDS.items() if command.owner in owners)


#: Whose commands a pedal gives, beside those of the window that need no typing.
BY_FOOT_OWNERS = (LOOPER, ENGINE, SOUND)
#: What a foot can ask of the window.
BY_FOOT = tuple(name for name in names_of(WINDOW) if COMMANDS[name].by_foot)


def check_by_foot(name: object, args: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """As ``check_command``, for whatever a pedal can give."""
    return check_command(name, args, (*BY_FOOT_OWNERS, *((WINDOW,) if name in BY_FOOT else ())))


def check_command(
    name: object, args: Mapping[str, Any] | None = None, owners: tuple[str, ...] = (LOOPER, ENGINE, SOUND)
) -> dict[str, Any]:
    """The arguments of a command as it can be written down and done: checked, defaults filled in.
    All commands pass through here.

    ``owners`` are those whose commands may come through this door. Raises CommandError with one
    sentence that says which command and argument was wrong, and what would be right.
    """
    command = COMMANDS.get(name) if isinstance(name, str) else None
    if command is None or command.owner not in owners:
        known = ", ".join(names_of(*owners))
        raise CommandError(
            f"There is no command {shown(name)}; there are {known}.", str(name)[:40] if isinstance(name, str) else ""
        )
    if args is not None and not isinstance(args, Mapping):
        raise CommandError(f"The arguments of {name!r} must be a table such as {{ passes = 4 }}.", command.name)
    checked = check_arguments(command.name, command.arguments, args or {})
    if command.needs_one_of and not any(one in checked for one in command.needs_one_of):
        wanted = " or ".join(command.needs_one_of)
        raise CommandError(f"The command {command.name!r} needs {wanted}.", command.name, command.needs_one_of[0])
    return checked
