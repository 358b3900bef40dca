"""The process that plays: it waits for MIDI, commands and moments, and sends what the session says.

Begin with ``build``, which makes and wires the parts, then ``engine``, the loop itself, and
``scheduler``, which sends every message at its moment.
"""
