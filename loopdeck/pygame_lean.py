"""Import this before pygame: it is loaded faster, and prints nothing on the player's terminal.

pygame looks for ``pkg_resources``, an old part of setuptools, to find its own default font, and
does without where it is missing. That import took a third of pygame's
(tests/bench/bench_startup.py); here pygame finds it missing, and everybody after pygame finds it
again. Some systems' own packages of pygame warn at each import that they were built without AVX2
(seen on Ubuntu 26.04); a player can do nothing about that.
"""

import os
import sys
import warnings

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
if "pygame" not in sys.modules and "pkg_resources" not in sys.modules:
    sys.modules["pkg_resources"] = None  # type: ignore[assignment]
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "Your system is avx2 capable", RuntimeWarning)
            import pygame  # noqa: F401
    finally:
        del sys.modules["pkg_resources"]
