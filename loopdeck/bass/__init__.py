"""What belongs to the bass: the neck and fingerings, techniques, the errors of pickups, and ways to
change a riff.

Begin with ``neck`` and ``fingering``; ``technique``, ``pickup`` and ``variations`` are packages of
their own.
"""
