"""A player who taps: hears the monitor of a PulseAudio sink, and sends a note a known time after
each click that is heard there.

    python -m tests.live.tapper --to PART --delay SECONDS --log FILE

``parec`` gives the sound; a click is sound after at least 20 ms of silence. The log gets a line for
each: seconds between hearing it and the moment straight before sending. Nothing of loopdeck is
imported here.
"""

import subprocess
import time

import numpy as np

from tests.live.connecting import client, connect
from tests.live.echo import arguments

RATE, PIECE = 48_000, 96
SILENCE = 960


def main() -> None:
    args = arguments()
    out = client("MidiOut", "tapper")
    connect(out, args.to, "out")
    ear = subprocess.Popen(
        ["parec", "-d", "null.monitor", "--format=float32le", f"--rate={RATE}", "--channels=1", "--latency-msec=5"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    assert ear.stdout is not None
    quiet = 0
    with args.log.open("w", buffering=1) as log:
        while piece := ear.stdout.read(4 * PIECE):
            heard = time.perf_counter()
            loud = np.flatnonzero(np.frombuffer(piece, np.float32))
            struck = len(loud) and quiet + int(loud[0]) >= SILENCE
            quiet = PIECE - 1 - int(loud[-1]) if len(loud) else quiet + PIECE
            if struck:
                time.sleep(max(heard + args.delay - time.perf_counter(), 0.0))
                log.write(f"{time.perf_counter() - heard:.6f}\n")
                out.send_message([0x90, 40, 100])
                out.send_message([0x80, 40, 64])
    ear.terminate()


if __name__ == "__main__":
    main()
