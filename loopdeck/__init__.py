"""loopdeck: a live MIDI looper and riff recorder for bass players, and anyone with a MIDI
keyboard.
"""

__version__ = "0.1.0"
