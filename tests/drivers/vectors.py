"""The vectors of docs/protocol.md, read out of the page itself."""

from __future__ import annotations

import re
from pathlib import Path

PAGE = Path(__file__).parents[2] / "docs" / "protocol.md"


def vectors() -> tuple[str, ...]:
    """The frames below the heading, without their line ends."""
    section = PAGE.read_text(encoding="utf-8").split("## Vectors")[1]
    return tuple(re.findall(r"^@.*$", section, re.MULTILINE))
