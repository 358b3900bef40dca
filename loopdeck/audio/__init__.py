"""The sound device and its clock: every sample is handed over at its moment.

Begin with ``sounding``, the built-in sound of a running engine, and ``timebase``, which keeps the
device's clock and the computer's together. How samples are made is the business of the room below,
synth.
"""
