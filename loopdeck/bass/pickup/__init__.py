"""Pickups that make MIDI from strings: how each one sends, what it gets wrong, how late it is."""
