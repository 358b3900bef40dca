"""An echo: hears one MIDI port, and sends every message to another a known time later. A rig whose
latency is known.

    python -m tests.live.echo --from PART --to PART --delay SECONDS --log FILE

The time is counted from the driver's own stamp of the message, as in ``receiver``. The log gets one
line for each: seconds between that and the moment straight before sending. Nothing of loopdeck is
imported here.
"""

import argparse
import contextlib
import os
import time
from collections import deque
from pathlib import Path

from tests.live.connecting import client, connect


def arguments(*more: str) -> argparse.Namespace:
    """``--to``, ``--delay``, ``--log`` and whatever more is needed; and a process that is not kept
    waiting, or its delay would not be known.
    """
    parser = argparse.ArgumentParser()
    for name in ("--to", *more):
        parser.add_argument(name, dest="source" if name == "--from" else None, required=True)
    parser.add_argument("--delay", type=float, required=True)
    parser.add_argument("--log", required=True, type=Path)
    with contextlib.suppress(OSError):
        os.nice(-10)
    return parser.parse_args()


def main() -> None:
    args = arguments("--from")
    into = client("MidiIn", "echo", queue_size_limit=8192)
    out = client("MidiOut", "echo")
    connect(out, args.to, "out")
    connect(into, args.source, "in")
    driver, distance = 0.0, float("inf")
    waiting: deque[tuple[float, bytes]] = deque()
    with args.log.open("w", buffering=1) as log:
        while True:
            while (event := into.get_message()) is not None:
                driver += event[1]
                distance = min(distance, time.perf_counter() - driver)
                waiting.append((driver + distance, bytes(event[0])))
            if waiting and time.perf_counter() >= waiting[0][0] + args.delay:
                heard, data = waiting.popleft()
                log.write(f"{time.perf_counter() - heard:.6f}\n")
                out.send_message(data)
            soon = bool(waiting) and waiting[0][0] + args.delay - time.perf_counter() < 0.0015
            time.sleep(0 if soon else 0.0003)


if __name__ == "__main__":
    main()
