"""A page that is partly made from the code, made afresh where it stands."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path


def renew(page: str, renewed: Callable[[str], str]) -> None:
    """Writes the file called `page` again, with what stands between its markers as `renewed` makes it."""
    path = Path(page)
    path.write_text(renewed(path.read_text(encoding="utf-8")), encoding="utf-8")
