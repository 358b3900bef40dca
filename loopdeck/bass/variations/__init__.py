"""Ways to change a riff: up, down, into another scale or tuning, thinner, thicker, another last
bar, another voice beside it.

Conventions
    A ``Line`` goes in, a ``Varied`` comes out, and the line that went in stays as it was. Positions
    are quarters from the start of the first pass, as played. Ways are written as words with what
    they need behind them (``words.vary``): ``transpose +5``.
"""
