"""Where the shelf lies: a module of its own, so that who only needs the path does not load the
store.
"""

from pathlib import Path


def default_shelf() -> Path:
    """Where the shelf lies when nobody says otherwise: in the user's data folder."""
    from platformdirs import user_data_dir

    return Path(user_data_dir("loopdeck", appauthor=False)) / "shelf.sqlite"
