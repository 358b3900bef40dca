"""``loopdeck ports``: the MIDI inputs and outputs of this machine."""

import argparse
import json

from loopdeck.cli.take_arguments import add_json

HELP = "the MIDI inputs and outputs of this machine"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("--api", default="auto", choices=("auto", "alsa", "jack"), help="which MIDI system to ask")
    add_json(parser)


def run(args: argparse.Namespace) -> int:
    """Print the ports."""
    from loopdeck.midi.systems import find_system, list_ports, what_is_missing

    system = find_system(args.api)
    inputs, outputs = list_ports(system) if system is not None else ([], [])
    if args.json:
        name = system.name if system is not None else None
        virtual = system is not None and system.virtual
        print(json.dumps({"system": name, "virtual": virtual, "inputs": inputs, "outputs": outputs}))
        return 0
    if system is None:
        print(f"{what_is_missing(args.api)}; jam plays from the computer keyboard.")
        return 0
    for title, names in (("inputs", inputs), ("outputs", outputs)):
        print(f"{system.name} {title}:")
        for name in names:
            print(f"  {name}")
        if not names:
            print("  none")
    if system.virtual:
        print(
            "'virtual' as a name opens a port of our own for other programs: loopdeck in, loopdeck out, "
            "loopdeck controls."
        )
    return 0
