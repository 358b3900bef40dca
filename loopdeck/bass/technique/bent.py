"""One raw note whose bend tells what the hand did: its steps become written notes, its glides bends
and vibrato.
"""

from loopdeck.bass.technique.curve import Curve, Move
from loopdeck.bass.technique.reading import HAMMER, PLUCK, PULL, SLIDE, Written
from loopdeck.bass.technique.sway import LEAST_BEND, sway_of

#: What a slide takes for every fret after the first, at least; a hammer-on jumps over all of them
#: at once.
SLIDE_FRET_SEC = 0.009
#: A pickup needs about this many periods to follow a jump (from a tenth to nine tenths of the way).
FOLLOWS_PERIODS = 1.1
#: A start that lasts no longer than this was no note but where a slide came from; likewise an end.
NOWHERE_SEC, WRONG_START_SEC, END_SEC = 0.1, 0.035, 0.05
#: Moves wider than this are no hammer-on: the hand does not reach.
REACH_FRETS = 7


def written_of(
    index: int, onset: float, end: float, pitch: int, string: int, velocity: int, curve: Curve
) -> list[Written]:
    """The written notes of one raw note (``index``), the first of them plucked."""
    if not len(curve.times):
        return [Written(onset, end, pitch + curve.still, string, velocity, raw=[index])]
    moves = _real(curve, pitch)
    start_level = curve.level(0.0, min(moves[0].start, 0.06) if moves else 0.06)
    at = pitch + round(start_level)
    first = Written(onset, end, at, string, velocity, raw=[index])
    notes, begun = [first], [0.0]
    for number, move in enumerate(moves):
        last, since = notes[-1], begun[-1]
        goal = pitch + move.goal
        frets = goal - last.pitch
        slid = _slid(move, last.pitch, abs(frets), curve.fretless)
        until_end = (end - onset) - move.end
        if len(notes) == 1 and move.start - since < (NOWHERE_SEC if slid else WRONG_START_SEC):
            last.pitch, last.onset_sec, begun[-1] = goal, onset + move.end, move.end
            if slid:
                last.mark("slide-from")
            continue
        if slid and until_end < END_SEC and number + 1 == len(moves):
            last.mark("slide-to")
            continue
        if frets == 0:
            continue
        reached = SLIDE if slid else HAMMER if frets > 0 else PULL
        last.end_sec = onset + move.start
        notes.append(
            Written(onset + (move.end if slid else move.start), end, goal, string, velocity, reached, raw=[index])
        )
        begun.append(move.end)
    _add_sway(notes, begun, onset, curve, pitch, moves)
    return notes


def _real(curve: Curve, pitch: int) -> list[Move]:
    """The moves that end on a fret, or where the note ends; what jumps and is at once back was a
    slip of the pickup.
    """
    end = float(curve.times[-1]) if len(curve.times) else 0.0
    moves = [move for move in curve.moves if abs(move.after - move.goal) <= 0.3 or end - move.end < END_SEC]
    found: list[Move] = []
    for move in moves:
        if found and round(found[-1].by) == -round(move.by) and move.start - found[-1].end < 0.02:
            found.pop()
            continue
        found.append(move)
    return found


def _slid(move: Move, pitch: int, frets: int, fretless: bool) -> bool:
    if frets > REACH_FRETS:
        return True
    if frets < 2 and not fretless:
        return False
    if move.stair:
        return True
    period = 1.0 / (440.0 * 2.0 ** ((pitch - 69) / 12))
    # Of a jump that falls between two messages, the second may not tell the whole.
    coarse = max(move.spacing - 0.005, 0.0) * 1.5
    return move.lasted - FOLLOWS_PERIODS * min(period, 0.02) - coarse > SLIDE_FRET_SEC * max(frets - 1, 1)


def _add_sway(
    notes: list[Written], begun: list[float], onset: float, curve: Curve, pitch: int, moves: list[Move]
) -> None:
    """Bends and vibrato of each written note, from its stretch of the curve."""
    for place, (note, since) in enumerate(zip(notes, begun, strict=True)):
        until = note.end_sec - onset
        if place + 1 == len(notes) and "slide-to" in note.marks:
            until = moves[-1].start
        skip = 0.012 if note.reached == PLUCK and place == 0 else 0.02
        found = sway_of(curve.between(since + skip, until - 0.004) - (note.pitch - pitch))
        note.vibrato = found.vibrato
        if found.vibrato is not None:
            note.mark("vibrato")
        if found.bend >= LEAST_BEND:
            note.bend_semitones = found.bend
            note.mark("bend")
            if found.released:
                note.mark("release")
