"""``python -m loopdeck.engine``: the engine, as ``jam`` starts it. It reads what it is to do from
its environment (see ``options``).
"""

import os
import signal
import sys
from contextlib import suppress
from pathlib import Path

from loopdeck.errors import UserError
from loopdeck.process.options import awaited, options_from_environment

#: What lists of processes call an engine that plays (Linux, at most 15 characters); one that waits
#: as a spare is a "python" there.
PROCESS_NAME = "loopdeck-engine"


def _name_process() -> None:
    with suppress(OSError):
        Path("/proc/self/comm").write_text(PROCESS_NAME, encoding="ascii")


def main() -> int:
    """Run an engine; returns the exit code: 0 ended in order, 1 a crash, 2 a wrong input, 3 not
    everything could be saved.
    """
    if awaited():
        import loopdeck.engine.build  # noqa: F401 - loaded while the options are being found out
    options = options_from_environment()
    if options is None and awaited():
        # Whoever started us has found something wrong, and said so.
        return 0
    if options is None:
        print("loopdeck: The engine is started by loopdeck jam, not by hand.", file=sys.stderr)
        return 2
    _name_process()
    from loopdeck.engine.build import build

    try:
        engine = build(options)
    except (UserError, OSError) as error:
        filename, strerror = getattr(error, "filename", None), getattr(error, "strerror", None)
        print(f"loopdeck: {f'{filename}: {strerror}.' if filename and strerror else error}", file=sys.stderr)
        return 2
    code = engine.run()
    # It has ended in order. A signal that asks for just that, and comes while the interpreter is
    # taken down, must not make it a death.
    for name in ("SIGTERM", "SIGINT"):
        signal.signal(getattr(signal, name), signal.SIG_IGN)
    sys.stdout.flush()
    sys.stderr.flush()
    if engine.parts.ports.abandoned:
        # Clients of a MIDI server that died, or that holds us up, would each be waited for.
        os._exit(code)
    return code


if __name__ == "__main__":
    sys.exit(main())
