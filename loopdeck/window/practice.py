"""What click and tempo do by themselves while time runs: silent bars, a ramp, practising. Pure."""

from loopdeck.window.spelling import counted, ramp_unit
from loopdeck.window.view import View

_LONGEST = 1000


def silent_bar(view: View, bar: int) -> bool:
    """Whether the click is silent in a bar of this pass (from 0)."""
    if view.brief is None or not view.clock.running:
        return False
    return bool(view.brief.clicks.silent(view.clock.first_bar + bar))


def silence(view: View, now_sec: float) -> str:
    """What the click's silent bars are doing, in words; "" without any."""
    brief, place = view.brief, view.place(now_sec)
    if brief is None or not brief.clicks.off_bars or not place.running or place.at_q < 0:
        return ""
    bar = view.clock.first_bar + view.cycle_layout.count(place.at_q)[0] - 1
    now = brief.clicks.silent(bar)
    bars = next(n for n in range(1, _LONGEST) if brief.clicks.silent(bar + n) != now)
    return f"silent {'for' if now else 'in'} {counted(bars, 'bar')}"


def ramp_step(view: View, now_sec: float) -> str:
    """The next step of a ramp, in words; "" without one, at its end, and beyond it."""
    brief = view.brief
    ramp = brief.ramp if brief is not None and view.place(now_sec).running else None
    if brief is None or ramp is None:
        return ""
    left_qpm = float(ramp.target_qpm) - brief.tempo.quarters_per_minute
    if abs(left_qpm) < 0.05 or left_qpm * float(ramp.step_qpm) < 0.0:
        return ""
    passes = ramp.every - max(view.clock.run_pass, 0) % ramp.every
    unit = ramp_unit(str(brief.tempo))
    return f"{unit}{float(ramp.step_qpm):+g} in {counted(passes, 'pass', 'passes')}"


def practice_hint(view: View, now_sec: float) -> str:
    """All of it, in one line; what is practised comes first."""
    found = (view.played.practising.words(), silence(view, now_sec), ramp_step(view, now_sec))
    return "   ".join(words for words in found if words)
