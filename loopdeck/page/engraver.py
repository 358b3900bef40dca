"""The typesetter LilyPond as a separate program: its input goes in, a PDF, SVG or PNG comes out.

Its input is ours alone: what a player wrote stands in it as quoted strings only, so nothing of it
is ever run.
"""

import importlib.util
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from loopdeck.atomic import whole_file
from loopdeck.errors import UserError, to_install

#: Longer than this nobody waits; a booklet of 50 riffs takes a tenth of it.
PATIENCE_SEC = 300.0
FORMATS = {".pdf": ("--pdf",), ".svg": ("--svg",), ".png": ("--png", "-dresolution=150")}
_POLL_SEC = 0.1


def typesetter() -> Path:
    """Where LilyPond is: the package ``lilypond``, or the system's. Raises UserError with a
    sentence how to get it.
    """
    if importlib.util.find_spec("lilypond") is not None:
        import lilypond

        found = Path(lilypond.executable())
        if found.exists() or found.with_suffix(".exe").exists():
            return found
    system = shutil.which("lilypond")
    if system is None:
        raise UserError(
            f"PDF, SVG and PNG need the typesetter LilyPond; install it with: {to_install('sheet')} "
            "(a sheet that ends in .musicxml works without)."
        )
    return Path(system)


def engrave(
    source: str,
    output: str | Path,
    patience_sec: float = PATIENCE_SEC,
    waiting: Callable[[int], None] | None = None,
) -> list[str]:
    """Set ``source`` and write ``output`` whole or not at all; return the typesetter's warnings.

    ``waiting`` is called again and again with the number of scores that have been read so far.
    Raises UserError, OSError.
    """
    ending = Path(output).suffix.lower()
    program = typesetter()
    with tempfile.TemporaryDirectory(prefix="loopdeck-sheet-", ignore_cleanup_errors=True) as folder:
        (Path(folder) / "sheet.ly").write_text(source, encoding="utf-8")
        said = _run([str(program), *_options(ending), "-o", "sheet", "sheet.ly"], folder, patience_sec, waiting)
        made = sorted(Path(folder).glob(f"sheet*{ending}"))
        if len(made) != 1:
            raise UserError(f"LilyPond could not set this sheet{_last_error(said)}.")
        with whole_file(output) as out:
            out.write(made[0].read_bytes())
    return [line for line in said.splitlines() if "warning" in line]


def _options(ending: str) -> tuple[str, ...]:
    return (*FORMATS[ending], "-dno-point-and-click", "--loglevel=BASIC_PROGRESS")


def _run(command: list[str], folder: str, patience_sec: float, waiting: Callable[[int], None] | None) -> str:
    """What the program said; it is ended when it takes too long. Raises UserError."""
    began = time.monotonic()
    log = Path(folder) / "log"
    with log.open("wb") as said:
        try:
            child = subprocess.Popen(command, cwd=folder, stdin=subprocess.DEVNULL, stdout=said, stderr=said)
        except OSError as error:
            raise UserError(f"LilyPond does not start: {error.strerror or error}.") from error
        try:
            code = _wait(child, log, began + patience_sec, waiting)
        finally:
            if child.poll() is None:
                child.kill()
                child.wait()
    text = log.read_text(encoding="utf-8", errors="replace")
    if code:
        ended = f" (ended by {signal.Signals(-code).name})" if code < 0 else ""
        raise UserError(f"LilyPond could not set this sheet{ended}{_last_error(text)}.")
    return text


def _wait(child: "subprocess.Popen[bytes]", log: Path, until: float, waiting: Callable[[int], None] | None) -> int:
    while True:
        try:
            return child.wait(_POLL_SEC)
        except subprocess.TimeoutExpired:
            if waiting is not None:
                waiting(log.read_bytes().count(b"Interpreting music"))
            if time.monotonic() > until:
                raise UserError(
                    "LilyPond took longer than anybody waits and was ended; choose fewer bars or takes."
                ) from None


def _last_error(text: str) -> str:
    errors = [line for line in text.splitlines() if "error" in line]
    return f": {errors[0].strip()[:200]}" if errors else ""
