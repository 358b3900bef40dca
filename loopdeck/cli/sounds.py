"""What the commands that sound have in common: which device, in which buffers, and how far from the
ear.
"""

import argparse
from contextlib import contextmanager
from typing import TYPE_CHECKING

from loopdeck.errors import UserError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loopdeck.process.options import SoundOptions


def add_device_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the sound device in a session, where latency matters."""
    add_buffer(parser, 256)
    add_sound_device(parser)
    words = "how long sound takes from loopdeck to your ear, if you know it better than the sound system"
    parser.add_argument("--sound-delay", metavar="MS", type=float, help=words)


def add_buffer(parser: argparse.ArgumentParser, default: int) -> None:
    """Add ``--buffer``."""
    words = f"frames in a sound buffer, at 48 kHz (default: {default})"
    parser.add_argument("--buffer", type=int, choices=(128, 256, 512, 1024), default=default, help=words)


def add_sound_device(parser: argparse.ArgumentParser) -> None:
    """Add ``--sound-device``."""
    words = "sound device by a part of its name"
    parser.add_argument("--sound-device", metavar="NAME", default="", help=words)


def add_listening_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of commands that play something to the player: where it sounds."""
    words = "to this MIDI output instead of the built-in sound; virtual opens one"
    parser.add_argument("--out", metavar="PORT", help=words)
    add_buffer(parser, 512)
    add_sound_device(parser)


@contextmanager
def without_sound_says_how() -> "Iterator[None]":
    """Where nothing can be heard for want of a sound device, say what would be right."""
    from loopdeck.audio.sound_device import SoundDeviceError

    try:
        yield
    except SoundDeviceError as error:
        raise UserError(f"{str(error).rstrip('.')}; --out PORT plays on a MIDI output instead.") from error


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
