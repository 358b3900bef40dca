"""The one error that is the user's to correct.

Everything that a player can cause (a wrong file, a wrong word on the command line, a shelf in the
way) is raised as ``UserError``; whatever else is raised is a mistake of ours and goes through to
whoever runs the program. ``instead`` ends a sentence about a name that does not exist, and
``to_install`` one about a library that is missing.
"""

import contextlib
import os
import sys
from collections.abc import Iterable
from shlex import quote

_LONGEST = 60


class UserError(ValueError):
    """What was wrong, where, and what would be right; ``str(error)`` is one full sentence for the
    player.
    """


def nearest(word: str, names: Iterable[str]) -> str:
    """The name that was probably meant by a mistyped one, empty if none is near. Capitals, spaces,
    hyphens and underscores do not count.
    """
    from difflib import get_close_matches

    known = {_plain(name): name for name in names}
    near = get_close_matches(_plain(word[:_LONGEST]), known, 1)
    return known[near[0]] if near else ""


def instead(word: str, names: Iterable[str], more: str = "") -> str:
    """The end of a sentence that says that there is no ``word``: the name that was probably meant,
    else all names there are, and ``more`` behind them.
    """
    known = list(names)
    near = nearest(word, known)
    return f": did you mean {near}?" if near else f"; there are {', '.join(known)}{more}."


def to_install(extra: str) -> str:
    """The command that adds one of loopdeck's extras to the Python that runs it, as it is typed
    here.
    """
    python, here = sys.executable or "python3", ""
    with contextlib.suppress(OSError):
        here = os.path.join(os.getcwd(), "")
    # A name alone would be looked for on the path.
    short = python.removeprefix(here)
    return f"{quote(short if os.sep in short else python)} -m pip install 'loopdeck[{extra}]'"


def _plain(name: str) -> str:
    return "".join(name.lower().replace("-", " ").replace("_", " ").split())
