"""Run a benchmark: ``python -m tests.bench NAME [its options]``; without a name, say what there is.
All take ``--json``.
"""

import ast
import re
import runpy
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def benches() -> dict[str, str]:
    """The benchmarks by name, each with the first sentence of its docstring."""
    found = {}
    for path in sorted(HERE.glob("bench_*.py")):
        words = " ".join((ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").split())
        first = re.split(r": ``python| python -m|\. ", words)[0]
        found[path.stem.removeprefix("bench_")] = first.rstrip(":. ") + "."
    return found


def main() -> int:
    known = benches()
    name = sys.argv[1].removeprefix("bench_") if len(sys.argv) > 1 else ""
    if name not in known:
        print("\n".join(f"{one:10} {words}" for one, words in known.items()))
        return 0 if name in ("", "-h", "--help") else 2
    sys.argv = [f"bench_{name}", *sys.argv[2:]]
    runpy.run_module(f"tests.bench.bench_{name}", run_name="__main__")
    return 0


if __name__ == "__main__":
    sys.exit(main())
