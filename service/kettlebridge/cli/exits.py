"""Exit codes, and the error that stands for the second of them."""

from __future__ import annotations

from kettlebridge.model.errors import KettlebridgeError

DONE = 0
FAILED = 1
USAGE = 2
"""A command line or a file that cannot be used; nothing was started."""


class UsageError(KettlebridgeError):
    """What was typed makes no sense together, or with the files it names."""
