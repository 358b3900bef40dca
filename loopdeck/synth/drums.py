"""A small drum kit made by synthesis: bass drum, snare, side stick, closed and open hi-hat.

Conventions
    Notes of General MIDI level 1 percussion: 36 bass drum (35 too), 37 side stick, 38 snare (40
    too), 42 closed hi-hat (44, the pedal, too), 46 open hi-hat, and the wood blocks and claves of
    the click. Other notes are silent. Each has ``LAYERS`` sounds: the softer, the duller. The
    hi-hats stop one another.
Method
    Membranes as falling sines, wires and metal as coloured noise with partials that share no base:
    common practice, no source.
"""

import numpy as np

from loopdeck.synth.click import BAR, BETWEEN, GROUP, click_sounds
from loopdeck.synth.noise import Sound, clock, decay, finish, noise, partials

BASS_DRUM, SIDE_STICK, SNARE, CLOSED_HAT, PEDAL_HAT, OPEN_HAT = 36, 37, 38, 42, 44, 46
#: Notes that stop one another, by group.
HAT_GROUP = {CLOSED_HAT: 1, PEDAL_HAT: 1, OPEN_HAT: 1}
LAYERS = 4

_METAL = (3130.0, 4270.0, 5290.0, 6810.0, 8130.0, 9470.0)


def drum_sounds(rate: int) -> dict[int, tuple[Sound, ...]]:
    """The sounds of each note of the kit, from the softest to the hardest."""
    made = {
        BASS_DRUM: (_bass_drum(rate), 1.0, 900.0),
        SIDE_STICK: (_side_stick(rate), 0.7, 2500.0),
        SNARE: (_snare(rate), 0.85, 2200.0),
        CLOSED_HAT: (_hat(rate, 0.09, 0.07), 0.45, 5000.0),
        OPEN_HAT: (_hat(rate, 0.7, 0.6), 0.5, 5000.0),
    }
    sounds = {}
    for note, (sound, peak, dull) in made.items():
        softer = tuple(finish(sound, rate, peak, dull * 2.0**layer) for layer in range(LAYERS - 1))
        sounds[note] = (*softer, finish(sound, rate, peak))
    sounds[35], sounds[40], sounds[PEDAL_HAT] = sounds[BASS_DRUM], sounds[SNARE], sounds[CLOSED_HAT]
    clicks = click_sounds(rate)
    return sounds | {note: clicks[note] for note in (BAR, GROUP, BETWEEN)}


def _bass_drum(rate: int) -> Sound:
    time = clock(rate, 0.35)
    # The pitch falls from 150 Hz to 50 Hz; the phase is the integral of that.
    phase = 50.0 * time + 100.0 * 0.018 * (1.0 - np.exp(-time / 0.018))
    return np.sin(2.0 * np.pi * phase) * decay(time, 0.38) + 0.5 * noise(time, rate, 36, 800.0, 4000.0) * decay(
        time, 0.012
    )


def _snare(rate: int) -> Sound:
    time = clock(rate, 0.28)
    skin = partials(time, (186.0, 334.0), (1.0, 0.6), (0.16, 0.1))
    return 0.6 * skin + 0.8 * noise(time, rate, 38, 1200.0, 8500.0) * decay(time, 0.24)


def _side_stick(rate: int) -> Sound:
    time = clock(rate, 0.08)
    wood = partials(time, (1710.0, 820.0, 485.0), (1.0, 0.7, 0.4), (0.04, 0.06, 0.07))
    return wood + 0.4 * noise(time, rate, 37, 2000.0, 7000.0) * decay(time, 0.01)


def _hat(rate: int, seconds: float, fall_sec: float) -> Sound:
    time = clock(rate, seconds)
    metal = partials(time, _METAL, (1.0,) * len(_METAL), (fall_sec,) * len(_METAL)) / len(_METAL)
    return 0.5 * metal + noise(time, rate, 42, 6500.0, 14000.0) * decay(time, fall_sec)
