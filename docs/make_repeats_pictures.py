"""Draw the pictures of "What repeats" and "Comparing" in docs/analysis.md anew: ``python
docs/make_repeats_pictures.py [FOLDER]``.

The takes are made by the grammars beside the benchmarks: planted riffs in noodling (seed 5), and a
target with mishaps (seed 5).
"""

import contextlib
import io
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from script_options import folder_for

from loopdeck.cli.main import main as loopdeck
from tests.bench.altered import altered
from tests.bench.bench_analysis import write, write_notes
from tests.bench.riff_grammar import planted


def main(pictures: Path) -> None:
    """Write riffs.png and compare.png."""
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        noodling = write(planted(5), Path(folder) / "noodling.mid")
        loopdeck(["riffs", noodling, "--picture", str(pictures / "riffs.png")])
        case = altered(5)
        played = write_notes(case.onset_sec, case.onset_sec * 0 + 0.15, case.pitch, 96.0, Path(folder) / "evening.mid")
        target = write_notes(
            case.target_sec, case.target_sec * 0 + 0.15, case.target_pitch, 96.0, Path(folder) / "riff.mid"
        )
        loopdeck(["compare", played, target, "--picture", str(pictures / "compare.png")])


if __name__ == "__main__":
    main(folder_for(__doc__))
