"""The state beside a journal: exactly what a replay of everything gives, or not used at all."""

import json
import random
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from loopdeck.capture.journal import JournalReader, read_journal
from loopdeck.session.checkpoint import Follower
from loopdeck.session.opening import OpenedSession, open_session
from loopdeck.session.replay import Replay, replay_records
from loopdeck.session.session import Session
from loopdeck.session.state_codec import StateError, dump_state, load_state
from loopdeck.session.state_file import remove_state, replay_of_state, state_bytes, state_path
from tests.attack import playing
from tests.unit.test_recover import options


def whole(path: Path) -> Replay:
    journal = read_journal(path)
    return replay_records(lambda: Replay(journal.header, OpenedSession), lambda: journal.records)


@pytest.fixture(params=range(6))
def session(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[Path, random.Random]]:
    """A journal of 150 steps whose state was written after a third of its bytes."""
    rng = random.Random(request.param)
    path = tmp_path / "a.journal"
    playing.journal(path, rng, 150)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 3])
    assert Follower(path).write(always=True)
    path.write_bytes(data)
    yield path, rng


def test_state_and_rest_give_what_everything_gives(session: tuple[Path, random.Random]) -> None:
    path, _rng = session
    full = whole(path)
    data = state_bytes(path)
    with JournalReader(path) as reader:
        found = replay_of_state(data, reader)
        assert found is not None
        count = reader.count
        assert 10 < count < len(read_journal(path).records) / 2
        for record in reader:
            found.feed(record)
    assert found.session.looper.digest() == full.session.looper.digest()
    assert found.session.snapshot() == full.session.snapshot()
    assert found.levels.mix() == full.levels.mix()
    assert [keep.events for keep in found.unsaved] == [keep.events for keep in full.unsaved]
    # They go on alike, too: what sounds is the same to the bit.
    heard: list[list[Any]] = []
    for one in (found.session, full.session):
        outs: list[Any] = []
        playing.play(one, random.Random(5), 60, hear=outs.extend)
        heard.append(outs)
    assert heard[0] == heard[1] != []


def test_a_resume_uses_it_and_is_the_same(session: tuple[Path, random.Random], monkeypatch: pytest.MonkeyPatch) -> None:
    path, _ = session
    fed = []
    feed = Replay.feed
    monkeypatch.setattr(Replay, "feed", lambda self, record: (fed.append(record), feed(self, record)))
    quick, writer, said = open_session(options(path), 900.0)
    writer.close()
    quickly = len(fed)
    journal = read_journal(path)
    # Without what the resume itself added.
    slow = replay_records(lambda: Replay(journal.header, OpenedSession), lambda: journal.records)
    assert quick.looper.digest() == slow.session.looper.digest()
    assert quickly < len(journal.records) * 0.8
    assert len(said) == 1


@pytest.mark.parametrize(
    "how", ["flipped", "cut", "empty", "other code", "other journal", "other place", "digest", "bomb"]
)
def test_one_that_is_in_doubt_is_not_used(
    session: tuple[Path, random.Random], how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, rng = session
    digest = whole(path).session.looper.digest()
    file = state_path(path)
    data = file.read_bytes()
    line, _, body = data.partition(b"\n")
    head = json.loads(line)
    if how == "flipped":
        broken = bytearray(data)
        broken[rng.randrange(len(line) + 1, len(data))] ^= 1 << rng.randrange(8)
        file.write_bytes(broken)
    elif how == "cut":
        file.write_bytes(data[: rng.randrange(len(data))])
    elif how == "empty":
        file.write_bytes(b"")
    elif how == "bomb":
        file.write_bytes(line + b"\n" + zlib.compress(bytes(1 << 22)))
    else:
        changes = {"other code": ("code", "0"), "other journal": ("journal", "0"), "digest": ("looper", "0")}
        name, value = changes.get(how, ("position", [head["position"][0] + 1, *head["position"][1:]]))
        file.write_bytes(json.dumps({**head, name: value}).encode() + b"\n" + body)
    with JournalReader(path) as reader:
        assert replay_of_state(state_bytes(path), reader) is None
    back, writer, _ = open_session(options(path), 900.0)
    writer.close()
    again = whole(path)
    assert back.looper.digest() == again.session.looper.digest()
    remove_state(path)
    assert digest and state_bytes(path) == b""


@pytest.mark.parametrize(
    "thing", ["os:system", "loopdeck.engine.engine:Engine", "loopdeck.session.session:deque", "builtins:eval", "x"]
)
def test_a_state_builds_nothing_but_parts_of_a_session(thing: str) -> None:
    for data in (
        {"root": ["k", thing], "objects": []},
        {"root": ["r", 0], "objects": [["i", thing, []]]},
        {"root": ["n", thing, []], "objects": []},
    ):
        with pytest.raises(StateError):
            load_state(data)
    with pytest.raises(StateError):
        load_state({"root": ["r", 0], "objects": [["m", ["r", 1], "__class__"], ["l", []]]})


def test_what_cannot_be_written_down_says_so() -> None:
    one = Session(playing.brief(random.Random(1)), 0.0, keep=lambda keep: None)
    with pytest.raises(StateError, match="cannot be part of a state"):
        dump_state(one)
