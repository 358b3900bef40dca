"""The shelf: takes in an SQLite file, with what the player says of them.

Begin with ``take`` and ``store``; ``material`` is what every command that reads a take works on.
"""
