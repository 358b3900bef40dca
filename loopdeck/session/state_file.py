"""The state file beside a journal: where its session stood after so many records, so that taking it
up again need not begin at the start.

Task
    ``NAME.journal.state`` says: behind this record of that journal the state was this. A resume
    loads it and plays only what comes after. It is an aid and nothing more: when anything about it
    is in doubt (another journal, another version of the code, a bit that flipped, a state whose
    digest is another) it is not used, and the whole journal is played.

Format
    One line of JSON, then the state (``state_codec``) as JSON compressed with zlib (RFC 1950). The
    line has ``version``, ``code`` (a digest of the program), ``journal`` (the session's identity),
    ``position`` (``JournalPosition``), ``looper`` (the looper's digest), ``sha256`` of what
    follows. It is written to a file of its own first and then renamed, so it is whole or as it was
    before.
"""

import hashlib
import json
import os
import zlib
from contextlib import suppress
from functools import cache
from pathlib import Path

import loopdeck
from loopdeck.capture.journal import JournalPosition, JournalReader
from loopdeck.session.replay import Replay
from loopdeck.session.state_codec import ROOMS, StateError, dump_state, load_state

VERSION = 1
#: More bytes than this are not believed.
MAX_BYTES = 1 << 28


def state_path(journal: Path) -> Path:
    """Where the state of a journal's session lies."""
    return Path(f"{journal}.state")


@cache
def code_digest() -> str:
    """A digest of everything of ours that a state is made of: with other code the same journal may
    give another state.
    """
    found = hashlib.sha256(loopdeck.__version__.encode())
    root = Path(loopdeck.__file__).parent
    for room in ROOMS:
        for path in sorted((root / room).rglob("*.py")):
            found.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return found.hexdigest()


def write_state(journal: Path, reader: JournalReader, replay: Replay) -> None:
    """Write down where a replay stands that has been fed everything ``reader`` has read.

    Raises StateError, OSError.
    """
    body = zlib.compress(json.dumps(dump_state(replay), separators=(",", ":")).encode(), 1)
    head = {
        "version": VERSION,
        "code": code_digest(),
        "journal": reader.identity,
        "position": list(reader.position),
        "looper": replay.session.looper.digest(),
        "sha256": hashlib.sha256(body).hexdigest(),
    }
    target = state_path(journal)
    new = target.with_name(f"{target.name}.new")
    try:
        with open(new, "wb") as file:
            file.write(json.dumps(head).encode() + b"\n" + body)
            file.flush()
            os.fsync(file.fileno())
        new.replace(target)
    except OSError:
        with suppress(OSError):
            new.unlink()
        raise


def state_bytes(journal: Path) -> bytes:
    """What lies beside a journal; b"" when nothing does."""
    try:
        with open(state_path(journal), "rb") as file:
            return file.read(MAX_BYTES)
    except OSError:
        return b""


def replay_of_state(data: bytes, reader: JournalReader) -> Replay | None:
    """The replay that was written down, with ``reader`` moved behind its records; None when it
    cannot be trusted.
    """
    try:
        line, _, body = data.partition(b"\n")
        head = json.loads(line)
        if head["version"] != VERSION or head["code"] != code_digest() or head["journal"] != reader.identity:
            return None
        if hashlib.sha256(body).hexdigest() != head["sha256"]:
            return None
        unpacked = zlib.decompressobj()
        text = unpacked.decompress(body, MAX_BYTES)
        found = load_state(json.loads(text)) if unpacked.eof else None
        if not isinstance(found, Replay) or found.session.looper.digest() != head["looper"]:
            return None
        offset, record, chain, records = map(int, head["position"])
        reader.go_to(JournalPosition(offset, record, chain, records))
    except Exception:
        # A file may hold anything, and the journal has it all.
        return None
    return found


def remove_state(journal: Path) -> None:
    """The session is done with: its state is of no more use."""
    with suppress(OSError):
        state_path(journal).unlink()


__all__ = ["StateError", "code_digest", "remove_state", "replay_of_state", "state_bytes", "state_path", "write_state"]
