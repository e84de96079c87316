"""The files of the project as a clone has them: without what .gitignore names."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
IGNORED = (".git", *(line.rstrip("/") for line in (ROOT / ".gitignore").read_text().splitlines()))


def entries(folder: Path) -> list[Path]:
    """What lies directly in `folder`, sorted."""
    return sorted(path for path in folder.iterdir() if not any(fnmatch(path.name, name) for name in IGNORED))


def files(folder: Path) -> Iterator[Path]:
    """Every file in `folder` and below it."""
    for path in entries(folder):
        if path.is_dir():
            yield from files(path)
        else:
            yield path


def pyproject() -> dict[str, Any]:
    """The contents of pyproject.toml."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text())
