"""Time on paper: meters, grids, swing, tempo, and what follows from them.

Positions are quarter notes, exact (``fractions.Fraction``) where written, float where played. Begin
with ``meter`` and ``grid``; ``quantize`` moves notes to their places.
"""
