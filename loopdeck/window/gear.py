"""The gear as the engine tells of it: the devices that are connected, and how loud each part is.
Pure.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from loopdeck.protocol.messages import DeviceRow, DevicesChanged, LayerRow, MixerChanged
from loopdeck.window.levels import Level, SoundLevels


@dataclass
class Gear:
    """MIDI ports and pedals, and the levels of the built-in sound."""

    devices: tuple[DeviceRow, ...] = ()
    levels: SoundLevels = field(default_factory=SoundLevels)

    def receive(self, message: DevicesChanged | MixerChanged) -> None:
        """Take in what the engine tells."""
        if isinstance(message, DevicesChanged):
            self.devices = message.devices
        else:
            self.levels = SoundLevels.of(message)

    def has_input(self) -> bool:
        """True when an instrument is connected."""
        return any(one.role == "in" and one.state == "connected" for one in self.devices)

    def sound_lines(self, layers: Iterable[LayerRow]) -> list[Level]:
        """The lines of the sound page; empty where nothing sounds built in."""
        return self.levels.lines((row.number, row.muted) for row in layers)
