"""Latency that depends on pitch: a constant and so many periods of the note; taken off onsets, and
found from playing along to a click.

Model
    A pitch follower needs about two periods of the fundamental before it can name a note (Fonseca &
    Tavares, "Low-Latency f0 Estimation for the Finger Plucked Electric Bass Guitar", RITA 27(4),
    2020), and the rest of the way takes the same time for all notes. So a note is ``constant +
    periods / f`` late, with f in equal temperament (ISO 16).

Fit
    Two numbers for all strings, by least squares: first with outlying notes weighed down (Huber,
    "Robust estimation of a location parameter", Annals of Mathematical Statistics 35(1), 1964),
    then each note with the chance that it was played to its place, and is not a wrong one that lies
    anywhere between two places (a uniform part beside the normal one: Banfield & Raftery,
    "Model-based Gaussian and non-Gaussian clustering", Biometrics 49(3), 1993; from memory). Two
    periods, the published figure, count as one observation beforehand. A drift against the grid is
    followed, and taken out where it is certain. People play around the click and mostly a little
    before it (Repp 2005); that habit is in the constant and cannot be told from the rig, so the
    constant is never below 0.
"""

from collections.abc import Container
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from loopdeck.bass.pickup.profile import PERIODS, Delay
from loopdeck.errors import UserError

LEAST_NOTES = 20
MOST_CONSTANT_MS, MOST_PERIODS = 200.0, 6.0
_HUBER = 2.5
#: How far pickups are from the two periods that a follower needs (common practice, no source).
_PERIODS_SPREAD = 0.6
#: A constant below this cannot be chance.
_EARLY_SEC = 0.004
#: How fast a drift is followed: a share of what is left, and no more than so much, at each note.
_FOLLOWS, _STEP_SEC = 0.08, 0.04
#: Less than this is not a drift, nor what is not so many standard errors from none.
_DRIFT_SEC, _CERTAIN = 0.015, 5.0
#: A note that begins within this of the end of another one took over from it.
_TAKES_OVER_SEC, _LEAST_SEC, _STROKE_SEC = 0.03, 0.001, 0.05


class Fitted(NamedTuple):
    """What was found: the delay, the spread of the playing around it (ms), the notes used, and the
    middle error of each pitch before and after.
    """

    delay: Delay
    spread_ms: float
    notes: int
    before_ms: float
    after_ms: float


def period_sec(pitch: ArrayLike) -> NDArray[np.float64]:
    """The period of MIDI pitches."""
    return np.asarray(1.0 / (440.0 * 2.0 ** ((np.asarray(pitch, float) - 69.0) / 12.0)))


def late_sec(pitch: ArrayLike, delay: Delay) -> NDArray[np.float64]:
    """How late notes of these pitches are, in seconds."""
    return delay.constant_ms / 1000.0 + delay.periods * period_sec(pitch)


def take_delay_off(notes: NDArray[np.void], late: NDArray[np.float64], keep: Container[int] = ()) -> None:
    """Begin each of ``notes`` (NOTE_DTYPE, (n,), in order of onset) ``late`` (n,) seconds earlier,
    in place. Where the next one of its string took over from a note, it ends as much before or
    after that one begins as it arrived. Elsewhere the end is moved by half of that: a pickup needs
    periods to name a note, but not to hear it stop (how much of them, no source). A stroke shorter
    than ``_STROKE_SEC`` keeps its length.
    """
    onset, length = notes["onset_sec"].copy(), notes["duration_sec"].copy()
    notes["onset_sec"] -= late
    following: dict[tuple[int, int], int] = {}
    keys = list(zip(notes["channel"].tolist(), notes["string"].tolist(), strict=True))
    for row in range(len(notes) - 1, -1, -1):
        after = following.get(keys[row])
        following[keys[row]] = row
        gap = np.inf if after is None else onset[after] - onset[row] - length[row]
        if after is not None and abs(gap) <= _TAKES_OVER_SEC:
            notes["duration_sec"][row] = max(length[row] + late[row] - late[after], _LEAST_SEC)
        elif length[row] >= _STROKE_SEC and row not in keep:
            # It does not run into the next one.
            room = np.inf if after is None else gap + late[row] - late[after] - _TAKES_OVER_SEC
            notes["duration_sec"][row] += min(late[row] / 2, max(room, 0.0))


def fit(onset_sec: ArrayLike, pitch: ArrayLike, grid_sec: ArrayLike) -> Fitted:
    """The delay that explains ``onset_sec`` (n,) of notes of ``pitch`` (n,) played to the places
    ``grid_sec`` (m,), rising.

    Raises UserError with fewer than 20 notes, or with all of one pitch.
    """
    onsets, pitches = np.asarray(onset_sec, float), np.asarray(pitch, float)
    grid, periods = np.asarray(grid_sec, float), period_sec(pitch)
    if len(onsets) < LEAST_NOTES or len(grid) < 2:
        raise UserError(
            f"{len(onsets)} notes are too few to measure a pickup by; play at least {LEAST_NOTES}, on all strings."
        )
    if np.ptp(periods) < 0.004:
        raise UserError("All notes are of about the same pitch; play low and high strings in turn to measure a pickup.")
    guess = np.array([0.0, PERIODS])
    late, room = np.zeros(len(onsets)), float(np.median(np.diff(grid)))
    for _ in range(6):
        # The place that was meant is the one nearest to the onset without what is known of the
        # delay.
        late = onsets - _followed(grid, onsets - guess[0] - guess[1] * periods)
        late = late - _drift(periods, late, onsets, room)
        new = _weighed(np.column_stack([np.ones(len(late)), periods]), late, room)[0]
        if np.allclose(new, guess, atol=1e-6):
            break
        guess = new
    constant = float(np.clip(guess[0], 0.0, MOST_CONSTANT_MS / 1000))
    slope = float(np.clip(guess[1], 0.0, MOST_PERIODS))
    if -_EARLY_SEC < guess[0] < 0.0:
        # Nothing but chance: with no constant, the periods are fitted again. Earlier than that, it
        # is the player's habit, which the notes of all strings share.
        slope = float(np.clip(np.median(late / periods), 0.0, MOST_PERIODS))
    rest = late - constant - slope * periods
    spread = float(1.4826 * np.median(np.abs(rest - np.median(rest))))
    delay = Delay(round(constant * 1000, 3), round(slope, 4))
    return Fitted(delay, spread * 1000, len(onsets), _crooked(late, pitches), _crooked(rest, pitches))


def _nearest(grid: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.float64]:
    after = np.clip(np.searchsorted(grid, places), 1, len(grid) - 1)
    low, high = grid[after - 1], grid[after]
    return np.where(places - low <= high - places, low, high)


def _followed(grid: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.float64]:
    """The place of the grid that each was meant for, also where the playing drifts away from it."""
    found = np.empty(len(places))
    drifted = 0.0
    for row in np.argsort(places, kind="stable").tolist():
        place = _nearest(grid, places[row : row + 1] - drifted)[0]
        found[row] = place
        rest = float(np.clip(places[row] - drifted - place, -_STEP_SEC, _STEP_SEC))
        drifted += _FOLLOWS * rest
    return found


def _drift(
    periods: NDArray[np.float64], late: NDArray[np.float64], at: NDArray[np.float64], room: float
) -> NDArray[np.float64]:
    """What of ``late`` is a drift over the moments ``at``, 0 at the beginning; all 0 where there is
    none for certain.
    """
    since = at - at.min()
    design = np.column_stack([np.ones(len(late)), periods, since])
    solution, spread = _weighed(design, late, room)
    error = spread * float(np.sqrt(np.linalg.pinv(design.T @ design)[2, 2]))
    certain = abs(solution[2]) * float(np.ptp(at)) > _DRIFT_SEC and abs(solution[2]) > _CERTAIN * error
    return np.asarray(since * solution[2] if certain else np.zeros(len(late)))


def _weighed(design: NDArray[np.float64], y: NDArray[np.float64], room: float) -> tuple[NDArray[np.float64], float]:
    """The solution of ``design`` (n, k) for ``y`` (n,), and the spread around it. Its second column
    are the periods: what is known of them beforehand counts as one more observation. ``room``: from
    one place of the grid to the next, where a wrong note may be anywhere.
    """
    weight: NDArray[np.float64] = np.ones(len(y))
    scale = 0.01
    for _ in range(20):
        solution = _solved(design, y, weight, scale)
        rest = y - design @ solution
        scale = max(float(1.4826 * np.median(np.abs(rest))), 1e-6)
        new = np.minimum(1.0, _HUBER * scale / np.maximum(np.abs(rest), 1e-12))
        if np.allclose(new, weight, atol=1e-4):
            break
        weight = np.asarray(new, np.float64)
    wrong = 0.05
    for _ in range(20):
        # How likely each note is one that was played to its place, and not a wrong one anywhere.
        right = (1.0 - wrong) * np.exp(-0.5 * (rest / scale) ** 2) / (scale * np.sqrt(2.0 * np.pi))
        new = right / (right + wrong / max(room, 6.0 * scale))
        wrong = float(np.clip(1.0 - new.mean(), 1e-4, 0.5))
        done = np.allclose(new, weight, atol=1e-4)
        weight = np.asarray(new, np.float64)
        solution = _solved(design, y, weight, scale)
        rest = y - design @ solution
        scale = max(float(np.sqrt(np.average(rest**2, weights=weight))), 1e-6)
        if done:
            break
    return solution, scale


def _solved(
    design: NDArray[np.float64], y: NDArray[np.float64], weight: NDArray[np.float64], scale: float
) -> NDArray[np.float64]:
    known = np.zeros((1, design.shape[1]))
    known[0, 1] = 1.0 / _PERIODS_SPREAD
    root = np.sqrt(weight)
    rows = np.concatenate([design * root[:, None], known * scale])
    return np.asarray(np.linalg.lstsq(rows, np.append(y * root, PERIODS / _PERIODS_SPREAD * scale), rcond=None)[0])


def _crooked(late: NDArray[np.float64], pitches: NDArray[np.float64]) -> float:
    """How crooked a scale comes out: the distance between the middles of low and of high notes, in
    milliseconds.
    """
    middle = np.median(pitches)
    low, high = late[pitches <= middle], late[pitches > middle]
    if not len(low) or not len(high):
        return 0.0
    return float(abs(np.median(low) - np.median(high)) * 1000)
