"""From bytes that arrived to the session: stamped, parsed, and told apart into playing, pedals and
a clock that is followed.

Conventions: inputs are numbered from 0 in the order of ``--in``; a pedal board with an input of its
own comes next, then the computer keyboard.
"""

from loopdeck.audio.output import SoundOutput
from loopdeck.capture.bytestream import ByteParser
from loopdeck.capture.stamps import Stamper
from loopdeck.engine.command_door import CommandDoor
from loopdeck.engine.events import MidiArrived
from loopdeck.engine.pedal_board import PedalBoard
from loopdeck.midi.controls import Order
from loopdeck.protocol.messages import KeyPlayed
from loopdeck.session.clock_sync import ClockCommand, ClockIn
from loopdeck.session.session import Session

#: A key's own time is believed if it lies at most that far back.
KEY_TRAVEL_SEC = 0.1


class InputRouting:
    """The inputs of a session.

    ``follow`` is the input whose clock is followed.
    """

    def __init__(
        self,
        session: Session,
        sound: SoundOutput,
        door: CommandDoor,
        board: PedalBoard,
        clock_in: ClockIn | None = None,
        follow: int = -1,
    ) -> None:
        self._session, self._sound, self._door = session, sound, door
        self._board = board
        self._clock_in, self._follow = clock_in, follow
        self._stampers: dict[int, Stamper] = {}
        self._parsers: dict[int, ByteParser] = {}

    def midi(self, event: MidiArrived) -> None:
        """Take in bytes of an input."""
        port, arrived_sec = event.port, event.arrived_sec
        stamp_sec = self._stampers.setdefault(port, Stamper()).stamp(arrived_sec, event.delta_sec)
        for data in self._parsers.setdefault(port, ByteParser()).feed(event.data):
            self._message(port, data, stamp_sec, arrived_sec)

    def key(self, key: KeyPlayed, arrived_sec: float) -> None:
        """A key of the computer keyboard: an input like any other; each string has a channel, as
        with a pickup.
        """
        played_sec = min(self._sound.of_host(key.played_sec), arrived_sec)
        if not arrived_sec - KEY_TRAVEL_SEC <= played_sec:
            played_sec = arrived_sec
        status = (0x90 if key.on else 0x80) | max(key.string - 1, 0) & 0x0F
        self._session.midi(self._door.keys_port, bytes((status, key.pitch, key.velocity)), played_sec, arrived_sec)

    def lead(self, commands: list[ClockCommand], now: float) -> None:
        """What the clock that is followed asks for."""
        for one in commands:
            self._session.command(one.name, dict(one.args), now if one.at_sec is None else max(one.at_sec, now))

    def forget(self, port: int) -> None:
        """The input's device has gone or come anew."""
        self._stampers.pop(port, None)
        self._parsers.pop(port, None)

    def let_go_of_pedals(self) -> None:
        """The pedal board has gone: nothing is held down any more."""
        self._board.let_go()

    def _message(self, port: int, data: bytes, stamp_sec: float, arrived_sec: float) -> None:
        if self._clock_in is not None and port == self._follow:
            self.lead(self._clock_in.feed(stamp_sec, data), arrived_sec)
        taken, orders = False, list[Order]()
        if port != self._door.keys_port:
            taken, orders = self._board.message(port, stamp_sec, data)
        if taken:
            self._session.control(port, data, stamp_sec, arrived_sec)
        else:
            self._session.midi(port, data, stamp_sec, arrived_sec)
        for order in orders:
            self._door.apply(order)
