"""An independent receiver: connects to every MIDI output with a given part in its name, again
whenever it comes back, and logs what comes.

    python -m tests.live.receiver --name NAME --from PART --log FILE

One line a message: ``perf_counter seconds, hex bytes``; ``connected`` and ``lost`` stand between.
Nothing of loopdeck is imported here.

RtMidi's queue is polled, since a Python callback would hold up JACK's cycle and lose messages. The
times are those of the driver (its deltas, summed up), laid as late as the earliest arrival allows.
One client is kept for all the ports that come and go: a new one may be made to wait for seconds.
"""

import argparse
import time
from pathlib import Path

import rtmidi

from tests.live.connecting import client, connect


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--name", required=True)
    parser.add_argument("--from", dest="source", required=True)
    parser.add_argument("--log", required=True, type=Path)
    args = parser.parse_args()
    log = args.log.open("w", buffering=1)

    print("ready", flush=True)
    watch = client("MidiIn", f"{args.name} watch")
    source = client("MidiIn", args.name, queue_size_limit=8192)
    source.ignore_types(False, False, False)
    port, look = None, 0.0
    driver, distance = 0.0, float("inf")
    while True:
        while (event := source.get_message()) is not None:
            driver += event[1]
            distance = min(distance, time.perf_counter() - driver)
            log.write(f"{driver + distance:.9f} {bytes(event[0]).hex()}\n")
        time.sleep(0.0005)
        if time.perf_counter() < look:
            continue
        look = time.perf_counter() + 0.05
        try:
            ports = watch.get_ports()
        except rtmidi.InvalidPortError:
            # A port went while the list was being made.
            continue
        found = next((name for name in ports if args.source in name), None)
        if port is not None and found != port:
            log.write("lost\n")
            source.close_port()
            # What is left of it in the queue comes before the next connection.
            port, look = None, 0.0
            continue
        if port is None and found is not None:
            # Where it has gone again by now, another one comes: the log says so either way.
            port = connect(source, args.source, "in")
            log.write("connected\n")


if __name__ == "__main__":
    main()
