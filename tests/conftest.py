"""For all tests: no test fails because the machine is busy. How fast things are is measured by the
programs in tests/bench.

The property tests look at the same examples on every run, so that a change is judged by what it
changes and not by luck. ``LOOPDECK_RANDOM=1`` draws new examples, which is how to search for what
nobody has seen yet.
"""

import os

from hypothesis import settings

settings.register_profile("loopdeck", deadline=None, derandomize=True)
settings.register_profile("random", deadline=None, derandomize=False)
settings.load_profile("random" if os.environ.get("LOOPDECK_RANDOM") else "loopdeck")
