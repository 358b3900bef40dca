"""``python -m tests.attack.nightly``: every attack at full size; prints what came of it, and exits
with 1 when a promise was broken.

``--only WORDS`` runs the attacks with these words in their names, ``--trial N`` a single trial of
one (in this process, with its traceback), ``--scale 0.1`` a tenth of the trials, ``--json FILE``
writes the figures down, ``--write`` puts them into docs/reliability.md.
"""

import argparse
import importlib
import json
import pkgutil
import subprocess
import sys
import time
from dataclasses import asdict
from datetime import date
from pathlib import Path

import tests.attack
from tests.attack.attack import Attack, Result, run, run_one

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "reliability.md"
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"


def attacks() -> list[Attack]:
    """The attacks of all modules ``attack_*``, in order of name."""
    found: list[Attack] = []
    for module in pkgutil.iter_modules(tests.attack.__path__):
        if module.name.startswith("attack_"):
            found += importlib.import_module(f"tests.attack.{module.name}").ATTACKS
    return sorted(found, key=lambda attack: attack.name)


def write_page(results: list[Result], text: str) -> str:
    """The page with these results in its table; rows of attacks that were not run stay as they
    are.
    """
    before, rest = text.split(BEGIN)
    table, after = rest.split(END)
    rows = {
        line.split("|")[1].strip(): line for line in table.splitlines() if line.startswith("| ") and "---" not in line
    }
    rows.pop("attack", None)
    for one in results:
        if not one.skipped:
            worst = f"{one.figure}: {one.worst:.3g}" if one.worst is not None else ""
            broken = len(one.failures) + len(one.hangs)
            rows[one.name] = (
                f"| {one.name} | {one.promise} | {one.trials:,} | {broken} | {one.slowest_sec:.2f} s | {worst} "
                f"| {date.today()} |"
            )
    head = "| attack | promise | trials | broken | slowest | worst figure | run on |\n| --- | --- | --- | --- | --- | --- | --- |"
    return f"{before}{BEGIN}\n{head}\n" + "\n".join(rows[name] for name in sorted(rows)) + f"\n{END}{after}"


def main() -> int:
    """Run what is asked for; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", default="", metavar="WORDS")
    parser.add_argument("--trial", type=int, metavar="N")
    parser.add_argument("--scale", type=float, default=1.0, metavar="FACTOR")
    parser.add_argument("--json", metavar="FILE")
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    chosen = [attack for attack in attacks() if args.only in attack.name]
    if not chosen:
        print(f"No attack has {args.only!r} in its name; there are {', '.join(one.name for one in attacks())}.")
        return 2
    if args.trial is not None:
        print(run_one(chosen[0], args.trial))
        return 0
    results = []
    begun = time.monotonic()
    for attack in chosen:
        result = run(attack, max(round(attack.nightly * args.scale), 1))
        print(result.words(), flush=True)
        for number, what in result.failures[:3]:
            print(f"  trial {number}: {what}", file=sys.stderr)
        for number in result.hangs[:3]:
            print(f"  trial {number} took longer than {attack.limit_sec:g} s", file=sys.stderr)
        results.append(result)
    clean = all(one.clean for one in results)
    print(
        f"{sum(one.trials for one in results):,} trials in {time.monotonic() - begun:.0f} s, "
        f"{'all' if clean else 'NOT all'} clean"
    )
    if args.json:
        head = ["git", "rev-parse", "--short", "HEAD"]
        commit = subprocess.run(head, cwd=ROOT, capture_output=True, text=True, check=False).stdout.strip()
        Path(args.json).write_text(
            json.dumps({"commit": commit, "results": [asdict(one) for one in results]}, indent=2) + "\n"
        )
    if args.write:
        PAGE.write_text(write_page(results, PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    return 0 if clean else 1


if __name__ == "__main__":
    sys.exit(main())
