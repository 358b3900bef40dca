"""What was played, understood: rhythm, feel, scale, riffs, and how near a take is to a target.

Functions of notes and constraints that return figures; the ``..._words`` modules say them in
sentences. Begin with ``timing`` (rhythm and bars), ``feel``, ``scale_finder`` and ``repeats``;
``live_passes`` puts them together after each pass of a session.
"""
