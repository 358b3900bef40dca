"""Written music: what was played, written down once, and the ways to print it.

Begin with ``form``, the written form, and ``making``, which makes it of playing; ``tab_text``,
``musicxml`` and ``lily`` print it. ``tab_read`` and ``musicxml_read`` take written music back in.
"""
