"""What the commands that sound have in common: which device, in which buffers, and how far from the
ear.
"""

import argparse
from typing import Any


def add_device_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the sound device."""
    add = parser.add_argument
    add("--buffer", type=int, choices=(128, 256, 512, 1024), default=256, help="frames a sound buffer, at 48 kHz")
    add("--sound-device", metavar="NAME", default="", help="sound device by a part of its name")
    add("--sound-delay", metavar="MS", type=float, help="from loopdeck to your ear, where it is known better")


def device_options(args: argparse.Namespace) -> dict[str, Any]:
    """The same as fields of ``live.options.Options``.

    Raises UserError for a delay that cannot be.
    """
    from loopdeck.audio.routes import check_delay

    if args.sound_delay is not None:
        check_delay(args.sound_delay)
    return {
        "buffer": args.buffer,
        "sound_device": args.sound_device,
        "sound_delay_ms": -1.0 if args.sound_delay is None else args.sound_delay,
    }
