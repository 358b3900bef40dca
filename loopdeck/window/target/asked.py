"""What is to be practised, as it is handed to a window that opens: plain values, for JSON."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from loopdeck.practice.practising import Plan
from loopdeck.practice.target import Target, target_from_dict
from loopdeck.window.panel_names import panel_turn
from loopdeck.window.target import NEVER, TURNS
from loopdeck.window.target.state import Asked
from loopdeck.window.ui_state import UiState
from loopdeck.window.view import View


def asked_values(target: Target, plan: Plan, number: int | None, most: int) -> dict[str, Any]:
    """For ``ask``; ``number`` is that of a take on the shelf, ``most`` ends the run after so many
    passes (0: no limit).
    """
    return {"target": target.to_dict(), "plan": asdict(plan), "number": number, "most": most}


def ask(view: View, ui: UiState, values: Mapping[str, Any]) -> None:
    """Let it begin as soon as there is a session, with its panel below."""
    plan = Plan(**values["plan"])
    target, number = target_from_dict(values["target"]), values.get("number")
    sounds = TURNS if plan.call else NEVER
    asked = Asked(target, plan, number=number, sounds=sounds, most=int(values.get("most", 0)), fixed=True)
    view.played.practising.asked = asked
    ui.panel = panel_turn("target")
