"""What repeats in a take: from notes to riffs.

``text`` lays the notes out in a row, ``seeds`` finds small figures that come back, ``segments``
joins them to stretches, ``occurrences`` finds every return of a stretch, ``grammar`` chooses the
stretches worth a name, and ``riffs`` says what each of them is.
"""
