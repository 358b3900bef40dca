"""Pitch on paper: names, scales, chords and tunings.

Pitches are MIDI numbers; middle C is C4 = 60. Begin with ``pitch`` and ``scale``; ``formulas`` is
the table of scales.
"""
