"""The click: four voices that differ in pitch, in length and in timbre, so that bar, group and beat
are told apart without counting.

Conventions
    The notes are those of General MIDI level 1 percussion, so that the same messages make sense on
    another instrument: 76 high wood block for the bar, 77 low wood block for a group, 37 side stick
    for a beat, 75 claves for what lies between beats (double time). Any other note clicks as a
    beat. Sounds and pitches: our own, by ear and eye.

    bar      three bright partials that share no base, a little bell: the highest and longest (120
             ms)
    group    a hollow wood tone, a sixth or so lower (70 ms)
    beat     a short, low, dry knock (40 ms)
    between  a tick of noise without pitch (12 ms), the softest
"""

from loopdeck.synth.noise import Sound, clock, decay, finish, noise, partials

BAR, GROUP, BEAT, BETWEEN = 76, 77, 37, 75
KINDS = {BAR: "bar", GROUP: "group", BEAT: "beat", BETWEEN: "between"}


def click_sounds(rate: int) -> dict[int, tuple[Sound, ...]]:
    """The sound of every note (0 to 127), one layer each: a click keeps its colour at any level."""
    peaks = (1.0, 0.9, 0.8, 0.5)
    bar, group, beat, between = (finish(sound, rate, peak) for sound, peak in zip(_voices(rate), peaks, strict=True))
    made = {BAR: bar, GROUP: group, BETWEEN: between}
    return {note: (made.get(note, beat),) for note in range(128)}


def _voices(rate: int) -> tuple[Sound, Sound, Sound, Sound]:
    time = clock(rate, 0.120)
    bar = partials(time, (1760.0, 2637.0, 4730.0), (1.0, 0.7, 0.45), (0.13, 0.1, 0.07))
    time = clock(rate, 0.070)
    group = partials(time, (1047.0, 2720.0), (1.0, 0.15), (0.075, 0.02))
    time = clock(rate, 0.040)
    beat = partials(time, (620.0, 1430.0), (1.0, 0.35), (0.045, 0.015))
    beat += 0.6 * noise(time, rate, 11, 1500.0, 5000.0) * decay(time, 0.008)
    time = clock(rate, 0.012)
    between = noise(time, rate, 12, 2500.0, 9000.0) * decay(time, 0.012)
    return bar, group, beat, between
