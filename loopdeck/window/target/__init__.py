"""Practising in the window: a target on the lanes, what is played held against it, and a tempo that
follows.
"""

#: When the target sounds: never, in turns with the player, always; in the order a key turns them.
NEVER, TURNS, ALWAYS = "never", "turns", "always"
SOUNDS = (NEVER, TURNS, ALWAYS)
