"""From MIDI bytes to notes, and the journal that holds every event of a session.

Begin with ``notes``, the one structure in which notes travel, and ``pairing``, which makes notes of
events. ``journal`` describes the file of a session.
"""
