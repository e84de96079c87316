"""``python -m kettlebridge`` is the ``kettlebridge`` command."""

from __future__ import annotations

import sys

from kettlebridge.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
