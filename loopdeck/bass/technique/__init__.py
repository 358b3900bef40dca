"""How each note was played: plucked, hammered, slid to, bent, held back; a view of the raw notes,
which stay as they are.
"""
