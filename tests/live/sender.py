"""An independent sender: opens a MIDI output of its own and plays a file of messages at known
times.

    python -m tests.live.sender --name NAME --to PART --script FILE --log FILE [--hold]

The script is JSON: ``{"base": perf_counter seconds, "steps": [[seconds after base, "hex bytes"],
...]}``; without ``--to`` nothing is connected (others connect to us). It is read again whenever it
changes, so that one sender can play several scripts; ``{"quit": true}`` ends it. The log gets one
line a message: ``perf_counter seconds, hex bytes``, the moment read straight before sending.
Nothing of loopdeck is imported here.
"""

import argparse
import json
import time
from pathlib import Path

import rtmidi

from tests.live.connecting import client, connect


def opened(name: str, part: str | None) -> rtmidi.MidiOut:
    out = client("MidiOut", name)
    if part is None:
        out.open_virtual_port("out")
    else:
        connect(out, part, "out")
    return out


def wait_until(moment: float) -> None:
    while (left := moment - time.perf_counter()) > 0:
        time.sleep(left - 0.0015 if left > 0.002 else 0)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--name", required=True)
    parser.add_argument("--to")
    parser.add_argument("--script", required=True, type=Path)
    parser.add_argument("--log", required=True, type=Path)
    args = parser.parse_args()
    out = opened(args.name, args.to)
    args.log.write_text("")
    seen = None
    print("ready", flush=True)
    while True:
        try:
            text = args.script.read_text()
        except FileNotFoundError:
            text = None
        if text is None or text == seen:
            time.sleep(0.01)
            continue
        seen = text
        script = json.loads(text)
        if script.get("quit"):
            break
        with args.log.open("a") as log:
            for after, data in script["steps"]:
                wait_until(script["base"] + after)
                log.write(f"{time.perf_counter():.9f} {data}\n")
                out.send_message(bytes.fromhex(data))
            log.write("done\n")
    out.close_port()


if __name__ == "__main__":
    main()
