"""The loop as a pure state machine: timestamped events and commands go in, events to be sent and
news come out.

Begin with ``commands``, the table of what each command does in each state; ``core`` has the parts
side by side (transport, recorder of passes, layers with their undo, playback), and ``machine``
drives them.
"""
