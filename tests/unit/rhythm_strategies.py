"""Random meters, cycles, grids and swings for the property tests."""

from fractions import Fraction

from hypothesis import strategies as st

from loopdeck.rhythm.grid import STEPS, Grid
from loopdeck.rhythm.meter import UNITS, Cycle, Meter, default_groups
from loopdeck.rhythm.swing import Swing

units = st.sampled_from(UNITS)
meters = st.one_of(
    st.builds(
        lambda groups, unit: Meter(tuple(groups), unit), st.lists(st.integers(1, 8), min_size=1, max_size=5), units
    ),
    st.builds(lambda number, unit: Meter(default_groups(number, unit), unit), st.integers(1, 16), units),
)
cycles = st.builds(lambda bars: Cycle(tuple(bars)), st.lists(meters, min_size=1, max_size=4))
grids = st.sampled_from([Grid(name) for name in STEPS])
ratios = st.one_of(
    st.sampled_from([Fraction(1), Fraction(2), Fraction(3), Fraction(3, 2)]),
    st.integers(5000, 7500).map(lambda share: Fraction(share, 10000 - share)),
)
swings = st.builds(Swing, ratios, st.sampled_from([None, Fraction(1, 2), Fraction(1, 4)]))
places = st.lists(st.floats(-200, 200, allow_nan=False), min_size=1, max_size=40)
