"""What to say after a pass: one sentence on the last passes, or nothing.

For the engine and the window: cheap, pure, and silent unless something can be heard and is no
accident. A player who is playing wants one thing at a time, so the worst comes first: leaving the
scale again and again, then a beat that is early or late, then a drift, then the swing.
"""

import numpy as np

from loopdeck.analysis.feel import FeelFound
from loopdeck.analysis.feel_sentences import drift_said, slots_said, swing_missed
from loopdeck.analysis.scale_finder import Playing, Ranked, rank
from loopdeck.analysis.scale_report import judge
from loopdeck.theory.scale import Scale

#: Fewer notes than this say nothing yet.
LEAST_NOTES = 8
#: So often must one outside note come before it is spoken of, and another root be at least this
#: likely, among so many of the likeliest.
AGAIN, _SURE, _TRIED = 3, 0.5, 3


def worst(found: FeelFound, playing: Playing, scale: Scale | None, likeliest: list[Ranked] | None = None) -> str | None:
    """The one thing to say of the notes of the last passes, or None.

    ``found`` is their feel, ``playing`` the same notes as the scale finder takes them; at least
    ``LEAST_NOTES`` of them. ``likeliest``: their likeliest scales, where they are known already.
    """
    said = _left(playing, scale, likeliest)
    if said is not None:
        return said
    for sentence in (*slots_said(found), drift_said(found), swing_missed(found)):
        if sentence:
            return sentence
    return None


def _left(playing: Playing, scale: Scale | None, likeliest: list[Ranked] | None) -> str | None:
    """The note outside the scale that comes again and again, and the scale that holds it."""
    if scale is None:
        return None
    outside = playing.pitch[~judge(playing.pitch, scale).in_scale]
    if len(outside) < AGAIN:
        return None
    counts = np.bincount(outside % 12, minlength=12)
    most = int(np.argmax(counts))
    if counts[most] < AGAIN:
        return None
    name = scale.spell(int(outside[outside % 12 == most][0])).rstrip("-0123456789")
    times = f"{name} again, {counts[most]} times: outside {scale}"
    for one in (rank(playing, _TRIED) if likeliest is None else likeliest)[:_TRIED]:
        # Who chose a scale chose its root: another root has to be sure.
        if not one.outside.any() and (one.scale.root.pitch_class == scale.root.pitch_class or one.probability >= _SURE):
            return f"{times}; it sounds like {one.scale.in_short}."
    return times + "."
