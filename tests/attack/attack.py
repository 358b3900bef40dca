"""What an attack is, and running many trials of one, each with a time limit.

Conventions
    A trial is a function of a random generator and an empty folder. It raises (an AssertionError,
    or anything) when a promise is broken, and may return a figure, of which the worst (largest) is
    reported. A trial's generator is seeded with the attack's name and the trial's number, so that a
    failure can be repeated alone: ``python -m tests.attack.nightly --only NAME --trial NUMBER``.
    Trials run in a worker process. One that takes longer than ``limit_sec`` counts as a hang; its
    worker is killed and replaced.
"""

import multiprocessing
import os
import random
import shutil
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

Trial = Callable[[random.Random, Path], float | None]


@dataclass(frozen=True)
class Attack:
    """One kind of attack. ``short`` and ``nightly`` are how many trials CI and the nightly run make
    of it.

    ``needs`` returns why it cannot run here, "" where it can. ``figure`` names what a trial
    returns, with its unit.
    """

    name: str
    promise: str
    trial: Trial
    short: int
    nightly: int
    limit_sec: float = 10.0
    figure: str = ""
    needs: Callable[[], str] = lambda: ""


@dataclass
class Result:
    """What came of an attack: ``failures`` are (trial, what went wrong)."""

    name: str
    promise: str
    trials: int = 0
    failures: list[tuple[int, str]] = field(default_factory=list)
    hangs: list[int] = field(default_factory=list)
    slowest_sec: float = 0.0
    figure: str = ""
    worst: float | None = None
    skipped: str = ""

    @property
    def clean(self) -> bool:
        """True when no trial failed or hung."""
        return not self.failures and not self.hangs

    def words(self) -> str:
        """One line."""
        if self.skipped:
            return f"{self.name}: not run ({self.skipped})"
        worst = f", worst {self.figure} {self.worst:.4g}" if self.worst is not None else ""
        counts = f"{self.trials} trials, {len(self.failures)} failed, {len(self.hangs)} hung"
        return f"{self.name}: {counts}, slowest {self.slowest_sec:.2f} s{worst}"


def run_one(attack: Attack, number: int) -> float | None:
    """One trial in this process, in a folder of its own. Raises what the trial raises."""
    folder = Path(tempfile.mkdtemp(prefix="loopdeck-attack-"))
    try:
        return attack.trial(random.Random(f"{attack.name} {number}"), folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def run(attack: Attack, trials: int, first: int = 0) -> Result:
    """Trials ``first`` to ``first + trials - 1`` of an attack."""
    result = Result(attack.name, attack.promise, figure=attack.figure, skipped=attack.needs())
    number, last = first, first + trials
    while not result.skipped and number < last:
        number = _run_in_worker(attack, number, last, result)
    return result


def _run_in_worker(attack: Attack, number: int, last: int, result: Result) -> int:
    """Run trials until the last or a hang; returns the number of the next one to run."""
    ours, theirs = multiprocessing.Pipe(duplex=False)
    worker = multiprocessing.get_context("fork").Process(
        target=_work, args=(attack, number, last, theirs), daemon=False
    )
    worker.start()
    theirs.close()
    try:
        while number < last:
            begun = time.monotonic()
            told: tuple[float | None, str] | None = None
            if ours.poll(attack.limit_sec):
                try:
                    told = ours.recv()
                except EOFError:
                    told = (None, "the trial's process died")
            result.trials += 1
            result.slowest_sec = max(result.slowest_sec, time.monotonic() - begun)
            number += 1
            if told is None:
                result.hangs.append(number - 1)
                return number
            figure, wrong = told
            if wrong:
                result.failures.append((number - 1, wrong))
            if figure is not None:
                result.worst = figure if result.worst is None else max(result.worst, figure)
            if wrong == "the trial's process died":
                return number
    finally:
        if worker.is_alive() and number < last:
            worker.kill()
        worker.join()
        ours.close()
    return number


def _work(attack: Attack, number: int, last: int, pipe: Any) -> None:
    # Children of a trial that is killed for hanging must not outlive it for ever: they are in this
    # process group.
    os.setpgrp()
    for one in range(number, last):
        try:
            told: tuple[float | None, str] = (run_one(attack, one), "")
        except BaseException:
            told = (None, traceback.format_exc(limit=-6))
        pipe.send(told)
