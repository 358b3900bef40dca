"""Nothing is loaded while one plays: a module loaded at a first loop would be heard as a gap."""

import subprocess
import sys
from pathlib import Path

PLAYED = """
import sys
import loopdeck.engine.engine
from loopdeck.process.priority import load_late_parts
from tests.unit.looper_tools import Player

load_late_parts()
player = Player(tempo="120")
before = set(sys.modules)
player.command(0.0, "start")
for at_q, pitch in ((1.0, 28), (2.0, 35), (3.9, 31)):
    player.note(at_q, 0.5, pitch)
player.command(5.0, "loop-that", reach=1)
player.command(8.1, "layer")
player.note(9.0, 0.5, 40)
player.command(11.0, "layer")
player.command(13.0, "undo")
player.command(17.0, "keep")
print(*sorted(set(sys.modules) - before))
"""


def test_a_loop_and_a_layer_load_nothing() -> None:
    command = [sys.executable, "-c", PLAYED]
    root = Path(__file__).parents[2]
    found = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True)
    assert found.stdout.split() == []


def test_opening_the_window_does_not_wait_for_the_shelf_or_the_analysis_of_rhythm() -> None:
    """They are needed on pages and in commands, and in processes and threads of their own."""
    words = "import sys, loopdeck.window.window; print(*sorted(sys.modules))"
    found = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    loaded = found.stdout.split()
    assert "loopdeck.window.pages.mood" in loaded
    assert "loopdeck.shelf.store" not in loaded
    assert "loopdeck.analysis.transcription.model" not in loaded
