"""Exit codes."""

from __future__ import annotations

DONE = 0
FAILED = 1
USAGE = 2
"""A command line or a file that cannot be used; nothing was started."""
