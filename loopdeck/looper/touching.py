"""Notes of layers that go on without a new pluck, and dead ones, as messages.

Conventions
    MIDI 1.0 has a controller for the first: CC84, portamento control, names the key from which the
    next note of the channel comes, without a new attack. For the second, CC75 (decay time) at 0,
    and back at its middle, 64, before the next note that rings. Which controllers mean what: MIDI
    1.0 (from memory). A receiver that knows neither plays plain notes.
"""

from loopdeck.looper.channel_values import ChannelValues
from loopdeck.looper.layers import Layer
from loopdeck.looper.voices import Voices

_CONTROL = 0xB0
PORTAMENTO_CONTROL, DECAY = 84, 75
NO_DECAY, USUAL_DECAY = 0, 64


class Touching:
    """Which strings are held for a note to come, and which channels play dead notes."""

    def __init__(self) -> None:
        #: By layer and note: the pitch and token of a note that another one goes on from.
        self._held: dict[tuple[int, int], tuple[int, int]] = {}
        self._dead = ChannelValues()

    def hold(self, layer: Layer, row: int, identity: int, pitch: int, token: int) -> None:
        """A note sounds that another one goes on from."""
        self._held[identity, layer.ids[row]] = (pitch, token)

    def before(
        self, layer: Layer, row: int, identity: int, voices: Voices, channel: int, home: int
    ) -> tuple[list[bytes], tuple[int, int, int] | None]:
        """What to send before a note-on, and the note (channel, pitch, token) that it takes the
        string of and that ends with it, if it does. ``channel``: that of its string, and ``home``:
        whose part of the mixer that is.
        """
        found: list[bytes] = []
        touch = layer.touch
        dead = bool(touch.dead[row])
        if not self._dead.known(channel, home, dead):
            self._dead.tell(channel, home, dead)
            found.append(bytes((_CONTROL | channel, DECAY, NO_DECAY if dead else USUAL_DECAY)))
        source = int(touch.source[row])
        held = self._held.pop((identity, layer.ids[source]), None) if source >= 0 else None
        if held is None or not voices.owns(channel, *held) or held[0] == int(layer.notes["pitch"][row]):
            return found, None
        found.append(bytes((_CONTROL | channel, PORTAMENTO_CONTROL, held[0])))
        return found, (channel, *held)

    def end(self) -> list[tuple[bytes, int]]:
        """Nothing is to come any more: what to send, and for which home, so that no channel stays
        without decay.
        """
        self._held.clear()
        found = [(bytes((_CONTROL | channel, DECAY, USUAL_DECAY)), home) for channel, home in self._dead.not_zero()]
        self._dead = ChannelValues()
        return found

    def parts(self) -> tuple[object, ...]:
        """For the digest."""
        return (sorted(self._held.items()), self._dead.parts())
