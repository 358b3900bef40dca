"""Practising and writing: targets to play against, what was reached, and briefs drawn from a mood.

Begin with ``target`` and ``practising``; ``draw`` draws a brief.
"""
