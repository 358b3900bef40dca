"""Rhythm transcription: what was played, as one would write it down, when tempo and meter are known
and the grid is not.

The model
    A hidden Markov model over the divisions of beats. Each beat has a grid (``grids``) that the one
    before makes likely; inside a beat the notes go through the grid's slots from left to right,
    with a probability for each slot after each other one, and are played early or late by a drift
    that neighbours share and by a motor noise of their own (``assign``). Where a beat's notes begin
    is searched, too, so early downbeats are found (``beats``); what the piece has done before is
    likelier to come again (``chain``); ornaments are left out first where that is likelier
    (``embellishments``, ``embellishing``); how freely it is played and whether it swings are found
    first (``model``, ``swing``). Written durations come from a model of their own (``durations``).
    The best way through all beats is found by dynamic programming. The probabilities were counted
    on written music and on synthetic players of it; ``tests/fitting/rhythm`` and ``fit_rhythm.py``
    beside it are the scripts.

Where it is published
    Metrical hidden Markov models for rhythm transcription: Nakamura, Yoshii & Sagayama, "Rhythm
    transcription of polyphonic piano music based on merged-output HMM for multiple voices",
    IEEE/ACM Transactions on Audio, Speech, and Language Processing 25(4), 2017 (arXiv 1701.08343),
    which also describes the loose synchrony of voices. Priors on the complexity of a beat's
    notation and expected deviations of short groups of onsets: Cemgil, Desain & Kappen, "Rhythm
    quantization for transcription", Computer Music Journal 24(2), 2000. The piece's own memory:
    Nakamura & Yoshii, arXiv 1908.06969. Note values: see ``durations``.
"""
