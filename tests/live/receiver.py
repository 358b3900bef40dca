"""An independent receiver: connects to every MIDI output with a given part in its name, again whenever it comes back, and logs what comes.

    python -m tests.live.receiver --name NAME --from PART --log FILE

One line a message: ``perf_counter seconds, hex bytes``; ``connected`` and ``lost`` stand between. Nothing of loopdeck is imported here.
"""

import argparse
import contextlib
import time
from pathlib import Path
from typing import Any

import rtmidi


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--name", required=True)
    parser.add_argument("--from", dest="source", required=True)
    parser.add_argument("--log", required=True, type=Path)
    args = parser.parse_args()
    log = args.log.open("w", buffering=1)

    def heard(event: tuple[list[int], float], _: Any) -> None:
        log.write(f"{time.perf_counter():.9f} {bytes(event[0]).hex()}\n")

    print("ready", flush=True)
    watch = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=f"{args.name} watch")
    source, port = None, None
    while True:
        ports = watch.get_ports()
        found = next((name for name in ports if args.source in name), None)
        if source is not None and found != port:
            log.write("lost\n")
            source.close_port()
            source.delete()
            source, port = None, None
        if source is None and found is not None:
            source = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=args.name)
            source.ignore_types(False, False, False)
            source.set_callback(heard)
            with contextlib.suppress(Exception):
                source.open_port(source.get_ports().index(found), "in")
                port = found
                log.write("connected\n")
        time.sleep(0.05)


if __name__ == "__main__":
    main()
