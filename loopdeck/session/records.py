"""Whether a record of a journal can be used: what a session wrote itself always can, what a file
holds may be anything.
"""

import math

from loopdeck.capture.journal import CommandRecord, MidiRecord
from loopdeck.looper.commands import LOOPER, CommandError, check_command

#: Between one record and the next lies at most so much: who leaves a session alone for longer has
#: not played it.
MOST_SEC = 7 * 86_400.0
#: The data bytes of the channel messages, by the upper half of their status (MIDI 1.0).
_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}


def is_usable(record: MidiRecord | CommandRecord, now_sec: float) -> bool:
    """True when a session that has got to ``now_sec`` can take the record: its times are near, its
    bytes are a message, its command exists.
    """
    if not _near(record.at_sec, now_sec):
        return False
    if isinstance(record, MidiRecord):
        return _near(record.stamp_sec, record.at_sec) and math.isfinite(record.arrived_sec) and _is_message(record.data)
    try:
        check_command(record.name, record.args, (LOOPER,))
    except CommandError:
        return False
    return True


def _near(sec: float, to_sec: float) -> bool:
    return math.isfinite(sec) and abs(sec - to_sec) <= MOST_SEC


def _is_message(data: bytes) -> bool:
    """One whole MIDI message; the inside of a system message is not checked."""
    if not data or data[0] < 0x80:
        return False
    wanted = _DATA_BYTES.get(data[0] >> 4)
    return wanted is None or (len(data) == wanted + 1 and max(data[1:]) < 0x80)
