"""For all tests: no test fails because the machine is busy. How fast things are is measured by the
programs in tests/bench.

The property tests look at the same examples on every run, so that a change is judged by what it
changes and not by luck. ``LOOPDECK_RANDOM=1`` draws new examples, which is how to search for what
nobody has seen yet.
"""

import os
import shutil
from collections.abc import Iterator

import pytest
from hypothesis import settings

from tests.live.jack_server import jack_server

settings.register_profile("loopdeck", deadline=None, derandomize=True)
settings.register_profile("random", deadline=None, derandomize=False)
settings.load_profile("random" if os.environ.get("LOOPDECK_RANDOM") else "loopdeck")


@pytest.fixture(scope="session")
def jack() -> Iterator[dict[str, str]]:
    """The environment of a running JACK server, one for all tests: two would wait for each
    other.
    """
    if shutil.which("jackd") is None:
        reason = "jackd is not installed (Debian package jackd2)"
        if os.environ.get("CI"):
            pytest.fail(f"{reason}; in CI this must not skip")
        pytest.skip(reason)
    with jack_server() as env:
        yield env
