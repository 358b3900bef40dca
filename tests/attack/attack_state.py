"""Damaged state files: a resume from any of them gives what a replay of the whole journal gives."""

import random
from pathlib import Path

from loopdeck.capture.journal import read_journal
from loopdeck.session.checkpoint import Follower
from loopdeck.session.opening import OpenedSession, open_session
from loopdeck.session.replay import Replay, replay_records
from loopdeck.session.state_file import state_path
from tests.attack.attack import Attack
from tests.attack.attack_journal import damage, resume_options
from tests.attack.playing import journal


def damaged(rng: random.Random, folder: Path) -> None:
    """A session is followed here and there; its state may be damaged, or left from an earlier
    place; then it is taken up again.
    """
    path = folder / "a.journal"
    journal(path, rng, rng.randint(20, 150))
    data = path.read_bytes()
    path.write_bytes(data[: max(len(data) // 4, 900)])
    follower = Follower(path)
    for cut in sorted(rng.randrange(max(len(data) // 4, 900), len(data) + 1) for _ in range(rng.randint(1, 3))):
        path.write_bytes(data[:cut])
        follower.write(always=True)
    path.write_bytes(data)
    if rng.random() < 0.6:
        state_path(path).write_bytes(damage(state_path(path).read_bytes(), rng))
    session, writer, said = open_session(resume_options(path, folder / "shelf.sqlite", rng), 500.0)
    unsaved = session.take_unsaved()
    writer.close()
    assert len(said) == 1
    found = read_journal(path)
    whole = replay_records(lambda: Replay(found.header, OpenedSession), lambda: found.records)
    assert session.looper.digest() == whole.session.looper.digest()
    assert session.snapshot() == whole.session.snapshot()
    assert [keep.events for keep in unsaved] == [keep.events for keep in whole.unsaved]


ATTACKS = (
    Attack(
        "journal: damaged state", "a resume from any state file gives what the whole journal gives", damaged, 15, 1000
    ),
)
