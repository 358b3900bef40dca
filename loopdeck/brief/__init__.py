"""The brief: the constraints one plays in. Each field has one spec; all that reads, writes, shows
or explains fields goes by it.

Begin with ``brief``; ``folder`` finds briefs by name and saves the player's own.
"""
