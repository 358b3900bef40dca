"""Processes: starting, watching and ending them, their options, signals and priorities.

Begin with ``supervise``, which looks after an engine, and ``options``, which one process hands to
the next.
"""
