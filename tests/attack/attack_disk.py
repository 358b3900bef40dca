"""Full disks: a small one is filled while a session is played. What is said is true, and nothing is
lost but what is said to be.
"""

import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path

from loopdeck.capture import disk_room
from loopdeck.capture.journal import MidiRecord, read_journal
from loopdeck.engine import journal_thread
from loopdeck.session.recover import recover
from loopdeck.shelf.store import Shelf
from tests.attack.attack import Attack
from tests.attack.playing import START_SEC, brief, play
from tests.attack.rig import Rig
from tests.waiting import until


def needs() -> str:
    """Why there can be no small disk here."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        return "to mount a small disk one must be root on Linux"
    return "" if shutil.which("mount") else "there is no mount program"


@contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    """A file system of so many kilobytes."""
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=False)


def fill(folder: Path) -> Path:
    """Take all the room there is."""
    path = folder / "filler"
    with path.open("ab", buffering=0) as file:
        for size in (1 << 16, 1 << 12, 1):
            try:
                while True:
                    file.write(bytes(size))
            except OSError:
                continue
    return path


@contextmanager
def nowhere_else() -> Iterator[None]:
    """No other disk takes what this one does not."""
    before, disk_room.folders_aside = disk_room.folders_aside, lambda path: iter(())
    try:
        yield
    finally:
        disk_room.folders_aside = before


def filled(rng: random.Random, folder: Path) -> None:
    """Fill the disk in the midst of playing; make room again, end while it is full, or be taken up
    again while it is full.
    """
    journal_thread.RETRY_SEC, journal_thread.LOOK_EVERY_SEC = 0.05, 0.05
    disk_room.SPARE_BYTES = rng.choice((0, 16 << 10))
    with small_disk(folder / "disk", 512) as disk:
        path, shelf = disk / f"{folder.name}.journal", rng.choice((disk, folder)) / "shelf.sqlite"
        rig = Rig(path, shelf, brief(random.Random(0)), False, START_SEC)
        rig.session.midi(0, bytes((0x90, 40, 90)), START_SEC, START_SEC)
        play(rig.session, rng, rng.randint(1, 30), lambda outs: rig.turn())
        until(lambda: (rig.turn(), any("are left on the disk" in one for one in rig.said))[1])
        filler = fill(disk)
        # More than the room that was kept free, and than the rest of the last block.
        for number in range(rng.choice((100, 1500))):
            now = rig.session.looper.now_sec + 0.001
            rig.session.midi(0, bytes((0x90 if number % 2 else 0x80, 41, 1 + number % 100)), now, now)
        count = rig.journal.given
        until(lambda: (rig.turn(), rig.journal.failed or rig.journal.wait_synced(count, 0.01))[1])
        held = rig.journal.failed
        assert not held or any("held in memory" in one for one in rig.said)
        way = rng.choice(("room again", "end while full", "end while full, nowhere else"))
        if way == "room again":
            filler.unlink()
            assert rig.journal.wait_synced(None, 5.0)
            missing = rig.end()
            assert missing == [], missing
        else:
            with nowhere_else() if "nowhere" in way else nullcontext():
                missing = rig.end(0.3)
            # Something may have fitted in after all.
            assert missing or read_journal(path).complete
            filler.unlink()
        said = " ".join(missing)
        aside = list(Path(tempfile.gettempdir()).glob(f"{path.name}.rest-*"))
        if "are lost" in said:
            assert "nowhere" in way
            return
        if not read_journal(path).complete:
            try:
                recover(path, shelf)
            except ValueError as error:
                assert "ended in order" in str(error)
        assert bool(aside) == ("are taken back at the next start" in said)
        assert not any(one.exists() for one in aside)
        records = [one for one in read_journal(path).records if isinstance(one, MidiRecord)]
        commands = count - len(records)
        assert len(records) > 100 and commands >= 0
        assert read_journal(path).cut_at is None and read_journal(path).complete
        assert records[-1].data[1] == 41 or len(records) >= count - 60
        with Shelf(shelf) as open_shelf:
            open_shelf.find()


ATTACKS = (
    Attack("disk: full", "a full disk loses nothing but what is said to be lost", filled, 8, 200, 30.0, needs=needs),
)
