"""The process one sees: state from the engine's messages, keys, pages, panels and drawing.

Begin with ``view`` (what is drawn), ``ui_state`` (what the player does with the window) and
``window`` (the loop). ``paint`` redraws what has changed; ``panels`` and ``pages`` have a module
for each of theirs. The window knows the engine only by the protocol.
"""
