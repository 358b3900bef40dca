"""What it costs to take a session up again: ``python -m tests.bench resume [--minutes 60]
[--json]``.

A dense session is written: sixteenths at 120 with a bend each on two inputs, four layers sounding,
a keep now and then. Then it is opened as a resumed engine opens it, from the whole journal, and
from the state beside it, which was written ``--behind`` seconds of playing before the end.
"""

import argparse
import json
import random
import sys
import tempfile
import time
from pathlib import Path

from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import JournalWriter
from loopdeck.looper.keep import Keep
from loopdeck.process.options import Options
from loopdeck.session.checkpoint import EVERY_SEC, Follower
from loopdeck.session.keep_identity import keep_identity
from loopdeck.session.opening import open_session
from loopdeck.session.session import Session, header
from loopdeck.session.state_file import state_path


def play_densely(session: Session, from_sec: float, minutes: float, rng: random.Random) -> None:
    """Sixteenths at 120 on two inputs, each with a bend; layers in the first passes; a keep every
    minute.
    """
    session.command("start", {}, from_sec)
    step_sec, steps = 0.125, round(minutes * 480)
    for step in range(steps):
        now = from_sec + (step + 0.5) * step_sec
        for port in (0, 1):
            pitch = rng.randint(28, 55)
            session.midi(port, bytes((0x90, pitch, 90)), now, now)
            session.midi(port, bytes((0xE0, 0, rng.randint(50, 80))), now + 0.03, now + 0.03)
            session.midi(port, bytes((0x80, pitch, 0)), now + 0.1, now + 0.1)
        if step in (20, 60, 100, 140):
            session.command("loop-that", {}, now + 0.11)
        if step % 480 == 479:
            session.command("keep", {"passes": 4}, now + 0.11)
        session.take_outs()
        session.take_messages()


def timed_open(path: Path, brief: Brief) -> tuple[float, float]:
    """Seconds to open a session that broke off, and of the processor; the journal is put back as it
    was.
    """
    data = path.read_bytes()
    options = Options(
        address="unix:/nowhere", journal=str(path), shelf=str(path.with_name("s")), brief=brief.to_dict(), resume=True
    )
    begun, worked = time.perf_counter(), time.process_time()
    _, writer, said = open_session(options, 1e6)
    took = time.perf_counter() - begun, time.process_time() - worked
    writer.close()
    path.write_bytes(data)
    assert "is back" in said[0]
    return took


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument(
        "--behind", type=float, default=EVERY_SEC, help="seconds of playing after the state was written"
    )
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    brief = Brief.default().replace(tempo="120", cycle="4/4", count_in="0")
    rng = random.Random(1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.journal"
        writer = JournalWriter(path, header(brief, 100.0))

        def kept(keep: Keep) -> None:
            # As an engine does when the shelf has it.
            row = {"number": 1, "name": keep.name, "when": "", "passes": keep.passes, "rating": 0}
            writer.mark("kept", {**row, "identity": keep_identity(keep)})

        session = Session(brief, 100.0, journal=writer, keep=kept)
        play_densely(session, 100.0, args.minutes - args.behind / 60.0, rng)
        writer.flush()
        begun = time.perf_counter()
        follower = Follower(path)
        follower.write(always=True)
        followed_sec = time.perf_counter() - begun
        session.command("stop", {}, session.looper.now_sec)
        play_densely(session, session.looper.now_sec, args.behind / 60.0, rng)
        writer.close()
        state = state_path(path).read_bytes()
        quick = min(timed_open(path, brief) for _ in range(3))
        state_path(path).unlink()
        whole = timed_open(path, brief)
        figures = {
            "minutes": args.minutes,
            "behind_sec": args.behind,
            "journal_bytes": path.stat().st_size,
            "state_bytes": len(state),
            "follow_sec": round(followed_sec, 3),
            "resume_from_state_sec": round(quick[0], 3),
            "resume_from_state_cpu_sec": round(quick[1], 3),
            "resume_from_journal_sec": round(whole[0], 3),
            "resume_from_journal_cpu_sec": round(whole[1], 3),
        }
    if args.json:
        print(json.dumps(figures))
    else:
        print("\n".join(f"{name}: {value}" for name, value in figures.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
