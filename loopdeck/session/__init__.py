"""One session: the looper, its journal, what the window is told, and sessions that are taken up
again.

Begin with ``session``, the only way in to the looper; ``replay`` makes a session again from its
journal, ``recover`` looks after those that ended without warning.
"""
