"""Import this before pygame: it spares pygame an import that takes longer than all of ours.

pygame looks for ``pkg_resources``, an old part of setuptools, to find its own default font, and
does without where it is missing. That import took a third of pygame's
(tests/bench/bench_startup.py); here pygame finds it missing, and everybody after pygame finds it
again.
"""

import os
import sys

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
if "pygame" not in sys.modules and "pkg_resources" not in sys.modules:
    sys.modules["pkg_resources"] = None  # type: ignore[assignment]
    try:
        import pygame  # noqa: F401
    finally:
        del sys.modules["pkg_resources"]
