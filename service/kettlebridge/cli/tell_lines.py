"""The line that tells a kettle something, for copying off the screen: with its folder where that is not the usual."""

from __future__ import annotations

import os
import shlex
from collections.abc import Mapping
from pathlib import Path

from kettlebridge.cli.state_folder import state_folder


def tell_line(folder: Path, kettle: str, *words: str, environment: Mapping[str, str] = os.environ) -> str:
    """`kettlebridge tell KETTLE WORDS`, heard by the service that keeps its record in this folder."""
    usual = folder == state_folder(None, environment)
    where = () if usual else ("--state", shlex.quote(str(folder)))
    return " ".join(("kettlebridge tell", kettle, *words, *where))
