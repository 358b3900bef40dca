"""MIDI ports, MIDI clock, and pedals with their control maps.

Begin with ``ports``: inputs and outputs that are found again when a device comes back. ``controls``
turns switches into commands.
"""
