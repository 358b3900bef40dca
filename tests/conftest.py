"""For all tests: no test fails because the machine is busy. How fast things are is measured by the programs in tests/bench."""

from hypothesis import settings

settings.register_profile("loopdeck", deadline=None)
settings.load_profile("loopdeck")
