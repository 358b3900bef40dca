"""Whole MIDI messages from a raw stream of bytes, cut anywhere.

Conventions (MIDI 1.0 detailed specification, sections "System messages" and "Running status")
    - A channel message may leave out its status byte when it is the same as the one before (running
      status).
    - A real-time byte (F8 to FF) is a message of its own wherever it stands, and changes nothing
      around it. F9 and FD are not defined and are dropped.
    - F0 opens a system exclusive message, F7 closes it. Any other status byte cuts it off: it is
      dropped whole.
    - System messages end running status; F4 and F5 are not defined and only do that.
    - Data bytes that belong to nothing are dropped, as a receiver that was plugged in late must.
    - A system exclusive message longer than ``MAX_SYSEX`` is dropped, so that noise on the line
      cannot fill the memory.
"""

#: Data bytes that follow each channel status (high nibble) and each system common status.
DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2, 0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0}
_UNDEFINED_REAL_TIME = (0xF9, 0xFD)
#: Bytes of one system exclusive message, with its F0 and F7.
MAX_SYSEX = 65_536


def data_bytes(status: int) -> int | None:
    """How many data bytes follow a status byte: None for F0, F7 and what is not defined."""
    if 0x80 <= status < 0xF0:
        return DATA_BYTES[status & 0xF0]
    if status >= 0xF8:
        return None if status in _UNDEFINED_REAL_TIME else 0
    return DATA_BYTES.get(status)


class ByteParser:
    """A stream of bytes, fed in pieces of any size; how it is cut into pieces changes nothing."""

    def __init__(self) -> None:
        self._status: int | None = None
        self._wanted = 0
        self._data = bytearray()
        self._sysex: bytearray | None = None

    def feed(self, chunk: bytes) -> list[bytes]:
        """The messages that became whole, each with its status byte, in order of their last byte.

        Never raises.
        """
        messages: list[bytes] = []
        for byte in chunk:
            if byte >= 0xF8:
                if byte not in _UNDEFINED_REAL_TIME:
                    messages.append(bytes((byte,)))
            elif byte >= 0x80:
                self._begin(byte, messages)
            elif self._sysex is not None:
                # A message that fills this has no room left for its F7, and is dropped when it
                # comes.
                if len(self._sysex) < MAX_SYSEX:
                    self._sysex.append(byte)
            elif self._status is not None:
                self._data.append(byte)
                if len(self._data) == self._wanted:
                    messages.append(bytes((self._status, *self._data)))
                    self._data.clear()
                    if self._status >= 0xF0:
                        self._status = None
        return messages

    def _begin(self, status: int, messages: list[bytes]) -> None:
        sysex, self._sysex = self._sysex, None
        self._status = None
        self._data.clear()
        if status == 0xF0:
            self._sysex = bytearray((status,))
        elif status == 0xF7:
            if sysex is not None and len(sysex) < MAX_SYSEX:
                messages.append(bytes(sysex) + b"\xf7")
        elif (wanted := data_bytes(status)) is not None:
            if wanted:
                self._status, self._wanted = status, wanted
            else:
                messages.append(bytes((status,)))
