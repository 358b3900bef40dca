"""Where the engine's own files lie: a module of its own, so that who only needs a path does not
load the engine.
"""

from pathlib import Path


def default_corrections() -> Path:
    """Where the latency corrections of inputs lie if nothing else is said."""
    from platformdirs import user_config_path

    return user_config_path("loopdeck", appauthor=False) / "corrections.json"
