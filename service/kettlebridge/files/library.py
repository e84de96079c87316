"""Recipes in folders, as they are at the moment: who writes a file there need not start anything anew."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Sequence
from pathlib import Path

from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.errors import FileError
from kettlebridge.model.recipe import Recipe

log = logging.getLogger(__name__)

MOST = 500
"""Files of a folder that are looked at."""


class FolderLibrary:
    """Each recipe under its own name; of two of one name, that of the earlier folder."""

    def __init__(self, folders: Sequence[Path]) -> None:
        self._folders = tuple(folders)
        self._read: dict[Path, tuple[int, Recipe | None]] = {}

    def recipes(self) -> tuple[str, ...]:
        """Their names, in their order; files that cannot be read are left out."""
        return tuple(sorted({recipe.name for recipe in self._all()}))

    def recipe(self, name: str) -> Recipe | None:
        """The one of that name, None where there is none any more."""
        return next((recipe for recipe in self._all() if recipe.name == name), None)

    def _all(self) -> Iterator[Recipe]:
        for folder in self._folders:
            for path in sorted(folder.glob("*.toml"))[:MOST]:
                recipe = self._at(path)
                if recipe is not None:
                    yield recipe

    def _at(self, path: Path) -> Recipe | None:
        """Read once for each time that it was written."""
        try:
            written_ns = path.stat().st_mtime_ns
            known = self._read.get(path)
            if known is None or known[0] != written_ns:
                self._read[path] = known = (written_ns, load_recipe(path))
        except (OSError, FileError) as error:
            log.debug("recipes: %s is left out: %s", path, error)
            self._read.pop(path, None)
            return None
        return known[1]
