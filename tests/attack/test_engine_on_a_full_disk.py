"""A real engine on a disk that is full when it ends: it says so and exits with 3, and nothing is
lost.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from loopdeck.brief.brief import Brief
from loopdeck.capture.journal import MidiRecord, UnfinishedJournal
from loopdeck.process.options import NOT_SAVED, Options
from loopdeck.protocol.address import LinkError
from loopdeck.protocol.client import LinkClient
from loopdeck.protocol.messages import Command, KeyPlayed
from tests.attack.attack_disk import fill, needs, small_disk


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    if needs():
        if os.environ.get("CI"):
            pytest.fail(f"{needs()}; in CI this must not skip")
        pytest.skip(needs())
    with small_disk(tmp_path / "disk", 256) as folder:
        yield folder


def joined(address: str) -> LinkClient:
    until = time.monotonic() + 90
    while True:
        try:
            return LinkClient(address, role="front", wait_sec=0.5)
        except LinkError:
            assert time.monotonic() < until


def test_it_says_so_and_exits_with_3(disk: Path, tmp_path: Path) -> None:
    path = disk / f"{tmp_path.name}.journal"
    with tempfile.TemporaryDirectory(prefix="ld-") as folder:
        options = Options(
            address=f"unix:{folder}/link", journal=str(path), shelf=str(tmp_path / "shelf.sqlite"), headless=True,
            brief=Brief.default().to_dict(),
        )  # fmt: skip
        engine = subprocess.Popen(
            [sys.executable, "-m", "loopdeck.engine"], env=options.environment(), stderr=subprocess.PIPE, text=True
        )
        try:
            link = joined(options.address)
            link.send(Command(name="start"))
            filler = fill(disk)
            for number in range(400):
                sec = time.perf_counter()
                link.send(KeyPlayed(pitch=40, on=number % 2 == 0, velocity=90, played_sec=sec))
                time.sleep(0.002)
            time.sleep(0.3)
            link.send(Command(name="quit"))
            _, words = engine.communicate(timeout=360)
        finally:
            engine.kill()
            engine.wait()
    assert engine.returncode == NOT_SAVED, words
    assert "The disk has no room: the last" in words and "Traceback" not in words
    filler.unlink()
    with UnfinishedJournal(path) as unfinished:
        records = list(unfinished.reader)
        assert unfinished.reader.complete
    assert sum(isinstance(record, MidiRecord) for record in records) == 400
    assert not Path(tempfile.gettempdir(), f"{path.name}.rest-").exists()
