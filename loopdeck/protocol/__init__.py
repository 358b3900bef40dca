"""What the engine and the window say to each other, and the socket they say it over.

Begin with ``messages``; ``fields`` checks them, ``wire`` encodes them, ``server`` is the engine's
side and ``client`` the window's.
"""
