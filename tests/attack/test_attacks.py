"""The short form of every attack, and the runner itself: a trial that fails or hangs is counted as
what it is.
"""

import os
import random
import time
from pathlib import Path

import pytest

from tests.attack.attack import Attack, run
from tests.attack.nightly import BEGIN, END, attacks, write_page


@pytest.mark.parametrize("attack", attacks(), ids=lambda attack: attack.name)
def test_short(attack: Attack) -> None:
    result = run(attack, attack.short)
    if result.skipped:
        if os.environ.get("CI"):
            pytest.fail(f"{result.skipped}; in CI this must not skip")
        pytest.skip(result.skipped)
    assert result.failures == []
    assert result.hangs == []
    assert result.trials == attack.short


def _odd(rng: random.Random, folder: Path) -> float:
    number = rng.random()
    (folder / "file").write_text("")
    if number < 0.3:
        raise ValueError("broken")
    if number > 0.8:
        time.sleep(30.0)
    return number


def test_failures_and_hangs_are_counted() -> None:
    attack = Attack("odd", "nothing", _odd, 1, 12, limit_sec=0.4, figure="number")
    numbers = [random.Random(f"odd {trial}").random() for trial in range(12)]
    result = run(attack, 12)
    assert result.trials == 12
    assert [trial for trial, _ in result.failures] == [trial for trial, one in enumerate(numbers) if one < 0.3]
    assert all("broken" in what for _, what in result.failures)
    assert result.hangs == [trial for trial, one in enumerate(numbers) if one > 0.8]
    assert result.worst == max(one for one in numbers if 0.3 <= one <= 0.8)
    assert not result.clean
    assert result.failures and result.hangs


def test_the_page_keeps_rows_of_attacks_that_were_not_run() -> None:
    old = f"text\n{BEGIN}\n| attack | x |\n| --- | --- |\n| before | stays |\n| odd | old |\n{END}\nmore\n"
    result = run(Attack("odd", "a promise", lambda rng, folder: 2.5, 1, 1, figure="ms"), 3)
    page = write_page([result], old)
    assert "| before | stays |" in page and "old" not in page
    assert "| odd | a promise | 3 | 0 |" in page and "ms: 2.5" in page
    assert page.startswith("text\n") and page.endswith("more\n")
    assert write_page([], page) == page


def test_every_attack_stands_in_the_docs() -> None:
    page = (Path(__file__).parents[2] / "docs" / "reliability.md").read_text(encoding="utf-8")
    assert [attack.name for attack in attacks() if f"| {attack.name} |" not in page] == []
