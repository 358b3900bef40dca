"""The built-in sound: events in, samples out, without a device.

Begin with ``mixer``; it adds up the voices of ``string``, ``drums`` and ``click``.
"""
