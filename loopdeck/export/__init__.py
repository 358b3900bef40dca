"""Takes as files for other programs: Standard MIDI Files and WAV.

Begin with ``piece``, what every exporter is given; ``smf`` and ``render`` write it.
"""
