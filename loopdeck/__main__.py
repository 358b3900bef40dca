"""``python -m loopdeck`` is the ``loopdeck`` command."""

import sys

from loopdeck.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
