"""What the commands that sound have in common: which device, in which buffers, and how far from the
ear.
"""

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopdeck.process.options import SoundOptions


def add_device_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the sound device."""
    add = parser.add_argument
    add("--buffer", type=int, choices=(128, 256, 512, 1024), default=256, help="frames a sound buffer, at 48 kHz")
    add("--sound-device", metavar="NAME", default="", help="sound device by a part of its name")
    add("--sound-delay", metavar="MS", type=float, help="from loopdeck to your ear, where it is known better")


def sound_options(args: argparse.Namespace, way: str, **more: str) -> "SoundOptions":
    """The same as options of an engine; ``more``: its other fields.

    Raises UserError for a delay that cannot be.
    """
    from loopdeck.audio.routes import check_delay
    from loopdeck.process.options import SoundOptions

    if args.sound_delay is not None:
        check_delay(args.sound_delay)
    delay_ms = -1.0 if args.sound_delay is None else args.sound_delay
    return SoundOptions(way=way, buffer=args.buffer, device=args.sound_device, delay_ms=delay_ms, **more)
