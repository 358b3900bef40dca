"""What was chosen in the window before, where the command line says nothing else and the device is
there.
"""

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, field

from loopdeck.errors import UserError
from loopdeck.settings import PlayerSettings, load_settings


@dataclass
class Remembered:
    """The settings, and sentences on what of them cannot be used."""

    settings: PlayerSettings = field(default_factory=PlayerSettings)
    sentences: list[str] = field(default_factory=list)

    def words_of(self, args: argparse.Namespace) -> None:
        """The control map and the sound device, as if they had been named in ``args``."""
        found = self.settings
        if not args.controls and not args.controls_in and found.controls and self._is_map(found.controls):
            args.controls = found.controls
        args.sound_device = args.sound_device or found.sound_device

    def _is_map(self, name: str) -> bool:
        from loopdeck.midi.control_files import load_controls

        try:
            load_controls(name)
        except UserError as error:
            self.sentences.append(f"{str(error).rstrip('.')}; no pedals are listened for.")
        except OSError as error:
            self.sentences.append(
                f"The control map {name!r} cannot be read ({error.strerror}); no pedals are listened for."
            )
        else:
            return True
        return False

    def ports(self, ins: list[str], outs: list[str], names: tuple[Sequence[str], Sequence[str]], virtual: bool) -> None:
        """Fill in the inputs and outputs where none was named."""
        kinds = (("input", ins, self.settings.midi_in), ("output", outs, self.settings.midi_out))
        for (kind, wanted, chosen), there in zip(kinds, names, strict=True):
            if not wanted:
                wanted += [name for name in chosen if self._there(kind, name, there, virtual)]

    def pedals_in(self, args: argparse.Namespace, there: Sequence[str], virtual: bool) -> None:
        """The pedal board's own input, where there is a map and none was named."""
        name = self.settings.pedals_in
        if args.controls and not args.controls_in and name and self._there("input for pedals", name, there, virtual):
            args.controls_in = name

    def _there(self, kind: str, name: str, there: Sequence[str], virtual: bool) -> bool:
        from loopdeck.midi.systems import pick

        found = virtual if name == "virtual" else pick(name, there) is not None
        if not found:
            self.sentences.append(f"The MIDI {kind} {name!r} that you chose is not there now.")
        return found


def recall() -> Remembered:
    """Read the settings; damaged ones are a sentence and count as none."""
    settings, problem = load_settings()
    return Remembered(settings, [problem] if problem else [])
