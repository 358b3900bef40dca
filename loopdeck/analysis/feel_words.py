"""What a good teacher would say of a feel: only what can be heard and is no accident, the worst
first.

Thresholds
    A displaced tone is just noticed at 6 ms where tones follow each other faster than every 240 ms,
    and at 2.5 % of the interval above that: Friberg & Sundberg, "Time discrimination in a
    monotonic, isochronous sequence", JASA 98, 1995. A slot is spoken of when its median lies beyond
    both that and two and a half standard errors. People tap before the click: Repp, "Sensorimotor
    synchronization: a review of the tapping literature", Psychonomic Bulletin & Review 12(6), 2005;
    so a constant early part is called human. Accents count from eight steps of velocity on (common
    practice, no source).
"""

import numpy as np

from loopdeck.analysis.feel import FeelFound, SlotFeel
from loopdeck.analysis.swing_estimate import NOTICED_MS, Swung

NOTICED_SHARE, SLOW_SEC = 0.025, 0.240
_SIGMAS = 2.5
_MOST_SLOTS = 3
_ACCENT = 8.0
_OFF = {"1/8": "off-eighths", "1/16": "off-sixteenths"}
_NAMES = {"1/8": "eighths", "1/16": "sixteenths"}


def noticed_ms(interval_sec: float) -> float:
    """The displacement that is just noticed where tones follow each other at ``interval_sec``."""
    return NOTICED_MS if interval_sec < SLOW_SEC else NOTICED_SHARE * interval_sec * 1000.0


def says(found: FeelFound) -> list[str]:
    """Full sentences, at most nine."""
    if not found.slots:
        return ["There are no notes."]
    told = [_swing(found), *slots_said(found), _constant(found), drift_said(found), _repeats(found), _accents(found)]
    sentences = [one for one in told if one]
    if len(sentences) == 1 and sentences[0] == _swing(found) and not slots_said(found):
        sentences.append("Nothing else stands out that could be heard.")
    return sentences


def _ratio(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") + ":1"


def _swing(found: FeelFound) -> str:
    unit = found.fit.main
    if unit is None:
        return "There are too few pairs of eighths or sixteenths to tell a swing."
    one = found.fit.found[unit]
    assert one is not None
    if one.is_swung and one.is_uneven:
        sentence = (
            f"Your {_OFF[unit]} sit at {100 * one.share:.0f} % of the pair: {_ratio(one.ratio)}, between"
            f" {_ratio(max(one.low, 1.0))} and {_ratio(one.high)}"
        )
    elif one.is_uneven:
        sentence = f"Your {_OFF[unit]} come early, at {100 * one.share:.0f} % of the pair: short before long"
    else:
        sentence = f"Your {_NAMES[unit]} are straight ({100 * one.share:.1f} %, give or take {50 * (one.share_high - one.share_low):.1f})"
    return sentence + _asked(found, one) + "."


def _asked(found: FeelFound, one: Swung) -> str:
    """What the brief asked for, where the playing is clearly something else."""
    swing = found.brief_swing
    asked = float(swing.ratio)
    if asked == 1.0 or one.low <= asked <= one.high:
        return ""
    return f"; the brief asks for {_ratio(asked)}" + (
        ", so swing harder" if asked > one.ratio else ", so hold back a little"
    )


def swing_missed(found: FeelFound) -> str:
    """The swing, where it is clearly not the brief's; else empty."""
    unit = found.fit.main
    one = None if unit is None else found.fit.found[unit]
    if unit is None or one is None or not _asked(found, one):
        return ""
    return _swing(found)


def _stands_out(one: SlotFeel) -> bool:
    return abs(one.median_ms) > max(noticed_ms(min(one.interval_sec, 1.0)), _SIGMAS * one.error_ms)


def slots_said(found: FeelFound) -> list[str]:
    """Slots that can be heard to be early or late; those of a swing that the brief does not have
    are the swing's, not theirs.
    """
    out = [one for one in found.slots if _stands_out(one) and not _by_swing(found, one)]
    out.sort(key=lambda one: -abs(one.median_ms))
    sentences = []
    for one in out[:_MOST_SLOTS]:
        where = (
            f"beat {one.counted}" if len(found.cycle.meters) == 1 else f"bar {one.bar_in_cycle + 1}, beat {one.counted}"
        )
        how = "rush into" if one.median_ms < 0 else "drag on"
        sentences.append(f"You {how} {where} by {abs(one.median_ms):.0f} ms.")
    if len(out) > _MOST_SLOTS:
        sentences.append(f"{len(out) - _MOST_SLOTS} more places stand early or late; the slots list them.")
    return sentences


def _by_swing(found: FeelFound, one: SlotFeel) -> bool:
    """True for the off-places of the played swing, where it is not the brief's."""
    unit = found.fit.main
    if unit is None or found.fit.found[unit] is None:
        return False
    swung = found.fit.found[unit]
    assert swung is not None
    if not swung.is_uneven and float(found.brief_swing.ratio) == 1.0:
        return False
    step = 0.5 if unit == "1/8" else 0.25
    for group in found.cycle.groups:
        if group.start <= one.written < group.start + group.length:
            inside = float(one.written - group.start) / step
            return abs(inside - round(inside)) > 1e-9 or round(inside) % 2 == 1
    return False


def _constant(found: FeelFound) -> str:
    if abs(found.constant_ms) <= NOTICED_MS:
        return ""
    ms = f"{abs(found.constant_ms):.0f} ms"
    if found.constant_ms < 0:
        return f"All of it lies {ms} before the click, as people do; that is taken off the rest."
    return f"All of it lies {ms} behind the click, by habit or by latency; that is taken off the rest."


def drift_said(found: FeelFound) -> str:
    """A drift that is not an accident and adds up to something; else empty."""
    drift = found.drift_ms_per_min
    if drift is None or abs(drift) <= _SIGMAS * found.drift_error:
        return ""
    heard = np.isfinite(found.offset_ms)
    if heard.sum() < 8 or abs(drift) * min(found.minutes, 1.0) < NOTICED_MS:
        return ""
    return f"You get {'later' if drift > 0 else 'earlier'} against the click, by {abs(drift):.0f} ms a minute."


def _repeats(found: FeelFound) -> str:
    again = found.repeats
    if again is None or again.passes < 2:
        return ""
    limit = noticed_ms(float(np.median([min(one.interval_sec, 1.0) for one in found.slots])))
    heard = "more than the ear lets pass" if again.spread_ms > 2 * limit else "steady"
    return f"The same notes vary by {again.spread_ms:.0f} ms over {again.passes} passes: {heard}."


def _accents(found: FeelFound) -> str:
    """Where the accents lie, when some slots are clearly louder than the rest."""
    if len(found.slots) < 3:
        return ""
    loud = np.array([one.velocity for one in found.slots])
    usual = float(np.median(loud))
    accents = [one for one in found.slots if one.velocity >= usual + _ACCENT]
    if not accents or len(accents) > len(found.slots) / 2:
        return ""
    accents.sort(key=lambda one: -one.velocity)
    many = len(found.cycle.meters) > 1
    places = [f"{one.bar_in_cycle + 1}:{one.counted}" if many else one.counted for one in sorted(accents[:4])]
    louder = float(np.median([one.velocity for one in accents])) - usual
    return f"Your accents lie on {', '.join(places)}, {louder:.0f} steps of velocity above the rest."
